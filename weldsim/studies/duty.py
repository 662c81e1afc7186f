"""How long it may weld: which part gets too hot first, after how many minutes, at which duty, and how long it rests."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.errors import QuestionError
from weldsim.parts.cooling import PARTS
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Answer, Number
from weldsim.studies.duty_heat import CYCLE, WINDINGS, Warm, dial_row, first_hot, rest_for, warm_part, warms
from weldsim.studies.duty_verdicts import (
    assumptions,
    cutout_verdict,
    duty_verdict,
    fade_verdict,
    unknown_verdict,
)
from weldsim.studies.operating import (
    FIGURES,
    MAINS_STEPS,
    Setting,
    at_single_dial,
    firing_verdicts,
    has_dial,
    operate,
    welding,
)

DIALS = tuple(round(0.1 * step, 1) for step in range(1, 11))
DUTY = 0.35  # asked for
LONGEST, MOMENTS = 3600.0, 120  # [s] of warming told, in so many steps


def ask(scenario: Scenario, *, dials: Sequence[float] | None = None, duty: float = DUTY) -> Answer:
    """Duty, time to the limit and time of rest of every part that gets hot, at the scenario's dial and over the dial.

    Parameters
    ----------
    scenario : Scenario
        With a transformer; what its parts give to the air stands in [cooling].
    dials : sequence of float or None
        Settings of the dial [1]; 10 to 100 % by default.
    duty : float
        Share of each ten minutes for which heat sinks of unknown size are sized [1].

    Returns
    -------
    Answer : rows "part" and "warming" (at the single dial asked for, else the scenario's) and "dial".  A time never
    come is infinity.

    Raises
    ------
    QuestionError : a duty that is none, nothing that could get hot; WiringError, SimulationError.
    """
    if not 0.0 < duty <= 1.0:
        raise QuestionError(
            f"a duty of {100.0 * duty:g} % is none", place="duty", advice="give more than 0, up to 100 %"
        )
    asked = welding(at_single_dial(scenario, dials))
    own = [operate(asked, mains_factor=step, signals=FIGURES) for step in MAINS_STEPS]
    parts = [
        warm_part(asked, part, own)
        for part in PARTS
        if part not in WINDINGS or asked.transformer is not None
        if warms(own[1], part)
    ]
    if not parts:
        raise QuestionError("nothing in it gets hot", place="transformer", advice="this asks about a whole supply")
    chosen = sorted(dials) if dials and has_dial(scenario) else list(DIALS)
    swept = [operate(asked, dial=dial, signals=FIGURES) for dial in chosen] if has_dial(asked) else [own[1]]
    first = first_hot(parts)
    told = {one.part: _part_row(one, duty) for one in parts}
    over_dial = [dial_row(asked, one, parts) for one in swept]
    return Answer(
        "duty",
        scenario,
        _numbers(own[1], parts, first, told),
        [
            *firing_verdicts(own),
            duty_verdict(own, first, duty),
            *cutout_verdict(asked, parts, over_dial),
            *fade_verdict(asked, own[1], parts),
            *unknown_verdict(parts, duty),
        ],
        assumptions(asked, parts, duty),
        rows=[*told.values(), *over_dial, *_warming_rows(parts)],
        runs={"window": own[1].recording.run},
    )


def _part_row(one: Warm, duty: float) -> dict[str, Any]:
    """A part at the scenario's dial."""
    body, known = one.body, one.known != "unknown"
    nothing = math.nan
    return {
        "kind": "part",
        "part": one.name,
        "heat": body.copper + body.fixed,
        "to_air": body.to_air if known else nothing,
        "known": one.known,
        "time_constant": body.time,
        "limit": body.limit,
        "settled": body.settled if known else nothing,
        "lasts": body.time_to(body.limit, body.ambient) if known else nothing,
        "duty": body.duty(CYCLE) if known else nothing,
        "duty_least": one.worst.duty(CYCLE) if known else nothing,
        "duty_most": one.best.duty(CYCLE) if known else nothing,
        "rest": rest_for(body) if known else nothing,
        "needed": body.needed(duty, CYCLE),
    }


def _warming_rows(parts: Sequence[Warm]) -> list[dict[str, Any]]:
    """Temperatures of the parts from cold without a pause, until some time after the first are too hot."""
    bodies = {one.part: one.body for one in parts if one.known != "unknown"}
    if not bodies:
        return []
    last = max(body.time_to(body.limit, body.ambient) for body in bodies.values())
    end = min(1.2 * last, LONGEST)
    times = [end * step / MOMENTS for step in range(MOMENTS + 1)]
    return [
        {"kind": "warming", "time": time, **{part: body.after(time, body.ambient) for part, body in bodies.items()}}
        for time in times
    ]


def _numbers(
    own: Setting, parts: Sequence[Warm], first: Warm | None, told: Mapping[str, Mapping[str, Any]]
) -> dict[str, Number]:
    """Everything at the scenario's own dial; ``told`` are the rows of its parts."""
    numbers = {"output.current.mean" if own.kind == "mean" else "output.current.rms": Number(own.current, "A")}
    if first is not None:
        known = [one for one in parts if one.known != "unknown"]
        numbers |= {
            "duty.share": Number(first.body.duty(CYCLE), "1"),
            "duty.least": Number(min(one.worst.duty(CYCLE) for one in known), "1"),
            "duty.most": Number(min(one.best.duty(CYCLE) for one in known), "1"),
            "weld.longest": Number(min(one.body.time_to(one.body.limit, one.body.ambient) for one in known), "s"),
        }
    for one in parts:
        units = {"heat": "W", "needed": "K/W"}
        if one.known != "unknown":
            units |= {"to_air": "K/W", "settled": "degC", "lasts": "s", "duty": "1", "rest": "s"}
        numbers |= {f"{one.part}.{name}": Number(told[one.part][name], unit) for name, unit in units.items()}
    return numbers
