"""The same supply with a tapped primary in place of its phase control: more turns, less output."""

import dataclasses

from weldsim.errors import WiringError
from weldsim.parts.iron import Core, FrictionRow
from weldsim.parts.transformer import turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary

GOES_WITH_TURNS = (("ratio", 1), ("primary_resistance", 1), ("primary_leakage_inductance", 2))  # and with what power


def tapped(scenario: Scenario, factor: float, *, control: bool = False) -> tuple[Scenario, float]:
    """The supply on a tap with so many times the primary's turns, and the factor that whole turns make of it.

    The added turns are of the same wire: resistance goes with the turns, leakage of the primary with their square.  The
    iron is the same: what a file gives by flux linkage or by the primary's inductance goes along, and the volts of
    a boost winding go with the volts per turn.  Without ``control`` the phase control is taken out: the supply hangs on
    the mains as it does behind a contactor.
    """
    transformer = scenario.transformer
    if transformer is None:
        raise WiringError("there is no transformer that could have taps", place="transformer", advice="add one")
    _alone(scenario, "taps")
    known = turns(transformer, "primary")
    if known is not None:
        factor = round(factor * known) / known
    changes: dict[str, object] = {}
    for name, power in GOES_WITH_TURNS:
        value = getattr(transformer, name)
        if value is not None:
            changes[f"transformer.{name}"] = value * factor**power
    if transformer.primary_turns is not None:
        changes["transformer.primary_turns"] = round(transformer.primary_turns * factor)
    if scenario.boost is not None and scenario.boost.voltage is not None:
        changes["boost.voltage"] = scenario.boost.voltage / factor  # as given on the primary as it is
    if scenario.core is not None:
        changes["core"] = _core(scenario.core, factor)
    if not control and scenario.phase_control is not None:
        changes["phase_control"] = "absent"
    if not control and scenario.soft_start is not None and scenario.soft_start.kind in ("ramp", "first fire"):
        changes["soft_start"] = "absent"
    return vary(scenario, changes), factor


def _core(core: Core, factor: float) -> Core:
    """The same iron seen from a winding with more turns."""

    def scaled(value: float | None, power: int) -> float | None:
        return None if value is None else value * factor**power

    rows = core.hysteresis
    return dataclasses.replace(
        core,
        magnetising_inductance=scaled(core.magnetising_inductance, 2),
        saturation_flux_linkage=scaled(core.saturation_flux_linkage, 1),
        saturated_inductance=scaled(core.saturated_inductance, 2),
        loss_resistance=scaled(core.loss_resistance, 2),
        hysteresis=None if rows is None else tuple(_row(row, factor) for row in rows),
    )


def _row(row: FrictionRow, factor: float) -> FrictionRow:
    """A friction element seen from more turns: less current, more flux linkage."""
    return dataclasses.replace(
        row,
        current=None if row.current is None else row.current / factor,
        flux_linkage=None if row.flux_linkage is None else row.flux_linkage * factor,
    )


def tap_key(scenario: Scenario) -> str:
    """Which key of a scenario a tap of the primary changes."""
    by_ratio = scenario.transformer is not None and scenario.transformer.ratio is not None
    return "transformer.ratio" if by_ratio else "transformer.primary_turns"


def _alone(scenario: Scenario, what: str) -> None:
    """Refuse two transformers, whose turns cannot be told apart by one number."""
    if scenario.second_transformer is not None:
        raise WiringError(
            f"with two transformers one number does not say whose {what} they are",
            place="second_transformer",
            advice="ask `weldsim share` what a turn more or less on the second does, sweep --over "
            f"transformer.{'secondary' if what == 'turns' else 'primary'}_turns=... (a second that gives none of its "
            "own goes along), or write --set second_transformer=absent",
        )


def rewound(scenario: Scenario, turns: int) -> Scenario:
    """The supply with another number of secondary turns of the same wire; primary and iron stay.

    A resistance given as such goes with the turns, a leakage of the secondary with their square; what is told by wire,
    length of turn or layout follows by itself.
    """
    _alone(scenario, "turns")
    transformer = scenario.transformer
    if transformer is None or transformer.primary_turns is None or transformer.secondary_turns is None:
        raise WiringError(
            "the turns of both windings are not given, so others cannot be tried",
            place="transformer",
            advice="give primary_turns and secondary_turns in place of a ratio",
        )
    factor = turns / transformer.secondary_turns
    changes: dict[str, object] = {"transformer.secondary_turns": turns}
    for name, power in (("secondary_resistance", 1), ("secondary_leakage_inductance", 2)):
        value = getattr(transformer, name)
        if value is not None:
            changes[f"transformer.{name}"] = value * factor**power
    return vary(scenario, changes)
