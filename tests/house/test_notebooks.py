"""Notebooks hold no stored outputs and run from beginning to end."""

import json
from pathlib import Path

import pytest

TOLD = {  # what each notebook prints once it has come to its end
    "first_look": "A, swinging by",
    "lost_half_waves": "latching at 20 mA",
    "fifth_press": "gap 0.2 mm",
    "will_it_strike": "2.0 mH   struck",
}
LONG = {"fifth_press", "lost_half_waves", "will_it_strike"}
NOTEBOOKS = sorted((Path(__file__).resolve().parents[2] / "notebooks").glob("*.ipynb"))


def test_there_is_a_notebook():
    """The folder is not empty, so that the tests below look at something."""
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_stores_no_outputs(path):
    """Outputs are made, not kept: they would go stale and swell the history."""
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    stored = [cell["id"] for cell in cells if cell.get("outputs") or cell.get("execution_count")]
    assert not stored


@pytest.mark.parametrize(
    "path",
    [pytest.param(path, marks=[pytest.mark.slow] if path.stem in LONG else []) for path in NOTEBOOKS],
    ids=lambda path: path.stem,
)
@pytest.mark.filterwarnings("ignore")  # the notebook tools' own warnings about event loops and frozen modules
def test_notebook_runs(path, tmp_path):
    """Every cell runs in a fresh kernel, in an empty folder."""
    nbformat = pytest.importorskip("nbformat")
    nbclient = pytest.importorskip("nbclient")
    pytest.importorskip("ipykernel")
    notebook = nbformat.read(path, as_version=4)
    nbclient.NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(tmp_path)}}).execute()
    shown = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert any(TOLD[path.stem] in output.get("text", "") for output in shown)
    assert any("image/png" in output.get("data", {}) for output in shown)
