"""Presses behind a soft start of the scenario's own: what its relay or its ramp lets through at its end counts too."""

import numpy as np
import pytest

import weldsim
from weldsim.runs.presses import Presser, drawn
from weldsim.scenario.vary import vary
from weldsim.studies import inrush
from weldsim.studies.inrush_stress import stress_rows

RELAY = {"soft_start.kind": "resistor", "soft_start.resistance": 500.0, "soft_start.bypass_delay": 0.1}
RAMP = {"soft_start.kind": "ramp", "soft_start.half_cycles": 20}


@pytest.fixture(scope="module")
def shed():
    """The toroid shed: bridge, bank, a C16 breaker."""
    return weldsim.read("toroid_shed")


@pytest.mark.parametrize(("soft_start", "told"), [(RELAY, "160 ms"), (RAMP, "260 ms")], ids=["relay", "ramp"])
def test_what_follows_the_soft_start_is_looked_at(shed, soft_start, told):
    """Once it has ended the supply runs: no press stays below the peaks of settled running (a law; 3 % as it settles).

    Through 500 ohm less than 0.7 A flow (Ohm's law), so that all it was looked at for before were calm presses.
    """
    answer = inrush.ask(vary(shed, soft_start), presses=6, remedies=False, workers=1)
    settled = answer.numbers["settled.primary.current.peak"].value
    assert all(row["largest_peak"] > 0.97 * settled for row in answer.rows if row["kind"] == "press")
    assert f"{told}, 60 ms more than its soft start takes, of each press looked at." in answer.assumptions[0]
    text = next(verdict.text for verdict in answer.verdicts if verdict.name == "trips")
    assert "later, up to " in text


def test_trips_at_the_end_of_the_ramp_are_counted(shed):
    """A B10 may open from peaks of 42.4 A on (3 times its rating, IEC 60898-1): settled running alone reaches that."""
    small = vary(shed, RAMP | {"breaker.curve": "B", "breaker.current": 10.0})
    numbers = inrush.ask(small, presses=4, remedies=False, workers=1).numbers
    assert numbers["settled.primary.current.peak"].value > 3.0 * 10.0 * np.sqrt(2.0)
    assert numbers["presses.tripped.low_threshold"].value == 4


def test_a_dead_short_behind_the_relay_is_felt(shed):
    """The relay closes onto the short: the triac has at least the settled peak of that short (a law; 3 %)."""
    presser = Presser(vary(shed, RELAY))
    rows = {(row["case"], row["part"]): row for row in stress_rows(presser, drawn(1, 0))}
    short = weldsim.perform(vary(shed, {"load.kind": "short", "load.resistance": 1e-3}), start="steady", duration=0.02)
    settled = np.abs(short["primary.current"]).max()
    assert rows["dead short at the output", "triac"]["peak"] > 0.97 * settled
