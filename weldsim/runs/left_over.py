"""What one press of the trigger leaves to the next: flux in the core, charge in the bank, a warm or closed soft start.

The supply is coasted through the pause with the trigger open.
"""

import copy
import math

import numpy as np

from weldsim.engine.plan import RunPlan
from weldsim.engine.simulate import Stepper
from weldsim.frozen import dataclass
from weldsim.network.system import Signature
from weldsim.runs.commands import event_numbers
from weldsim.runs.presses import LET_GO
from weldsim.runs.soft_start import SoftStarter

TOLD = ("core.flux_linkage", "second_core.flux_linkage", "bank.voltage")
OPENED = (*LET_GO, "wire open")
PERIODS = 2.0  # of a pause that are followed before it is coasted


@dataclass(frozen=True, eq=False)
class Left:
    """A supply at rest when its trigger closes the next time."""

    state: np.ndarray
    signature: Signature
    bank_voltage: float  # [V]; not a number without a bank
    flux_linkage: float  # [V s]; not a number without a core
    soft_start: SoftStarter | None
    second_flux_linkage: float = math.nan  # [V s]; not a number without a second core
    polarity: int = 0  # of the last half cycle fired; 0: not known

    @property
    def thermistor(self) -> float:
        """Temperature of the soft start's thermistor [degC]; not a number without one."""
        ntc = self.soft_start is not None and self.soft_start.table.kind == "ntc"
        return self.soft_start.temperature if self.soft_start is not None and ntc else math.nan

    def starter(self) -> SoftStarter | None:
        """A soft start of its own for one more press."""
        return copy.copy(self.soft_start)


def left_by(stepper: Stepper, soft_start: SoftStarter | None, *, ended: float, pause: float, polarity: int = 0) -> Left:
    """What a run leaves after a pause [s] that begins where it stands; its power ended at ``ended`` on its clock, with
    a half cycle of this ``polarity``.

    A wire that still touches is cut free: its load is open from then on.
    """
    library, begin, end = stepper.library, stepper.now, stepper.now + pause
    system, numbers = library.system, event_numbers(library.system)
    whole = len(system.states) + 2 * len(system.inputs)
    signature = library.signatures[int(stepper.control[1])]
    if soft_start is not None:
        soft_start = copy.copy(soft_start)
        soft_start.let_go(pause, since=begin - ended)
        signature = soft_start.onto(signature)
    opened = [(begin, number) for name, number in numbers.items() if name in OPENED]
    scale = float(stepper.account[1])
    resting = Stepper(library, RunPlan(begin, end, stepper.x[:whole].copy(), signature, opened, source_scale=scale))
    resting.run_to(min(begin + PERIODS / system.frequency, end))
    resting.run_to(end, quick=True)
    places = {name: place for place, name in enumerate(system.states)}
    flux, second, bank = (float(resting.x[places[name]]) if name in places else math.nan for name in TOLD)
    state, signature = resting.x[:whole].copy(), library.signatures[int(resting.control[1])]
    return Left(state, signature, bank, flux, soft_start, second, polarity)
