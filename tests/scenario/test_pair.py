"""Two transformers without simulating: shares of the mains, volts, what `check` finds, what says nothing."""

import math

import pytest

from weldsim.scenario.checks import findings
from weldsim.scenario.finding import highest, no_load
from weldsim.scenario.idle import idle_values
from weldsim.scenario.left_out import left_at_nothing
from weldsim.scenario.pair import impedance, loop_impedance, shares, transformers
from weldsim.scenario.reading import read, read_text
from weldsim.scenario.vary import vary, vary_by_text
from weldsim.scenario.writing import write_text

CREST = math.sqrt(2.0) * 230.0
FLUX = CREST / (2.0 * math.pi * 50.0)
SUPPLY = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "0.3 ohm"
[breaker]
curve = "C"
current = "16 A"
[transformer]
primary_turns = 240
secondary_turns = 20
primary_resistance = "1.2 ohm"
secondary_resistance = "8 mohm"
secondary_leakage_inductance = "40 uH"
[core]
magnetising_inductance = "2 H"
saturation_flux_linkage = "1.3 V.s"
saturated_inductance = "20 mH"
loss_resistance = "900 ohm"
[second_transformer]
"""


def pair(changes=None):
    """Two alike, with changes."""
    return vary(read_text(SUPPLY), changes or {})


def level_of(scenario, name):
    """How a finding stands; None where there is none."""
    return next((one.level for one in findings(scenario) if one.name == name), None)


@pytest.mark.parametrize(
    ("join", "parts", "secondary"),
    [
        ({}, (1.0, 1.0), CREST * 36 / 240),
        ({"secondaries": "parallel"}, (1.0, 1.0), CREST * 20 / 240),
        ({"primaries": "series", "secondaries": "parallel"}, (16 / 36, 20 / 36), CREST * 20 * 16 / 36 / 240),
        ({"reversed": True}, (1.0, 1.0), CREST * 4 / 240),
    ],
)
def test_volts_without_load_by_hand(join, parts, secondary):
    """Each with the whole mains; in series with parallel secondaries the volts of both secondaries must be equal."""
    scenario = pair({"second_transformer": {"secondary_turns": 16} | join})
    assert shares(scenario, FLUX) == pytest.approx(parts)
    assert no_load(scenario, factor=1.0).secondary_crest == pytest.approx(secondary)
    told = [one.number for one in findings(scenario) if one.name == "second_transformer.join"]
    assert told == ([] if join.get("reversed") else [pytest.approx(secondary / math.sqrt(2.0))])


def test_series_cores_share_by_their_magnetising_current():
    """Everything in series: straight cores of 2 H and 1 H take two thirds and one third of the mains (dividers).

    Where the first's corner comes sooner, it stops there and the second takes the rest: at 1.3 V s of 5 V s its share
    is 1.3 plus what the last 0.02 H of the same current add.
    """
    series = {"second_transformer.primaries": "series", "second_core.magnetising_inductance": 1.0}
    assert shares(pair(series), FLUX) == pytest.approx((2 / 3, 1 / 3))
    bent = pair(series | {"second_core.saturation_flux_linkage": 100.0})
    current = 5.0 - 1.3  # what is left at 1 H, less what the first takes beyond its corner at 0.02 H
    current = (current + 1.3 / 2.0 * 0.02) / (1.0 + 0.02)
    assert shares(bent, 5.0)[1] == pytest.approx(current / 5.0, rel=1e-9)


def test_flux_of_each_core_is_found():
    """In parallel each core has the whole flux, in series half of it where they are alike."""
    both = {one.name: one for one in findings(pair()) if one.name.endswith("core.flux")}
    assert set(both) == {"core.flux", "second_core.flux"}
    assert both["second_core.flux"].number == pytest.approx(highest(pair()).flux_linkage)
    assert both["second_core.flux"].number == pytest.approx(1.1 * FLUX)
    assert "second core" in both["second_core.flux"].text
    small = pair({"second_core.saturation_flux_linkage": 0.6})
    assert (level_of(small, "core.flux"), level_of(small, "second_core.flux")) == ("good", "fault")
    halves = pair({"second_core.saturation_flux_linkage": 0.6, "second_transformer.primaries": "series"})
    (found,) = [one for one in findings(halves) if one.name == "second_core.flux"]
    assert found.number == pytest.approx(0.55 * FLUX, rel=0.01)
    assert "50 % of the mains on its primary" in found.text


def test_the_wrong_way_round_is_a_fault():
    """In series the difference of the volts is told, in parallel the current of the loop: both volts over both Z."""
    assert level_of(pair(), "second_transformer.reversed") is None
    series = pair({"second_transformer.reversed": True, "second_transformer.secondary_turns": 16})
    (found,) = [one for one in findings(series) if one.name == "second_transformer.reversed"]
    assert (found.level, found.number) == ("fault", pytest.approx(230.0 * 4 / 240))
    parallel = pair({"second_transformer.reversed": True, "second_transformer.secondaries": "parallel"})
    (found,) = [one for one in findings(parallel) if one.name == "second_transformer.reversed"]
    each = complex(8e-3 + 1.2 / 144, 2.0 * math.pi * 50.0 * 40e-6)
    assert (found.level, found.number) == ("fault", pytest.approx(230.0 / 12.0 / abs(each)))
    assert loop_impedance(parallel, 50.0) == pytest.approx(2 * each)
    assert impedance(transformers(parallel)[0], 50.0) == pytest.approx(each)


@pytest.mark.parametrize(("wound", "level"), [((240, 20), "good"), ((236, 20), "note"), ((240, 18), "fault")])
def test_unlike_turns_in_parallel_are_found(wound, level):
    """The current that unlike volts drive is told, 1.7 % apart a note, 10 % a fault; series primaries allow it."""
    primary, turns = wound
    changes = {
        "second_transformer.secondaries": "parallel",
        "second_transformer.primary_turns": primary,
        "second_transformer.secondary_turns": turns,
    }
    (found,) = [one for one in findings(pair(changes)) if one.name == "second_transformer.unlike"]
    loop = complex(2 * 8e-3 + 1.2 * ((20 / 240) ** 2 + (turns / primary) ** 2), 2.0 * math.pi * 50.0 * 80e-6)
    assert found.number == pytest.approx(230.0 * abs(20 / 240 - turns / primary) / abs(loop), abs=1e-12)
    assert found.level == level
    assert level_of(pair(changes | {"second_transformer.primaries": "series"}), "second_transformer.unlike") is None


def test_values_of_the_second_without_effect_are_told():
    """Idle and lacking values of the second are named by its own tables; what it takes from the first is not."""
    told = {
        one.key
        for one in idle_values(
            pair(
                {
                    "second_core.steel": "non-oriented",
                    "second_core.section": 1e-3,
                    "second_core.path_length": 0.3,
                    "second_core.saturation_flux_linkage": 1.0,
                }
            )
        )
    }
    assert told == {"second_core.saturation_flux_linkage"}
    assert idle_values(pair({"second_transformer.secondary_turns": 21})) == []
    lacking = left_at_nothing(pair({"second_transformer.secondary_resistance": 0.0}))
    assert [key for key in lacking if key.startswith("second_")] == ["second_transformer.secondary_resistance"]


def test_what_people_type_and_what_is_written():
    """`--set second_transformer.secondary_turns=14` works, and the text of a pair reads back as the same scenario."""
    typed = vary_by_text(pair(), ["second_transformer.secondary_turns=14", "second_transformer.secondaries=parallel"])
    assert typed.second_transformer.secondary_turns == 14
    assert transformers(typed)[1].transformer.primary_turns == 240
    for scenario in (typed, pair({"second_core.gap": 1e-4}), read("oven_pair")):
        again = read_text(write_text(scenario))
        assert (again.second_transformer, again.second_core) == (scenario.second_transformer, scenario.second_core)
    gone = vary_by_text(typed, ["second_transformer=absent"])
    assert len(transformers(gone)) == 1
