"""What is proved: every comparison with something outside the project, run now on the data in the package.

Each group of ``weldsim.studies.proofs`` writes its reference circuits as scenarios, runs them and reads them off.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Future
from typing import Any, cast

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.runs.processes import processes
from weldsim.runs.run import ScenarioText
from weldsim.studies.answer import Answer, Number, Verdict
from weldsim.studies.progress import Progress, silent
from weldsim.studies.proofs.bench import Row
from weldsim.studies.proofs.groups import BESIDE, FED, GROUPS, REASONS
from weldsim.units import nearest

Group = Callable[[], list[Row]]
STATUSES = ("published", "computed", "practice", "memory")
ABOUT = ScenarioText("What is proved: weldsim beside numbers from elsewhere", "", "weldsim/data")
HOW = (
    "Theirs: published = the number stands in a document; computed = a formula of a document, evaluated outside "
    "this project or apart from the package; practice = common practice, no published source; memory = not seen in "
    "print.",
    "Ours: a scenario, run by the engine and read off like any other run. No formula of a source is evaluated.",
    f"A class of its own, without a circuit: {'; '.join(FED)}. There the part or the meter is driven tick by tick with "
    "the current or the voltage that its source prescribes.",
    "Less than a whole run is proved in two places: limits of an order are the package's table beside the printed one, "
    "and of 'breaker, by heat' a run gives the current alone; the band of the standard then holds the model's time.",
)


@dataclass(frozen=True)
class Summary:
    """One subsystem: how many values of which status, from how many sources, how many beyond tolerance, the worst."""

    subsystem: str
    statuses: dict[str, int]
    sources: int
    failed: int
    worst: Row
    reason: str

    @property
    def count(self) -> int:
        """How many values."""
        return sum(self.statuses.values())


def ask(
    *,
    subsystems: Sequence[str] = (),
    groups: Sequence[Group] | None = None,
    workers: int = 1,
    progress: Progress = silent,
) -> Answer:
    """Make every comparison with numbers from elsewhere now, and set ours beside those of their sources.

    Parameters
    ----------
    subsystems : sequence of str
        Keeps those whose names contain one of these words; all of them are run all the same.
    groups : sequence of functions or None
        Which to run, each of which gives its rows; None: all there are.
    workers : int
        Above 1 a process of its own takes those of ``groups.BESIDE``; the rows do not depend on it.

    Returns
    -------
    Answer : a row for each value: ours, theirs, tolerance, deviation, source and status.

    Raises
    ------
    QuestionError : a subsystem that there is not.
    """
    groups = GROUPS if groups is None else groups
    _refuse_unknown(subsystems)
    meant = [group for group in groups[1:] if group in BESIDE]
    if workers > 1 and meant:
        first = {groups[0]: groups[0]()}  # compiles what both need
        with processes(1) as pool:
            found = _shared(groups, first, {group: pool.submit(group) for group in meant}, progress)
    else:
        found = _shared(groups, {}, {}, progress)
    rows = [row for group in groups for row in found[group]]
    words = [word.lower() for word in subsystems]
    return answer_of([row for row in rows if not words or any(word in row["subsystem"] for word in words)])


def _shared(
    groups: Sequence[Group],
    found: dict[Group, list[Row]],
    beside: Mapping[Group, Future[list[Row]]],
    progress: Progress,
) -> dict[Group, list[Row]]:
    """Rows of every group: what the other process does not do is done here, and what it could not do after all."""

    def tell() -> None:
        done = sum(group in found or beside[group].done() for group in {*found, *beside})
        progress(done, len(groups), "groups of proofs")

    for group in groups:
        if group not in found and group not in beside:
            tell()
            found[group] = group()
    for group, future in beside.items():
        tell()
        try:
            found[group] = future.result()
        except BrokenExecutor:
            found[group] = group()
    tell()
    return found


def answer_of(rows: Sequence[Row]) -> Answer:
    """The answer that rows make."""
    summaries = summarised(rows)
    failed = [row for row in rows if beyond(row)]
    counts = {
        "checks.count": len(rows),
        "checks.failed": len(failed),
        "checks.fed": sum(row["subsystem"] in FED for row in rows),
        "sources.count": len({row["source"] for row in rows}),
        "subsystems.count": len(summaries),
    } | {f"checks.{status}": sum(row["status"] == status for row in rows) for status in STATUSES}
    return Answer(
        "prove",
        ABOUT,
        {name: Number(float(count), "1") for name, count in counts.items()},
        verdicts=[_verdict(one) for one in summaries],
        assumptions=[*HOW, *_reasons(summaries)],
        rows=[cast("dict[str, Any]", row) for row in rows],
    )


def beyond(row: Row) -> bool:
    """Whether a row misses its tolerance; what is not a number does."""
    return not row["deviation"] <= row["tolerance"]


def share(row: Row) -> float:
    """Deviation over tolerance; where a tolerance is zero, none or infinitely many."""
    if row["tolerance"] > 0.0:
        return row["deviation"] / row["tolerance"]
    return math.inf if beyond(row) else 0.0


def summarised(rows: Sequence[Row]) -> list[Summary]:
    """One summary for each subsystem, in the order of the rows."""
    kept: dict[str, list[Row]] = {}
    for row in rows:
        kept.setdefault(row["subsystem"], []).append(row)
    return [
        Summary(
            subsystem,
            {status: sum(row["status"] == status for row in found) for status in STATUSES},
            len({row["source"] for row in found}),
            sum(map(beyond, found)),
            max(found, key=share),
            REASONS[subsystem],
        )
        for subsystem, found in kept.items()
    ]


def _refuse_unknown(words: Sequence[str]) -> None:
    """Tell before the work which word is in no subsystem's name."""
    for word in words:
        if not word.strip() or not any(word.lower() in name for name in REASONS):
            raise QuestionError(
                f"no subsystem has '{word[:80]}' in its name{nearest(word, list(REASONS))}",
                place="--subsystem",
                advice=f"there are {'; '.join(REASONS)}",
            )


def _reasons(summaries: Sequence[Summary]) -> list[str]:
    """Why tolerances are what they are; subsystems with the same reason in one sentence."""
    told: dict[str, list[str]] = {}
    for one in summaries:
        told.setdefault(one.reason, []).append(one.subsystem)
    return [f"Tolerances of {'; '.join(names)}: {reason}." for reason, names in told.items()]


def _verdict(one: Summary) -> Verdict:
    """All within tolerance, or how many are not and the worst of them."""
    worst = one.worst
    where = f"{worst['quantity']} at {worst['condition']}"
    if one.failed:
        text = (
            f"{one.failed} of {one.count} values are beyond tolerance; the worst is {where}: ours "
            f"{worst['ours']:.5g}, theirs {worst['theirs']:.5g} ({worst['source']})."
        )
        return Verdict(one.subsystem, "fault", f"{one.subsystem}: {text}")
    return Verdict(
        one.subsystem,
        "good",
        f"{one.subsystem}: all {one.count} values within tolerance; the nearest to its edge uses "
        f"{100.0 * share(worst):.0f} % of it ({where}).",
    )
