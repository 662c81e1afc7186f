"""Strikes over a range of dial settings and feeds: where a boost decides, and where it does nothing."""

from collections.abc import Mapping, Sequence
from typing import Any

from weldsim.runs.commands import with_dial
from weldsim.runs.crew import Crew
from weldsim.runs.feeder import wire_constants
from weldsim.runs.wire_runs import delay_of
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number, Verdict
from weldsim.studies.progress import Progress
from weldsim.studies.strike_boost import BY_CHANCE, DECIDES, HARMS, Part, decided
from weldsim.studies.strike_jobs import Setting, StrikeJob, all_struck

DIALS = tuple(round(0.05 * k, 2) for k in range(4, 15))  # 20 to 70 %
FEEDS = (0.7, 1.0, 1.4)  # times the feed asked for
MOST_TRIALS = 10  # at each setting


def over_dial(scenario: Scenario, cases: Mapping[str, bool], *, asked: Setting, trials: int, crew: Crew,
              progress: Progress) -> Part:  # fmt: skip
    """A few trials of each case at every setting of the dial and three feeds; a job is one case at one feed."""
    part, count = Part(), min(trials, MOST_TRIALS)
    middle = asked.feed or wire_constants(scenario).feed
    dials: tuple[float | None, ...] = (None,) if scenario.phase_control is None else DIALS
    settings = {
        factor: tuple(Setting(delay_of(scenario, dial, None), factor * middle, asked.seed) for dial in dials)
        for factor in FEEDS
    }
    jobs = {
        (factor, case): [
            StrikeJob(supply, settings[factor][of], count, case, connected) for supply, of in _supplies(scenario, dials)
        ]
        for factor in FEEDS
        for case, connected in cases.items()
    }
    found = iter(all_struck(crew, [job for some in jobs.values() for job in some], progress))
    done = {key: [trials for _ in some for trials in next(found).trials] for key, some in jobs.items()}
    for factor in FEEDS:
        for k, (dial, setting) in enumerate(zip(dials, settings[factor], strict=True)):
            row: dict[str, Any] = {"kind": "setting", "dial": dial, "delay": setting.delay,
                   "feed": factor * middle, "trials": count}  # fmt: skip
            for case in cases:
                row[case or "trials_struck"] = sum(one.struck for one in done[factor, case][k])
            if "with_boost" in row:
                row["boost"] = decided(*(done[factor, case][k] for case in ("with_boost", "without_boost")))
            part.rows.append(row)
    if "with_boost" in cases:
        _where(part, middle)
    return part


def _supplies(scenario: Scenario, dials: Sequence[float | None]) -> list[tuple[Scenario, slice]]:
    """The supplies to strike with and which of the settings are theirs: one for all, unless a dial turns a part."""
    turned = [with_dial(scenario, dial) for dial in dials]
    if all(one is scenario for one in turned):
        return [(scenario, slice(None))]
    return [(one, slice(k, k + 1)) for k, one in enumerate(turned)]


def _where(part: Part, middle: float) -> None:
    """In words: at which settings of the dial the boost decides, for each feed."""
    told = []
    for factor in FEEDS:
        speed = factor * middle
        mine = [row for row in part.rows if abs(row["feed"] - speed) < 1e-9]
        at = [row["dial"] for row in mine if row["boost"] == DECIDES]
        if None in at:
            told.append(f"{60 * speed:.3g} m/min: yes")
        elif at:
            ends = sorted({f"{100 * min(at):.0f}", f"{100 * max(at):.0f}"})
            told.append(f"{60 * speed:.3g} m/min: at {' to '.join(ends)} %")
        else:
            told.append(f"{60 * speed:.3g} m/min: nowhere")
    decides, open_ones = (sum(row["boost"] == said for row in part.rows) for said in (DECIDES, BY_CHANCE))
    part.numbers |= {
        "settings.count": Number(len(part.rows), "1"),
        "settings.boost_decides": Number(decides, "1"),
        "settings.boost_harms": Number(sum(row["boost"] == HARMS for row in part.rows), "1"),
    }
    text = (
        f"The boost decides at {decides} of {len(part.rows)} settings; by feed: {'; '.join(told)}. "
        + (f"At {open_ones} more its trials differ, but too few of them to tell it from chance. " if open_ones else "")
        + "Elsewhere both strike about as often, or neither. Assumed: the wire's constants as written, "
        f"{part.rows[0]['trials']} trials at each setting."
    )
    part.verdicts.append(Verdict("boost_where", "note", text))
