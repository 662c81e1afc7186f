"""Sampled waveforms whose figures are known in closed form."""

import numpy as np

PERIOD = 0.02


def even(points=18_000):
    """Even times over one period at 50 Hz, end point included."""
    return np.linspace(0.0, PERIOD, points + 1)


def sine(time):
    """A sine of amplitude one."""
    return np.sin(2 * np.pi * time / PERIOD)


def controlled(angle, *, points=18_000):
    """A sine that flows from ``angle`` [deg] on in each half cycle; two samples at each jump."""
    time = even(points)
    jumps = np.array([angle, 180.0 + angle]) / 360.0 * PERIOD if angle else np.array([])
    before = np.concatenate([time, jumps])
    order = np.argsort(before, kind="stable")
    time = before[order]
    doubled = np.zeros(len(time), bool)
    for jump in jumps:
        doubled[np.flatnonzero(np.isclose(time, jump, rtol=0, atol=1e-12))[:1]] = True  # the first of the pair
    values = sine(time)
    phase = np.mod(time / PERIOD * 360.0, 180.0)
    values[(phase < angle - 1e-9) & ~np.isclose(phase, angle, rtol=0, atol=1e-7) | doubled] = 0.0
    return time, values
