"""RunPlan: what a run is asked to do.

Times are on the mains clock [s]: 0 is a rising zero crossing of the ideal source.
"""

from collections.abc import Sequence
from dataclasses import field

import numpy as np

from weldsim.frozen import dataclass
from weldsim.network.system import Signature


@dataclass(frozen=True)
class RunPlan:
    """Span, initial state and timed commands of one run.

    ``state`` holds the circuit states and the inputs (value, slope), without the sources, which follow from the clock.
    ``commands`` are pairs (time, event number) in any order, or an array of them; those before ``begin`` are ignored.
    ``most_changes`` bounds the changes of mode, so that no run is endless; None: 200 000 per simulated second.
    ``source_scale`` multiplies all alternating sources: mains at -10 or +10 % share the modes of the nominal one.
    """

    begin: float
    end: float
    state: np.ndarray
    signature: Signature
    commands: Sequence[tuple[float, int]] | np.ndarray = field(default=())
    most_changes: int | None = None
    source_scale: float = 1.0
