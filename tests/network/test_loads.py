"""Loads in straight pieces: the lines they follow and the segments they pass through."""

import pytest

from tests.network.supplies import FALLING, benchmark, straight
from weldsim.network.devices import Scale
from weldsim.network.loads import arc_segments, falling_part
from weldsim.network.wiring import draw
from weldsim.parts.load import Load

SCALE = Scale(44.0, 100.0)


def _voltage(segments, current):
    """Voltage at a current in the first segment whose current guards hold."""
    for segment in segments:
        guards = [guard for guard in segment.guards if guard.quantity == "current"]
        if all(guard.sign * (current - guard.limit) >= 0.0 for guard in guards):
            law = segment.law
            return (law.constant - law.current_factor * current) / law.voltage_factor
    raise AssertionError(current)


@pytest.mark.parametrize("current", [0.001, 0.0139, 0.0141, 1.0, 150.0, 700.0])
def test_arc_line(current):
    """u = min(1000 i, 14 + 0.05 i), the line of the benchmark."""
    segments = arc_segments(Load(kind="arc line"), SCALE)

    assert [segment.name for segment in segments] == ["knee", "arc"]
    assert _voltage(segments, current) == pytest.approx(min(1000.0 * current, 14.0 + 0.05 * current), rel=1e-12)


@pytest.mark.parametrize(
    ("process", "current", "expected"),
    [("MIG", 100.0, 19.0), ("MIG", 700.0, 44.0), ("MMA", 100.0, 24.0), ("TIG", 100.0, 14.0), ("TIG", 0.001, 1.0)],
)
def test_load_line(process, current, expected):
    """IEC 60974-1 conventional load voltages: 14 + 0.05 I, 20 + 0.04 I, 10 + 0.04 I, flat above 600 A (from memory)."""
    load = next(
        b
        for b in draw(straight({"load": {"kind": "load line", "process": process}})).branches
        if getattr(b, "name", "") == "load"
    )

    assert _voltage(load.segments, current) == pytest.approx(expected, rel=1e-12)


def test_falling_arc():
    """From 30 V at no current down to the line at 15 A, continuous there; out at zero, back at 40 V."""
    out, falling, arc = arc_segments(Load(**FALLING), SCALE)

    assert [segment.name for segment in (out, falling, arc)] == ["out", "falling", "arc"]
    for current, expected in ((0.0, 30.0), (7.5, 22.375), (15.0, 14.75), (100.0, 19.0)):
        assert _voltage((falling, arc), current) == pytest.approx(expected, rel=1e-12)
    assert [(g.quantity, g.limit, g.target) for g in out.guards] == [("voltage", 40.0, "falling")]
    assert [(g.limit, g.target) for g in falling.guards] == [(0.0, "out"), (15.0, "arc")]


def test_hold_current_alone_makes_a_falling_part():
    """Below the hold current the needed voltage rises to 1.5 times the arc's own, which also brings it back."""
    fall = falling_part(Load(kind="arc line", hold_current=12.0))

    assert (fall.voltage, fall.current, fall.reignition) == (21.0, 12.0, 21.0)


def test_reignition_alone_lets_the_arc_go_out():
    """Without a falling part the arc keeps its line down to zero and then goes out."""
    out, arc = arc_segments(Load(kind="arc line", reignition_voltage=40.0), SCALE)

    assert [(g.limit, g.target) for g in (*out.guards, *arc.guards)] == [(40.0, "arc"), (0.0, "out")]


def test_programmed_shorts():
    """ "short on" takes every segment into the short, "short off" lets the arc burn on."""
    circuit = draw(benchmark({"load": FALLING | {"kind": "shorted arc"}}))
    on, off = (event for event in circuit.events if event.name.startswith("short"))

    assert {move.segment: move.target for move in on.moves} == dict.fromkeys(("out", "falling", "arc"), "short")
    assert [(move.segment, move.target) for move in off.moves] == [("short", "arc")]


def test_battery_takes_and_gives():
    """A battery behind its resistance: one line for both directions."""
    load = next(
        b
        for b in draw(benchmark({"load": {"kind": "battery", "voltage": 26.5, "resistance": 0.025}})).branches
        if getattr(b, "name", "") == "load"
    )

    assert [_voltage(load.segments, i) for i in (-10.0, 0.0, 40.0)] == pytest.approx([26.25, 26.5, 27.5])
