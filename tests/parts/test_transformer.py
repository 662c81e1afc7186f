"""The transformer: ratio, resistance from copper, leakage, the EMF equation."""

import pytest

from weldsim.errors import ScenarioError
from weldsim.parts.transformer import (
    Transformer,
    flux_density,
    leakage_inductances,
    turns,
    turns_ratio,
    winding_resistance,
)


def test_ratio_from_turns_or_given():
    """130 to 15 turns, or a ratio as written."""
    assert turns_ratio(Transformer(primary_turns=130, secondary_turns=15)) == pytest.approx(130 / 15)
    assert turns_ratio(Transformer(ratio=230 / 31)) == 230 / 31
    with pytest.raises(ScenarioError, match="neither turns nor ratio"):
        turns_ratio(Transformer())


def test_turns_follow_from_the_ratio():
    """One winding's turns and the ratio give the other's; the ratio alone gives none."""
    assert turns(Transformer(primary_turns=130, ratio=6.5), "secondary") == 20.0
    assert turns(Transformer(secondary_turns=20, ratio=6.5), "primary") == 130.0
    assert turns(Transformer(ratio=6.5), "primary") is None


def test_resistance_from_copper():
    """220 turns of 0.4 m, 2 mm2 copper at 58 MS/m: 88 / (58e6 x 2e-6) = 0.7586 ohm (by hand)."""
    part = Transformer(primary_turns=220, secondary_turns=20, primary_wire_section=2e-6, primary_turn_length=0.4)
    assert winding_resistance(part, "primary") == pytest.approx(0.758621, rel=1e-5)
    assert winding_resistance(part, "secondary") == 0.0


def test_resistance_warms_up():
    """0.5 ohm at 20 degC is 0.696 ohm at 120 degC (by resistance, from memory 99 %); the rules differ by 0.1 %."""
    part = Transformer(ratio=7.0, primary_resistance=0.5, winding_temperature=120.0)
    assert winding_resistance(part, "primary") == pytest.approx(0.696078, rel=2e-3)


def test_leakage_as_given():
    """A written leakage is taken, and a side not written is zero."""
    written = Transformer(ratio=7.0, secondary_leakage_inductance=9e-6, layout="toroid")
    assert leakage_inductances(written) == (0.0, 9e-6)
    assert leakage_inductances(Transformer(ratio=7.0)) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("layout", "low", "high"), [("toroid", 5e-6, 20e-6), ("concentric", 20e-6, 60e-6), ("side by side", 80e-6, 300e-6)]
)
def test_leakage_from_layout(layout, low, high):
    """Seen from a welding secondary: the ranges of common practice (no published source), with and without turns."""
    wound = Transformer(primary_turns=140, secondary_turns=17, layout=layout)
    for part in (wound, Transformer(ratio=8.0, layout=layout)):
        primary, secondary = leakage_inductances(part)
        assert primary == 0.0
        assert low <= secondary <= high


def test_emf_equation():
    """230 V, 50 Hz, 220 turns, 32 cm2: 1.47069 T (computed elsewhere, 6 digits)."""
    assert flux_density(230.0, frequency=50.0, turns=220, section=32e-4) == pytest.approx(1.47069, abs=5e-6)


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"ratio": 7.0, "primary_turns": 130, "secondary_turns": 15}, "ratio"),
        ({}, "secondary_turns"),
        ({"secondary_turns": 15}, "primary_turns"),
        ({"ratio": 7.0, "primary_wire_section": 1e-6}, "primary_turn_length"),
        ({"ratio": 7.0, "primary_turn_length": 0.4}, "primary_wire_section"),
        ({"ratio": 7.0, "secondary_wire_section": 1e-6, "secondary_turn_length": 0.4}, "secondary_turns"),
    ],
)
def test_faults(values, place):
    """Too much or too little to know turns and copper is named at its field."""
    assert [name for name, _ in Transformer(**values).faults()] == [place]
