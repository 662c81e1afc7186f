"""Loops of a curve with friction elements, made by plain small steps; and the measured loops to compare with.

Nothing here knows the closed forms of weldsim.parts.hysteresis: an element is pushed and clipped, step by step.
"""

import csv
import math
from pathlib import Path

import numpy as np

import weldsim
from weldsim.studies.proofs.iron_loops import Loop

DATA = Path(weldsim.__file__).parent / "data"
MU_0 = 4e-7 * math.pi


def drive(curve, stops, course):
    """Field along a course of the flux density that starts demagnetised at course[0] = 0."""
    state = np.zeros(len(stops))
    limits, reaches = np.array(stops).T
    field = np.empty(len(course))
    field[0] = 0.0
    corners, heights = np.array(curve).T
    last = (heights[-1] - heights[-2]) / (corners[-1] - corners[-2])  # the last piece goes on
    corners, heights = np.append(corners, corners[-1] + 1.0), np.append(heights, heights[-1] + last)
    for k in range(1, len(course)):
        state = np.clip(state + limits / reaches * (course[k] - course[k - 1]), -limits, limits)
        b = course[k]
        field[k] = np.sign(b) * np.interp(abs(b), corners, heights) + state.sum()
    return field


def model_loop(curve, stops, peak, steps=2000):
    """The closed loop between -peak and +peak after a first rise."""
    angle = np.linspace(0.0, 2.0 * np.pi, 2 * steps + 1)
    course = np.concatenate([np.linspace(0.0, peak, steps), peak * np.cos(angle)])
    field = drive(curve, stops, course)
    return Loop(field[steps:], course[steps:])


def first_rise(curve, stops, peak, steps=2000):
    """Field at the end of a first rise to the peak."""
    return float(drive(curve, stops, np.linspace(0.0, peak, steps))[-1])


def table(path):
    """A measured table as an array, its header left out."""
    with open(DATA / path, encoding="utf-8") as file:
        return np.array([[float(value) for value in row] for row in list(csv.reader(file))[1:]])


def ring_loop(stack):
    """Outer static loop of a non-oriented ring stack; the file holds polarisation, B = J + mu0 H."""
    rows = table(f"no20_ring_loops/dc_loop_lam{stack}.csv")
    return Loop(rows[:, 0], rows[:, 1] + MU_0 * rows[:, 0])


def ring_first_curve(stack):
    """First-magnetisation curve of a ring stack as (B, H), without its zero."""
    rows = table(f"no20_ring_loops/dc_initial_curve_lam{stack}.csv")[1:]
    return np.column_stack([rows[:, 1] + MU_0 * rows[:, 0], rows[:, 0]])


def ring_sine(stack, frequency):
    """Rows under sinusoidal polarisation: peak J [T], peak H [A/m], W/kg, VA/kg, remanence, coercive field."""
    rows = table("no20_ring_loops/ac_sine_losses.csv")
    return rows[(rows[:, 0] == stack) & (rows[:, 1] == frequency)][:, 2:]


def nested_loop(number):
    """One of the three loops of the grain-oriented sheet, 1 the smallest."""
    rows = table("go_steel_minor_loops/m130_27s_loops.csv")
    return Loop(*rows[rows[:, 0] == number][:, 1:].T)
