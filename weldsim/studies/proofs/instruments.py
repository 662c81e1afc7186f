"""What instruments show of waveforms that the engine made: phase control, a square wave, a sawtooth.

A bridge behind a large choke draws square waves from its source; a choke on a direct source draws a ramp.
"""

from weldsim.analysis.meters import readings
from weldsim.studies.proofs.bench import Reading, Row, from_rest, numbers_in, references, settled, side_by_side
from weldsim.studies.proofs.magnetics import BRIDGE, LARGE_CHOKE, RESISTOR, SWITCH, supply

TABLE = "transients"
PRINTED = 6e-4  # half of the last of three digits, of 86.6 and of 0.961 (which is 0.9619: 1e-3)
RIPPLED = 1e-3  # a choke of 20 H on 0.1 ohm leaves 0.02 % of ripple; the change-over of the diodes takes time
RAMP = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "15 V"
[choke]
inductance = "1 mH"
[load]
kind = "short"
resistance = "0 ohm"
"""


def rectified() -> list[Row]:
    """The rectified voltage behind the phase control, on a resistor."""
    return side_by_side("meters", references(TABLE, "meters"), _measure_rectified)


def _measure_rectified(condition: str) -> dict[str, Reading]:
    recording = settled(supply(SWITCH, BRIDGE, RESISTOR), delay=numbers_in(condition)["alpha"])
    whole = recording.integrals
    (least, largest), (_, crest) = recording.trace.extremes(["output.voltage", "mains.voltage"], *recording.window)[0]
    mean, rms = whole.mean("output.voltage"), whole.rms("output.voltage")
    peak = float(max(largest, -least))
    # rectified: its mean is its mean magnitude
    shown = readings(mean=mean, mean_absolute=mean, rms=rms, peak=peak)
    return {
        "average-responding meter reading / true rms": Reading(
            shown["average-responding"].value / shown["true rms"].value
        ),
        "moving-coil dc reading / peak (rectified)": Reading(shown["moving coil"].value / float(crest)),
        "crest factor": Reading(peak / rms),
    }


def waves() -> list[Row]:
    """A square wave and a sawtooth."""
    return side_by_side("meters", references(TABLE, "meter_waves"), _measure_wave)


def _measure_wave(condition: str) -> dict[str, Reading]:
    if condition == "square wave":
        recording = settled(supply(SWITCH, BRIDGE, LARGE_CHOKE, RESISTOR, resistance=0.1), delay=0.0)
        half = 0.5 * recording.supply.period
        part = recording.trace.integrals(recording.window[0], recording.window[0] + half)
        signal = "primary.current"
    else:
        recording = from_rest(RAMP, 0.01)
        part, signal = recording.integrals, "output.current"
    mean, rms = abs(part.mean(signal)), part.rms(signal)
    shown = readings(mean=mean, mean_absolute=mean, rms=rms, peak=2.0 * mean)
    ratio = shown["average-responding"].value / shown["true rms"].value
    return {
        "average-responding meter / true rms": Reading(ratio, RIPPLED if condition == "square wave" else 1e-6),
        "average-responding meter over true rms, printed": Reading(ratio, 1e-3),
        "how much too high it reads": Reading(ratio - 1.0, 0.05),
        "true rms": Reading(shown["true rms"].value, PRINTED),
        "mean": Reading(shown["moving coil"].value, PRINTED),
    }
