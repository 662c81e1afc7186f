"""The table [wire]: defaults by kind, gas, polarity and diameter, what was written wins, faults."""

import dataclasses
import math

import pytest

from weldsim.errors import ScenarioError
from weldsim.parts.wire import Wire, WireConstants, constants, extension_resistance
from weldsim.parts.wire_kinds import WIRE_KINDS
from weldsim.scenario.reading import read_text
from weldsim.scenario.writing import write_text

LEAST = '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n'
COVERED = [("solid steel", d) for d in (0.6, 0.8, 0.9, 1.0, 1.2)] + [("self-shielded", d) for d in (0.8, 0.9)]


@pytest.mark.parametrize(("kind", "diameter"), COVERED)
def test_every_covered_wire_has_all_constants(kind, diameter):
    """Each wire that is promised gives positive, finite constants, and a circle for its section."""
    found = constants(Wire(kind=kind, diameter=diameter * 1e-3))
    values = dataclasses.asdict(found)
    assert values.pop("arc_memory") == 0.0  # a choice, none by default
    assert all(math.isfinite(value) and value > 0.0 for value in values.values()), values
    assert found.section == pytest.approx(math.pi * diameter**2 / 4.0 * 1e-6)  # geometry, rounding only
    assert found.run_in < found.feed


@pytest.mark.parametrize("diameter", [0.6, 0.8, 0.9, 1.0, 1.2])
def test_constants_lie_in_the_ranges_told(diameter):
    """Ranges of the trade: 13 to 16 V, 20 to 25 mohm, 0.6 to 1.5 V/mm, 2 to 10 mohm, 7 to 15 A, 1 to 4 mohm.

    From memory or common practice, no published source; the range is the tolerance.
    """
    for kind, gas in WIRE_KINDS:
        found = constants(Wire(kind=kind, gas=gas, diameter=diameter * 1e-3))
        assert 13.0 <= found.arc_voltage <= 16.0
        assert 20e-3 <= found.arc_resistance <= 25e-3
        assert 0.6e3 <= found.arc_gradient <= 1.5e3
        assert found.contact_tube * (1.0 - found.contact_tube_spread) >= 2e-3
        assert found.contact_tube * (1.0 + found.contact_tube_spread) <= 10e-3
        assert 7.0 <= found.falling_current <= 15.0
        assert 1e-3 <= found.bridge_resistance <= 4e-3


@pytest.mark.parametrize("name", [item.name for item in dataclasses.fields(Wire) if item.default is None])
def test_what_is_written_wins(name):
    """An optional field that is given changes the constants; left out, the default of kind and diameter holds."""
    values = {"gas": "argon mix", "polarity": "negative", "melting_alpha": 1e-3, "melting_beta": 1e-4, "action": 2e16}
    values |= {"feed": 0.05, "run_in_feed": 0.02, "extension": 9e-3, "arc_voltage": 16.0, "arc_gradient": 800.0}
    values |= {"falling_current": 14.0, "resistivity_hot": 1e-6, "drain_time": 5e-3, "drain_current": 200.0}
    values |= {"drop_limit": 3e-3}
    assert constants(Wire(**{name: values[name]})) != constants(Wire())


def test_places_of_written_values():
    """Names that differ between table and kernel reach the right constant."""
    found = constants(
        Wire(
            feed=0.1,
            run_in_feed=0.02,
            motor_time_constant=0.05,
            extension=9e-3,
            spot_time_constant=4e-3,
            drain_time=5e-3,
            drain_current=200.0,
            melting=0.5,
            melting_alpha=1e-3,
            melting_beta=1e-4,
        )
    )
    assert (found.feed, found.run_in, found.motor_tau, found.height, found.spot_tau) == (0.1, 0.02, 0.05, 9e-3, 4e-3)
    assert (found.melt_alpha, found.melt_beta) == (0.5e-3, 0.5e-4)
    assert found.drain_base == 200.0
    assert found.drain_current * 200.0**2 == pytest.approx(found.drain_base)  # by definition, rounding only


def test_none_is_the_commonest_wire():
    """Without a table: 0.8 mm solid steel in CO2, electrode positive."""
    assert constants(None) == constants(Wire(kind="solid steel", gas="CO2", polarity="positive", diameter=0.8e-3))


def test_polarity_and_kind_change_the_melting():
    """A solid wire as cathode melts faster, a self-shielded one slower per ampere (from memory)."""
    plain = constants(Wire()).melt_alpha
    assert constants(Wire(polarity="negative")).melt_alpha > 1.3 * plain
    assert constants(Wire(kind="self-shielded")).melt_alpha < 0.7 * plain


def test_argon_mix_asks_for_fewer_volts():
    """In argon mix the arc takes less than in CO2 at any length (common practice)."""
    mix, pure = constants(Wire(gas="argon mix")), constants(Wire(gas="CO2"))
    assert mix.arc_voltage < pure.arc_voltage
    assert mix.arc_gradient < pure.arc_gradient


@pytest.mark.parametrize(
    ("values", "place"),
    [
        ({"gas": "none"}, "gas"),
        ({"kind": "self-shielded", "gas": "CO2"}, "gas"),
        ({"spot_low": 0.5}, "spot_low"),
        ({"gap_long_low": 9e-3}, "gap_long_low"),
        ({"reignite_time": 5e-3}, "reignite_lost"),
        ({"reignite_first": 4.0}, "reignite_later"),
    ],
)
def test_faults(values, place):
    """What contradicts itself is named at its field."""
    assert [name for name, _ in Wire(**values).faults()] == [place]


def test_sound_wires_have_no_faults():
    """Defaults of both kinds, and a range of one value, are sound."""
    assert Wire().faults() == []
    assert Wire(kind="self-shielded", gas="none").faults() == []
    assert Wire(spot_low=0.2, spot_high=0.2).faults() == []


def test_text_and_back():
    """The units of the wire's own constants survive writing and reading; another unit is refused with a hint."""
    text = LEAST + (
        '[wire]\nkind = "self-shielded"\ndiameter = "0.9 mm"\npolarity = "negative"\nfeed = "2.3 m/min"\n'
        'melting_alpha = "0.31 mm/(A s)"\nmelting_beta = "0.08 um/(mm.A2.s)"\naction = "14000 A2.s/mm4"\n'
    )
    scenario = read_text(text)
    assert scenario.wire == Wire(
        kind="self-shielded",
        diameter=0.9e-3,
        polarity="negative",
        feed=2.3 / 60.0,
        melting_alpha=0.31e-3,
        melting_beta=0.08e-3,
        action=1.4e16,
    )
    assert read_text(write_text(scenario)).wire == scenario.wire
    with pytest.raises(ScenarioError, match="speed"):
        read_text(LEAST + '[wire]\nfeed = "5 mm"\n')


def test_extension_resistance_in_the_told_range():
    """0.8 mm wire, 12 mm extension: 17 to 24 mohm (from memory: hot steel of 0.7 to 1.0 uohm m)."""
    assert 17e-3 < extension_resistance(Wire(), 12e-3) < 24e-3
    # thinner wire, in proportion to the section: 1.8 times as much at 0.6 mm (16/9, geometry)
    assert extension_resistance(Wire(diameter=0.6e-3), 12e-3) == pytest.approx(
        16.0 / 9.0 * extension_resistance(Wire(), 12e-3)
    )


def test_constants_are_plain_floats():
    """The kernel takes them into an array: nothing but floats."""
    assert all(type(value) is float for value in dataclasses.asdict(constants(None)).values())
    assert isinstance(constants(None), WireConstants)
