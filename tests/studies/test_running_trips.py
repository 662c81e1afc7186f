"""What a breaker feels of settled running and of a wire that sticks: by the rms and by the peak of a half cycle."""

import math

import pytest

import weldsim
from tests.studies.on_resistor import on_resistor
from weldsim.studies import breaker, preview

STICK = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[breaker]
curve = "C"
current = "16 A"
[transformer]
ratio = "230:60"
primary_resistance = "0 ohm"
secondary_resistance = "0 ohm"
secondary_leakage_inductance = "{leakage} mH"
[rectifier]
[choke]
inductance = "2 mH"
resistance = "2 mohm"
[load]
kind = "load line"
process = "MMA"
"""


def told(answer, name):
    """One verdict by its name."""
    return next(one for one in answer.verdicts if one.name == name)


@pytest.mark.parametrize(
    ("multiple", "level", "says"),
    [
        (1.0, "good", "never trips by heat"),  # 1.1 at high mains: below 1.13 (IEC 60898-1)
        (1.1, "note", "never trips by heat"),  # 1.21 at high mains: beyond 1.13
        (1.6, "fault", "leave the magnetic part alone"),  # beyond 1.45: trips within the hour
        (2.8, "fault", "at high mains they reach"),  # 3.08 at high mains: B opens from 3 times
        (4.2, "fault", "may open within a half cycle"),  # between 3 and 5 times
        (6.0, "fault", "it opens at once"),
    ],
)
def test_a_preview_says_what_its_breaker_does(multiple, level, says):
    """A sine through a resistor has a crest of root 2, so that rms and peak reach a B16's points at the same multiple.

    Points: 1.13 and 1.45 In by heat, 3 to 5 In at once (IEC 60898-1).
    """
    verdict = told(preview.ask(on_resistor(multiple)), "breaker")
    assert verdict.level == level
    assert says in verdict.text
    assert f"{16.0 * multiple:.3g} A rms, {multiple:.2f} times" in verdict.text


def test_peaks_count_where_heat_would_take_its_time():
    """A shorted diode: heat alone takes a C10 some time, its magnetic part opens in the first half cycle."""
    changes = {"rectifier.fault": "one diode shorted", "breaker.current": "10 A"}
    supply = weldsim.vary(weldsim.read("toroid_shed"), changes)
    answer = breaker.ask(supply)
    peak = answer.numbers["primary.current.peak"].value
    assert peak > math.sqrt(2.0) * 100.0  # beyond 10 In, where every C10 opens (IEC 60898-1)
    assert answer.numbers["breaker.trip.middle"].value > 0.1
    assert told(answer, "at_once").level == "fault"
    assert "it opens at once" in told(answer, "at_once").text
    assert "it opens at once" in told(preview.ask(supply), "breaker").text


def test_a_fuse_is_judged_by_its_conventional_currents():
    """1.25 and 1.6 times (IEC 60269-1, from memory); it has no magnetic part, so peaks are not told."""
    levels = []
    for multiple in (1.1, 1.4, 1.7):
        verdict = told(preview.ask(on_resistor(multiple, breaker__curve="gG")), "breaker")
        assert "magnetic" not in verdict.text
        levels.append(verdict.level)
    assert levels == ["good", "note", "fault"]
    assert not [one for one in breaker.ask(on_resistor(1.0, breaker__curve="gG")).verdicts if one.name == "at_once"]


@pytest.mark.parametrize(("leakage", "opens"), [(1.0, True), (6.0, False)])
def test_an_electrode_that_sticks(leakage, opens):
    """A leakage as ballast: whether a C16 ever opens on a frozen electrode follows from its reactance.

    Into a short all four diodes conduct at once, the winding sees its reactance only, and the choke keeps the crest of
    what flows there, E sqrt2 / X (textbook: overlap of half a period).
    """
    answer = breaker.ask(weldsim.read_text(STICK.format(leakage=leakage)))
    numbers = answer.numbers
    reactance = 2.0 * math.pi * 50.0 * leakage * 1e-3
    # Below that crest, as diodes and choke take some volts of the 60; above the mean magnitude, 2 / pi of it.
    crest = 60.0 * math.sqrt(2.0) / reactance
    assert 2.0 / math.pi * crest < numbers["dead_short.output.current.mean"].value < crest
    assert math.isfinite(numbers["dead_short.breaker.trip.slowest"].value) == opens
    assert ("may never open" in told(answer, "dead_short").text) == (not opens)


def test_only_an_arc_can_freeze():
    """A resistor or a battery is no wire that sticks."""
    assert not [one for one in breaker.ask(on_resistor(1.0)).verdicts if one.name == "dead_short"]


def test_the_preview_of_a_dead_short_draws_the_same():
    """The breaker's dead short is the scenario on a short of 1 mohm, as anyone may write it."""
    supply = weldsim.read("long_lead")
    found = breaker.ask(supply).numbers
    short = weldsim.vary(weldsim.vary(supply, load="absent"), {"load.kind": "short", "load.resistance": "1 mohm"})
    alone = preview.ask(short).numbers
    for name in ("primary.current.rms", "primary.current.peak", "output.current.mean"):
        # 1e-6: both are the settled state, each found to its own rounding
        assert found[f"dead_short.{name}"].value == pytest.approx(alone[name].value, rel=1e-6)
