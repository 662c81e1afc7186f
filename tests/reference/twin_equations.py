"""The benchmark supply as plain equations, written by hand; nothing of weldsim is used.

One loop carries the primary, one the secondary, one the dc side::

    source - R - L - triac (snubber across it) - R - L -+- magnetising branch -+   (primary, current i1)
                                                        +- core loss ----------+
                                                        +- ideal 230:31 -------+
    secondary: ideal - R - L (current i2) - bridge - bank (capacitor vb behind its own resistance, bleed across both)
    dc: bank terminals - choke - leads (one inductance together, current il) - load

State: x = (i1, snubber capacitor voltage vs, core flux linkage, i2, vb, il).

What is not a state follows from three small resistive networks that do not touch each other, so that each is solved
exactly by the piece that its part is on:

* triac with snubber: i1 = law(v) + (v - vs) / Rs, monotone in v;
* bridge: with i2 given, symmetry makes opposite diodes carry the same current, a in one pair and
  b = a - i2 in the other, and the dc voltage is -(va + vb).  Each pair is blocked or conducting (four
  combinations), v = R i + E in either, so that the current balance of the dc side is one linear equation;
* load: v = R i + E with i = il given.

The pieces are kept in ``regime`` = (triac, pair a, pair b, core, load, gate).  ``guards`` tells how far each is from
its end.  All laws are continuous, so only the triac's flag and the programmed short make a jump.
"""

from typing import NamedTuple

import numba
import numpy as np

# Pieces.  TRIAC: no flag, or with flag conducting backward, in the high-resistance middle, conducting forward.
OFF, BACKWARD, MIDDLE, FORWARD = 0, 1, 2, 3
# LOAD
RESISTOR, BLOCKED, BURNING, SHORTED = 0, 1, 2, 3
TRIAC, PAIR_A, PAIR_B, CORE, LOAD, GATE = 0, 1, 2, 3, 4, 5

FULL_SCALE = np.array([120.0, 330.0, 1.5, 900.0, 45.0, 400.0])
"""Size of each state on these cases, for tolerances and for errors 'of full scale'."""

SIGNALS = (
    "primary.current",
    "snubber.voltage",
    "core.flux_linkage",
    "secondary.current",
    "bank.capacitor_voltage",
    "choke.current",
    "phase_control.voltage",
    "phase_control.current",
    "core.magnetising_current",
    "rectifier.current",
    "bank.voltage",
    "bank.current",
    "output.voltage",
    "output.current",
)
HARMONICS = 40
ENERGIES = (
    "source",
    "mains",
    "triac",
    "snubber",
    "primary winding",
    "core loss",
    "secondary winding",
    "bridge",
    "bank",
    "bleed",
    "choke",
    "leads",
    "load",
)
PLAIN_MEANS = ("i_out", "i_out2", "u_out", "u_out2", "u_bank", "u_bank2", "i_bank2", "i_primary", "i_primary2", "flux")
N_INTEGRALS = len(ENERGIES) + len(PLAIN_MEANS) + 2 * HARMONICS


class Supply(NamedTuple):
    """Every number of the benchmark supply, in SI units."""

    mains_peak: float = 230.0 * 2.0**0.5
    frequency: float = 50.0
    phase: float = 0.0
    mains_resistance: float = 0.30
    mains_inductance: float = 0.40e-3
    triac_threshold: float = 1.0
    triac_slope: float = 12e-3
    triac_off: float = 200e3
    snubber_resistance: float = 100.0
    snubber_capacitance: float = 100e-9
    latching: float = 80e-3
    holding: float = 50e-3
    primary_resistance: float = 0.40
    primary_inductance: float = 0.5e-3
    magnetising_inductance: float = 4.0
    corner_flux: float = 1.10
    corner_width: float = 0.0  # half the blend: 0.01 blends from 1.09 to 1.11 V.s
    saturated_inductance: float = 6e-3
    core_loss: float = 1500.0
    ratio: float = 230.0 / 31.0
    secondary_resistance: float = 7e-3
    secondary_inductance: float = 9e-6
    diode_threshold: float = 0.75
    diode_slope: float = 1.5e-3
    diode_off: float = 50e3
    bank_capacitance: float = 44e-3
    bank_resistance: float = 6e-3
    bleed: float = 470.0
    choke_resistance: float = 5e-3
    lead_resistance: float = 8e-3
    output_inductance: float = 0.30e-3 + 12e-6
    load_resistance: float = 0.18
    arc_voltage: float = 14.0
    arc_slope: float = 0.05
    arc_blocked: float = 1000.0
    short_resistance: float = 2e-3


@numba.njit
def source_voltage(t, s):
    """Give the ideal source's voltage."""
    return s.mains_peak * np.sin(2.0 * np.pi * s.frequency * t + s.phase)


@numba.njit
def knee(threshold, slope, off):
    """Give the current at which v = threshold + slope i meets v = off i."""
    return threshold / (off - slope)


@numba.njit
def triac_voltage(x, piece, s):
    """Solve i1 = i_triac(v) + (v - vs) / Rs on the given piece of the triac's law."""
    drive = x[0] + x[1] / s.snubber_resistance
    if piece == FORWARD:
        return (s.triac_slope * drive + s.triac_threshold) / (1.0 + s.triac_slope / s.snubber_resistance)
    if piece == BACKWARD:
        return (s.triac_slope * drive - s.triac_threshold) / (1.0 + s.triac_slope / s.snubber_resistance)
    return drive / (1.0 / s.triac_off + 1.0 / s.snubber_resistance)


@numba.njit
def triac_current(x, piece, s):
    """Give the triac's own current, without the snubber's."""
    v = triac_voltage(x, piece, s)
    if piece in (OFF, MIDDLE):
        return v / s.triac_off
    return x[0] - (v - x[1]) / s.snubber_resistance


@numba.njit
def diode_line(conducting, s):
    """Give R and E of v = R i + E for one diode."""
    if conducting:
        return s.diode_slope, s.diode_threshold
    return s.diode_off, 0.0


@numba.njit
def bridge(x, regime, s):
    """Solve the bridge: currents of the two diode pairs, voltage at its ac side and at its dc side."""
    ra, ea = diode_line(regime[PAIR_A], s)
    rb, eb = diode_line(regime[PAIR_B], s)
    conductance = 1.0 / s.bank_resistance + 1.0 / s.bleed
    given = x[5] - x[4] / s.bank_resistance - conductance * (ea + eb)
    if regime[PAIR_B]:
        a = (given + (1.0 + conductance * rb) * x[3]) / (2.0 + conductance * (ra + rb))
        b = a - x[3]
    else:  # the same equation solved for the blocked pair's small current, which a difference would round away
        b = (given - (1.0 + conductance * ra) * x[3]) / (2.0 + conductance * (ra + rb))
        a = b + x[3]
    va, vb = ra * a + ea, rb * b + eb
    return a, b, va - vb, -(va + vb)


@numba.njit
def magnetising_current(flux, piece, s):
    """Give current and slope (1/H) of the magnetising curve on one of its pieces."""
    sign = 1.0 if flux >= 0.0 else -1.0
    size = abs(flux)
    extra = 1.0 / s.saturated_inductance - 1.0 / s.magnetising_inductance
    current, slope = size / s.magnetising_inductance, 1.0 / s.magnetising_inductance
    if abs(piece) == 2:
        current += extra * (size - s.corner_flux)
        slope += extra
    elif abs(piece) == 1:
        inside = size - (s.corner_flux - s.corner_width)
        current += extra * inside * inside / (4.0 * s.corner_width)
        slope += extra * inside / (2.0 * s.corner_width)
    return sign * current, slope


@numba.njit
def load_line(piece, s):
    """Give R and E of v = R i + E at the load."""
    if piece == RESISTOR:
        return s.load_resistance, 0.0
    if piece == BLOCKED:
        return s.arc_blocked, 0.0
    if piece == BURNING:
        return s.arc_slope, s.arc_voltage
    return s.short_resistance, 0.0


@numba.njit
def derivative(t, x, regime, s):
    """Write down x' on the given pieces."""
    v_triac = triac_voltage(x, regime[TRIAC], s)
    i_snubber = (v_triac - x[1]) / s.snubber_resistance
    i_mag, _ = magnetising_current(x[2], regime[CORE], s)
    v_mag = s.core_loss * (x[0] - i_mag - x[3] / s.ratio)
    _, _, v_ac, v_dc = bridge(x, regime, s)
    r_load, e_load = load_line(regime[LOAD], s)
    drop = (s.mains_resistance + s.primary_resistance) * x[0] + v_triac + v_mag
    out = np.empty(6)
    out[0] = (source_voltage(t, s) - drop) / (s.mains_inductance + s.primary_inductance)
    out[1] = i_snubber / s.snubber_capacitance
    out[2] = v_mag
    out[3] = (v_mag / s.ratio - s.secondary_resistance * x[3] - v_ac) / s.secondary_inductance
    out[4] = (v_dc - x[4]) / (s.bank_resistance * s.bank_capacitance)
    out[5] = (v_dc - (s.choke_resistance + s.lead_resistance + r_load) * x[5] - e_load) / s.output_inductance
    return out


@numba.njit
def jacobian(x, regime, s):
    """Write down the partial derivatives of x'; the networks are linear on a piece: unit states give them."""
    _, slope = magnetising_current(x[2], regime[CORE], s)
    v_zero = triac_voltage(np.zeros(6), regime[TRIAC], s)
    _, _, ac_zero, dc_zero = bridge(np.zeros(6), regime, s)
    r_load, _ = load_line(regime[LOAD], s)
    out = np.zeros((6, 6))
    for j in range(6):
        unit = np.zeros(6)
        unit[j] = 1.0
        v_triac = triac_voltage(unit, regime[TRIAC], s) - v_zero
        v_mag = s.core_loss * (unit[0] - slope * unit[2] - unit[3] / s.ratio)
        _, _, v_ac, v_dc = bridge(unit, regime, s)
        v_ac, v_dc = v_ac - ac_zero, v_dc - dc_zero
        drop = (s.mains_resistance + s.primary_resistance) * unit[0] + v_triac + v_mag
        out[0, j] = -drop / (s.mains_inductance + s.primary_inductance)
        out[1, j] = (v_triac - unit[1]) / (s.snubber_resistance * s.snubber_capacitance)
        out[2, j] = v_mag
        out[3, j] = (v_mag / s.ratio - s.secondary_resistance * unit[3] - v_ac) / s.secondary_inductance
        out[4, j] = (v_dc - unit[4]) / (s.bank_resistance * s.bank_capacitance)
        out[5, j] = (v_dc - (s.choke_resistance + s.lead_resistance + r_load) * unit[5]) / s.output_inductance
    return out


@numba.njit
def guards(x, regime, s):
    """Tell how far each piece is from its end, in its own unit; negative means past it.

    Order: triac below and above, pair a, pair b, core below and above, load.  1 stands where nothing is watched.
    """
    out = np.ones(7)
    piece, gate = regime[TRIAC], regime[GATE]
    i_triac = triac_current(x, piece, s)
    i_knee = knee(s.triac_threshold, s.triac_slope, s.triac_off)
    limit = i_knee if gate else s.holding
    if piece == FORWARD:
        out[0] = i_triac - limit
    elif piece == BACKWARD:
        out[1] = -limit - i_triac
    elif piece == MIDDLE:
        out[0], out[1] = i_triac + i_knee, i_knee - i_triac
    a, b, _, _ = bridge(x, regime, s)
    i_knee = knee(s.diode_threshold, s.diode_slope, s.diode_off)
    out[2] = a - i_knee if regime[PAIR_A] else i_knee - a
    out[3] = b - i_knee if regime[PAIR_B] else i_knee - b
    edges = (
        -s.corner_flux - s.corner_width,
        -s.corner_flux + s.corner_width,
        s.corner_flux - s.corner_width,
        s.corner_flux + s.corner_width,
    )
    if regime[CORE] > -2:
        out[4] = x[2] - edges[regime[CORE] + 1]
    if regime[CORE] < 2:
        out[5] = edges[regime[CORE] + 2] - x[2]
    i_knee = knee(s.arc_voltage, s.arc_slope, s.arc_blocked)
    if regime[LOAD] == BLOCKED:
        out[6] = i_knee - x[5]
    elif regime[LOAD] == BURNING:
        out[6] = x[5] - i_knee
    return out


@numba.njit
def first_past(points, regime, s):
    """Find the first of several states at which a guard is negative; -1 if none is."""
    for i in range(len(points)):
        if np.min(guards(points[i], regime, s)) < 0.0:
            return i
    return -1


@numba.njit
def signals(x, regime, s):
    """Give every signal, in the order of SIGNALS."""
    out = np.empty(14)
    for i in range(6):
        out[i] = x[i]
    out[6] = triac_voltage(x, regime[TRIAC], s)
    out[7] = triac_current(x, regime[TRIAC], s)
    out[8], _ = magnetising_current(x[2], regime[CORE], s)
    a, b, _, out[10] = bridge(x, regime, s)
    out[9] = a + b
    out[11] = (out[10] - x[4]) / s.bank_resistance
    r_load, e_load = load_line(regime[LOAD], s)
    out[12] = r_load * x[5] + e_load
    out[13] = x[5]
    return out


@numba.njit
def integrands(t, x, regime, s):
    """Give what is integrated over time: powers (order of ENERGIES), then PLAIN_MEANS, then i1 times cos and sin."""
    out = np.empty(N_INTEGRALS)
    y = signals(x, regime, s)
    a, b, _, v_dc = bridge(x, regime, s)
    ra, ea = diode_line(regime[PAIR_A], s)
    rb, eb = diode_line(regime[PAIR_B], s)
    v_mag = s.core_loss * (x[0] - y[8] - x[3] / s.ratio)
    out[0] = source_voltage(t, s) * x[0]
    out[1] = s.mains_resistance * x[0] ** 2
    out[2] = y[6] * y[7]
    out[3] = (y[6] - x[1]) ** 2 / s.snubber_resistance
    out[4] = s.primary_resistance * x[0] ** 2
    out[5] = v_mag * v_mag / s.core_loss
    out[6] = s.secondary_resistance * x[3] ** 2
    out[7] = 2.0 * ((ra * a + ea) * a + (rb * b + eb) * b)
    out[8] = s.bank_resistance * y[11] ** 2
    out[9] = v_dc * v_dc / s.bleed
    out[10] = s.choke_resistance * x[5] ** 2
    out[11] = s.lead_resistance * x[5] ** 2
    out[12] = y[12] * x[5]
    plain = (x[5], x[5] ** 2, y[12], y[12] ** 2, y[10], y[10] ** 2, y[11] ** 2, x[0], x[0] ** 2, x[2])
    for i, value in enumerate(plain):
        out[13 + i] = value
    turn = np.exp(2j * np.pi * s.frequency * t)
    power = 1.0 + 0.0j
    for k in range(HARMONICS):
        power = power * turn
        out[23 + 2 * k] = x[0] * power.real
        out[24 + 2 * k] = x[0] * power.imag
    return out


@numba.njit
def stored_energy(x, s):
    """Give the energy in the inductances, the core and the capacitors (sharp or blended core, by its co-energy)."""
    size = abs(x[2])
    extra = 1.0 / s.saturated_inductance - 1.0 / s.magnetising_inductance
    core = 0.5 * size * size / s.magnetising_inductance
    low, high = s.corner_flux - s.corner_width, s.corner_flux + s.corner_width
    if size > high:
        core += 0.5 * extra * (size - s.corner_flux) ** 2 + extra * s.corner_width**2 / 6.0
    elif size > low:
        core += extra * (size - low) ** 3 / (12.0 * s.corner_width)
    return core + 0.5 * (
        (s.mains_inductance + s.primary_inductance) * x[0] ** 2
        + s.snubber_capacitance * x[1] ** 2
        + s.secondary_inductance * x[3] ** 2
        + s.bank_capacitance * x[4] ** 2
        + s.output_inductance * x[5] ** 2
    )


@numba.njit
def extremes(points, regime, s):
    """Give the smallest and the largest value of every signal over several states."""
    low = signals(points[0], regime, s)
    high = low.copy()
    for i in range(1, len(points)):
        y = signals(points[i], regime, s)
        for j in range(len(y)):
            low[j], high[j] = min(low[j], y[j]), max(high[j], y[j])
    return low, high
