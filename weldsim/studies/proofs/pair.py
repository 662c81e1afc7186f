"""A thyristor pair, and a triac beside it, on a choke with resistance: delays of 30 and 50 degrees.

Before the load angle, with pulses that last, the output is whole; a pair whose devices let go below a holding current
loses the last of each half cycle, and gains as much in the next one.
"""

from weldsim.studies.proofs.bench import Reading, Row, angle, numbers_in, references, settled, side_by_side
from weldsim.studies.proofs.controller import VOLTAGE, circuit, crest, load_of, positive_current, power_at

HELD = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
device = "thyristor pair"
pulse_kind = "held"
threshold = "1 V"
slope = "12 mohm"
latching_current = "80 mA"
holding_current = "50 mA"
off_resistance = "200 kohm"
[load]
kind = "resistor"
resistance = "10 ohm"
inductance = "{inductance!r} H"
"""


def thyristor_pair() -> list[Row]:
    """Delays on both sides of the load angle, and a holding current."""
    return side_by_side("thyristor pair", references("pair", "pair"), _measure)


def _measure(condition: str) -> dict[str, Reading]:
    said = numbers_in(condition)
    delay = said["alpha"]
    if "holding" in condition:
        inductance = load_of(said["phi"], 10.0)[0]
        recording = settled(HELD.format(inductance=inductance), delay=delay, periods=2)
        return {"I_rms": Reading(recording.integrals.rms("output.current"))}
    inductance, impedance = load_of(said["phi"])
    device, lasting = condition.split(",")[0], "lasting" in condition
    text = circuit(device=device, inductance=inductance, pulse_width="7 ms" if lasting else "1 ms")
    recording = settled(text, delay=delay, periods=2)
    volts, current, factor = power_at(recording)
    unit = crest() / impedance
    found = {
        "I_rms/(Vm/Z)": Reading(current / unit),
        "Vo_rms/V": Reading(volts / VOLTAGE),
        "power factor": Reading(factor),
    }
    if lasting:
        return found
    end, mean, _ = positive_current(recording, delay)
    return found | {"extinction angle beta": angle(end), "thyristor mean/(Vm/Z)": Reading(mean / unit)}
