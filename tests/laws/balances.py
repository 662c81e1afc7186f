"""Laws that hold for any one run: energy, charge, volt-seconds, diodes, extremes; each gives what it finds broken."""

from collections.abc import Iterator

import numpy as np

from tests.laws.case import BLINK, ROUNDED, Branches, Case
from weldsim.engine.layout import STIFF
from weldsim.engine.trace import SHORT, Trace
from weldsim.network.branches import Capacitor, Friction, Inductor, PiecewiseBranch, SaturatingInductor, Windings
from weldsim.network.pieces import current_at

LONGEST_RUNG = 20  # 2^20 quanta, 6 us at 50 Hz
TELLABLE = 0.1  # of what moved: beyond it saying so is no excuse
ROUNDING = 1e-9  # of what was added up or of full scale


def energy_closes(case: Case) -> Iterator[str]:
    """What the source gives is stored or lost, to 1e-6 of all that moved; nothing that only loses gives any.

    What a coil or capacitor took up and gave back has moved too, though no line of the ledger shows it.  A run that
    says itself that it does not close is not silently wrong: see ``energy_is_doubted``.
    """
    ledger = case.recording.run.ledger
    moved, given = 0.0, []
    for part, entry in ledger.items():
        if isinstance(entry, dict):
            moved += sum(abs(value) for value in entry.values())
            given += [(part, value) for role, value in entry.items() if role == "loss"]
    size = moved + 2.0 * case.most_held() + 1e-3  # a millijoule: less says nothing of a supply
    told = case.recording.run.doubt is not None and abs(ledger["residual"]) < TELLABLE * size
    if abs(ledger["residual"]) > 1e-6 * size and not told:
        yield f"energy does not close: {ledger['residual']:.3g} J of {size:.3g} J"
    for part, value in given:
        if value < -1e-6 * size and part != "jumps of state":
            yield f"{part} gives energy: {value:.3g} J of {size:.3g} J"


def energy_is_doubted(case: Case) -> Iterator[str]:
    """Where the ledger does not close the run says so; no law broken, but counted in campaigns."""
    if case.recording.run.doubt is not None:
        yield case.recording.run.doubt.partition(". ")[0]


def charge_and_flux_balance(case: Case) -> Iterator[str]:
    """Over the run the charge through a capacitor is C times its rise, the volt-seconds of an inductor L times its own.

    And an ideal transformer's windings have equal volts per turn, its ampere-turns cancel, currents at a node too.
    Parts that take turns within some quanta land on their crossing: see ``_taken_back``.  Behind parts that block a
    voltage is a small difference of megavolts: it is known to a billionth of the mains voltage.
    """
    branches = Branches(case)
    back = _taken_back(case)
    stiff = bool(case.trace.tables.about[np.unique(case.trace.kin), STIFF].any())
    layout, first, last = branches.layout, case.trace.state[0], case.trace.end_state
    for branch in branches.circuit.branches:
        if isinstance(branch, Capacitor) and not branch.name.startswith("dial"):
            held, quantity = branch.capacitance, "current"
        elif isinstance(branch, SaturatingInductor):
            held, quantity = 1.0, "voltage"
        elif isinstance(branch, Inductor) and branch.inductance and branch.name in layout.state_index:
            held, quantity = branch.inductance, "voltage"
        elif isinstance(branch, Windings):
            yield from _turns_balance(branches, branch)
            continue
        else:
            continue
        flow, size = branches.integral(quantity, branch.name)
        place = layout.state_index[branch.name]
        change = held * (last[place] - first[place])
        size += held * float(np.abs(case.trace.state[:, place]).max())
        room = 1e-8 * size + held * back[place] + branches.rounding(quantity, branch.name) + 1e-14
        if quantity == "voltage" and stiff:
            room += ROUNDING * case.volts() * case.length
        if abs(flow - change) > room:
            yield f"{branch.name}: {flow:.9g} flowed, {change:.9g} is there, of {size:.3g}"
    yield from _nodes_balance(branches)


def _taken_back(case: Case) -> np.ndarray:
    """By how much each state has been taken back in all where parts took turns, at most its last quantum every time.

    There the engine puts the state back to the crossing, and lets the quantum count as gone.  Where what cannot flow
    on meets the limit of a part at once, within a 256th of a quantum, the state moves there in no time: all of that.
    """
    trace = case.trace
    total = np.zeros(trace.system.size)
    spans = np.diff(trace.time)
    at_once = np.flatnonzero(spans == 0)
    total += np.abs(trace.state[at_once + 1, : len(total)] - trace.state[at_once, : len(total)]).sum(axis=0)
    for piece in np.flatnonzero((spans > 0) & (spans <= BLINK)):
        mode, state, span = int(trace.kin[piece]), trace.state[piece], int(spans[piece])
        full, before = (trace._advanced(mode, state, count)[: len(total)] for count in (span, span - 1))
        total += np.minimum(np.abs(trace.state[piece + 1, : len(total)] - full), np.abs(full - before))
    return total


def _turns_balance(branches: Branches, group: Windings) -> Iterator[str]:
    size = max(winding.turns for winding in group.windings)
    first = group.windings[0]
    volts = {winding.name: branches.integral("voltage", winding.name) for winding in group.windings}
    for winding in group.windings[1:]:
        expected = volts[first.name][0] * winding.turns / first.turns
        room = ROUNDING * (volts[winding.name][1] + volts[first.name][1] * abs(winding.turns / first.turns)) + 1e-12
        if abs(volts[winding.name][0] - expected) > 100.0 * room:
            yield f"{winding.name}: {volts[winding.name][0]:.9g} V.s instead of {expected:.9g}"
    amperes = np.array([branches.values("current", winding.name) * winding.turns / size for winding in group.windings])
    if np.abs(amperes.sum(axis=0)).max() > 100.0 * ROUNDING * (np.abs(amperes).max() + 1e-3):
        yield f"{first.name}: ampere-turns do not cancel: {np.abs(amperes.sum(axis=0)).max():.3g}"


def _nodes_balance(branches: Branches) -> Iterator[str]:
    sums: dict[str, np.ndarray] = {}
    largest = 1e-3
    for name, ends in branches.layout.terminals.items():
        values = branches.values("current", name)
        largest = max(largest, float(np.abs(values).max()))
        for node, sign in zip(ends, (1.0, -1.0), strict=True):
            sums[node] = sums.get(node, 0.0) + sign * values
    for node, total in sums.items():
        if np.abs(total).max() > 100.0 * ROUNDING * largest:
            yield f"currents at {node} leave {np.abs(total).max():.3g} A of {largest:.3g} A"


def no_reverse_current(case: Case) -> Iterator[str]:
    """A diode carries backwards no more than its leakage and what its current falls by within one quantum of time.

    A current's end is located to one quantum, in which it goes on falling at the rate that it has.
    """
    trace, elements = case.trace, case.trace.system.elements
    for name, (_, _, leakage) in _diode_lines(case).items():
        values, _ = trace.extremes([f"{name}.current", f"{name}.voltage"])
        (least, most), (lowest, highest) = values
        place = next(number for number, element in enumerate(elements) if element.name == name)
        on = elements[place].segments.index("on")
        conducting = np.array([signature[place] == on for signature in trace.signatures])
        rate, _ = trace.steepest(f"{name}.current", within=conducting)
        band = 1e-8 * max(abs(lowest), abs(highest), case.volts()) / leakage + 1e-8 * max(0.1, most)
        band += case.rounding(f"{name}.current") + case.rounding(f"{name}.voltage") / leakage
        band += abs(rate) * trace.quantum
        if least < min(lowest, 0.0) / leakage - band:
            yield f"{name}: {least:.6g} A backwards at {lowest:.6g} V"


def diodes_lie_on_their_lines(case: Case) -> Iterator[str]:
    """Beyond its corner a diode has its threshold and slope at every instant looked at, to 1e-7 of full scale."""
    trace = case.trace
    for name, (threshold, slope, leakage) in _diode_lines(case).items():
        volts, amps = trace.sample(
            [f"{name}.voltage", f"{name}.current"], trace.span[0], spacing=case.length / 997, count=997
        )
        size = max(np.abs(volts).max(), case.volts())
        corner = threshold / (1.0 - slope / leakage)  # where leakage and slope meet; below it only the leakage counts
        wrong = np.abs(volts - threshold - slope * amps)[amps * leakage > 1.01 * corner + 1e-6]
        worst = float(wrong.max(initial=0.0))
        if worst > 1e-7 * size + leakage * case.rounding(f"{name}.current"):
            yield f"{name}: {worst:.3g} V beside its line"


def the_varistor_lies_on_its_line(case: Case) -> Iterator[str]:
    """Beyond its corner a varistor has its clamp voltage and slope either way, to 1e-7 of full scale."""
    varistor, trace = case.scenario.varistor, case.trace
    if varistor is None:
        return
    volts, amps = trace.sample(
        ["varistor.voltage", "varistor.current"], trace.span[0], spacing=case.length / 997, count=997
    )
    beyond = np.abs(amps) * varistor.leakage_resistance > 1.01 * varistor.clamp_voltage + 1e-6
    line = np.sign(amps) * (varistor.clamp_voltage + varistor.slope * np.abs(amps))
    size = max(np.abs(volts).max(), case.volts())
    worst = float(np.abs(volts - line)[beyond].max(initial=0.0))
    if worst > 1e-7 * size + varistor.leakage_resistance * case.rounding("varistor.current"):
        yield f"varistor: {worst:.3g} V beside its line"


def _diode_lines(case: Case) -> dict[str, tuple[float, float, float]]:
    scenario, names = case.scenario, [element.name for element in case.trace.system.elements]
    lines: dict[str, tuple[float, float, float]] = {}
    rectifier, boost = scenario.rectifier, scenario.boost
    for name in names:
        if name.startswith("rectifier.diode") and rectifier is not None:
            lines[name] = (rectifier.threshold, rectifier.slope, rectifier.leakage_resistance)
        elif name.startswith("boost.diode") and boost is not None:
            lines[name] = (boost.threshold, boost.slope, boost.leakage_resistance)
        elif name == "blocking" and boost is not None:
            lines[name] = (boost.blocking_threshold, boost.blocking_slope, boost.blocking_leakage_resistance)
    return lines


def elements_keep_their_pieces(case: Case) -> Iterator[str]:
    """At every instant looked at each element's guards hold: no piece is left too late, by 1e-7 of full scale.

    A guard may be a small difference of large terms (a blocked diode's voltage, from two currents that differ by its
    leakage); below the rounding of the sum of its terms it says nothing.  Nor is anything resolved within ``BLINK``
    quanta, 0.4 ns, behind a change: what dies away within one quantum may carry a guard beyond its limit and back.
    """
    trace = case.trace
    for piece in range(len(trace.time)):
        stop = int(trace.time[piece + 1]) if piece + 1 < len(trace.time) else trace.end
        span = stop - int(trace.time[piece])
        if span <= BLINK:
            continue
        equations = trace.equations[int(trace.mode[piece])]
        if not len(equations.guard_rows):
            continue
        rows = equations.guard_rows * (1e-11 / equations.guard_bands)[:, None]
        for share in (0.07, 0.31, 0.52, 0.77, 0.93):
            at = min(max(int(share * span), BLINK), span - 1)
            x = trace._advanced(int(trace.kin[piece]), trace.state[piece], at)
            x = x[: trace.system.size]
            margin = np.minimum(rows @ x + ROUNDED * (np.abs(rows) @ np.abs(x)), 0.0)
            if margin.min() < -1e-7:
                element = trace.system.elements[int(equations.guard_elements[int(margin.argmin())])].name
                yield (
                    f"{element} should have switched: {margin.min():.3g} of full scale, "
                    f"{span * trace.quantum:.3g} s from {trace.time[piece] * trace.quantum:.9g} s on"
                )
                return


def extremes_hold_samples(case: Case) -> Iterator[str]:
    """No sample lies outside the exact least and largest value; rms lies between mean and largest magnitude.

    To 1e-5: where a mode holds rates of 1e12 per second, rounding of the slope hides on which side of a flat crest a
    value lies (2.3e-6 seen).  The slope is the rise over a 256th of a step, so rounding of both values by r moves a
    sine's crest of height a by r / (a w t), and what is found there is short of it by half the square of that.
    """
    run = case.recording.run
    step = int(case.trace.tables.phase[3]) - 2 - SHORT
    turn = 2.0 * np.pi * case.scenario.mains.frequency * 2.0**step * case.trace.quantum
    for name, values in run.signals.items():
        mean, rms, least, most = (run.table[f"{name}.{what}"][0] for what in ("mean", "rms", "min", "max"))
        size = max(abs(least), abs(most))
        rounded = case.rounding(name)
        room = 1e-5 * size + 1e-9 + rounded + 0.5 * size * min(rounded / (size * turn + 1e-30), 1.0) ** 2
        if values.min() < least - room or values.max() > most + room:
            yield f"{name}: samples from {values.min():.9g} to {values.max():.9g}, extremes {least:.9g}, {most:.9g}"
        if not least - room <= mean <= most + room:
            yield f"{name}: mean {mean:.9g} outside {least:.9g} to {most:.9g}"
        if not abs(mean) - room <= rms <= size + room:
            yield f"{name}: rms {rms:.9g} with mean {mean:.9g} and extremes {least:.9g}, {most:.9g}"


def figures_fit_samples(case: Case) -> Iterator[str]:
    """Mean and mean square of every signal are those of a plain quadrature over every piece, as closely as it can tell.

    Three points on each eighth of the time since the switching, and every 6 us, follow what dies away after it; what
    they differ from two points bounds their own error.  Of what dies away within a quantum they know nothing.
    """
    run, trace, n = case.recording.run, case.trace, case.trace.system.size
    names = list(trace.names)
    sums, doubts, sizes = np.zeros((2, len(names))), np.zeros((2, len(names))), np.zeros(len(names))
    fastest = {int(mode): _turning(trace, int(mode)) for mode in np.unique(trace.kin)}
    for mode, state, span in zip(trace.kin, trace.state, np.diff(np.append(trace.time, trace.end)), strict=True):
        rows, x, now, left = trace.equations[int(mode)].outputs, state[:n], 0, int(span)
        before = _powers(rows @ x)
        while left > 0:
            k = min(max(now >> 3, 1).bit_length() - 1, LONGEST_RUNG, left.bit_length() - 1)
            half = trace.tables.rungs[int(mode), max(k - 1, 0), :n, :n]
            middle = _powers(rows @ (x := half @ x)) if k > 0 else before
            after = _powers(rows @ (x := half @ x))
            plain, better = 0.5 * (before + after), (before + 4.0 * middle + after) / 6.0
            sums += 2**k * (better if k > 0 else plain)
            doubts += 2**k * np.abs(better - plain) if k > 0 else 4.0 * np.abs(after - before)
            if fastest[int(mode)] * 2**k > 1.0:  # radians: a ringing that three points do not follow
                doubts += 4.0 * 2**k * np.abs([before, middle, after]).max(axis=0)
            sizes = np.maximum(sizes, after[1])
            before, now, left = after, now + 2**k, left - 2**k
    total = trace.end - int(trace.time[0])
    (means, squares), (beside, doubts) = sums / total, doubts / total
    rooms = 0.3 * beside + 1e-5 * np.sqrt(squares) + 1e-9 + np.array([case.rounding(name) for name in names])
    exactly = np.array([run.table[f"{name}.mean"][0] for name in names])
    for place in np.flatnonzero(np.abs(exactly - means) > rooms):
        yield f"{names[place]}: mean {exactly[place]:.9g}, quadrature {means[place]:.9g}"
    for name, square, doubt, size in zip(names, squares, doubts, sizes, strict=True):
        exact = run.table[f"{name}.rms"][0] ** 2
        off = case.rounding(name)
        room = 0.3 * doubt + 1e-4 * square + 1e-12 * size + 1e-18 + off * (2.0 * np.sqrt(square) + off)
        if abs(exact - square) > room:
            yield f"{name}: rms {np.sqrt(exact):.6g}, quadrature {np.sqrt(square):.6g}, largest {np.sqrt(size):.6g}"
        if name == "primary.current":
            for what, other in _otherwise(trace, name).items():
                if not abs(other - square) <= room:
                    yield f"{name}: {what} {other:.6g} A2, quadrature {square:.6g} A2"


def _powers(values: np.ndarray) -> np.ndarray:
    """Values and their squares."""
    return np.stack([values, values * values])


def _turning(trace: Trace, mode: int) -> float:
    """How fast the fastest ringing of a mode turns [rad/quantum]."""
    states = len(trace.system.states)
    values = np.linalg.eigvals(trace.equations[mode].matrix[:states, :states])
    return float(np.abs(values.imag).max(initial=0.0) * trace.quantum)


def _otherwise(trace: Trace, name: str) -> dict[str, float]:
    """Mean square of a signal from groups of pieces and from cells of time."""
    begin, end = trace.span
    _, squares = trace.groups(name, np.arange(len(trace.time)) % 3)
    cells = trace.mean_squares([name], begin, width=(end - begin) / 50, count=50)
    return {"groups": float(squares.sum()) / (end - begin), "cells": float(cells.mean())}


def curves_agree(case: Case) -> Iterator[str]:
    """Iron and choke lie on their curve, friction stays within its limit, for as long as a piece lasts.

    A piece of no length is one of several changes at one instant: there a part has not yet left what it is leaving.
    """
    branches = Branches(case)
    lasting = np.diff(np.append(case.trace.time, case.trace.end)) > 1
    for branch in branches.circuit.branches:
        if isinstance(branch, SaturatingInductor):
            fluxes = case.trace.state[:, branches.layout.state_index[branch.name]]
            amps = branches.values("current", branch.name)
            expected = np.array([current_at(branch, float(flux)) for flux in fluxes])
            size = max(float(np.abs(expected).max()), 1e-3)
            worst = float(np.abs(amps - expected)[lasting].max(initial=0.0))
            if worst > 1e-7 * size:
                yield f"{branch.name}: {worst:.3g} A beside its curve"
        elif isinstance(branch, Friction):
            held = case.trace.state[lasting, branches.layout.state_index[branch.name]]
            if np.abs(held).max(initial=0.0) > branch.limit * (1.0 + 1e-6):
                yield f"{branch.name}: {np.abs(held).max():.6g} A beyond {branch.limit:.6g} A"
        elif isinstance(branch, PiecewiseBranch):
            continue


BALANCES = {
    "energy": energy_closes,
    "charge and flux": charge_and_flux_balance,
    "diodes": no_reverse_current,
    "extremes": extremes_hold_samples,
    "curves": curves_agree,
}
DEAR_BALANCES = {"figures": figures_fit_samples}
PROMPT = {
    "guards": elements_keep_their_pieces,
    "lines": diodes_lie_on_their_lines,
    "varistor": the_varistor_lies_on_its_line,
}
TOLD = {"told": energy_is_doubted}
