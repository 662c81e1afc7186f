"""Taps of a primary beside a dial, as the study of taps tells them of a resistor behind a transformer with leakage."""

from weldsim.scenario.reading import read_text
from weldsim.studies import taps
from weldsim.studies.proofs.bench import Reading, Row, angle, references, side_by_side

EQUAL = 2e-4  # a dial is looked for that gives a tap's output to 1e-4
NEAR_BY = 0.05  # [deg] by which that moves its delay

TAPPED = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
delay_at_0 = "170 deg"
delay_at_100 = "16 deg"
pulse_width = "0.1 ms"
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
[transformer]
ratio = "230:46"
primary_resistance = "0.5 ohm"
primary_leakage_inductance = "8 mH"
secondary_resistance = "10 mohm"
secondary_leakage_inductance = "20 uH"
[load]
kind = "resistor"
resistance = "0.4 ohm"
"""


def against_dial() -> list[Row]:
    """Output, primary current and power factor of taps, and of the dial that gives the same output."""
    told = taps.ask(read_text(TAPPED, source="proof"), presses=0).rows or []
    rows = {round(row["turns_factor"], 9): row for row in told}

    def measure(condition: str) -> dict[str, Reading]:
        row = rows[round(taps.STEP ** int(condition.partition("^")[2]), 9)]
        return {
            "output current": Reading(row["output_current"]),
            "output swing": Reading(row["tap_ripple"]),
            "primary current": Reading(row["tap_primary_rms"]),
            "power factor": Reading(row["tap_power_factor"]),
            "delay of the same output": angle(row["delay"], NEAR_BY),
            "primary current with the dial": Reading(row["dial_primary_rms"], EQUAL),
            "power factor with the dial": Reading(row["dial_power_factor"], EQUAL),
        }

    return side_by_side("taps", references("taps", "taps"), measure)
