"""The segments of elements whose pieces follow from their data: saturating inductors and friction elements."""

import functools

from weldsim.errors import WiringError
from weldsim.network.branches import (
    Friction,
    Guard,
    Jump,
    Law,
    PiecewiseBranch,
    SaturatingInductor,
    Segment,
    Watcher,
)

BAND = 1e-11  # dead band of every guard, as a share of the quantity's full scale
STUCK, SLIDE_UP, SLIDE_DOWN = "stuck", "slide_up", "slide_down"


def segments_of(element: PiecewiseBranch | Watcher | SaturatingInductor | Friction) -> tuple[Segment, ...]:
    """All segments of an element, the one it rests in first for branches and watchers."""
    if isinstance(element, SaturatingInductor):
        return saturation_segments(element)
    if isinstance(element, Friction):
        return friction_segments(element)
    return element.segments


def friction_segments(friction: Friction) -> tuple[Segment, ...]:
    """Stuck, and sliding either way: the current stops at the limit, and sticks again when the voltage reverses."""
    limit, name = friction.limit, friction.name
    flow, push = BAND * limit, BAND * friction.voltage_scale
    stuck = (
        Guard("state", -1, limit, SLIDE_UP, flow, jump=Jump(name, 0.0, limit)),
        Guard("state", 1, -limit, SLIDE_DOWN, flow, jump=Jump(name, 0.0, -limit)),
    )
    return (
        Segment(STUCK, None, stuck),
        Segment(SLIDE_UP, None, (Guard("voltage", 1, 0.0, STUCK, push),)),
        Segment(SLIDE_DOWN, None, (Guard("voltage", -1, 0.0, STUCK, push),)),
    )


@functools.lru_cache(maxsize=64)
def straight_pieces(inductor: SaturatingInductor) -> tuple[tuple[float, float], ...]:
    """Slope [A/(V s)] and current at zero flux [A] of every straight piece, in rising order of flux."""
    flux, current = inductor.flux_linkages, inductor.currents
    if len(flux) < 2 or len(flux) != len(current):
        raise WiringError("a magnetising curve needs two points or more", place=inductor.name)
    pieces = []
    for k in range(len(flux) - 1):
        if not (flux[k + 1] > flux[k] and current[k + 1] >= current[k]):
            raise WiringError("a magnetising curve must rise from point to point", place=inductor.name)
        slope = (current[k + 1] - current[k]) / (flux[k + 1] - flux[k])
        pieces.append((slope, current[k] - slope * flux[k]))
    return tuple(pieces)


def piece_at(inductor: SaturatingInductor, flux_linkage: float) -> int:
    """Number of the piece that holds a flux linkage."""
    corners = inductor.flux_linkages[1:-1]
    return sum(flux_linkage > corner for corner in corners)


def current_at(inductor: SaturatingInductor, flux_linkage: float) -> float:
    """Current of the curve at a flux linkage, with the end pieces carried on."""
    slope, offset = straight_pieces(inductor)[piece_at(inductor, flux_linkage)]
    return slope * flux_linkage + offset


def energy_at(inductor: SaturatingInductor, flux_linkage: float) -> float:
    """Energy stored at a flux linkage: the integral of current over flux from zero [J]."""
    low, high = sorted((0.0, flux_linkage))
    corners = [low, *(corner for corner in inductor.flux_linkages[1:-1] if low < corner < high), high]
    total = 0.0
    for start, end in zip(corners[:-1], corners[1:], strict=True):
        slope, offset = straight_pieces(inductor)[piece_at(inductor, 0.5 * (start + end))]
        total += (offset + 0.5 * slope * (start + end)) * (end - start)
    return total if flux_linkage >= 0.0 else -total


def saturation_segments(inductor: SaturatingInductor) -> tuple[Segment, ...]:
    """One segment for each straight piece, ended by its corners; the piece through zero flux is called "middle"."""
    pieces = straight_pieces(inductor)
    corners = inductor.flux_linkages[1:-1]
    middle = piece_at(inductor, 0.0)
    names = ["middle" if k == middle else f"{k - middle:+d}" for k in range(len(pieces))]
    band = BAND * max((abs(corner) for corner in corners), default=1.0)
    segments = []
    for k, (slope, offset) in enumerate(pieces):
        guards = []
        if k > 0:
            guards.append(Guard("state", 1, corners[k - 1], names[k - 1], band))
        if k < len(corners):
            guards.append(Guard("state", -1, corners[k], names[k + 1], band))
        segments.append(Segment(names[k], Law(0.0, 1.0, offset, state_factor=-slope), tuple(guards)))
    return tuple(segments)
