"""An independent way to the same waveforms: every node and branch kept as it is, in tiny implicit steps.

Nothing of the package is used.  The network is written as E y' + A y = b(t) with y all node voltages and the currents
of all inductors, sources and ideal windings; it may be of index two.  Backward Euler from a state at rest, extrapolated
to step zero from four step lengths (Aitken and Neville's scheme).
"""

import numpy as np


class Descriptor:
    """Collects branches; node 0 is the reference.  Every ``add`` returns the index of the branch's current in y."""

    def __init__(self, nodes):
        self.nodes = nodes
        self.e, self.a, self.b = {}, {}, []
        self.size = nodes

    def _put(self, target, row, column, value):
        if row >= 0 and column >= 0:
            target[row, column] = target.get((row, column), 0.0) + value

    def resistor(self, plus, minus, value):
        """A conductance between two nodes."""
        for row, column, sign in ((plus, plus, 1), (minus, minus, 1), (plus, minus, -1), (minus, plus, -1)):
            self._put(self.a, row - 1, column - 1, sign / value)

    def capacitor(self, plus, minus, value):
        """A capacitance between two nodes."""
        for row, column, sign in ((plus, plus, 1), (minus, minus, 1), (plus, minus, -1), (minus, plus, -1)):
            self._put(self.e, row - 1, column - 1, sign * value)

    def _current(self, plus, minus):
        column = self.size
        self.size += 1
        self._put(self.a, plus - 1, column, 1.0)
        self._put(self.a, minus - 1, column, -1.0)
        return column

    def _voltage(self, row, plus, minus, factor=1.0):
        self._put(self.a, row, plus - 1, factor)
        self._put(self.a, row, minus - 1, -factor)

    def inductors(self, ends, matrix):
        """Coupled inductors: v - L di/dt = 0."""
        columns = [self._current(plus, minus) for plus, minus in ends]
        for j, (plus, minus) in enumerate(ends):
            self._voltage(columns[j], plus, minus)
            for k, column in enumerate(columns):
                self._put(self.e, columns[j], column, -matrix[j][k])
        return columns

    def inductor(self, plus, minus, value):
        """One inductor."""
        return self.inductors([(plus, minus)], [[value]])[0]

    def source(self, plus, minus, wave):
        """An ideal source v = wave(t)."""
        row = self._current(plus, minus)
        self._voltage(row, plus, minus)
        self.b.append((row, wave))
        return row

    def transformer(self, first, second, ratio):
        """Ideal windings: v2 = ratio v1, i1 = -ratio i2."""
        column = self._current(*second)
        self._put(self.a, first[0] - 1, column, -ratio)
        self._put(self.a, first[1] - 1, column, ratio)
        self._voltage(column, *second)
        self._voltage(column, *first, factor=-ratio)
        return column

    def solve(self, end, steps):
        """y at ``end``, extrapolated from runs of steps, 2, 4 and 8 times as many steps."""
        runs = [self._backward(end, steps * 2**k) for k in range(4)]
        for order in range(1, 4):
            runs = [fine + (fine - coarse) / (2**order - 1) for coarse, fine in zip(runs, runs[1:], strict=False)]
        return runs[0]

    def _backward(self, end, steps):
        e, a = np.zeros((self.size, self.size)), np.zeros((self.size, self.size))
        for target, entries in ((e, self.e), (a, self.a)):
            for (row, column), value in entries.items():
                target[row, column] = value
        h = end / steps
        inverse = np.linalg.inv(e / h + a)
        y = np.zeros(self.size)
        for k in range(1, steps + 1):
            right = e @ y / h
            for row, wave in self.b:
                right[row] += wave(k * h)
            y = inverse @ right
        return y
