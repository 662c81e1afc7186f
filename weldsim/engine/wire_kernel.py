"""The wire process, compiled on the first strike or weld: a tick updates the wire's end, the engine is exact between
ticks.

Rules, constants and their sources are those of parts/wire_rules.py; here is their arithmetic on arrays.  The
electrical side is one element of the supply (open, contact in resistance levels, falling arc, arc) with one input, an
added voltage that makes the element's straight piece exact at the tick and follows the arc length in between.
What stands where in the arrays is told in wire_layout.py.
"""

import numpy as np

from weldsim.engine.compiled import inner
from weldsim.engine.kernel import advance, apply_event, dot, plain_step
from weldsim.engine.layout import DONE, LOG_FULL, NEED_MODE
from weldsim.engine.wire_layout import (
    ACTION,
    ARC,
    ARC_GRADIENT,
    ARC_LEVEL,
    ARC_MEMORY,
    ARC_POWER,
    ARC_RESISTANCE,
    ARC_TAU,
    ARC_VOLTAGE,
    BRIDGE_RESISTANCE,
    BRIDGED,
    BURNING,
    CASSIE,
    CLEAR,
    COLD_HIGH,
    COLD_LOW,
    CONTACT,
    CONTACT_DRAW,
    DEAD_TIME,
    DIAMETER,
    DRAIN_BASE,
    DRAIN_CURRENT,
    DROP_LIMIT,
    FALLING,
    FALLING_CURRENT,
    FALLING_VOLTAGE,
    FEED,
    FEED_DELAY,
    GAP_BRIDGE_HIGH,
    GAP_BRIDGE_LOW,
    GAP_DRAW,
    GAP_LONG_HIGH,
    GAP_LONG_LOW,
    GAP_RISE_TIME,
    GAP_SPOT_HIGH,
    GAP_SPOT_LOW,
    HEAT_TAU,
    HEIGHT,
    LEAST_CURRENT,
    LOST_SHARE,
    MAYR,
    MELT_ALPHA,
    MELT_BETA,
    MOTOR_TAU,
    NEED_ROWS,
    OFF_VOLTAGE,
    OPEN,
    OUT,
    REACH_BASE,
    REACH_DRAW,
    REACH_GROWTH,
    REACH_SPREAD,
    REIGNITE_FIRST,
    REIGNITE_LATER,
    REIGNITE_LOST,
    REIGNITE_TIME,
    RELEASE,
    RESISTIVITY,
    RESISTIVITY_COLD,
    RUN_IN,
    SECTION,
    SMALL_TICKS,
    SPOT_DRAW,
    SPOT_HIGH,
    SPOT_LOW,
    SPOT_TAU,
    STRUCK_BAD,
    STUB_LENGTH,
    TOO_MANY_LOSSES,
    TOUCHING,
    TRIAL_LENGTH,
    TRIAL_OVER,
)


@inner
def uniform(count, purpose, low, high):
    """The random number of this seed, trial, event and purpose, whatever else has been drawn: a hash of the four."""
    h = (
        np.uint64(count[3]) * np.uint64(0x9E3779B97F4A7C15)
        + np.uint64(count[4]) * np.uint64(0xC2B2AE3D27D4EB4F)
        + np.uint64(8 * count[2] + purpose) * np.uint64(0x165667B19E3779F9)
    )
    for _ in range(2):
        h ^= h >> np.uint64(30)
        h *= np.uint64(0xBF58476D1CE4E5B9)
        h ^= h >> np.uint64(27)
        h *= np.uint64(0x94D049BB133111EB)
        h ^= h >> np.uint64(31)
    return low + (high - low) * (np.float64(h >> np.uint64(11)) / 9007199254740992.0)


@inner
def extension_resistance(state, c):
    """Hot resistance of the wire from the tube to its end, and the tube and clamp themselves [ohm]."""
    resistivity = c[RESISTIVITY_COLD] + (c[RESISTIVITY] - c[RESISTIVITY_COLD]) * state[17]
    return state[12] + resistivity * max(c[HEIGHT] - state[0], 0.0) / c[SECTION]


@inner
def drop_diameter(state, c):
    """Diameter of the drop that has melted since the last one left [m]."""
    return (1.5 * c[DIAMETER] * c[DIAMETER] * max(state[6], 0.0)) ** (1.0 / 3.0)


@inner
def drop_reach(state, c, diameter):
    """How far a drop of this diameter reaches ahead of the solid end [m].

    A cap on the wire's end at first, then a sphere of the melted volume; with its random spread.
    """
    ratio = min(diameter / c[DIAMETER], 1.0)
    return (c[REACH_BASE] + c[REACH_GROWTH] * diameter * ratio * ratio) * state[7]


@inner
def needed_voltage(state, c):
    """Voltage that brings a lost arc back [V]; infinite once the gap has lost its heat."""
    t = state[9]
    if t < c[DEAD_TIME] or t > c[REIGNITE_LOST]:
        return np.inf
    arc = c[ARC_VOLTAGE] + c[ARC_GRADIENT] * state[0]
    if t < c[REIGNITE_TIME]:
        factor = c[REIGNITE_FIRST] + (c[REIGNITE_LATER] - c[REIGNITE_FIRST]) * t / c[REIGNITE_TIME]
    else:
        factor = c[REIGNITE_LATER] * 10.0 ** ((t - c[REIGNITE_TIME]) / (c[REIGNITE_LOST] - c[REIGNITE_TIME]))
    return max(arc * factor, arc + c[FALLING_VOLTAGE])


@inner
def fades(state, c, dt):
    """Whether a burning arc has been below its least current for too long to live on, to the nearest tick."""
    return state[23] > 0.0 and state[23] + 0.5 * dt >= c[DEAD_TIME]


@inner
def begin_touch(state, count, c):
    """The cold wire meets the work: a contact spot of random size and resistance."""
    count[0] = TOUCHING
    count[2] += 1
    count[5] += 1
    state[0] = 0.0
    state[2] = state[3] = state[11] = state[13] = 0.0
    state[4] = uniform(count, SPOT_DRAW, c[SPOT_LOW], c[SPOT_HIGH])
    state[8] = uniform(count, CONTACT_DRAW, c[COLD_LOW], c[COLD_HIGH])


@inner
def begin_bridge(state, count, c):
    """The drop touches the pool: a liquid bridge that will drain."""
    count[0] = BRIDGED
    count[2] += 1
    count[5] += 1
    count[14] += 1
    state[5] = 1.0
    state[8] = c[BRIDGE_RESISTANCE]
    state[10] = uniform(count, GAP_DRAW, c[GAP_BRIDGE_LOW], c[GAP_BRIDGE_HIGH])
    state[13] = 0.0


@inner
def begin_drop(state, count, c):
    """A new drop, with its own random reach."""
    state[6] = 0.0
    state[7] = uniform(count, REACH_DRAW, 1.0 - c[REACH_SPREAD], 1.0 + c[REACH_SPREAD])


@inner
def begin_arc(state, count, c, gap, current, told):
    """The contact has ruptured: an arc on the gap it leaves, with the current that flows."""
    count[0] = BURNING
    count[2] += 1
    count[6] += 1
    state[0] = gap
    state[9] = state[23] = 0.0
    begin_drop(state, count, c)
    told[4] += current
    told[5] = max(told[5], current)


@inner
def wanted_feed(count, c, time):
    """Speed that the motor is asked for: nothing before its delay and after the trigger's release, run-in until the
    first arc.
    """
    if time < c[FEED_DELAY] or time >= c[RELEASE]:
        return 0.0
    return c[FEED] if count[6] > 0 else c[RUN_IN]


@inner
def melting_speed(state, c, current):
    """How fast the solid end melts back while the arc burns [m/s]."""
    return c[MELT_ALPHA] * current + c[MELT_BETA] * max(c[HEIGHT] - state[0], 0.0) * state[16]


@inner
def move(state, count, c, first, last, dt, told):
    """Feed, melting, heating, drainage over a tick in which the current went from ``first`` to ``last``; the condition
    changes where a rule says so.
    """
    wanted = wanted_feed(count, c, count[9] * dt)
    left = np.exp(-dt / c[MOTOR_TAU])
    fed = wanted * dt + (state[1] - wanted) * (1.0 - left) * c[MOTOR_TAU]
    state[1] = wanted + (state[1] - wanted) * left
    condition = count[0]
    mean = 0.5 * (first + last)
    square = (first * first + first * last + last * last) / 3.0
    memory = np.exp(-dt / c[HEAT_TAU])
    state[16] = square + (state[16] - square) * memory
    if condition == BURNING:
        burning(state, count, c, melting_speed(state, c, mean) * dt, fed, dt)
        state[17] = 1.0 + (state[17] - 1.0) * memory
    elif condition == BRIDGED:
        state[13] += dt
        state[0] -= fed
        state[5] -= (c[DRAIN_BASE] + c[DRAIN_CURRENT] * square) * dt
        if state[5] <= 0.0:
            begin_arc(state, count, c, max(state[0], state[10]), last, told)
        elif state[0] <= 0.0:
            begin_touch(state, count, c)
            state[8] = c[BRIDGE_RESISTANCE]
            count[13] += 1
    elif condition == TOUCHING:
        touching(state, count, c, square, fed, last, dt, told)
    else:
        state[0] -= fed
        state[9] += dt
        if state[0] <= 0.0:
            begin_touch(state, count, c)


@inner
def burning(state, count, c, melted, fed, dt):
    """A tick of arc: the gap, the drop, and whether it falls or touches.

    While an arc that came back has not reached its least current the gap goes on cooling.
    """
    if state[9] > 0.0:
        state[9] += dt
    state[0] += melted - fed
    state[6] += melted
    state[15] += melted
    diameter = drop_diameter(state, c)
    if diameter >= c[DROP_LIMIT]:  # it falls by its own weight; the arc burns on
        count[2] += 1
        begin_drop(state, count, c)
        diameter = 0.0
    if state[0] <= drop_reach(state, c, diameter):
        if state[6] > 0.0 and state[0] > 0.0:
            begin_bridge(state, count, c)
        else:
            begin_touch(state, count, c)


@inner
def touching(state, count, c, square, fed, current, dt, told):
    """A tick of solid contact: spot and extension heat until one of them parts, or the wire gives way."""
    state[13] += dt
    state[11] += fed
    spot = state[4] * c[SECTION]
    left = np.exp(-dt / c[SPOT_TAU])
    state[2] = state[2] * left + square * c[SPOT_TAU] * (1.0 - left) / (c[ACTION] * spot * spot)
    heat = square * dt / (c[ACTION] * c[SECTION] * c[SECTION])
    state[3] += heat
    state[17] = min(state[17] + heat, 1.0)
    if state[2] >= 1.0:
        begin_arc(state, count, c, uniform(count, GAP_DRAW, c[GAP_SPOT_LOW], c[GAP_SPOT_HIGH]), current, told)
    elif state[3] >= 1.0:
        slowness = 1.0 - np.exp(-state[13] / c[GAP_RISE_TIME])
        share = 0.5 * (uniform(count, GAP_DRAW, 0.0, 1.0) + slowness)
        begin_arc(state, count, c, c[GAP_LONG_LOW] + (c[GAP_LONG_HIGH] - c[GAP_LONG_LOW]) * share, current, told)
    elif state[11] >= c[STUB_LENGTH]:  # it buckles, slips and finds another spot
        count[2] += 1
        count[13] += 1
        state[11] = 0.0
        state[4] = uniform(count, SPOT_DRAW, c[SPOT_LOW], c[SPOT_HIGH])


@inner
def driven(x, first, last):
    """Integral over u from 0 to x of exp(-u) times the square of the current u time constants before the end."""
    change = last - first
    if x < 0.5:
        e0, e1, e2, term = 0.0, 0.0, 0.0, x
        for k in range(16):
            e0 += term / (1 + k)
            e1 += term / (2 + k)
            e2 += term / (3 + k)
            term *= -x / (k + 1)
    else:
        left = np.exp(-x)
        e0 = 1.0 - left
        e1 = (1.0 - (1.0 + x) * left) / x
        e2 = (2.0 - (2.0 + 2.0 * x + x * x) * left) / (x * x)
    return last * last * e0 - 2.0 * last * change * e1 + change * change * e2


@inner
def remember(state, c, current, dt):
    """Conductances of an arc with a memory after a small tick, exact for a current that went in a straight line."""
    first = state[20]
    volts = c[ARC_VOLTAGE] + c[ARC_GRADIENT] * state[0]
    x = dt / c[ARC_TAU]
    square = state[18] * state[18] * np.exp(-2.0 * x) + driven(2.0 * x, first, current) / (volts * volts)
    state[18] = np.sqrt(square)
    state[19] = state[19] * np.exp(-x) + driven(x, first, current) / c[ARC_POWER]
    state[20] = current


@inner
def memory_voltage(state, c, current, slope, wanted):
    """Voltage of an arc with a memory [V] and how fast it changes [V/s]; ``slope`` is that of the current [A/s]."""
    volts = c[ARC_VOLTAGE] + c[ARC_GRADIENT] * state[0]
    wanted[1] = wanted[2] = 0.0
    if c[ARC_MEMORY] != MAYR:
        g = max(state[18], 1e-6)
        rate = ((current / volts) ** 2 / g - g) / c[ARC_TAU]
        wanted[1] += current / g
        wanted[2] += (slope - current / g * rate) / g
    if c[ARC_MEMORY] != CASSIE:
        g = max(state[19], 1e-6)
        rate = (current * current / c[ARC_POWER] - g) / c[ARC_TAU]
        wanted[1] += current / g
        wanted[2] += (slope - current / g * rate) / g


@inner
def small_tick(state, c, current, time, quantum, wanted):
    """A small tick of an arc with a memory: its conductances, and what is to be added to the element's piece."""
    dt = (time - state[21]) * quantum
    if dt > 0.0:
        state[22] = (current - state[20]) / dt
        remember(state, c, current, dt)
    state[21] = time
    slope = state[22]
    if slope < 0.0 and current < LOST_SHARE * c[FALLING_CURRENT]:
        wanted[1], wanted[2] = OFF_VOLTAGE, 0.0
        return
    memory_voltage(state, c, current, slope, wanted)
    rest = c[ARC_RESISTANCE] + extension_resistance(state, c) - c[ARC_LEVEL]
    wanted[1] += rest * current
    wanted[2] += rest * slope


@inner
def begin_memory(state, c, current, time):
    """An arc with a memory begins as if its current had flowed for long."""
    least = LOST_SHARE * c[FALLING_CURRENT]
    i = max(current, least)
    state[18] = i / (c[ARC_VOLTAGE] + c[ARC_GRADIENT] * state[0])
    state[19] = i * i / c[ARC_POWER]
    state[20], state[21], state[22] = current, time, 0.0


@inner
def electrical(state, count, c, current, dt, levels, wanted):
    """Piece of the element and the voltage to be added.

    Wanted[0] kind of segment, [1] added voltage [V], [2] its slope [V/s].
    """
    series = extension_resistance(state, c)
    condition = count[0]
    if condition == TOUCHING or condition == BRIDGED:
        resistance = series + (state[8] / max(state[5], 0.1) if condition == BRIDGED else state[8])
        level = 0
        while level < levels.shape[0] - 1 and resistance > 1.7 * levels[level]:
            level += 1
        wanted[0] = CONTACT + 10 * level
        wanted[1] = (resistance - levels[level]) * current
        wanted[2] = 0.0
    elif condition == BURNING and fades(state, c, dt):
        wanted[0] = ARC
        wanted[1] = OFF_VOLTAGE
        wanted[2] = 0.0
    elif condition == BURNING:
        wanted[0] = ARC
        wanted[1] = c[ARC_VOLTAGE] + c[ARC_GRADIENT] * state[0] + (c[ARC_RESISTANCE] + series - c[ARC_LEVEL]) * current
        wanted[2] = c[ARC_GRADIENT] * (melting_speed(state, c, current) - state[1])
    else:
        wanted[0] = OPEN
        wanted[1] = wanted[2] = 0.0


@inner
def judge(count, ring, c, dt, told, during, ends, volts):
    """Statistics of the tick, and whether the arc counts as struck.

    ``during`` is the condition in which it has passed, ``ends`` and ``volts`` current and voltage at its two ends.
    """
    first, current = ends
    opening, voltage = volts
    if opening != opening:  # unknown: as at the end
        opening = voltage
    charge, flux = 0.5 * (first + current) * dt, 0.5 * (opening + voltage) * dt
    if during == TOUCHING or during == BRIDGED:
        told[0] = max(told[0], current)
        told[1] = max(told[1], (current - first) / dt)
        told[6] += charge
        told[8] += flux
    elif during == BURNING:
        told[2] += charge
        told[7] += flux
        if count[0] != OUT:
            told[9] = min(told[9], current)
    told[3] += charge * flux / dt + (current - first) * (voltage - opening) * dt / 12.0
    condition = count[0]
    bad = condition == CLEAR or condition == OUT or condition == TOUCHING
    if condition == TOUCHING or condition == BRIDGED:
        count[16] += 1
        if condition == TOUCHING:
            count[19] += 1
    if not bad:
        count[15] += 1
    elif condition == OUT:
        count[17] += 1
    span = ring.shape[0]
    place = count[9] % span
    if count[9] >= span:
        count[10] -= ring[place]
    oldest_bad = ring[(place + 1) % span]
    ring[place] = 1 if bad else 0
    count[10] += ring[place]
    count[9] += 1
    if count[11] < 0 and count[9] >= span and count[10] * dt <= c[STRUCK_BAD] and oldest_bad == 0 and count[6] > 0:
        count[11] = count[9] - span


@inner
def weld(
    tables,
    log,
    control,
    x,
    schedule_time,
    schedule_event,
    later,
    account,
    end,
    quantum,
    scratch,
    suspects,
    tick,
    state,
    count,
    c,
    told,
    ring,
    wanted,
    current_rows,
    voltage_rows,
    kinds,
    events,
    input_place,
    levels,
    record,
    record_rows,
    every,
    stop_when_struck,
):
    """Run the wire process until ``end``, a struck arc (if asked), the trial's length, or until Python is needed;
    returns a code.

    ``kinds[m]`` is the kind of segment the wire's element has in mode m (-1: rows of that mode are not filled in
    yet); ``events`` are the numbers of the events open, arc, ignite, contact level 0, 1, ...; ``record`` gets time,
    condition, gap, then the rows ``record_rows[m]`` at every ``every``-th tick.
    """
    dt = tick * quantum
    begin = count[18]
    while True:
        if count[1] > 0:  # an event that waits for its mode
            if not apply_event(tables, count[1] - 1, log, control, x):
                return NEED_MODE
            count[1] = 0
            if kinds[control[1]] >= 0:
                state[24] = dot(voltage_rows[control[1]], x)
        target = begin + count[9] * tick
        stop = target
        remembers = c[ARC_MEMORY] > 0.0 and count[0] == BURNING and state[18] > 0.0
        if remembers:
            small = tick >> SMALL_TICKS
            stop = min(target, control[0] + small - (control[0] - begin) % small)
        if control[0] < stop and not plain_step(
            tables, control, x, schedule_time, schedule_event, later, stop, quantum, scratch
        ):
            code = advance(
                tables,
                log,
                control,
                x,
                schedule_time,
                schedule_event,
                later,
                account,
                stop,
                quantum,
                scratch,
                suspects,
            )
            if code == LOG_FULL:
                control[4] = 0  # the log is not wanted here
                continue
            if code != DONE:
                return code
        if control[0] >= end or (stop_when_struck and (count[11] >= 0 or count[9] * dt >= c[TRIAL_LENGTH])):
            return TRIAL_OVER if control[0] < end else DONE
        mode = control[1]
        kind = kinds[mode]
        if kind < 0:
            return NEED_ROWS
        current, voltage = dot(current_rows[mode], x), dot(voltage_rows[mode], x)
        if remembers and kind != OPEN:
            small_tick(state, c, max(current, 0.0), control[0], quantum, wanted)
            x[input_place] = wanted[1]
            x[input_place + 1] = wanted[2]
        if control[0] < target:
            if kind == OPEN:
                state[18] = 0.0  # the rest of the tick is no arc's
            continue
        condition = count[0]
        before_tick = state[14]
        state[14] = current
        if count[9] > 0:
            move(state, count, c, max(before_tick, 0.0), max(current, 0.0), dt, told)
        if count[0] == BURNING and condition == BURNING:
            if kind == OPEN:  # put out by the engine: current reached zero
                count[0] = OUT
                if state[9] > 0.0:
                    count[8] -= 1  # it never really came back
                else:
                    count[7] += 1
            elif current >= c[LEAST_CURRENT]:
                state[9] = state[23] = 0.0
            elif before_tick > c[LEAST_CURRENT]:  # it fell below on the way
                state[23] += dt * (c[LEAST_CURRENT] - current) / (before_tick - current)
            else:
                state[23] += dt
        elif count[0] == OUT and abs(voltage) > needed_voltage(state, c):
            count[0] = BURNING
            count[8] += 1
            state[23] = 0.0
        if count[7] > 1000.0 * (1.0 + count[9] * dt):
            return TOO_MANY_LOSSES
        judge(count, ring, c, dt, told, condition, (before_tick, current), (state[24], voltage))
        if every > 0 and (count[9] - 1) % every == 0:
            r = count[12]
            if r < record.shape[0]:
                record[r, 0] = (control[0] - begin) * quantum
                record[r, 1] = count[0]
                record[r, 2] = state[0]
                for s in range(record_rows.shape[1]):
                    record[r, 3 + s] = dot(record_rows[mode, s], x)
                count[12] = r + 1
        electrical(state, count, c, current, dt, levels, wanted)
        target_kind = np.int64(wanted[0])
        over = count[0] == BURNING and fades(state, c, dt)
        if target_kind != ARC or kind == OPEN or over:
            state[18] = 0.0
        if c[ARC_MEMORY] > 0.0 and target_kind == ARC and not over:
            if state[18] == 0.0:
                begin_memory(state, c, max(current, 0.0), control[0])
            small_tick(state, c, max(current, 0.0), control[0], quantum, wanted)
        x[input_place] = wanted[1]
        x[input_place + 1] = wanted[2]
        if target_kind == ARC:
            if kind == OPEN:
                count[1] = events[2] + 1
            elif kind != ARC and kind != FALLING:
                count[1] = events[1] + 1
        elif target_kind != kind:
            count[1] = (events[0] if target_kind == OPEN else events[3 + (target_kind - CONTACT) // 10]) + 1
        state[24] = np.nan if count[1] > 0 else dot(voltage_rows[mode], x)
