"""How a choke that saturates is told of, in every study alike."""

from weldsim.parts.choke import GIVEN_WAY, Choke, inductance_at


def given_way(choke: Choke | None, current: float) -> str:
    """What is left of a choke's inductance at a current [A]; no words where most of it is, or where there is none."""
    if choke is None:
        return ""
    left, at_rest = inductance_at(choke, current), inductance_at(choke, 0.0)
    if left >= GIVEN_WAY * at_rest:
        return ""
    return f"The choke saturates: of its {1e3 * at_rest:.3g} mH {1e3 * left:.2g} mH are left at {current:.4g} A"
