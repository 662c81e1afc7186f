"""What a control counts in half cycles: spots on a resistor by their timer, and a ramp of firing angles."""

from functools import cache

from weldsim.runs.spot_runs import Condition, bench_under, spots_under
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import (
    Reading,
    Row,
    from_rest,
    numbers_in,
    references,
    side_by_side,
    within_bands,
)
from weldsim.studies.proofs.controller import FREQUENCY, VOLTAGE, circuit
from weldsim.studies.spot import trigger_of

SPOTS, DRAWS = 20, 1
TRIGGER = """
[trigger]
timer_spread = "0 %"
burn_back = "0 s"
"""
RAMP = """
[soft_start]
kind = "ramp"
half_cycles = 10
start_delay = "170 deg"
"""


@cache
def _energies(timer: str, delay: float, seconds: float) -> tuple[float, ...]:
    """Energy of each of many spots that begin at random phases [J]."""
    scenario, condition = read_text(circuit(resistance=10.0) + TRIGGER, source="proof"), Condition("proof", timer=timer)
    bench = bench_under(scenario, condition, delay=delay)
    pulses = spots_under(bench, condition, trigger=trigger_of(scenario, seconds), count=SPOTS, seed=DRAWS)
    return tuple(pulse.energy for pulse in pulses)


def spot_timer() -> list[Row]:
    """Energy of spots that a synchronised timer counts out: all alike, and whole half cycles."""

    def measure(condition: str) -> dict[str, Reading]:
        said = numbers_in(condition)
        found = _energies("mains-synchronised", said["alpha"], said["spot"])
        return {
            "least energy of 20 spots": Reading(min(found)),
            "largest energy of 20 spots": Reading(max(found)),
        }

    return side_by_side("spot timer", references("mains", "spot"), measure)


def spot_spread() -> list[Row]:
    """How far apart the spots of either timer lie, in half cycles."""

    def measure(condition: str) -> dict[str, float]:
        said = numbers_in(condition)
        timer = "free" if condition.startswith("free") else "mains-synchronised"
        found = _energies(timer, said["alpha"], said["spot"])
        whole = _energies("mains-synchronised", said["alpha"], 0.1)
        return {"largest less least energy": (max(found) - min(found)) / (whole[0] * 0.1)}

    return within_bands("spot timer", "spot_spread", measure)


def ramp() -> list[Row]:
    """Rms of single half cycles while a ramp takes the firing angle from 170 to 50 degrees."""

    def measure(condition: str) -> dict[str, Reading]:
        number = int(condition.split("half cycle ")[1].split(",")[0])
        recording = from_rest(circuit() + RAMP, 6.0 / FREQUENCY, delay=50.0)
        half = 0.5 / FREQUENCY
        part = recording.trace.integrals((number - 1) * half, number * half)
        return {"Vo_rms/V": Reading(part.rms("output.voltage") / VOLTAGE)}

    return side_by_side("soft start", references("mains", "ramp"), measure)
