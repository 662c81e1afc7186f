"""Diodes, triacs and thyristor pairs: their straight lines, and what gates do to them."""

import numpy as np
import pytest

from weldsim.errors import WiringError
from weldsim.network.devices import Gating, Line, Scale, controlled, diode, gate_events

SCALE = Scale(325.0, 100.0)
TRIAC = Line(1.0, 12e-3, 200e3)
GATING = Gating(0.08, 0.05, paired=False)


def _current(segment, voltage):
    """Current of a piece at a voltage, from its law."""
    law = segment.law
    return (law.constant - law.voltage_factor * voltage) / law.current_factor


def _piece(device, name):
    return next(segment for segment in device.segments if segment.name == name)


@pytest.mark.parametrize("voltage", [-40.0, 0.0, 0.5, 0.74, 0.76, 1.5])
def test_diode_line(voltage):
    """i = max(v / leakage, (v - threshold) / slope): the segment that its guard allows gives the larger of the two."""
    blocked, on = diode("d", "a", "b", line=Line(0.75, 1.5e-3, 50e3), scale=SCALE).segments
    segment = blocked if voltage <= blocked.guards[0].limit else on

    assert _current(segment, voltage) == pytest.approx(max(voltage / 50e3, (voltage - 0.75) / 1.5e-3), rel=1e-12)


def test_diode_corner_is_one_point():
    """At the corner both pieces give the current at which the conducting one ends."""
    blocked, on = diode("d", "a", "b", line=Line(0.75, 1.5e-3, 50e3), scale=SCALE).segments
    corner = blocked.guards[0].limit

    assert _current(blocked, corner) == pytest.approx(on.guards[0].limit, rel=1e-12)
    assert _current(on, corner) == pytest.approx(on.guards[0].limit, rel=1e-9)  # a difference of nearly equal volts


def test_ideal_diode():
    """Without threshold and slope the corner is zero volts, zero amperes, and the on-law is v = 0."""
    blocked, on = diode("d", "a", "b", line=Line(0.0, 0.0, 50e3), scale=SCALE).segments

    assert (blocked.guards[0].limit, on.guards[0].limit) == (0.0, 0.0)
    assert (on.law.voltage_factor, on.law.current_factor, on.law.constant) == (1.0, 0.0, 0.0)


def test_slope_above_leakage_is_refused():
    """Lines that never meet are no diode."""
    with pytest.raises(WiringError, match="write a smaller slope"):
        diode("d", "a", "b", line=Line(0.7, 100.0, 50.0), scale=SCALE)


@pytest.mark.parametrize("voltage", np.linspace(-3.0, 3.0, 13))
def test_gated_triac_line(voltage):
    """With the gate on, i = sgn(v) max(|v| / 200k, (|v| - 1) / 12m) in the segment whose guards hold."""
    device = controlled("t", ("a", "b"), line=TRIAC, gating=GATING, scale=SCALE)
    corner = TRIAC.corner("t")[0]
    name = "gated" if abs(voltage) <= corner else "gated_plus" if voltage > 0 else "gated_minus"

    expected = np.sign(voltage) * max(abs(voltage) / 200e3, (abs(voltage) - 1.0) / 12e-3)
    assert _current(_piece(device, name), voltage) == pytest.approx(expected, rel=1e-12)


def test_triac_segments_and_guards():
    """Off has no guard, gated turns on either way, gated conduction ends near zero, latched conduction at holding."""
    device = controlled("t", ("a", "b"), line=TRIAC, gating=GATING, scale=SCALE)

    guards = {s.name: [(g.quantity, g.sign, round(g.limit, 6), g.target) for g in s.guards] for s in device.segments}
    assert guards == {
        "off": [],
        "gated": [("voltage", -1, 1.0, "gated_plus"), ("voltage", 1, -1.0, "gated_minus")],
        "gated_plus": [("current", 1, 5e-6, "gated")],
        "gated_minus": [("current", -1, -5e-6, "gated")],
        "plus": [("current", 1, 0.05, "off")],
        "minus": [("current", -1, -0.05, "off")],
    }


def test_triac_events():
    """The gate's end keeps a conducting device only above latching, in its own direction."""
    device = controlled("t", ("a", "b"), line=TRIAC, gating=GATING, scale=SCALE)
    on, off = gate_events(device, GATING)

    assert {m.segment: m.target for m in on.moves} == {"off": "gated", "plus": "gated_plus", "minus": "gated_minus"}
    assert {m.segment: (m.target, m.sign, m.threshold, m.otherwise) for m in off.moves} == {
        "gated": ("off", 0, 0.0, ""),
        "gated_plus": ("plus", 1, 0.08, "off"),
        "gated_minus": ("minus", -1, 0.08, "off"),
    }


def test_pair_gates_fire_their_own_thyristor_only():
    """A gate of the plus thyristor readies the plus direction and says nothing of the other."""
    gating = Gating(0.08, 0.05, paired=True)
    device = controlled("t", ("a", "b"), line=TRIAC, gating=gating, scale=SCALE)
    events = {event.name: {m.segment: m.target for m in event.moves} for event in gate_events(device, gating)}

    assert [g.target for g in _piece(device, "ready_plus").guards] == ["gated_plus"]
    assert [g.target for g in _piece(device, "ready_both").guards] == [
        "gated_plus_with_other_gate",
        "gated_minus_with_other_gate",
    ]
    assert set(events) == {"gate plus on", "gate plus off", "gate minus on", "gate minus off"}
    assert events["gate plus on"]["minus"] == "minus_with_other_gate"
    assert events["gate plus off"]["minus_with_other_gate"] == "minus"
    assert events["gate minus on"]["ready_plus"] == "ready_both"


def test_every_segment_that_loses_its_own_gate_is_judged():
    """Of the pair's twelve segments exactly those conducting with the gate that ends carry the latching condition."""
    gating = Gating(0.08, 0.05, paired=True)
    device = controlled("t", ("a", "b"), line=TRIAC, gating=gating, scale=SCALE)
    off = next(event for event in gate_events(device, gating) if event.name == "gate plus off")

    assert len(device.segments) == 12
    assert {m.segment: m.otherwise for m in off.moves if m.sign} == {
        "gated_plus": "off",
        "gated_plus_with_other_gate": "ready_minus",
    }


def test_holding_above_latching_is_refused():
    """A device cannot need less to latch than to stay on."""
    with pytest.raises(WiringError, match=r"holding current of 0.2 A is above"):
        controlled("t", ("a", "b"), line=TRIAC, gating=Gating(0.1, 0.2, paired=False), scale=SCALE)


FIRING = Gating(0.08, 0.05, paired=False, critical_rate=1e7)


def test_a_blocked_device_with_a_critical_rate_faces_the_direction_of_its_voltage():
    """Off faces either way past the corner, fires above the rate, and conducts by itself from there to latching.

    The corner (1.00000006 V with its band) is that of the straight lines; rate and currents are those of the gating.
    """
    device = controlled("t", ("a", "b"), line=TRIAC, gating=FIRING, scale=SCALE)

    guards = {s.name: [(g.quantity, g.sign, round(g.limit, 6), g.target) for g in s.guards] for s in device.segments}
    assert guards["off"] == [
        ("voltage", -1, 1.0, "off_facing_plus"),
        ("voltage", 1, -1.0, "off_facing_minus"),
    ]
    assert guards["off_facing_plus"] == [
        ("voltage rate", -1, 1e7, "plus_by_itself"),
        ("voltage", 1, 1.0, "off"),
    ]
    assert guards["off_facing_minus"] == [
        ("voltage rate", 1, -1e7, "minus_by_itself"),
        ("voltage", -1, -1.0, "off"),
    ]
    assert guards["plus_by_itself"] == [("current", 1, 5e-6, "off"), ("current", -1, 0.08, "plus")]
    assert guards["minus_by_itself"] == [("current", -1, -5e-6, "off"), ("current", 1, -0.08, "minus")]
    assert not any("facing" in name for name in guards if name.startswith("gated"))


def test_a_gate_makes_its_own_what_has_fired_by_itself():
    """The gate turns a device that faces a direction, or has fired that way by itself, into a gated one."""
    device = controlled("t", ("a", "b"), line=TRIAC, gating=FIRING, scale=SCALE)
    on, off = gate_events(device, FIRING)

    assert {m.segment: m.target for m in on.moves} == {
        "off": "gated",
        "plus": "gated_plus",
        "minus": "gated_minus",
        "off_facing_plus": "gated",
        "off_facing_minus": "gated",
        "plus_by_itself": "gated_plus",
        "minus_by_itself": "gated_minus",
    }
    assert {m.segment: m.otherwise for m in off.moves if m.sign} == {"gated_plus": "off", "gated_minus": "off"}


def test_a_pair_fires_by_itself_in_the_direction_whose_gate_is_not_driven():
    """With the plus gate driven a pair is ready that way and may still fire by itself the other way."""
    gating = Gating(0.08, 0.05, paired=True, critical_rate=1e7)
    device = controlled("t", ("a", "b"), line=TRIAC, gating=gating, scale=SCALE)
    events = {event.name: {m.segment: m.target for m in event.moves} for event in gate_events(device, gating)}

    assert [g.target for g in _piece(device, "ready_plus").guards] == ["gated_plus", "ready_plus_facing_minus"]
    assert [g.target for g in _piece(device, "ready_plus_facing_minus").guards] == [
        "minus_with_other_gate_by_itself",
        "ready_plus",
    ]
    assert events["gate plus on"]["off_facing_minus"] == "ready_plus_facing_minus"
    assert events["gate minus on"]["ready_plus_facing_minus"] == "ready_both"
