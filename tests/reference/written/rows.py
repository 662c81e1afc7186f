"""Reference files written from the closed forms in this folder: ``python -m tests.reference.written.rows``.

``test_written_rows.py`` holds the files to the closed forms.
"""

import csv
import importlib
from collections.abc import Iterable
from dataclasses import astuple, dataclass, fields
from pathlib import Path

PLACE = Path(__file__).resolve().parents[3] / "weldsim" / "data" / "reference"
FILES = (
    "feeder",
    "generator",
    "boost",
    "primary",
    "choke",
    "pair",
    "open_arc",
    "mains",
    "charger",
    "taps",
    "cycles",
    "fusing",
    "burn_back",
    "warming",
    "identified",
    "sharing",
)


@dataclass(frozen=True)
class Written:
    """One number, as ``weldsim.studies.proofs.bench.Reference``; ``source`` names the book, ``derivation`` the way."""

    check: str
    condition: str
    quantity: str
    value: float
    unit: str
    source: str
    derivation: str
    status: str = "computed"


def rows_of(name: str) -> list[Written]:
    """Rows of the module of this folder that has the file's name."""
    return list(importlib.import_module(f"tests.reference.written.{name}").rows())


def write(name: str, rows: Iterable[Written]) -> None:
    """The file in the package."""
    with (PLACE / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([field.name for field in fields(Written)])
        for row in rows:
            writer.writerow([f"{cell:.12g}" if isinstance(cell, float) else cell for cell in astuple(row)])


if __name__ == "__main__":
    for name in FILES:
        found = rows_of(name)
        write(name, found)
        print(f"{name}.csv: {len(found)} rows")
