"""A second way to a boosted supply's waveforms: nodal equations in small implicit steps, nothing of the package used.

Every node keeps its voltage; inductances, capacitors and iron become conductances with a source for the length of one
step (their rule of integration put in), so that each stage of a step is a network of resistors and straight pieces.
The steps are those of a singly diagonally implicit method of third order with three stages, stiffly accurate and
L-stable (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006: gamma is the middle root of x^3 - 3 x^2 + 1.5 x - 1/6).
The pieces of a stage are found on the straight way from the last solution, one crossing after the other.  A step in
which a piece changes or the switch goes out is halved, eight times at most.
"""

import numpy as np

GAMMA = 0.43586652150845967
_MIDDLE = 0.5 * (1.0 + GAMMA)
_FIRST = -0.25 * (6.0 * GAMMA**2 - 16.0 * GAMMA + 1.0)
STAGES = (
    (GAMMA, (GAMMA,)),
    (_MIDDLE, (_MIDDLE - GAMMA, GAMMA)),
    (1.0, (_FIRST, 1.0 - GAMMA - _FIRST, GAMMA)),
)
HALVINGS = 8
CLOSE = 1e-10  # [V] by which a piece may miss its corner; a hundred times the rounding of a difference of 300 V


class Network:
    """Branches between named nodes; "0" is the reference.  ``run`` gives states and unknowns at even instants."""

    def __init__(self):
        self.nodes, self.states, self.unknowns = {"0": 0}, {}, {}
        self.plain, self.pieces, self.coils, self.capacitors, self.sources, self.ideal = [], [], [], [], [], []
        self.switch = None
        self.latched, self.gate = 0, False

    def node(self, name):
        """Number of a node; the reference is 0 and its row is left out at the end."""
        return self.nodes.setdefault(name, len(self.nodes))

    def resistor(self, plus, minus, value):
        """A plain resistance."""
        self.plain.append((self.node(plus), self.node(minus), 1.0 / value))

    def piecewise(self, plus, minus, corners, lines, state=None):
        """A branch i = g p + j with p its voltage, or its flux linkage where it has a state."""
        if state:
            self.states[state] = len(self.states)
        self.pieces.append((self.node(plus), self.node(minus), tuple(corners), tuple(lines), self.states.get(state)))

    def diode(self, plus, minus, threshold, slope, leakage):
        """i = max(v / leakage, (v - threshold) / slope)."""
        corner = threshold / (1.0 - slope / leakage)
        self.piecewise(plus, minus, [corner], [(1.0 / leakage, 0.0), (1.0 / slope, -threshold / slope)])

    def iron(self, plus, minus, fluxes, currents, state):
        """An odd chain of straight pieces from flux linkage to current, the last going on for ever."""
        flux, current = (np.concatenate((-np.array(v[:0:-1]), v)) for v in (fluxes, currents))
        slopes = np.diff(current) / np.diff(flux)
        lines = [(g, i - g * f) for g, f, i in zip(slopes, flux, current, strict=False)]
        self.piecewise(plus, minus, flux[1:-1], lines, state)

    def inductors(self, names, ends, matrix):
        """Coupled inductances; their currents are states."""
        for name in names:
            self.states[name] = len(self.states)
        places = [self.states[name] for name in names]
        self.coils.append((places, [tuple(map(self.node, pair)) for pair in ends], np.linalg.inv(np.array(matrix))))

    def capacitor(self, plus, minus, value, state):
        """A capacitance; its voltage is a state."""
        self.states[state] = len(self.states)
        self.capacitors.append((self.node(plus), self.node(minus), value, self.states[state], state))

    def source(self, plus, minus, wave, name):
        """An ideal voltage wave(t), with its current from plus to minus through it."""
        self.sources.append((self.node(plus), self.node(minus), wave, name))

    def windings(self, name, turns):
        """Ideal windings on one core: (dotted end, other end, turns); currents into the dotted ends sum to nothing."""
        self.ideal.append((name, [(self.node(a), self.node(b), n) for a, b, n in turns]))

    def triac(self, plus, minus, line, latching, holding):
        """The only switch: threshold, slope and off-state resistance, latching and holding current."""
        self.switch = (self.node(plus), self.node(minus), *line, latching, holding)
        self.corner = line[0] / (1.0 - line[1] / line[2])

    # --- one network of resistors and pieces --------------------------------------------------------------------------

    def _count(self):
        """Place every unknown: node voltages, then currents of capacitors, windings and sources."""
        names = [f"C {c[4]}" for c in self.capacitors]
        names += [f"{name} {k}" for name, turns in self.ideal for k in range(len(turns))]
        names += [source[3] for source in self.sources]
        self.unknowns = {name: len(self.nodes) + k for k, name in enumerate(names)}
        self.size = len(self.nodes) + len(names)

    def _assembled(self, pieces, way, reach):
        """Matrices of y = Y x + U u + c for one choice of pieces; ``reach`` is gamma times the step."""
        a, y = np.zeros((self.size, self.size)), np.zeros((self.size, len(self.states)))
        u, c = np.zeros((self.size, len(self.sources))), np.zeros(self.size)

        def put(plus, minus, g, j):
            for row, column, sign in ((plus, plus, 1), (minus, minus, 1), (plus, minus, -1), (minus, plus, -1)):
                a[row, column] += sign * g
            c[plus] -= j
            c[minus] += j

        for plus, minus, g in self.plain:
            put(plus, minus, g, 0.0)
        for (plus, minus, _, lines, state), k in zip(self.pieces, pieces, strict=True):
            g, j = lines[k]
            put(plus, minus, g if state is None else g * reach, j)
            if state is not None:
                y[plus, state] -= g
                y[minus, state] += g
        if self.switch:
            put(*self.switch[:2], *self._lines()[way])
        self._couple(a, y, reach)
        self._constrain(a, y, u, reach)
        for matrix in (a, y, u, c):
            matrix[0] = 0.0
        a[0, 0] = 1.0
        inverse, exact = np.linalg.inv(a).astype(np.longdouble), a.astype(np.longdouble)
        for _ in range(2):  # blocked diodes and conducting ones lie nine decades apart
            inverse = inverse @ (2.0 * np.eye(self.size) - exact @ inverse)
        return tuple(np.asarray(inverse @ part, dtype=float) for part in (y, u, c))

    def _couple(self, a, y, reach):
        """Conductances of coupled inductances, and the currents they have already."""
        for places, ends, inverse in self.coils:
            for row, (plus, minus) in enumerate(ends):
                y[plus, places[row]] -= 1.0
                y[minus, places[row]] += 1.0
                for column, (other, end) in enumerate(ends):
                    g = inverse[row, column] * reach
                    for r, c, sign in ((plus, other, 1), (minus, end, 1), (plus, end, -1), (minus, other, -1)):
                        a[r, c] += sign * g

    def _constrain(self, a, y, u, reach):
        """Rows of capacitors, windings and sources, and their currents in the nodes."""

        def carry(row, plus, minus):
            a[plus, row] += 1.0
            a[minus, row] -= 1.0

        for plus, minus, value, state, name in self.capacitors:
            row = self.unknowns[f"C {name}"]
            carry(row, plus, minus)
            a[row, plus], a[row, minus], a[row, row], y[row, state] = 1.0, -1.0, -reach / value, 1.0
        for name, turns in self.ideal:
            rows = [self.unknowns[f"{name} {k}"] for k in range(len(turns))]
            one, other, count = turns[0]
            for row, (plus, minus, n) in zip(rows, turns, strict=True):
                carry(row, plus, minus)
                a[rows[0], row] = n
                if row != rows[0]:
                    for place, value in ((plus, 1.0 / n), (minus, -1.0 / n), (one, -1.0 / count), (other, 1.0 / count)):
                        a[row, place] += value
        for k, (plus, minus, _, name) in enumerate(self.sources):
            row = self.unknowns[name]
            carry(row, plus, minus)
            a[row, plus], a[row, minus], u[row, k] = 1.0, -1.0, 1.0

    def _lines(self):
        """The switch's three lines: conducting backward, blocked, conducting forward."""
        _, _, threshold, slope, off, _, _ = self.switch
        return ((1.0 / slope, threshold / slope), (1.0 / off, 0.0), (1.0 / slope, -threshold / slope))

    def _solve(self, time, x, y, reach):
        """The unknowns at an instant: from ``y`` straight to the solution, from corner to corner."""
        u = np.array([source[2](time) for source in self.sources])
        free = self.switch and self.gate and not self.latched
        if self.switch and not free:
            self.way = 1 + self.latched
        for attempt in range(500):
            key = (tuple(self.at), self.way)
            if key not in self.known:
                self.known[key] = self._assembled(*key, reach)
            maps = self.known[key]
            target = maps[0] @ x + maps[1] @ u + maps[2]
            crossing = self._first_crossing(x, y, target, reach, free, CLOSE if attempt < 50 else 100.0 * CLOSE)
            if crossing is None:
                return target
            share, which, to = crossing
            y = y + share * (target - y)
            if which < 0:
                self.way = to
            else:
                self.at[which] = to
        raise RuntimeError(f"no pieces fit at {time} s")

    def _first_crossing(self, x, y, target, reach, free, close):
        """Which branch leaves its piece first on the way from y to the target: (share of the way, branch, piece)."""
        found = []
        old, new = self.across @ y, self.across @ target
        branches = [(piece[2], piece[4], self.at[k], k) for k, piece in enumerate(self.pieces)]
        if free:
            branches.append(((-self.corner, self.corner), None, self.way, -1))
        for corners, state, piece, which in branches:
            before, after, slack = old[which], new[which], close
            if state is not None:
                before, after, slack = x[state] + reach * before, x[state] + reach * after, 1e-3 * close
            if piece < len(corners) and after > corners[piece] + slack:
                corner, to = corners[piece], piece + 1
            elif piece and after < corners[piece - 1] - slack:
                corner, to = corners[piece - 1], piece - 1
            else:
                continue
            share = (corner - before) / (after - before) if after != before else 0.0
            found.append((min(max(share, 0.0), 1.0), which, to))
        return min(found) if found else None

    # --- in time ---------------------------------------------------------------------------------------------------

    def _tables(self):
        """Matrices from the unknowns to derivatives of the states, and to the voltages of the pieces and the switch."""
        self.rates = np.zeros((len(self.states), self.size))
        self.across = np.zeros((len(self.pieces) + 1, self.size))
        for k, (plus, minus, _, _, state) in enumerate(self.pieces):
            self.across[k, plus] += 1.0
            self.across[k, minus] -= 1.0
            if state is not None:
                self.rates[state] = self.across[k]
        if self.switch:
            self.across[-1, self.switch[0]], self.across[-1, self.switch[1]] = 1.0, -1.0
        for places, ends, inverse in self.coils:
            for row, place in enumerate(places):
                for column, (plus, minus) in enumerate(ends):
                    self.rates[place, plus] += inverse[row, column]
                    self.rates[place, minus] -= inverse[row, column]
        for _, _, value, state, name in self.capacitors:
            self.rates[state, self.unknowns[f"C {name}"]] = 1.0 / value

    def _step(self, time, x, y, step, halvings=0):
        """One step, halved where something switches within it."""
        before = (list(self.at), self.way)
        self.known = self.libraries.setdefault(step, {})
        slopes, reach, ahead = [], GAMMA * step, y
        for share, weights in STAGES:
            base = x + step * sum((w * k for w, k in zip(weights, slopes, strict=False)), np.zeros(len(x)))
            ahead = self._solve(time + share * step, base, ahead, reach)
            slopes.append(self.rates @ ahead)
        out = bool(self.latched) and not self.gate and self.latched * self._through(ahead) < self.switch[6]
        if (out or (self.at, self.way) != before) and halvings < HALVINGS:
            self.at, self.way = list(before[0]), before[1]
            for k in range(2):
                x, y = self._step(time + 0.5 * k * step, x, y, 0.5 * step, halvings + 1)
            return x, y
        if out:
            self.latched = 0
        return base + reach * slopes[-1], ahead

    def _through(self, y):
        """Current of the switch."""
        g, j = self._lines()[self.way]
        return g * (y[self.switch[0]] - y[self.switch[1]]) + j

    def run(self, end, step, gates, every):
        """From rest with gates as [(time, on)]; keeps every so many steps.  Waves by ``state`` and ``voltage``."""
        self._count()
        self._tables()
        self.at, self.way, self.libraries = (
            [len(piece[2]) // 2 if piece[4] is not None else 0 for piece in self.pieces],
            1,
            {},
        )
        x, y = np.zeros(len(self.states)), np.zeros(self.size)
        timed = {round(time / step): on for time, on in gates}
        kept = []
        for k in range(round(end / step) + 1):
            if k in timed:
                self.gate = timed[k]
                current = 0.0 if self.gate or self.latched else self._through(y)
                if not self.gate and abs(current) >= self.switch[5]:
                    self.latched = 1 if current > 0.0 else -1
                elif self.gate:
                    self.latched, self.way = 0, 1
            if k % every == 0:
                kept.append((x, y))
            x, y = self._step(k * step, x, y, step)
        self.x, self.y = np.array([x for x, _ in kept]), np.array([y for _, y in kept])

    def state(self, name):
        """Wave of a state."""
        return self.x[:, self.states[name]]

    def unknown(self, name):
        """Wave of a current that is no state."""
        return self.y[:, self.unknowns[name]]

    def voltage(self, plus, minus="0"):
        """Wave of the voltage between two nodes."""
        return self.y[:, self.nodes[plus]] - self.y[:, self.nodes[minus]]
