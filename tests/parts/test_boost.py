"""The boost circuit: winding voltage, second winding of the choke, contradictions."""

import pytest

from weldsim.parts.boost import Boost, choke_turns_ratio, no_load_voltage


def test_winding_voltage():
    """27 turns at 230 V on 130: 47.77 V (by hand); a written voltage is taken as it stands."""
    wound = Boost(kind="winding", turns=27)
    assert no_load_voltage(wound, volts_per_turn=230.0 / 130.0) == pytest.approx(47.769, abs=1e-3)
    assert no_load_voltage(Boost(kind="winding", voltage=50.0), volts_per_turn=1.0) == 50.0


def test_second_winding_of_the_choke():
    """60 turns on a choke of 20: three to one; unknown where the choke's turns are."""
    assert choke_turns_ratio(Boost(kind="choke", choke_turns=60), main_turns=20) == 3.0
    assert choke_turns_ratio(Boost(kind="choke", choke_ratio=2.5), main_turns=None) == 2.5
    assert choke_turns_ratio(Boost(kind="choke", choke_turns=60), main_turns=None) is None


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"kind": "winding"}, "turns"),
        ({"kind": "winding", "turns": 27, "voltage": 48.0}, "turns"),
        ({"kind": "winding", "turns": 27, "ballast_on_choke": True}, "choke_ratio"),
        (
            {"kind": "winding", "turns": 27, "ballast_on_choke": True, "choke_ratio": 2.0, "ballast_inductance": 1e-3},
            "ballast_inductance",
        ),
        ({"kind": "choke"}, "choke_ratio"),
        ({"kind": "choke", "choke_ratio": 2.0, "choke_turns": 3}, "choke_ratio"),
        ({"kind": "choke", "choke_ratio": 2.0, "feeds": "bank"}, "feeds"),
    ],
)
def test_faults(values, place):
    """What a kind lacks or cannot have is named at its field."""
    assert [name for name, _ in Boost(**values).faults()] == [place]


def test_sound_boosts():
    """Both kinds with what they need have no fault."""
    assert Boost(kind="winding", turns=27).faults() == []
    assert Boost(kind="choke", choke_ratio=2.0).faults() == []
