"""What presses, spots, mains and comparisons tell of two cores: closed equivalences, a twin of one start, the words."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import weldsim
from tests.figures import layout
from weldsim.errors import ScenarioError
from weldsim.figures import inrush as picture
from weldsim.figures import press_drill as drill_picture
from weldsim.runs.flux_left import second_beside
from weldsim.scenario.checks import findings
from weldsim.scenario.writing import write_text
from weldsim.studies import compare_causes, inrush, inrush_map, press_drill, spot
from weldsim.studies.fed_by import told_pair
from weldsim.studies.inrush_verdicts import typed_verdicts

VOLTS, FREQUENCY, MAINS = 230.0, 50.0, 0.4  # V, Hz, ohm
SUPPLY = f"""
[mains]
voltage = "{VOLTS} V"
frequency = "{FREQUENCY} Hz"
resistance = "{MAINS} ohm"
[breaker]
curve = "B"
current = "16 A"
[phase_control]
dial = "60 %"
snubber_resistance = "100 ohm"
snubber_capacitance = "100 nF"
[transformer]
primary_turns = 240
secondary_turns = 20
primary_resistance = "1.2 ohm"
secondary_resistance = "8 mohm"
primary_leakage_inductance = "3 mH"
secondary_leakage_inductance = "25 uH"
[core]
section = "24 cm2"
path_length = "0.3 m"
steel = "non-oriented"
[rectifier]
[load]
kind = "resistor"
resistance = "0.3 ohm"
"""
ALIKE = {  # key -> factor of the one transformer that stands for two with everything in series, or in parallel
    "series": {"impedance": 2.0, "section": 2.0, "path_length": 1.0},
    "parallel": {"impedance": 0.5, "section": 1.0, "path_length": 2.0},
}
WOUND = [f"{side}_{what}" for side in ("primary", "secondary") for what in ("resistance", "leakage_inductance")]


def supply(changes=None):
    """One transformer behind a triac, a bridge on a resistor, with changes."""
    return weldsim.vary(weldsim.read_text(SUPPLY), changes or {})


def one_for_two(join):
    """One transformer of twice the iron, and two in its place."""
    single, factors = supply(), ALIKE[join]
    changes = {
        "core.section": factors["section"] * 24e-4,
        "core.path_length": factors["path_length"] * 0.3,
    }
    for name in WOUND:
        changes[f"transformer.{name}"] = getattr(single.transformer, name) * factors["impedance"]
    two = weldsim.vary(single, {"second_transformer": {"primaries": join, "secondaries": join}})
    return weldsim.vary(single, changes), two


def values(answer):
    """Numbers without their units."""
    return {name: number.value for name, number in answer.numbers.items()}


@pytest.mark.slow
@pytest.mark.parametrize("join", ["series", "parallel"])
def test_presses_of_two_alike_are_those_of_twice_the_iron(join):
    """Everything in series: one of twice the section and impedance; in parallel: of twice the path and half of it.

    Ampere's law and the EMF equation, as for whole runs in tests/network.  Every press, what each core keeps (of one
    with everything in series half the linkage, at the same flux density) and how far the worst drives them: 1e-9, two
    drawings.  In series the cores of a pair have many settled states, as one may keep what the other lacks, and the
    search for one leaves them a thousandth apart: 2e-3 of what they keep then, 2e-5 of what follows from it.  A drill
    begins at rest and searches for nothing.
    """
    whole, pair = one_for_two(join)
    one, two = (values(inrush.ask(some, presses=6, remedies=False, workers=1)) for some in (whole, pair))
    share, found, kept = (0.5, 2e-5, 2e-3) if join == "series" else (1.0, 1e-9, 1e-9)
    for name, value in one.items():
        near, part = (kept if "remanence" in name else found), (share if "flux_linkage" in name else 1.0)
        assert two[name] == pytest.approx(value * part, rel=near), name
    for name in ("remanence.low", "remanence.high", "remanence.flux_linkage.low", "remanence.flux_linkage.high"):
        assert two[f"second_core.{name}"] == pytest.approx(two[name], rel=2.0 * kept)
    assert two["worst_press.second_core.saturation"] == pytest.approx(one["worst_press.core.saturation"], rel=found)
    assert one["remanence.high"] - one["remanence.low"] > 0.1  # something was left in them
    drilled, both = (press_drill.ask(some, presses=4) for some in (whole, pair))
    for row, other in zip(drilled.rows, both.rows, strict=True):
        assert other["peak"] == pytest.approx(row["peak"], rel=1e-9)
        for name in ("flux_linkage", "second_flux_linkage"):  # 1e-12: what a demagnetised core has of the snubber
            assert other[name] == pytest.approx(share * row["flux_linkage"], rel=1e-9, abs=1e-12)


# --- one start with two different cores and a flux left in each, as plain equations -----------------------------------

MAGNETISING, CORNER, SATURATED = (2.0, 1.6), (0.85, 0.8), (0.02, 0.03)  # H, V s, H of the first and the second core
LOSS, PRIMARY, LEAKAGE = (400.0, 500.0), (1.2, 1.5), (3e-3, 4e-3)  # ohm, ohm, H
RATIO, SECONDARY, STRAY = (12.0, 13.0), (8e-3, 10e-3), (25e-6, 30e-6)  # 1, ohm, H
LIMIT, REACH = (0.3, 0.25), (0.2, 0.3)  # A, V s of the friction in each
LEFT = (0.45, -0.3)  # V s
LOAD, CREST, OMEGA = 0.3, math.sqrt(2.0) * VOLTS, 2.0 * math.pi * FREQUENCY


def unlike():
    """Two different transformers, everything in parallel on a resistor, with a flux left in each."""
    changes = dict.fromkeys(("phase_control", "rectifier", "breaker", "transformer", "core"), "absent") | {
        "start.flux_linkage": LEFT[0],
        "start.second_flux_linkage": LEFT[1],
    }
    for k, place in enumerate(("", "second_")):
        changes[f"{place}transformer"] = {
            "ratio": RATIO[k],
            "primary_resistance": PRIMARY[k],
            "secondary_resistance": SECONDARY[k],
            "primary_leakage_inductance": LEAKAGE[k],
            "secondary_leakage_inductance": STRAY[k],
        } | ({"secondaries": "parallel"} if k else {})
        changes[f"{place}core"] = {
            "magnetising_inductance": MAGNETISING[k],
            "saturation_flux_linkage": CORNER[k],
            "saturated_inductance": SATURATED[k],
            "loss_resistance": LOSS[k],
            "hysteresis": [{"current": LIMIT[k], "flux_linkage": REACH[k]}],
        }
    return supply(changes)


def curve(k, flux):
    """Current of a core without its friction: two straight pieces."""
    beyond = max(abs(flux) - CORNER[k], 0.0)
    return math.copysign(min(abs(flux), CORNER[k]) / MAGNETISING[k] + beyond / SATURATED[k], flux)


def rates(t, x):
    """Rates of both primary currents, fluxes, secondary currents and frictions, which slide at their limits."""
    primary, flux, secondary, friction = x[0:2], x[2:4], x[4:6], x[6:8]
    source = CREST * math.sin(OMEGA * t) - MAINS * sum(primary)
    output = LOAD * sum(secondary)
    held = [min(max(friction[k], -LIMIT[k]), LIMIT[k]) for k in (0, 1)]
    volts = [LOSS[k] * (primary[k] - curve(k, flux[k]) - held[k] - secondary[k] / RATIO[k]) for k in (0, 1)]
    slides = [abs(friction[k]) >= LIMIT[k] and friction[k] * volts[k] > 0.0 for k in (0, 1)]
    return [
        *((source - PRIMARY[k] * primary[k] - volts[k]) / LEAKAGE[k] for k in (0, 1)),
        *volts,
        *((volts[k] / RATIO[k] - SECONDARY[k] * secondary[k] - output) / STRAY[k] for k in (0, 1)),
        *(0.0 if slides[k] else volts[k] * LIMIT[k] / REACH[k] for k in (0, 1)),
    ]


def test_one_start_with_unlike_cores_and_fluxes_is_that_of_plain_equations():
    """0.45 V s left in the first core and -0.3 V s in the second: Kirchhoff's equations under scipy's Radau.

    Each friction begins where it holds its core's flux without a current (one element: minus the curve's current).
    1e-5 of each waveform's largest value: what Radau reaches over corners and slidings it is not told of.
    """
    run = weldsim.perform(unlike(), duration=0.04)
    begin = [0.0, 0.0, *LEFT, 0.0, 0.0, *(-curve(k, LEFT[k]) for k in (0, 1))]
    moments = np.minimum(run.time, 0.04)
    found = solve_ivp(rates, (0.0, 0.04), begin, method="Radau", rtol=1e-8, atol=1e-10, t_eval=moments, max_step=2e-5)
    assert found.success
    places = {"first_primary.current": 0, "second_primary.current": 1, "core.flux_linkage": 2}
    places |= {"second_core.flux_linkage": 3, "secondary.current": 4, "second_secondary.current": 5}
    for name, place in places.items():
        largest = np.max(np.abs(found.y[place]))
        assert run[name] == pytest.approx(found.y[place], abs=1e-5 * largest), name
    assert np.max(np.abs(run["core.flux_linkage"])) > CORNER[0]
    assert np.max(np.abs(run["second_core.flux_linkage"])) > CORNER[1]


# --- what is told ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def ovens():
    """The bundled pair; the second core is of grain-oriented steel, and so large that it never saturates."""
    return weldsim.vary(weldsim.read("oven_pair"), {"second_core.steel": "grain-oriented", "second_core.section": 4e-3})


@pytest.fixture(scope="module")
def presses(ovens):
    """Some presses of it."""
    return inrush.ask(ovens, presses=8, remedies=False, workers=1)


def text_of(answer, name):
    """The text of one verdict."""
    return next(one.text for one in answer.verdicts if one.name == name)


def test_inrush_tells_both_cores(presses):
    """Numbers are quantiles of the rows of each core; the cause names what was left in each, and which saturates."""
    rows, numbers = [row for row in presses.rows if row["kind"] == "press"], values(presses)
    for place in ("", "second_"):
        kept = [row[f"{place}flux_density"] for row in rows]
        name = f"{place}core.remanence" if place else "remanence"
        assert numbers[f"{name}.high"] == pytest.approx(float(np.quantile(kept, 0.95)))
        assert numbers[f"{name}.low"] == pytest.approx(float(np.quantile(kept, 0.05)))
    assert numbers["second_core.remanence.high"] != numbers["remanence.high"]
    worst = max(rows, key=lambda row: row["largest_peak"])
    text = text_of(presses, "cause")
    assert f"{worst['flux_density']:+.3g} T left in the first core" in text
    assert f"and {worst['second_flux_density']:+.3g} T in the second" in text
    over = [numbers[f"worst_press.{place}core.saturation"] > 1.0 for place in ("", "second_")]
    assert over == [True, False]
    assert ": the first saturates." in text
    assert "With demagnetised cores it would peak" in text
    assert not any("is of the first where it does not say" in line for line in told_pair("inrush", presses.scenario))


def test_one_transformer_is_told_of_as_one():
    """No word and no number of a second core where there is one; its saturation is told."""
    answer = inrush.ask(supply(), presses=3, remedies=False, workers=1)
    assert not any("second" in name for name in answer.numbers)
    assert "second" not in text_of(answer, "cause") + text_of(answer, "trips")
    assert (
        f"That press drives the flux to {100.0 * values(answer)['worst_press.core.saturation']:.0f} % of saturation"
        in (text_of(answer, "cause"))
    )


def test_a_map_leaves_no_more_in_the_second_than_it_keeps(ovens):
    """As dense as the first up to what the second keeps by itself (steel table: 0.5 and 1.1 T, less with a gap)."""
    gap = weldsim.vary(ovens, {"second_core.gap": 1e-4})
    turns, section = 264, 4e-3
    assert second_beside(ovens, 0.33) == pytest.approx({"second_flux_linkage": 0.33 * 40.0 / 25.0})
    (kept,) = second_beside(gap, -0.33).values()
    assert -0.12 * turns * section < kept < 0.0
    assert second_beside(supply(), 0.33) == {}
    job = inrush_map.Row(gap, inrush.Setting(), "empty", 0.0, 0.33)
    assert all(math.isfinite(row["first_peak"]) for row in inrush_map.phases(job))


def test_a_typed_flux_is_judged_by_each_core(ovens):
    """0.5 T stays in the first core (its remanence), not in a second one with a gap: the verdict names it."""
    gap = weldsim.vary(ovens, {"second_core.gap": 1e-4})
    half = 0.5 * 264 * 25e-4
    assert typed_verdicts(ovens, half) == []
    (told,) = typed_verdicts(gap, half)
    assert told.name == "typed_second_remanence"
    assert "without current the second core keeps at most" in told.text


def test_a_drill_tells_both_cores(ovens):
    """Each press begins with what the one before left in either core; picture and rows show both."""
    answer = press_drill.ask(ovens, presses=5)
    left = [(row["flux_linkage"], row["second_flux_linkage"]) for row in answer.rows]
    assert all(abs(one) > 0.1 and abs(other) > 0.1 for one, other in left[1:])
    assert all(one != other for one, other in left[1:])
    assert "V.s left in the first core and" in text_of(answer, "drill")
    reached = [100.0 * values(answer)[f"worst_press.{place}core.saturation"] for place in ("", "second_")]
    assert f"{reached[0]:.0f} % of saturation in the first core and {reached[1]:.0f} % in the second" in (
        text_of(answer, "drill")
    )
    assert "in the second against" in text_of(answer, "fifth")
    figure = drill_picture.draw(answer)
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []
    labels = [axes.get_ylabel() for axes in figure.axes]
    assert "flux left,\nsecond [V s]" in labels
    assert "bank\n[V]" not in labels  # there is none


def test_the_picture_shows_both_fluxes(presses):
    """Two lines under each press, named above the first, on nothing else."""
    figure = picture.draw(presses)
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []
    fluxes = [axes for axes in figure.axes if axes.get_ylabel() == "flux [V s]"]
    assert [len(axes.get_lines()) for axes in fluxes] == [3, 3, 3]  # and that of zero
    named = [axes.get_legend() for axes in figure.axes if axes.get_legend() is not None]
    assert [[text.get_text() for text in one.get_texts()] for one in named] == [["first core", "second core"]]


@pytest.mark.slow
def test_spots_in_a_row_tell_both_cores():
    """Each spot begins with what the one before left in either core; warm windings are those of both."""
    scenario = supply({"second_transformer": {"winding_temperature": 20.0}, "second_core": {"section": 22e-4}})
    answer = spot.ask(scenario, spots=3, spot_time=0.1)
    row = [row for row in answer.rows if row["kind"] == "spot" and row["condition"] == "one after another"]
    assert all(abs(one["second_flux_linkage"]) > 1e-3 for one in row[1:])
    most = values(answer)["in_a_row.start.second_core.flux_linkage.max"]
    assert most == max(abs(one["second_flux_linkage"]) for one in row[1:])
    text = text_of(answer, "spot_row")
    assert "V.s in the first core, up to" in text
    assert "V.s in the second core" in text
    alike = spot.ask(supply({"second_transformer": {}, "second_core": {"section": 22e-4}}), spots=3, spot_time=0.1)
    assert values(answer)["warm.energy.mean"] == pytest.approx(values(alike)["warm.energy.mean"], rel=1e-9)


def test_mains_tells_the_bias_of_both_cores():
    """Direct volts on the mains bias both: the mean current of each primary is alike, the fluxes are their own."""
    scenario = weldsim.vary(weldsim.read("oven_pair"), {"mains.dc_offset": 1.0, "second_core.gap": 1e-4})
    answer = weldsim.mains(scenario)
    numbers = values(answer)
    means = [numbers[f"{place}core.flux_linkage.mean"] for place in ("", "second_")]
    assert means[0] > 1.2 * means[1] > 0.0
    assert f"The second core's flux has a mean of {means[1]:.3g} V.s" in text_of(answer, "second_flux_bias")
    assert "the mean of the second core's flux from 0 to" in text_of(answer, "background")


def test_causes_are_looked_for_in_both():
    """Values of either transformer are candidates of a comparison, as written or as taken over from the first."""
    found = {one.key: one for one in compare_causes.values_of(weldsim.read("oven_pair"), 72.0)}
    assert found["second_core.section"].written == 24e-4
    assert (
        found["second_transformer.primary_leakage_inductance"].written
        == found["transformer.primary_leakage_inductance"].written
    )
    words = {key: one.words for key, one in found.items()}
    assert words["core.section"] == "iron section of the first core"
    assert words["transformer.primary_leakage_inductance"] == "leakage of both transformers"  # the second has it too
    assert words["second_transformer.winding_temperature"] == "temperature of the windings of the second transformer"
    other = found["second_core.section"].change(20e-4).of(weldsim.read("oven_pair"))
    assert (other.core.section, other.second_core.section) == (25e-4, 20e-4)
    assert not [key for key in (one.key for one in compare_causes.values_of(supply(), 72.0)) if "second_" in key]


# --- what the second core starts with ---------------------------------------------------------------------------------


def test_the_start_of_the_second_core():
    """A key of its own, as linkage or density (N A B); it is written, found fault with, and refused where none is."""
    pair = {"second_transformer": {}, "second_core": {"section": 22e-4}}
    scenario = supply(pair | {"start.remanence": 0.3, "start.second_remanence": -0.2})
    run = weldsim.perform(scenario, duration=1e-4)
    assert run["core.flux_linkage"][0] == pytest.approx(0.3 * 240 * 24e-4)
    assert run["second_core.flux_linkage"][0] == pytest.approx(-0.2 * 240 * 22e-4)
    again = weldsim.read_text(write_text(scenario))
    assert again.start == scenario.start
    told = {one.name: one for one in findings(supply(pair | {"start.second_remanence": 1.2}))}
    assert "second core, which keeps at most" in told["second_start.flux"].text
    assert "start.flux" not in told
    for name in ("second_flux_linkage", "second_remanence"):
        with pytest.raises(ScenarioError, match=r"no \[second_transformer\] with a core"):
            supply({f"start.{name}": 0.1})
    with pytest.raises(ScenarioError, match="not both"):
        supply(pair | {"start.second_flux_linkage": 0.1, "start.second_remanence": 0.1})


def test_how_the_second_core_starts_is_said():
    """With a flux for the first alone the answer says that the second is alike; with one of its own it does not."""
    pair = supply({"second_transformer": {}, "start.flux_linkage": 0.2})
    assert any("the second is magnetised alike" in line for line in told_pair("preview", pair))
    own = weldsim.vary(pair, {"start.second_flux_linkage": 0.0})
    assert not any("alike" in line for line in told_pair("preview", own))
    assert not any("alike" in line for line in told_pair("breaker", pair))
