"""Inrush: why the worst press is as bad as it is, what is assumed of a breaker's band, how many presses it takes."""

import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

import weldsim
from weldsim.cli.option_table import PRESSES
from weldsim.errors import QuestionError
from weldsim.runs.presses import Presser, Setting, Trigger
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary
from weldsim.studies import inrush, press_drill
from weldsim.studies.inrush_cause import Cause, cause_of, cause_verdict

ROOT = Path(__file__).parents[2]
CREST = math.sqrt(2.0) * 230.0 / (2.0 * math.pi * 50.0)  # [V s] that the mains swings a core to
CORE = f"""
    [mains]
    voltage = "230 V"
    frequency = "50 Hz"
    resistance = "0.3 ohm"
    inductance = "0.6 mH"
    [breaker]
    curve = "C"
    current = "13 A"
    [transformer]
    ratio = "7.4:1"
    primary_resistance = "0.5 ohm"
    secondary_resistance = "1 mohm"
    [core]
    magnetising_inductance = "10000 H"
    saturation_flux_linkage = "{1.15 * CREST!r} V.s"
    saturated_inductance = "3.4 mH"
    """


@pytest.fixture(scope="module")
def shed():
    """The toroid shed: iron with hysteresis, bridge, bank, a C16 breaker."""
    return weldsim.read("toroid_shed")


def test_cause_in_a_bare_core():
    """A core of two slopes, 0.8 ohm, 4 mH, switched on at voltage zero: 209.856 A with 0.6 of the swing left in it,
    140.599 A with nothing left (computed, exact piecewise recursion, as the reference's cases A and B; 1e-3 for the
    current below saturation): what was left decides.
    """
    presser = Presser(read_text(CORE), Setting(flux_linkage=0.6 * CREST))
    cause = cause_of(presser, Trigger(0.0, 1.0, 0.0))
    assert cause.worst == pytest.approx(209.856, rel=1e-3)
    assert cause.demagnetised == pytest.approx(140.599, rel=1e-3)
    assert math.isnan(cause.charged)
    assert "With a demagnetised core it would peak at 141 A: what was left in the core makes it worse" in (
        cause_verdict(cause, "x").text
    )


def test_cause_in_a_supply(shed):
    """Settled running peaks as preview says (which settles by itself); behind a bled bank its charging decides,
    for the same press with the bank charged peaks within 5 % of running.
    """
    answer = inrush.ask(shed, presses=20, remedies=False, workers=1)
    running = weldsim.preview(shed).numbers["primary.current.peak"].value
    assert answer.numbers["settled.primary.current.peak"].value == pytest.approx(running, rel=1e-6)
    text = next(one.text for one in answer.verdicts if one.name == "cause")
    largest = max(row["largest_peak"] for row in answer.rows if row["kind"] == "press")
    assert f"({largest:.3g} A)" in text
    assert f"settled running peaks at {running:.3g} A" in text
    assert text.endswith("the charging of the bank makes it worse than running.")


@pytest.mark.parametrize(
    ("peaks", "told"),
    [
        ((100.0, 98.0, 99.0, 99.0), "running itself asks for as much"),
        ((100.0, 50.0, 60.0, 70.0), "mostly the charging of the bank"),
        ((100.0, 50.0, 70.0, 60.0), "mostly what was left in the core"),
        ((100.0, 50.0, 99.0, 99.0), "the moment of the trigger"),
        ((100.0, 50.0, math.nan, math.nan), "The moment of the trigger"),
    ],
)
def test_which_part_is_named(peaks, told):
    """Named is what the press would lose most without; less than 5 % is no cause (the house's threshold)."""
    assert told in cause_verdict(Cause(*peaks, 10.0, 0.1, None), "+0.1 V s").text


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, "Breaker bands of IEC 60898-1"),
        ({"breaker.curve": "thermal-magnetic"}, "between 8 and 14 times its rating, common practice"),
        ({"breaker.magnetic_low": 6.0, "breaker.magnetic_high": 7.0}, "between 6 and 7 times its rating, as the scen"),
        ({"breaker": "absent"}, "No breaker in the scenario: no trips counted."),
    ],
)
def test_band_that_was_counted_with_is_told(changes, told):
    """The assumptions name the band of this breaker, not only that of the standard's curves."""
    answer = inrush.ask(vary(read_text(CORE), changes), presses=2, remedies=False, workers=1)
    assert any(line.startswith(told) or told in line for line in answer.assumptions)


@pytest.mark.parametrize("ask", [inrush.ask, press_drill.ask])
@pytest.mark.parametrize("presses", [10**12, -1, 2.5, "7", None])
def test_presses_that_cannot_be_counted(shed, ask, presses):
    """Too many to end, less than one, or no whole number: refused at once, with the place and what is allowed."""
    with pytest.raises(QuestionError, match=rf"presses: .*{presses}.*; ask for 1 to 1000000;"):
        ask(shed, presses=presses)
    assert (PRESSES.rule.low, PRESSES.rule.high) == (1, inrush.MOST_PRESSES)


def test_drill_counts_both_edges(shed):
    """Counted again from the peaks of the rows: B of 16 A trips between 3 and 5 times 16 A (IEC 60898-1)."""
    answer = press_drill.ask(vary(shed, {"breaker.curve": "B"}), presses=4)
    for name, multiple in ((".low_threshold", 3.0), ("", 4.0), (".high_threshold", 5.0)):
        beyond = sum(row["peak"] > multiple * 16.0 * math.sqrt(2.0) for row in answer.rows)
        assert answer.numbers[f"presses.tripped{name}"].value == beyond


def test_picture_for_one_who_reads_the_first_lines(tmp_path):
    """A reader that is gone ends no command before its picture is there; the exit code stays 0."""
    (tmp_path / "core.toml").write_text(CORE)
    read_end, write_end = os.pipe()
    os.close(read_end)
    command = [sys.executable, "-m", "weldsim", "preview", "core.toml", "--from", "rest", "--figure", "core.png"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=tmp_path, env=environment, stdout=write_end, stderr=subprocess.PIPE, check=False)
    os.close(write_end)
    assert done.returncode == 0
    assert (tmp_path / "core.png").read_bytes().startswith(b"\x89PNG")
