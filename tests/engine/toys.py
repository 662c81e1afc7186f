"""Small switched systems written by hand, so that the engine is tested without the network room."""

import numpy as np

from weldsim.network.system import Action, Element, EventRule, ModeEquations, Signal, SwitchedSystem


def equations(matrix, outputs, guards):
    """Mode sheet from lists; a guard is (row, band, element, target) or with an action as fifth."""
    return ModeEquations(
        np.array(matrix, float),
        np.array(outputs, float),
        np.array([g[0] for g in guards], float).reshape(-1, len(matrix)),
        np.array([g[1] for g in guards], float),
        np.array([g[2] for g in guards], int),
        np.array([g[3] for g in guards], int),
        np.array([g[4] if len(g) > 4 else -1 for g in guards], int),
    )


def controller(amplitude=325.0, resistance=2.0, inductance=5e-3, off=1e6, frequency=50.0):
    """A switch with R-L behind it, fed by a sine.

    States i; x = (i, sin, cos, 1); fires on event 0, stops at zero current.
    """
    omega = 2.0 * np.pi * frequency
    clock = [[0, 0, omega, 0], [0, -omega, 0, 0], [0, 0, 0, 0]]

    def assemble(signature):
        on = signature[0] > 0
        r = resistance + (0.0 if on else off)
        sign = {0: 0.0, 1: 1.0, 2: -1.0, 3: 0.0}[signature[0]]
        matrix = [[-r / inductance, amplitude / inductance, 0, 0], *clock]
        outputs = [[1, 0, 0, 0], [0, amplitude, 0, 0], [resistance, 0, 0, 0], [r - resistance, 0, 0, 0]]
        if not on:
            return equations(matrix, outputs, [])
        if sign == 0.0:  # just fired: which polarity?
            return equations(
                matrix,
                outputs,
                [([0, amplitude, 0, 0], 1e-9 * amplitude, 0, 2), ([0, -amplitude, 0, 0], 1e-9 * amplitude, 0, 1)],
            )
        return equations(matrix, outputs, [([sign, 0, 0, 0], 1e-7, 0, 0)])

    signals = (Signal("i", "A"), Signal("u", "V"), Signal("u_r", "V"), Signal("u_off", "V"))
    fire = EventRule("fire", 0, (3, 1, 2, 3), (-1,) * 4, (1.0,) * 4, (0.0,) * 4, (3, 1, 2, 3))
    return SwitchedSystem(
        states=("i",),
        inputs=(),
        orders=(1,),
        frequency=frequency,
        signals=signals,
        elements=(Element("switch", ("off", "plus", "minus", "fired")),),
        events=(fire,),
        actions=(),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {"coil": 0.5 * inductance * x[0] ** 2},
        start=lambda: (np.zeros(1), (0,)),
    )


def bouncer(gravity=9.81, restitution=0.8):
    """A ball that bounces.

    States height, speed; the guard's action reverses the speed, a second segment waits for the fall.
    """

    def assemble(signature):
        matrix = np.zeros((5, 5))
        matrix[0, 1], matrix[1, 4] = 1.0, -gravity
        matrix[2, 3], matrix[3, 2] = 2 * np.pi, -2 * np.pi
        guards = [([1.0, 0, 0, 0, 0], 1e-12, 0, 1, 0)] if signature[0] == 0 else [([0, 1.0, 0, 0, 0], 1e-12, 0, 0)]
        return equations(matrix, [[1, 0, 0, 0, 0], [0, 1, 0, 0, 0]], guards)

    return SwitchedSystem(
        states=("height", "speed"),
        inputs=(),
        orders=(1,),
        frequency=1.0,
        signals=(Signal("height", "m"), Signal("speed", "m/s")),
        elements=(Element("ball", ("falling", "rising")),),
        events=(),
        ledger=(),
        actions=(Action(state=1, row=np.array([0, -restitution, 0, 0, 0.0])),),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.array([1.0, 0.0]), (0,)),
    )


def dipper(fast, slow, depth, limit=1.0):
    """A guard that dips below its limit and comes back soon after its mode is entered.

    States a, b; they rest until event 0, then decay with the time constants ``fast`` and ``slow``; the element trips
    when limit + depth (a - b) falls below zero.  x = (a, b, sin, cos, 1).
    """

    def assemble(signature):
        matrix = np.zeros((5, 5))
        matrix[2, 3], matrix[3, 2] = 100.0 * np.pi, -100.0 * np.pi
        row = [depth, -depth, 0, 0, limit]
        if signature[0] > 0:
            matrix[0, 0], matrix[1, 1] = -1.0 / fast, -1.0 / slow
        return equations(matrix, [row], [(row, 1e-9, 0, 2)] if signature[0] == 1 else [])

    return SwitchedSystem(
        states=("a", "b"),
        inputs=(),
        orders=(1,),
        frequency=50.0,
        signals=(Signal("guard", "1"),),
        elements=(Element("dip", ("resting", "watching", "tripped")),),
        events=(EventRule("go", 0, (1, 1, 2), (-1,) * 3, (1.0,) * 3, (0.0,) * 3, (1, 1, 2)),),
        actions=(),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.ones(2), (0,)),
    )


def shadow(rate, gain):
    """A state that runs after a sine at a tremendous rate; the output is the gap between the two, much enlarged.

    x = (a, sin, cos, 1); a' = rate (sin - a); gap = gain (a - sin), both of them near 1 and far larger than the gap.
    """
    omega = 100.0 * np.pi

    def assemble(signature):
        matrix = [[-rate, rate, 0, 0], [0, 0, omega, 0], [0, -omega, 0, 0], [0, 0, 0, 0]]
        return equations(matrix, [[gain, -gain, 0, 0], [1, 0, 0, 0]], [])

    return SwitchedSystem(
        states=("a",),
        inputs=(),
        orders=(1,),
        frequency=50.0,
        signals=(Signal("gap", "1"), Signal("a", "1")),
        elements=(Element("none", ("one",)),),
        events=(),
        actions=(),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.zeros(1), (0,)),
    )


def bare(assemble, states, segments, *, events=0, orders=(1,), names=("y",)):
    """A 50 Hz system of one element from its ``assemble``; event k takes the element from segment k to the next."""
    count = len(segments)
    stay = tuple(range(count))
    return SwitchedSystem(
        states=tuple(f"state {k}" for k in range(states)),
        inputs=(),
        orders=orders,
        frequency=50.0,
        signals=tuple(Signal(name, "1") for name in names),
        elements=(Element("part", tuple(segments)),),
        events=tuple(
            EventRule(
                f"go {k}", 0, (*stay[:k], k + 1, *stay[k + 1 :]), (-1,) * count, (1.0,) * count, (0.0,) * count, stay
            )
            for k in range(events)
        ),
        actions=(),
        ledger=(),
        assemble=assemble,
        stored_energy=lambda x: {},
        start=lambda: (np.zeros(states), (0,)),
    )


def with_clock(circuit, orders=(1,)):
    """Matrix in extended form: rows of the circuit, then the 50 Hz sources and the constant."""
    size = len(circuit[0])
    matrix = np.zeros((size, size))
    matrix[: len(circuit)] = circuit
    for number, order in enumerate(orders):
        k = len(circuit) + 2 * number
        matrix[k, k + 1], matrix[k + 1, k] = 100.0 * np.pi * order, -100.0 * np.pi * order
    return matrix
