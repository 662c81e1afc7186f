"""The second transformer: what its table leaves open is the first's, and what a given key displaces is not."""

import dataclasses

import pytest

from weldsim.parts.iron import Core, FrictionRow
from weldsim.parts.second_transformer import SecondCore, SecondTransformer, second_core, second_transformer
from weldsim.parts.transformer import Transformer, leakage_inductances, turns, turns_ratio, winding_resistance

WOUND = Transformer(
    primary_turns=220,
    secondary_turns=20,
    primary_resistance=1.1,
    secondary_resistance=8e-3,
    primary_leakage_inductance=2e-3,
    winding_temperature=60.0,
    conductor="aluminium",
)
IRON = Core(section=24e-4, path_length=0.3, steel="non-oriented", gap=5e-5, stacking=0.95, remanence=0.4)


def test_an_empty_table_is_the_first_again():
    """Nothing given: the same transformer and the same core, in every field, those with a default included."""
    assert second_transformer(WOUND, SecondTransformer()) == WOUND
    assert second_core(IRON, SecondCore()) == IRON
    assert second_core(IRON, None) is IRON or second_core(IRON, None) == IRON


def test_every_key_of_the_first_can_be_given():
    """The tables have every field of the first's, none with a default of its own, and three for the join."""
    for first, second, more in (
        (Transformer, SecondTransformer, {"primaries", "secondaries", "reversed"}),
        (Core, SecondCore, set()),
    ):
        fields = {item.name: item.default for item in dataclasses.fields(second)}
        assert set(fields) == {item.name for item in dataclasses.fields(first)} | more
        assert all(default is None for name, default in fields.items() if name not in more)


@pytest.mark.parametrize(
    ("first", "given", "expected"),
    [
        (WOUND, {"secondary_turns": 21}, (220, 21)),
        (WOUND, {"primary_turns": 210}, (210, 20)),
        (WOUND, {"primary_turns": 210, "secondary_turns": 19}, (210, 19)),
        (WOUND, {"ratio": 10.0}, (220, 22)),
        (Transformer(primary_turns=220, ratio=11.0), {"secondary_turns": 22}, (220, 22)),
        (Transformer(primary_turns=220, ratio=8.5), {"primary_turns": 240}, (240, 220 / 8.5)),
        (Transformer(ratio=8.5), {"ratio": 8.0}, (None, None)),
    ],
)
def test_turns_by_hand(first, given, expected):
    """The turns that are given count; a winding without any keeps those of the first's."""
    second = second_transformer(first, SecondTransformer(**given))
    assert (turns(second, "primary"), turns(second, "secondary")) == pytest.approx(expected)
    assert second.faults() == []
    if expected[0] is not None:
        assert turns_ratio(second) == pytest.approx(expected[0] / expected[1])


def test_turns_beside_a_bare_ratio_are_incomplete():
    """Turns of one winding say nothing of the other where the first gives only a ratio: a fault, not a guess."""
    second = second_transformer(Transformer(ratio=8.5), SecondTransformer(secondary_turns=20))
    assert [name for name, _ in second.faults()] == ["primary_turns"]


def test_a_given_key_displaces_what_would_go_before_it():
    """Copper by its wire instead of the first's resistance; a layout instead of its leakage; another steel's width.

    By hand: 220 turns of 0.4 m of 2 mm2 of copper at 1.724e-8 ohm m are 0.7586 ohm at 20 degC.
    """
    cold = dataclasses.replace(WOUND, winding_temperature=20.0, conductor="copper")
    second = second_transformer(cold, SecondTransformer(primary_wire_section=2e-6, primary_turn_length=0.4))
    assert winding_resistance(second, "primary") == pytest.approx(220 * 0.4 * 1.724e-8 / 2e-6, rel=1e-3)
    assert winding_resistance(second, "secondary") == 8e-3
    laid = second_transformer(WOUND, SecondTransformer(layout="toroid"))
    assert leakage_inductances(laid) == pytest.approx((0.0, 50e-9 * 20**2))
    friction = (FrictionRow(current=0.05, flux_linkage=0.1),)
    first = Core(magnetising_inductance=4.0, hysteresis=friction, section=24e-4, path_length=0.3, loss_resistance=900.0)
    iron = second_core(first, SecondCore(steel="grain-oriented"))
    assert (iron.magnetising_inductance, iron.hysteresis, iron.section) == (None, None, 24e-4)
    assert second_core(first, SecondCore(loss_per_mass=1.5)).loss_resistance is None
    assert second_core(first, SecondCore(magnetising_inductance=3.0)) == dataclasses.replace(
        first, magnetising_inductance=3.0
    )
