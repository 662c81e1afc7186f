"""Why a network has no solution, in words: the parts that form the loop or the island, and what would help."""

import numpy as np

from weldsim.errors import WiringError
from weldsim.network.branches import Friction, SaturatingInductor
from weldsim.network.layout import Layout

SMALLEST_RESISTANCE = "1 uohm"
SMALLEST_INDUCTANCE = "0.1 uH"
SHARE = 1e-6  # null-vector entries below this share of the largest are rounding


def culprits(layout: Layout, owners: tuple[str, ...], null_vector: np.ndarray) -> tuple[list[str], bool]:
    """Branches that a left null vector of the network speaks of, and whether they form a loop (else: an island)."""
    large = np.abs(null_vector) > SHARE * np.max(np.abs(null_vector))
    named = [owner for owner, used in zip(owners, large, strict=True) if used]
    branches = list(dict.fromkeys(name for name in named if not name.startswith("node ")))
    if branches:
        return branches, True
    nodes = {name.removeprefix("node ") for name in named}
    return [name for name, ends in layout.terminals.items() if nodes & set(ends)], False


def hopeless(layout: Layout, owners: tuple[str, ...], *, null_vector: np.ndarray, bound: list[str]) -> WiringError:
    """The error for a null vector that no follower can cure; ``bound`` are the states whose sum it forces to zero."""
    magnetic = [
        branch.name
        for branch in layout.circuit.branches
        if isinstance(branch, (SaturatingInductor, Friction)) and branch.name in bound
    ]
    if magnetic:
        place = ", ".join(_parts(layout, bound))
        return WiringError(
            "the current through this iron is fixed by nothing but other iron",
            place=place,
            advice=f"write an inductance of at least {SMALLEST_INDUCTANCE} in series with it",
        )
    names, loop = culprits(layout, owners, null_vector)
    return unsolvable(layout, names, loop)


def unsolvable(layout: Layout, names: list[str], loop: bool) -> WiringError:
    """The error that names parts and the keys where a smallest value must be written."""
    place = ", ".join(_parts(layout, names))
    if not loop:
        return WiringError(
            "these parts are joined to nothing that fixes their voltage",
            place=place,
            advice="join them to the rest of the supply by any resistance",
        )
    keys = list(dict.fromkeys(layout.circuit.owners[name].key for name in names if layout.circuit.owners[name].key))
    inductive = [key for key in keys if key.endswith("inductance")]
    resistive = [key for key in keys if key not in inductive]
    choices = [
        f"at least {smallest} for {' or '.join(group)}"
        for smallest, group in ((SMALLEST_RESISTANCE, resistive), (SMALLEST_INDUCTANCE, inductive))
        if group
    ]
    return WiringError(
        "these parts form a loop in which nothing limits the current",
        place=place,
        advice=f"write {', or '.join(choices) or 'a resistance for one of them'}",
    )


def _parts(layout: Layout, names: list[str]) -> list[str]:
    """Ledger parts of branches, each once."""
    return list(dict.fromkeys(layout.circuit.owners[name].part for name in names))
