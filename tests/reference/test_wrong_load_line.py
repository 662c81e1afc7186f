"""The comparison of load lines can fail."""

import pytest

from weldsim.studies.proofs import transients


def test_a_wrong_reference_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A load line whose offset is a volt off is beyond its tolerance in every row: the comparison can fail."""
    lines = {"MMA": (21.0, 0.04, 45.0), "TIG": (11.0, 0.04, 35.0), "MIG": (15.0, 0.05, 45.0)}
    monkeypatch.setattr("weldsim.parts.load._LOAD_LINES", lines)
    monkeypatch.setattr("weldsim.runs.supply._KEPT.supplies", {})
    assert all(row["deviation"] > row["tolerance"] for row in transients.load_line())
