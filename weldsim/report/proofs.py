"""The table of proofs, for the terminal and for README.md: ``python -m weldsim.report.proofs README.md``."""

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from weldsim.errors import WeldsimError
from weldsim.report.wording import columns, dashed, section, wrapped
from weldsim.studies.answer import Answer
from weldsim.studies.proofs.bench import Row
from weldsim.studies.prove import STATUSES, Summary, answer_of, ask, beyond, share, summarised

BEGIN, END = "<!-- proofs: begin -->", "<!-- proofs: end -->"
SHORT = {"published": "publ.", "computed": "comp.", "practice": "pract.", "memory": "mem."}
HEAD = ("subsystem", "values", "published, computed, practice, memory", "sources", "beyond", "worst", "tolerances, why")


def page(answer: Answer, *, every: bool = False) -> str:
    """Everything that was proved: one line for each subsystem, what is beyond its tolerance, every row if asked for."""
    rows: list[Any] = answer.rows or []
    lines = [answer.scenario.title, "", *_sums(answer), ""]
    lines += section("By subsystem", _by_subsystem(summarised(rows)))
    failed = [row for row in rows if beyond(row)]
    lines += section("Beyond tolerance", _row_lines(failed))
    lines += section("Every value", _row_lines(rows) if every else [])
    lines += section("How it is compared", dashed(answer.assumptions))
    return "\n".join(lines).rstrip()


def _sums(answer: Answer) -> list[str]:
    """Counts in a sentence."""
    counts = {name: int(number.value) for name, number in answer.numbers.items()}
    kinds = ", ".join(f"{counts[f'checks.{status}']} {status}" for status in STATUSES if counts[f"checks.{status}"])
    return wrapped(
        f"{counts['checks.count']} values ({kinds}; {counts['checks.fed']} without a circuit) from "
        f"{counts['sources.count']} sources in {counts['subsystems.count']} subsystems; "
        f"{counts['checks.failed']} beyond tolerance."
    )


def _by_subsystem(summaries: Iterable[Summary]) -> list[str]:
    """The table of the terminal."""
    cells = [
        [
            one.subsystem,
            str(one.count),
            *(str(one.statuses[status] or "") for status in STATUSES),
            str(one.sources),
            str(one.failed or ""),
            _percent(one.worst),
        ]
        for one in summaries
    ]
    return columns(cells, head=["", "values", *SHORT.values(), "sources", "beyond", "worst, of tolerance"])


def _row_lines(rows: Sequence[Row]) -> list[str]:
    """Single comparisons, a heading for each subsystem and source."""
    lines: list[str] = []
    place = ("", "")
    for row in rows:
        if (row["subsystem"], row["source"]) != place:
            place = (row["subsystem"], row["source"])
            lines += wrapped(f"{row['subsystem']}; {row['source']}", first="  ", rest="    ")
        figures = (
            f"ours {row['ours']:.6g}, theirs {row['theirs']:.6g} ({row['status']}), "
            f"{row['deviation']:.1e} of {row['tolerance']:.1e}"
        )
        lines += wrapped(f"{row['condition']}, {row['quantity']}: {figures}", first="    ", rest="      ")
    return lines


def _percent(row: Row) -> str:
    """How much of its tolerance the worst row uses."""
    used = 100.0 * share(row)
    return "< 1 %" if used < 0.995 else f"{used:.0f} %"


def markdown(rows: Sequence[Row]) -> str:
    """The table in README.md."""
    lines = [f"| {' | '.join(HEAD)} |", f"|{'---|' * len(HEAD)}"]
    for one in summarised(rows):
        counts = ", ".join(str(one.statuses[status]) for status in STATUSES)
        cells = (one.subsystem, one.count, counts, one.sources, one.failed, _percent(one.worst), one.reason)
        lines.append("| " + " | ".join(str(cell).replace("|", "\\|") for cell in cells) + " |")
    return "\n".join([*lines, "", *_sums(answer_of(rows))])


def with_proof_table(text: str, place: str, *, rows: Sequence[Row]) -> str:
    """A page with the table between its two markers brought up to date."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise WeldsimError(f"there is no {BEGIN} ... {END}", place=place, advice="put both where it belongs")
    return f"{before}{BEGIN}\n{markdown(rows)}\n{END}{after}"


def main(arguments: Sequence[str], *, prove: Callable[[], Answer] = ask) -> None:
    """Bring the table in the named files up to date."""
    rows: list[Any] = prove().rows or []
    for name in arguments:
        path = Path(name)
        path.write_text(with_proof_table(path.read_text(encoding="utf-8"), name, rows=rows), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
