"""What was measured elsewhere and is found again: transformers by their readings, a change by a captured trace."""

import numpy as np

from weldsim.scenario.reading import read_text
from weldsim.studies import compare, identify
from weldsim.studies.proofs.bench import Reading, Row, angle, numbers_in, references, side_by_side

TABLE = "identified"
FREQUENCY = 50.0
SAMPLED = 5e-3  # of a value: 400 samples a period laid over a wave in 2000 bins
NOTHING = 1e-2  # of the rms: likewise, with two edges a half wave
EDGE = 0.3  # [deg] likewise: a third of the time between two samples

BENCH = """
[mains]
voltage = "{U0!r} V"
frequency = "{f!r} Hz"
[readings]
eddy_share = "100 %"
no_load = [{{voltage = "{U0!r} V", current = "{I0!r} A", power = "{P0!r} W", secondary_voltage = "{U2!r} V"}}]
"""
SHORTED = """
short_circuit = [{{voltage = "{Uk!r} V", current = "{Ik!r} A", power = "{Pk!r} W"}}]
primary_resistance = "{R1!r} ohm"
secondary_resistance = "{R2!r} ohm"
winding_temperature = "{T!r} degC"
"""
CHOPPED = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
inductance = "{inductance!r} H"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "{resistance!r} ohm"
"""


def identified() -> list[Row]:
    """Values of transformers by readings that their circuits give, and by those of a textbook problem."""
    return side_by_side("transformer by its readings", references(TABLE, "identified"), _by_readings)


def _by_readings(condition: str) -> dict[str, Reading]:
    read = numbers_in(condition)
    text = BENCH + SHORTED if "Uk" in read else BENCH
    found = {
        name: one.value for name, one in identify.ask(read_text(text.format(**read), source="proof")).numbers.items()
    }
    if "Uk" not in read:  # as currents of the two branches, which the problem asks for
        idle = read["U0"] / (2.0 * np.pi * read["f"] * found["core.magnetising_inductance"])
        loss = read["U0"] / found["core.loss_resistance"]
        return {"core-loss current": Reading(loss), "magnetising current": Reading(float(idle))}
    return {
        "ratio": Reading(found["transformer.ratio"]),
        "primary resistance at 20 degC": Reading(found["transformer.primary_resistance"]),
        "secondary resistance at 20 degC": Reading(found["transformer.secondary_resistance"]),
        "leakage at the secondary": Reading(found["short_circuit.inductance"]),
        "loss resistance": Reading(found["core.loss_resistance"]),
        "magnetising inductance": Reading(found["core.magnetising_inductance"]),
    }


def compared() -> list[Row]:
    """A closed form's current as a capture: what remains as it is, and what a wrong scenario is put down to."""
    return side_by_side("change by a capture", references(TABLE, "compared"), _by_a_capture)


def _by_a_capture(condition: str) -> dict[str, Reading]:
    delay = numbers_in(condition)["alpha"]
    told = {one.quantity: one.value for one in references(TABLE, "compared") if one.condition == condition}
    values = np.array([one.value for one in references(TABLE, "capture") if one.condition == condition])
    time = np.arange(len(values)) / len(values) / FREQUENCY
    inductance = told["mains inductance, written half"]
    resistance = told["load resistance, written half as much again"]

    def ask(key: str, *, henries: float = inductance, ohms: float = resistance, later: float = 0.0) -> float:
        text = CHOPPED.format(inductance=henries, resistance=ohms)
        answer = compare.ask(
            read_text(text, source="proof"), time=time, values=values, signal="primary.current", delay=delay + later
        )
        if not key:
            return answer.numbers["remainder.share"].value
        first = next(row for row in answer.rows or () if row["kind"] == "cause")
        return float(first["value"]) if first["key"] == key else float("nan")  # another cause first is a miss

    return {
        "remainder, as it is": Reading(ask(""), NOTHING, 1.0),
        "firing delay, written 9 deg later": angle(ask("delay", later=9.0), EDGE),
        "mains inductance, written half": Reading(ask("mains.inductance", henries=0.5 * inductance), SAMPLED),
        "load resistance, written half as much again": Reading(ask("load.resistance", ohms=1.5 * resistance), SAMPLED),
    }
