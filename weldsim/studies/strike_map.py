"""Strikes over a range of dial settings and feeds: where a boost decides, and where it does nothing."""

from collections.abc import Mapping
from typing import Any

from weldsim.runs.wire_runs import WireSupply, delay_of
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number, Verdict
from weldsim.studies.progress import Progress
from weldsim.studies.strike_boost import Part, Setting, decided, strikes

DIALS = tuple(round(0.05 * k, 2) for k in range(4, 15))  # 20 to 70 %
FEEDS = (0.7, 1.0, 1.4)  # times the feed asked for
MOST_TRIALS = 10  # at each setting


def over_dial(
    scenario: Scenario,
    supplies: Mapping[str, WireSupply],
    *,
    feed: float | None,
    seed: int,
    trials: int,
    progress: Progress,
) -> Part:
    """A few trials of each case at every setting of the dial and three feeds."""
    part, count = Part(), min(trials, MOST_TRIALS)
    first = next(iter(supplies.values()))
    middle = feed or first.constants.feed
    dials: tuple[float | None, ...] = DIALS if delay_of(scenario, None, None) is not None else (None,)
    made, whole = 0, len(FEEDS) * len(dials) * len(supplies)
    for factor in FEEDS:
        for dial in dials:
            setting = Setting(delay_of(scenario, dial, None), factor * middle, seed)
            row: dict[str, Any] = {"kind": "setting", "dial": dial, "delay": setting.delay,
                   "feed": factor * middle, "trials": count}  # fmt: skip
            for case, supply in supplies.items():
                row[case or "struck"] = sum(one.struck for one in strikes(supply, setting, count))
                made += 1
                progress(made, whole, "settings")
            if "with_boost" in row:
                row["boost"] = decided(row["with_boost"] - row["without_boost"], count)
            part.rows.append(row)
    if "with_boost" in supplies:
        _where(part, middle)
    return part


def _where(part: Part, middle: float) -> None:
    """In words: at which settings of the dial the boost decides, for each feed."""
    told = []
    for factor in FEEDS:
        speed = factor * middle
        mine = [row for row in part.rows if abs(row["feed"] - speed) < 1e-9]
        at = [row["dial"] for row in mine if row["boost"] == "decides"]
        if None in at:
            told.append(f"{60 * speed:.3g} m/min: yes")
        elif at:
            ends = sorted({f"{100 * min(at):.0f}", f"{100 * max(at):.0f}"})
            told.append(f"{60 * speed:.3g} m/min: at {' to '.join(ends)} %")
        else:
            told.append(f"{60 * speed:.3g} m/min: nowhere")
    decides = sum(row["boost"] == "decides" for row in part.rows)
    part.numbers |= {
        "settings.count": Number(len(part.rows), "1"),
        "settings.boost_decides": Number(decides, "1"),
        "settings.boost_harms": Number(sum(row["boost"] == "does harm" for row in part.rows), "1"),
    }
    text = (
        f"The boost decides at {decides} of {len(part.rows)} settings; by feed: {'; '.join(told)}. Elsewhere "
        "both strike about as often, or neither. Assumed: the wire's constants as written, few trials at each setting."
    )
    part.verdicts.append(Verdict("boost_where", "note", text))
