"""The picture of a strike: a failed trial is shown where it failed."""

import dataclasses

import numpy as np
import pytest

from weldsim.figures.strike import LONGEST, SHOWN, _shown_from, _stub
from weldsim.runs.wire_runs import CONDITIONS, Trial
from weldsim.studies.strike_traces import StrikeTrace


def trace(spans, *, reason, struck=False):
    """A trace of 1.5 s: clear, but for what is named from and to [s]."""
    time = np.arange(0.0, 1.5, 1e-4)
    condition = np.zeros(len(time), dtype=int)
    for what, begin, end in spans:
        condition[(time >= begin) & (time < end)] = CONDITIONS.index(what)
    values = {item.name: 0 for item in dataclasses.fields(Trial)}
    trial = Trial(**(values | {"struck": struck, "reason": reason, "time_to_arc": 0.9}))
    moments = [(0.0, "trigger"), (0.1, "first touch"), (0.102, "contact parts"), (0.11, "arc lost")]
    return StrikeTrace("", trial, time, condition, np.zeros(len(time)), {}, moments)


SPANS = [("touching", 0.1, 0.102), ("burning", 0.102, 0.11), ("touching", 0.8, 0.95), ("touching", 1.0, 1.05)]


def test_stubbing_is_shown_where_the_wire_stands_longest():
    """Of three contacts the one of 150 ms made it fail: it is named, and the picture begins just before it."""
    found = trace(SPANS, reason="stubbing")
    ((when, what),) = _stub(found)
    assert what == LONGEST
    assert when == pytest.approx(0.8, abs=2e-4)  # two ticks
    assert 0.8 - 0.5 * SHOWN < _shown_from(found) < 0.8


def test_a_contact_at_the_very_end_fills_the_picture():
    """A contact that lasts to the end of the trial is shown with a whole width of time."""
    found = trace([*SPANS[:2], ("touching", 1.45, 1.6)], reason="stubbing")
    assert _shown_from(found) <= found.time[-1] - SHOWN


def test_other_failures_are_shown_where_the_first_arc_is_lost():
    """A lost arc is its own picture, and a strike shows the begin of its stable arc."""
    assert 0.0 < _shown_from(trace(SPANS, reason="current fell below hold")) < 0.11
    assert _stub(trace(SPANS, reason="current fell below hold")) == []
    assert 0.9 - SHOWN < _shown_from(trace(SPANS, reason="", struck=True)) < 0.9
