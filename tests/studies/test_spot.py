"""The spot study: names, conditions, verdicts, on a wire and on a plain load; burn-back for a wanted wire end."""

import json
import math

import pytest

import weldsim
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures.spot import draw
from weldsim.scenario.vary import vary
from weldsim.studies import spot
from weldsim.studies.burn_back import Ends, time_for

SPOTS = 8


@pytest.fixture(scope="module")
def answer():
    """Spots of the shed with a wanted wire end."""
    return spot.ask(weldsim.read("toroid_shed"), dial=0.6, spots=SPOTS, spot_time=0.4, wire_end=7e-3)


@pytest.fixture(scope="module")
def welder():
    """A resistance welder: a bundled scenario without a wire."""
    return weldsim.read("resistance_spot")


def test_conditions_and_names(answer):
    """Seven conditions of as many spots each; the numbers are those of the rows."""
    rows = [row for row in answer.rows if row["kind"] == "condition"]
    assert len(rows) == 7
    spots = [row for row in answer.rows if row["kind"] == "spot"]
    assert len(spots) == 7 * SPOTS
    own = [row["energy"] for row in spots if row["condition"] == "random start"]
    assert answer.numbers["random.energy.mean"].value == pytest.approx(sum(own) / SPOTS)
    assert answer.numbers["random.energy.max"].value == max(own)


def test_what_must_come_out(answer):
    """More volts more energy, warm windings less; the counting timer repeats to a half cycle (physics)."""
    mean = {
        name: answer.numbers[f"{name}.energy.mean"].value
        for name in spot.NAMES
        if f"{name}.energy.mean" in answer.numbers
    }
    assert mean["low_mains"] < mean["random"] < mean["high_mains"]
    assert mean["warm"] < mean["random"]
    numbers = answer.numbers
    assert numbers["synchronised.half_cycles.max"].value - numbers["synchronised.half_cycles.min"].value <= 1


def test_burn_back_for_a_wanted_end(answer):
    """The burn-back found leaves the wanted 7 mm within 2 mm on other draws (the study's own bound for good)."""
    assert 0.02 < answer.numbers["burn_back.time"].value < 0.2
    assert answer.numbers["burn_back.median"].value == pytest.approx(7e-3, abs=2e-3)


def test_time_between_two_that_were_looked_at():
    """Straight between the neighbours; not a number beyond them (by hand)."""
    swept = [Ends(time, (length,), 0, 0) for time, length in ((0.0, 10e-3), (0.1, 6e-3), (0.2, 1e-3))]
    assert time_for(swept, 8e-3) == pytest.approx(0.05)
    assert time_for(swept, 1e-3) == pytest.approx(0.2)
    assert math.isnan(time_for(swept, 11e-3))


@pytest.mark.slow
def test_same_numbers_whatever_the_workers(welder):
    """Numbers depend on the seed, not on how many conditions are worked on at a time."""
    one, three = (spot.ask(welder, spots=4, workers=workers) for workers in (1, 3))
    assert {name: number.value for name, number in one.numbers.items()} == {
        name: number.value for name, number in three.numbers.items()
    }
    assert spot.ask(welder, spots=4, seed=2).numbers["random.energy.mean"] != one.numbers["random.energy.mean"]


def test_resistance_welder(welder):
    """Alternating output: energy without charge, no wire; a counting timer spreads a tenth of a free one or less.

    On a load that stays the same nothing but half cycles and their order is left to differ.
    """
    found = spot.ask(welder, spots=12)
    assert "random.charge.mean" not in found.numbers
    assert "random.wire_end.median" not in found.numbers
    assert found.numbers["synchronised.energy.spread"].value < 0.5 * found.numbers["random.energy.spread"].value
    assert found.numbers["high_mains.energy.mean"].value / found.numbers["random.energy.mean"].value == pytest.approx(
        1.21, abs=0.08
    )  # Joule, less what the core takes near saturation


def test_own_soft_start_is_taken_and_left_out(welder):
    """A scenario with a ramp of its own is compared with the same without it."""
    slow = vary(welder, {"soft_start.kind": "ramp", "soft_start.half_cycles": "6"})
    found = spot.ask(slow, spots=4)
    assert found.numbers["at_once.energy.mean"].value > found.numbers["random.energy.mean"].value
    assert "soft_start.energy.mean" not in found.numbers


def test_what_a_spot_leaves_to_the_next(answer):
    """One after another: the first from rest like the random one, later ones with flux in the core.

    The shed's bank bleeds (470 ohm on 30 mF would take a minute; the arc has emptied it before): volts are left, fewer
    than its arc's 16 V or so.
    """
    row = [row for row in answer.rows if row["kind"] == "spot" and row["condition"] == "one after another"]
    alone = [row for row in answer.rows if row["kind"] == "spot" and row["condition"] == "random start"]
    assert row[0]["energy"] == pytest.approx(alone[0]["energy"], rel=1e-9)
    assert "flux_linkage" not in row[0]
    assert all(one["energy"] != other["energy"] for one, other in zip(row[1:], alone[1:], strict=True))
    assert max(abs(one["flux_linkage"]) for one in row[1:]) > 0.02
    assert answer.numbers["in_a_row.start.core.flux_linkage.max"].value < 1.0355  # crest: 325 V / 2 pi 50 Hz
    assert any(verdict.name == "spot_row" for verdict in answer.verdicts)


@pytest.mark.parametrize(
    "soft",
    [
        {"soft_start.kind": "resistor", "soft_start.resistance": "22 ohm", "soft_start.bypass_delay": "0.25 s"},
        pytest.param(
            {
                "soft_start.kind": "ntc",
                "soft_start.resistance": "10 ohm",
                "soft_start.beta": "3000 K",
                "soft_start.dissipation": "25 mW/K",
                "soft_start.cooling_time": "100 s",
            },
            marks=pytest.mark.slow,
        ),
    ],
)
def test_a_soft_start_in_series_costs_energy(soft):
    """What is in series takes from spots that begin cold (longer than the first touch takes); warm, less."""
    shed = vary(weldsim.read("toroid_shed"), soft)
    found = spot.ask(shed, dial=0.6, spots=2, spot_time=0.3)
    mean = {name: found.numbers[f"{name}.energy.mean"].value for name in ("random", "at_once", "in_a_row")}
    assert mean["random"] < mean["at_once"]
    assert "soft_start.energy.mean" not in found.numbers
    if soft["soft_start.kind"] == "ntc":
        assert mean["in_a_row"] > mean["random"]
        assert any("thermistor is one body" in line for line in found.assumptions)


def test_nothing_reaches_the_work(welder):
    """At a delay of 180 deg there is no energy, and the only verdict says so."""
    found = spot.ask(welder, spots=2, delay=180.0)
    assert [verdict.level for verdict in found.verdicts] == ["fault"]


def test_questions_that_cannot_be_answered(welder):
    """No spots; no wire whose end could be wanted, or that could be fed; neither wire nor load."""
    with pytest.raises(QuestionError, match="no wire to feed"):
        spot.ask(welder, spots=2, feed=0.1)
    with pytest.raises(QuestionError, match="say nothing"):
        spot.ask(welder, spots=0)
    with pytest.raises(QuestionError, match="no wire"):
        spot.ask(welder, wire_end=8e-3)
    with pytest.raises(QuestionError, match="neither"):
        spot.ask(vary(welder, {"load": "absent"}), spots=2)


def test_command_and_picture(tmp_path, monkeypatch, capsys, answer):
    """The command gives one JSON object and a picture whose axes have their units."""
    monkeypatch.chdir(tmp_path)
    typed = ["spot", "resistance_spot", "--spots", "3", "--spot-time", "0.1 s", "--warm", "80 degC", "--json"]
    assert main([*typed, "--figure", "spot.png"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["numbers"]["spot.time"] == {"value": 0.1, "unit": "s"}
    assert (tmp_path / "spot.png").stat().st_size > 10_000
    for axes in draw(answer).axes:
        assert axes.get_xlabel().endswith("]")
