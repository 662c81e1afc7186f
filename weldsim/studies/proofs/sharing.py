"""Two transformers on one load, in all four joins, as the study of sharing tells them."""

from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side
from weldsim.studies.share_looks import AT_THE_SETTING, NO_LOAD, look

SUBSYSTEM = "two transformers"
PAIR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "{Rm!r} ohm"
inductance = "{Lm!r} mH"
[transformer]
primary_turns = 240
secondary_turns = {n1:.0f}
primary_resistance = "1.2 ohm"
primary_leakage_inductance = "3 mH"
secondary_resistance = "{r1!r} mohm"
secondary_leakage_inductance = "{l1!r} uH"
[second_transformer]
primaries = "{primaries}"
secondaries = "{secondaries}"
secondary_turns = {n2:.0f}
secondary_resistance = "{r2!r} mohm"
secondary_leakage_inductance = "{l2!r} uH"
{way}
[load]
kind = "resistor"
resistance = "{R!r} ohm"
inductance = "{L!r} mH"
"""
CORES = """
[core]
magnetising_inductance = "4 H"
loss_resistance = "900 ohm"
[second_core]
magnetising_inductance = "2.5 H"
loss_resistance = "700 ohm"
"""


def two_transformers() -> list[Row]:
    """What each carries, gives and keeps, and what circulates, against phasors."""
    return side_by_side(SUBSYSTEM, references("sharing", "sharing"), _measure)


def _measure(condition: str) -> dict[str, Reading]:
    primaries, _, secondaries = condition.partition(",")[0].partition("/")
    way = "reversed = true" if "reversed" in condition else ""
    said = numbers_in(condition)
    text = PAIR.format(primaries=primaries, secondaries=secondaries, way=way, **said)
    scenario = read_text(text + CORES if "cores" in condition else text, source="proof")
    idle, loaded = (look(scenario, which) for which in (NO_LOAD, AT_THE_SETTING))
    found = {
        "load current": loaded.output,
        "voltage without load": idle.output_voltage,
        "current round the loop without load": idle.circulating,
    }
    for before, half in zip(idle.halves, loaded.halves, strict=True):
        found |= {
            f"{half.which} current": half.current,
            f"{half.which} share": half.share,
            f"{half.which} copper loss": half.copper,
            f"flux of the {half.which} core": half.flux_peak,
            f"flux of the {half.which} core without load": before.flux_peak,
        }
    return {quantity: Reading(value) for quantity, value in found.items()}
