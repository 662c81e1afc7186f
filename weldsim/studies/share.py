"""Two transformers of one supply: what each gives and carries, whether they share, and what other joins would give."""

import math

from weldsim.errors import QuestionError
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.operating import MAINS_STEPS, Setting, firing_verdicts, has_dial, told_backlash, told_load
from weldsim.studies.progress import Progress, silent
from weldsim.studies.share_joins import joins_of, turns_of
from weldsim.studies.share_looks import AT_THE_SETTING, CONDITIONS, Half, Look, look
from weldsim.studies.share_verdicts import Found, share_verdicts

_PLACES = {"first": "", "second": "second_"}


def ask(
    scenario: Scenario,
    *,
    dial: float | None = None,
    delay: float | None = None,
    progress: Progress = silent,
) -> Answer:
    """Both transformers without load, at the setting and in a dead short, and the same two joined in all four ways.

    Parameters
    ----------
    scenario : Scenario
        With a second transformer.
    dial, delay : float or None
        Setting of the dial [1] or firing delay [deg]; the scenario's own dial without both.

    Returns
    -------
    Answer : rows "transformer", "join" and "turns"; run "window", at the setting.

    Raises
    ------
    QuestionError : one transformer only, or a setting without phase control; WiringError, SimulationError.
    """
    _check(scenario, dial, delay)
    looks: dict[str, list[Look]] = {}
    for number, condition in enumerate(CONDITIONS):
        looks[condition] = [look(scenario, condition, dial=dial, delay=delay, mains=step) for step in MAINS_STEPS]
        progress(number + 1, len(CONDITIONS) + 2, "conditions")
    joins = joins_of(scenario, dial=dial, delay=delay)
    progress(len(CONDITIONS) + 1, len(CONDITIONS) + 2, "joins")
    turns = turns_of(scenario, dial=dial, delay=delay)
    progress(len(CONDITIONS) + 2, len(CONDITIONS) + 2, "turns")
    own = [one.setting for one in looks[AT_THE_SETTING]]
    numbers: dict[str, Number] = {}
    for condition in CONDITIONS:
        numbers |= _numbers(looks[condition][1])
    return Answer(
        "share",
        scenario,
        numbers,
        [*firing_verdicts(own), *share_verdicts(Found(scenario, looks, joins, turns))],
        _assumptions(scenario, own[1]),
        rows=[*_rows(looks), *(one.row for one in joins), *(one.row for one in turns)],
        runs={"window": own[1].recording.run},
    )


def _check(scenario: Scenario, dial: float | None, delay: float | None) -> None:
    """Refuse what cannot be answered."""
    if scenario.transformer is None or scenario.second_transformer is None:
        raise QuestionError(
            "one transformer shares with nobody",
            place="second_transformer",
            advice="add a table [second_transformer] with what differs from the first, and how they are joined: "
            'primaries = "parallel" or "series", secondaries = "series" or "parallel"',
        )
    if not has_dial(scenario) and (dial is not None or delay is not None):
        raise QuestionError(
            "its output cannot be set by --dial or --delay",
            place="phase_control",
            advice="leave them out, or add a [phase_control] table",
        )


def _numbers(found: Look) -> dict[str, Number]:
    """What both give and carry under one condition."""
    place, setting = found.condition.replace(" ", "_"), found.setting
    numbers = {
        f"output.current.{setting.kind}": Number(found.output, "A"),
        f"output.voltage.{setting.kind}": Number(found.output_voltage, "V"),
        "primary.current.rms": Number(setting.primary, "A"),
    }
    if math.isfinite(found.circulating):
        numbers["circulating.current.rms"] = Number(found.circulating, "A")
    for half in found.halves:
        prefix = _PLACES[half.which]
        numbers |= {
            f"{prefix}secondary.current.rms": Number(half.current, "A"),
            f"{prefix}secondary.voltage.rms": Number(half.voltage, "V"),
            f"{prefix}secondary.share": Number(half.share, "1"),
            f"{prefix or 'first_'}primary.current.rms": Number(half.primary_current, "A"),
            f"{prefix}transformer.copper.heat": Number(half.copper, "W"),
            f"{prefix}transformer.iron.heat": Number(half.iron, "W"),
        }
        if math.isfinite(half.flux_peak):
            numbers |= {
                f"{prefix}core.saturation": Number(half.saturation, "1"),
                f"{prefix}core.flux_linkage.peak": Number(half.flux_peak, "V.s"),
                f"{prefix}core.flux_linkage.mean": Number(half.flux_mean, "V.s"),
                f"{prefix}core.magnetising_current.peak": Number(half.magnetising_peak, "A"),
            }
    return {f"{place}.{name}": number for name, number in numbers.items()}


def _rows(looks: dict[str, list[Look]]) -> list[dict]:
    """Each transformer under each condition, at the rated mains."""
    return [_row(found[1].condition, half) for found in looks.values() for half in found[1].halves]


def _row(condition: str, half: Half) -> dict:
    return {
        "kind": "transformer",
        "condition": condition,
        "transformer": half.which,
        "secondary_voltage": half.voltage,
        "secondary_current": half.current,
        "share_of_even": half.share,
        "primary_voltage": half.primary_voltage,
        "primary_current": half.primary_current,
        "saturation": half.saturation,
        "flux_peak": half.flux_peak,
        "flux_mean": half.flux_mean,
        "magnetising_peak": half.magnetising_peak,
        "copper": half.copper,
        "iron": half.iron,
    }


def _assumptions(scenario: Scenario, own: Setting) -> list[str]:
    """What every figure stands on."""
    setting = "" if own.dial is None else f", dial {100.0 * own.dial:.3g} %"
    setting = setting if own.delay is None else f", firing delay {own.delay:.3g} deg"
    return [
        f"Three conditions, each settled from demagnetised cores{setting}: nothing connected; {told_load(scenario)}; a "
        "dead short of 1 mohm behind the leads. Spread: the same at mains -10, 0 and +10 %.",
        "A share is what a transformer takes of the amperes (parallel, or the halves of a centre-tap) or of the volts "
        "(series), over half of what both give together; what circulates beside that makes the two add up to more than "
        "200 %.",
        "Saturation is the peak of the flux over that at which only air is left in the iron.",
        "Sound is not computed: only what drives it, the peak of the magnetising current, flux beyond saturation and a "
        "mean that the flux keeps. Loose sheets and a chassis decide how loud it is.",
        "Windings at the scenario's temperature; joins and leads between the two at no impedance of their own.",
        *told_backlash(scenario),
    ]
