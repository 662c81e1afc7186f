"""Loops of a curve with friction elements, made by plain small steps; and the measured loops to compare with.

Nothing here knows the closed forms of weldsim.parts.hysteresis: an element is pushed and clipped, step by step.
"""

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import weldsim

DATA = Path(weldsim.__file__).parent / "data"
MU_0 = 4e-7 * math.pi
RING_DENSITY = 7600.0  # [kg/m3] of the ring stacks, weldsim/data/README.md
INSTRUMENT = {1: (56.0, 0.351, 49.5e-3), 2: (55.6, 0.355, 50.1e-3)}  # its own A/m, T, J/kg of each ring stack


@dataclass(frozen=True)
class Loop:
    """One closed loop from its upper tip down and back up: field [A/m] and flux density [T]."""

    field: np.ndarray
    density: np.ndarray

    @property
    def area(self):
        """Loss of a cycle [J/m3]: the integral of H dB (trapezoids)."""
        return float(np.sum(0.5 * (self.field[1:] + self.field[:-1]) * np.diff(self.density)))

    @property
    def coercive_field(self):
        """Half the distance of the two branches at zero flux density [A/m]."""
        return 0.5 * (
            self._crossing(self.density, self.field, rising=True)
            - self._crossing(self.density, self.field, rising=False)
        )

    @property
    def remanence(self):
        """Half the distance of the two branches at zero field [T]."""
        return 0.5 * (
            self._crossing(self.field, self.density, rising=False)
            - self._crossing(self.field, self.density, rising=True)
        )

    @staticmethod
    def _crossing(zeroed, read, *, rising):
        """Value of ``read`` where ``zeroed`` passes zero upward or downward; the first place where it does."""
        passes = (zeroed[:-1] < 0.0) & (zeroed[1:] >= 0.0) if rising else (zeroed[:-1] > 0.0) & (zeroed[1:] <= 0.0)
        k = int(np.argmax(passes))
        share = zeroed[k] / (zeroed[k] - zeroed[k + 1])
        return float(read[k] + share * (read[k + 1] - read[k]))


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
