"""A core given by electrical values alone forgets: its good statistic is told beside one of a core that remembers."""

import math

import pytest

import weldsim
from weldsim.scenario.vary import vary

SWING = math.sqrt(2.0) * 230.0 / (2.0 * math.pi * 50.0)  # [V s] crest of the flux of steady running
SATURATION, INDUCTANCE = 1.15 * SWING, 0.1  # [V s], [H]

BENCH = f"""
[mains]
voltage = "230 V"
frequency = "50 Hz"
[breaker]
curve = "B"
current = "2 A"
[transformer]
ratio = "10:1"
primary_resistance = "5 mohm"
[core]
magnetising_inductance = "2000 H"
saturation_flux_linkage = "{SATURATION} V.s"
saturated_inductance = "{INDUCTANCE} H"
"""


def verdict(answer, name):
    """One verdict by name, or None."""
    return next((one for one in answer.verdicts if one.name == name), None)


def test_what_a_core_that_remembers_would_do_is_told():
    """From nothing the flux swings to twice its crest, from 0.7 of it to 2.7: (2.7 - 1.15) crests over the inductance.

    The closed form is that of every textbook without resistance; 1 % for 5 mohm and for the nearest of 100 phases.  The
    breaker's lower edge, 3 x 2 A x root 2, lies between the peaks (8.8 A and 16 A), its middle too (11.3 A).
    """
    answer = weldsim.inrush(weldsim.read_text(BENCH), presses=100, remedies=False)
    assert answer.numbers["first_peak.worst"].value == pytest.approx((2.0 - 1.15) * SWING / INDUCTANCE, rel=0.01)
    assert answer.numbers["presses.tripped"].value == 0
    told = verdict(answer, "forgetful_core")
    assert told.level == "note"
    worst = float(told.text.split("peaks at ")[1].split(" A")[0])
    assert worst == pytest.approx((2.7 - 1.15) * SWING / INDUCTANCE, rel=0.01)
    # beyond the middle where 0.7 + 1 + cos(phase) exceeds 1.15 + 11.3 A x L / crest: within 57 deg of the worst phase,
    # 32 of 100, give or take what chance does to 100 draws (three times 4.7)
    share = float(told.text.split(" of 100 trip")[0].split(" ")[-1])
    least = (1.15 + 4.0 * 2.0 * math.sqrt(2.0) * INDUCTANCE / SWING) - 1.7
    assert share == pytest.approx(100.0 * math.acos(least) / math.pi, abs=15.0)


def test_nothing_is_told_of_a_core_that_keeps_its_flux_or_of_a_flux_typed_in():
    """Friction elements, iron, and a flux typed in speak for themselves."""
    bench = weldsim.read_text(BENCH)
    assert verdict(weldsim.inrush(bench, presses=4, remedies=False, flux_linkage=0.2), "forgetful_core") is None
    rows = [{"current": "0.2 A", "flux_linkage": "0.3 V.s"}]
    keeps = vary(bench, {"core.hysteresis": rows})
    assert verdict(weldsim.inrush(keeps, presses=4, remedies=False), "forgetful_core") is None


def test_a_drill_says_that_the_core_forgets():
    """A train of presses rests on the same assumption, and says so."""
    answer = weldsim.drill(weldsim.read_text(BENCH), presses=3)
    assert any("without hysteresis" in one for one in answer.assumptions)
