"""Reference files that are written from closed forms in this repository hold what those closed forms give.

The closed forms (``tests/reference/written``) import nothing of the package and name their book; what the package gives
is beside them in ``test_proofs.py``.
"""

import ast
import csv
from dataclasses import asdict
from pathlib import Path

import pytest

from tests.reference.written.rows import FILES, PLACE, rows_of

FOLDER = Path(__file__).parent / "written"


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_file_holds_the_closed_forms(name):
    """Words alike, numbers to 1e-9 (twelve digits are written; roots and quadratures of another machine differ)."""
    with (PLACE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        written = list(csv.DictReader(file))
    made = [asdict(row) for row in rows_of(name)]
    assert len(written) == len(made)
    for old, new in zip(written, made, strict=True):
        assert float(old.pop("value")) == pytest.approx(new.pop("value"), rel=1e-9, abs=1e-12)
        assert old == new


def test_closed_forms_know_nothing_of_the_package():
    """No module of the folder imports weldsim, and each is the source of one file."""
    modules = {path.stem: path for path in FOLDER.glob("*.py")}
    assert set(modules) == {"rows", *FILES}
    for path in modules.values():
        names = [
            name
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Import | ast.ImportFrom)
            for name in ([one.name for one in node.names] if isinstance(node, ast.Import) else [node.module or ""])
        ]
        assert not [name for name in names if name.startswith("weldsim")], path
