"""``python -m tests.bench.run_bench``: how fast it is, beside what a careful Python user would write instead.

Parts run one after the other in this process; times are CPU time of this process, median of several rounds, unless the
heading says wall.  Compare ratios within one run, never times between machines or hours: the load average stands
beside each part.  ``--part NAME`` runs a part alone, ``--hour`` streams an hour of welding; peers whose library is
not installed are left out and named.  Raw times go to a JSON file.
"""

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.bench import against_peers, growth, of_studies, whole_program
from tests.bench.measuring import Size, machine

HOUR = 3600.0  # s


@dataclass(frozen=True)
class Part:
    """What is measured, as plain data, and how it is told."""

    measure: Callable[[Size], dict]
    tell: Callable[[dict], list[str]]


PARTS = {
    "benchmark": Part(against_peers.benchmark, against_peers.benchmark_lines),
    "full": Part(against_peers.full_supply, against_peers.full_supply_lines),
    "presses": Part(against_peers.presses, against_peers.presses_lines),
    "growth": Part(growth.growth, growth.growth_lines),
    "start-up": Part(whole_program.start_up, whole_program.start_up_lines),
    "memory": Part(whole_program.memory, whole_program.memory_lines),
    "studies": Part(of_studies.studies, of_studies.studies_lines),
}


def main(typed: list[str] | None = None) -> None:
    """Run the parts, print each as it is done, keep the raw times."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.run_bench", description=__doc__)
    parser.add_argument("--part", action="append", choices=list(PARTS), help="run this part only; may be repeated")
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--tiny", action="store_true", help="everything once and small, to see that it runs")
    parser.add_argument("--weld", type=float, default=Size.weld, metavar="SECONDS", help="length of the streamed weld")
    parser.add_argument("--hour", action="store_true", help="an hour of it")
    parser.add_argument("--raw", type=Path, default=Path("bench.json"), help="where the raw times go")
    options = parser.parse_args(typed)
    size = Size(options.tiny, 1 if options.tiny else options.rounds, weld=HOUR if options.hour else options.weld)
    results: dict[str, dict] = {}
    for name in options.part or PARTS:
        about = machine()
        found = PARTS[name].measure(size)
        print(*PARTS[name].tell(found), sep="\n")
        print(f"  ({about['cores']} cores, load average {about['load average']})\n", flush=True)
        results[name] = {"machine": about, **found}
        options.raw.write_text(json.dumps(results, indent=1), encoding="utf-8")
    print(f"raw times: {options.raw}")


if __name__ == "__main__":
    main()
