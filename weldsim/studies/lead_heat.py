"""How warm the supply lead gets under the setting: which sections bear it, which burn, and the scenario's own."""

from collections.abc import Sequence

from weldsim.analysis.conductor_heat import (
    BURNS,
    DRUM_TIME,
    LEAD_TIME,
    LIMIT,
    cover_at,
    cycle_current,
    flexible_rating,
    lead_temperature,
)
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict, amount, spread
from weldsim.studies.lead_map import STATES
from weldsim.studies.operating import Setting

ON_A_DRUM = STATES["coiled"][1]  # layers


def own_temperature(current: float, *, duty: float, section: float, coiled: bool) -> float:
    """How hot the cores of a lead are at the end of a weld, at the duty [degC]."""
    steady = cycle_current(current, duty=duty, time=DRUM_TIME if coiled else LEAD_TIME)
    return lead_temperature(steady, section=section, layers=ON_A_DRUM * coiled)


def written_section(section: float) -> str:
    """A section in mm2."""
    return f"{1e6 * section:.4g}"


def written_temperature(settled: float) -> float | None:
    """A settled temperature of a row; none once the cover has burnt [degC]."""
    return settled if cover_at(settled) != "burns" else None


def heat_verdicts(
    scenario: Scenario, own: Sequence[Setting], *, primary: Sequence[float], sections: Sequence[float], duty: float
) -> list[Verdict]:
    """Which sections burn, and the scenario's own lead.

    ``own`` is the setting on that lead and ``primary`` the current of a short one [A], both at mains -10, 0 and +10 %.
    """
    lead = scenario.supply_lead
    if lead is not None and lead.conductor != "copper":
        return []
    settled = {
        one: [own_temperature(float(primary[1]), duty=duty, section=one, coiled=coiled) for coiled in (False, True)]
        for one in sections
    }
    told = [
        f"{1e6 * one:.4g} mm2 {_told(cold)} laid out, {_told(drum)} on a drum" for one, (cold, drum) in settled.items()
    ]
    hot = [one for one, (_, drum) in settled.items() if drum > LIMIT]
    hopeless = [one for one in hot if settled[one][0] > LIMIT]
    level = "note" if hot else "good"
    text = (
        f"At {spread([float(one) for one in primary], 'A')} rms for {100.0 * duty:.0f} % of each ten minutes the cores "
        "of a short lead are this hot when a weld ends: "
        f"{'; '.join(told)}; its cover bears {LIMIT:g} degC and burns beyond some {BURNS:g} degC."
    )
    if hopeless:
        text += f" Too hot even laid out: {_listed(hopeless)} mm2."
    if hot[len(hopeless) :]:
        text += f" Too hot on a drum: {_listed(hot[len(hopeless) :])} mm2; unroll it all."
    if lead is not None and lead.section:
        warm = [own_temperature(one.primary, duty=duty, section=lead.section, coiled=lead.coiled) for one in own]
        level = "fault" if warm[1] > LIMIT else level
        text += (
            f" The scenario's own, {'on its drum' if lead.coiled else 'laid out'}: {told_warmth(warm)}; laid out it is "
            f"good for {amount(flexible_rating(lead.section), 'A')} without pause."
        )
    return [Verdict("lead_heat", level, text)]


def told_warmth(warm: Sequence[float]) -> str:
    """Temperatures at mains -10, 0 and +10 % in words.

    >>> told_warmth([62.0, 75.0, 90.0]), told_warmth([125.0, 140.0, 190.0]), told_warmth([150.0, 170.0, 190.0])
    ('75 degC (62 to 90 degC over mains -10 to +10 %)', '140 degC (at mains +10 % its cover burns)', 'its cover burns')
    """
    if cover_at(warm[1]) == "burns":
        return "its cover burns"
    if cover_at(warm[2]) == "burns":
        return f"{amount(warm[1], 'degC')} (at mains +10 % its cover burns)"
    return spread(list(warm), "degC")


def _listed(sections: Sequence[float]) -> str:
    return ", ".join(f"{1e6 * one:.4g}" for one in sections)


def _told(settled: float) -> str:
    """A settled temperature in words."""
    return "burns" if cover_at(settled) == "burns" else f"{settled:.0f} degC"
