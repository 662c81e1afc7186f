"""Closed forms of a permanent-magnet feed motor: the rows of ``weldsim/data/reference/feeder.csv``.

Letters of the books: V volts at the brushes, R and L of the armature, k back-EMF per speed and torque per current, J
all inertia at the armature, T all torque against it, w speed.  Nothing of weldsim is imported.
"""

import math
from collections.abc import Iterator

from scipy.integrate import quad
from scipy.optimize import brentq

from tests.reference.written.rows import Written

FITZGERALD = "A. E. Fitzgerald, C. Kingsley, S. D. Umans, Electric Machinery (dc machines)"
NISE = "N. S. Nise, Control Systems Engineering (dc motor; second-order step)"
MERIAM = "J. L. Meriam, L. G. Kraige, Engineering Mechanics (belt friction; hollow cylinder)"
HOROWITZ = "P. Horowitz, W. Hill, The Art of Electronics (linear regulators)"

# A plate of 24 V, 2.5 A, 3000 rev/min with 1.2 ohm: k = (24 V - 3 V) / (100 pi rad/s).
R, K = 1.2, 21.0 / (100.0 * math.pi)
FRICTION = 0.4 * K  # [N m]: 0.4 A without load
ROLL, GEAR, EFFICIENCY = 15e-3, 20.0, 0.7  # [m] radius
INERTIA = 350e-7  # [kg m2]
HENRIES = 1.5e-3


def torque_of(force: float) -> float:
    """A force in the wire, seen at the armature [N m]."""
    return force * ROLL / (GEAR * EFFICIENCY)


def rows() -> Iterator[Written]:
    """All of them."""
    yield from _steady()
    yield from _run_up()
    yield from _ringing()
    yield from _reel_and_liner()
    yield from _stops()
    yield from _held()
    yield from _heat()


def _steady() -> Iterator[Written]:
    for volts in (6.0, 12.0, 24.0):
        for force in (0.0, 40.0, 100.0):
            current = 0.4 + torque_of(force) / K
            place = f"steady, V={volts:g} V, wire pulls F={force:g} N"
            told = "steady: T = k i, V = k w + R i"
            yield Written(
                "feed_motor", place, "speed of the armature", (volts - R * current) / K, "rad/s", FITZGERALD, told
            )
            yield Written("feed_motor", place, "armature current", current, "A", FITZGERALD, told)
    for volts in (6.0, 12.0):
        told = "no speed, no back-EMF: i = V/R"
        yield Written("feed_motor", f"blocked, V={volts:g} V", "armature current", volts / R, "A", FITZGERALD, told)


def _run_up() -> Iterator[Written]:
    """Friction and wire hold with a constant torque: nothing turns until the current overcomes it."""
    told = (
        "at rest i = V/R (1 - exp(-t R/L)) until k i = T, from there on w = w_end (1 - (s2 exp(s1 t) - s1 exp(s2 t))/"
        "(s2 - s1)) with L s^2 + R s + k^2/J = 0"
    )
    for volts, force in ((12.0, 0.0), (24.0, 40.0), (12.0, 200.0)):
        holds = 0.4 + torque_of(force) / K
        dead = -HENRIES / R * math.log1p(-R * holds / volts)
        for milliseconds in (2, 5, 10, 20, 40):
            share = _left(1e-3 * milliseconds - dead, HENRIES, INERTIA)
            yield Written(
                "feed_motor",
                f"start, V={volts:g} V, wire pulls F={force:g} N, t={milliseconds} ms",
                "speed of the armature",
                (volts - R * holds) / K * (1.0 - share),
                "rad/s",
                NISE,
                told,
            )


def _left(time: float, henries: float, inertia: float, resistance: float = R) -> float:
    """Share of a step that is still to come in a motor at rest before it (overdamped)."""
    half = 0.5 * resistance / henries
    inner = math.sqrt(half**2 - K**2 / (inertia * henries))
    fast, slow = -half - inner, -half + inner
    return (slow * math.exp(fast * time) - fast * math.exp(slow * time)) / (slow - fast)


def _ringing() -> Iterator[Written]:
    """Without any torque: J L w'' + J R w' + k^2 w = k V."""
    for henries in (20e-3, 60e-3):
        natural = K / math.sqrt(INERTIA * henries)
        damping = 0.5 * R / henries / natural
        wd = natural * math.sqrt(1.0 - damping**2)
        place = f"start without friction, L={1e3 * henries:g} mH, V=12 V"
        told = "J L w'' + J R w' + k^2 w = k V from rest: w_n = k/sqrt(J L), zeta = R/(2 L w_n)"
        peak = 12.0 / K * (1.0 + math.exp(-math.pi * damping / math.sqrt(1.0 - damping**2)))
        yield Written("feed_motor", place, "largest speed", peak, "rad/s", NISE, told)
        yield Written("feed_motor", place, "time of the largest speed", math.pi / wd, "s", NISE, told)
        at = math.atan2(wd, damping * natural) / wd  # i = V/(wd L) exp(-zeta w_n t) sin wd t: a series R-L-C of J/k^2
        current = 12.0 / (wd * henries) * math.exp(-damping * natural * at) * math.sin(wd * at)
        yield Written("feed_motor", place, "largest current", current, "A", NISE, told)


def _reel_and_liner() -> Iterator[Written]:
    for bend, friction in ((90.0, 0.2), (180.0, 0.2), (360.0, 0.2), (720.0, 0.2), (360.0, 0.3)):
        force = 5.0 * math.exp(friction * math.radians(bend))
        yield Written(
            "feed_motor",
            f"liner bent by bend={bend:g} deg, mu={friction:g}, 5 N behind it, V=12 V",
            "armature current",
            0.4 + torque_of(force) / K,
            "A",
            MERIAM,
            "T2 = T1 exp(mu beta), then T = k i",
        )
    for fill in (1.0, 0.5):
        outer, inner, mass, gear = 0.1, 0.05, 15.0, 4.0
        rim = math.sqrt(inner**2 + fill * (outer**2 - inner**2))
        reel = 0.5 * mass * fill * (rim**2 + inner**2)  # of the hollow cylinder, about its axis
        inertia = INERTIA + reel / rim**2 * (ROLL / gear) ** 2
        for milliseconds in (20, 100):
            yield Written(
                "feed_motor",
                f"start without friction, V=12 V, reel of 15 kg, fill={fill:g}, gear={gear:g}, t={milliseconds} ms",
                "speed of the armature",
                12.0 / K * (1.0 - _left(1e-3 * milliseconds, HENRIES, inertia)),
                "rad/s",
                MERIAM,
                "I = m (R^2 + r^2)/2 of the wire on the reel, through radius and gear to the armature; then as a start",
            )


def _stops() -> Iterator[Written]:
    """From 12 V without wire: nothing but friction brakes a coasting motor; a resistor across it makes i = -k w/R."""
    speed = (12.0 - R * 0.4) / K
    wire = ROLL / GEAR
    yield Written(
        "feed_motor",
        "stop from V=12 V, coasting",
        "wire that still comes",
        wire * speed**2 * INERTIA / (2.0 * FRICTION),
        "m",
        MERIAM,
        "constant torque: angle = J w^2/(2 T)",
    )
    for ohms in (0.0, 1.0):
        floor = FRICTION * (R + ohms) / K**2

        def turns(time: float, ohms: float = ohms, floor: float = floor) -> float:
            return (speed + floor) * _left(time, HENRIES, INERTIA, R + ohms) - floor

        angle, _ = quad(turns, 0.0, brentq(turns, 0.0, 1.0, xtol=1e-13), epsabs=1e-11)
        yield Written(
            "feed_motor",
            f"stop from V=12 V, brake={ohms:g} ohm",
            "wire that still comes",
            wire * angle,
            "m",
            NISE,
            "J L w'' + J (R + R_b) w' + k^2 w = -T (R + R_b) until w = 0, integrated by quadrature",
        )


def _held() -> Iterator[Written]:
    """V = E + c R i: what is left of the armature's drop lowers the speed."""
    for share in (0.0, 0.5, 0.9):
        for force in (20.0, 100.0):
            light, heavy = (0.4 + torque_of(one) / K for one in (5.0, force))
            speed = 5.0 / 60.0 / wire_per_radian()
            fall = (1.0 - share) * R * (heavy - light) / K
            yield Written(
                "feed_motor",
                f"speed control, compensation={share:g}, 5 m/min at F=5 N, then F={force:g} N",
                "feed",
                (speed - fall) * wire_per_radian() * 60.0,
                "m/min",
                FITZGERALD,
                "V = E + c R i and V = k w + R i: dw = -(1 - c) R di/k",
            )


def wire_per_radian() -> float:
    """Feed over the armature's speed [m]."""
    return ROLL / GEAR


def _heat() -> Iterator[Written]:
    for volts, force in ((6.0, 0.0), (6.0, 100.0), (20.0, 100.0)):
        current = 0.4 + torque_of(force) / K
        yield Written(
            "feed_motor",
            f"linear stage from a crest of 400 V sqrt2, V={volts:g} V, wire pulls F={force:g} N",
            "heat in the stage",
            (400.0 * math.sqrt(2.0) - volts) * current,
            "W",
            HOROWITZ,
            "P = (V_in - V_out) I",
        )
