"""Where a wire ends when power outlasts the feed: an arc that burns openly on a bridge with a choke, or with a bank.

The timer counts half cycles, so that power ends at a zero crossing of the mains; the arc then burns on with what choke
and bank hold.
"""

from dataclasses import replace

from weldsim.runs.sequence_runs import Sequencer
from weldsim.scenario.reading import read_text
from weldsim.studies.burn_back import ends_with
from weldsim.studies.proofs.arc_circuit import TOUCHES_ONCE
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

TRIALS = 1
NEAR = 0.04  # [mm] the feed is told once a millisecond: half of that is 0.033 mm of wire at the most

SUPPLY = (
    """
[mains]
voltage = "45 V"
frequency = "50 Hz"
resistance = "0.1 ohm"
[rectifier]
kind = "bridge"
threshold = "0 V"
slope = "1 uohm"
[choke]
inductance = "{henries!r} H"
resistance = "5 mohm"
[trigger]
held = "0.6 s"
timer = "mains-synchronised"
[wire]
diameter = "1.2 mm"
extension = "25 mm"
feed = "{feed!r} m/min"
run_in_feed = "{feed!r} m/min"
motor_time_constant = "{lag!r} s"
gap_spot_low = "3 mm"
gap_spot_high = "3 mm"
melting_alpha = "0.3 mm/(A.s)"
melting_beta = "0.05 um/(mm.A2.s)"
heating_time_constant = "0.1 ms"
drop_limit = "0.3 mm"
arc_voltage = "20 V"
arc_gradient = "1 V/mm"
falling_voltage = "1 V"
falling_current = "1 A"
"""
    + TOUCHES_ONCE
)
BANK = """
[bank]
capacitance = "{farads!r} F"
"""


def wire_ends() -> list[Row]:
    """Wire ends over the burn-back, with choke alone and with a bank, a quick motor and a slow one."""
    makers: dict[str, Sequencer] = {}

    def measure(condition: str) -> dict[str, Reading]:
        supply, said = condition.partition(", burn-back")[0], numbers_in(condition)
        if supply not in makers:
            values = {"henries": 1e-3 * said["L"], "feed": said["feed"], "lag": 1e-3 * said["lag"]}
            text = SUPPLY + (BANK.format(farads=1e-3 * said["C"]) if "C" in said else "")
            makers[supply] = Sequencer(read_text(text.format(**values), source="proof"))
        maker = makers[supply]
        trigger = replace(maker.trigger, burn_back=1e-3 * said["b"])
        return {"wire end": Reading(1e3 * ends_with(maker, trigger, seed=1, trials=TRIALS).median, NEAR, 1.0)}

    return side_by_side("burn-back", references("burn_back", "wire_ends"), measure)
