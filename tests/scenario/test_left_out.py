"""Impedances that are left at nothing are told, by check and by a preview; what is given is not."""

import weldsim
from weldsim.scenario.checks import findings
from weldsim.scenario.vary import vary

BARE = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
ratio = "230:34"
primary_resistance = "0.6 ohm"
[rectifier]
[bank]
capacitance = "60 mF"
[load]
kind = "resistor"
resistance = "0.3 ohm"
"""
LEFT = ("mains.resistance", "transformer.secondary_resistance", "secondary_leakage_inductance", "bank.resistance")


def told(scenario):
    """The texts of the finding."""
    return [one for one in findings(scenario) if one.name == "left_out"]


def test_what_is_left_at_nothing_is_named():
    """Four impedances lack, the primary's resistance is there, of a choke that is absent nothing is said."""
    (one,) = told(weldsim.read_text(BARE))
    assert (one.level, one.number) == ("note", 4.0)
    assert [key in one.text for key in (*LEFT, "primary_resistance", "choke")] == [True] * 4 + [False] * 2
    assert one.text in weldsim.preview(weldsim.read_text(BARE)).assumptions


def test_each_one_given_is_named_no_more():
    """Copper in the place of a resistance and a layout in that of a leakage count as given; no transformer, no note."""
    given = {
        "mains.resistance": 0.4,
        "transformer.primary_turns": 230,
        "transformer.secondary_turns": 34,
        "transformer.ratio": "absent",
        "transformer.secondary_wire_section": "25 mm2",
        "transformer.secondary_turn_length": "40 cm",
        "transformer.layout": "concentric",
        "bank.resistance": 2e-3,
    }
    assert told(vary(weldsim.read_text(BARE), given)) == []
    assert told(vary(weldsim.read_text(BARE), {"transformer": "absent"})) == []


def test_leaving_them_out_makes_currents_too_high():
    """The direction that the note tells: the bare supply gives more, and draws higher peaks, than with usual values."""
    bare = weldsim.read_text(BARE)
    real = vary(
        bare, {"mains.resistance": 0.4, "transformer.secondary_leakage_inductance": 35e-6, "bank.resistance": 3e-3}
    )
    names = ("output.current.mean", "primary.current.peak")
    more, less = (weldsim.preview(one).numbers for one in (bare, real))
    assert all(more[name].value > 1.02 * less[name].value for name in names)
