"""Closed forms and worked examples: rectifier, transformer, inrush, snubber, dial, discharges, load lines, meters.

Every group runs scenarios through engine and read-out and compares with numbers computed elsewhere from textbook
formulas with thirty digits, or printed in textbooks (weldsim/data/reference); no formula of a source is evaluated here.
"""

from collections.abc import Callable

import pytest

from weldsim.studies.proofs import dial, magnetics, transients
from weldsim.studies.proofs.bench import Row

# Group -> how many values it must give, so that no group can shrink unseen.
GROUPS: dict[Callable[[], list[Row]], int] = {
    magnetics.controlled_rectifier: 30,
    magnetics.emf: 11,
    magnetics.magnetising_harmonics: 24,
    magnetics.inrush: 58,
    transients.device_loss: 8,
    transients.snubber_step: 26,
    dial.rc_diac: 28,
    transients.capacitor_bank: 8,
    transients.discharge: 24,
    transients.short_circuit_rise: 13,
    transients.load_line: 27,
    transients.meters: 18,
}


@pytest.mark.parametrize("group", GROUPS, ids=lambda group: group.__name__)
def test_group_meets_its_references(group: Callable[[], list[Row]]) -> None:
    """Every value of a group lies within the tolerance of its kind; the worst ones are named where not.

    Tolerances: 1e-4 of means, rms, powers, peaks and times (ideal elements, exact read-out; what is left are printed
    digits and elements that are nearly ideal), 1e-4 of the fundamental for harmonics, 0.02 deg for angles, 0.05 deg and
    0.2 % for the dial, whose angle at the crest goes with the root of the resistance.
    """
    rows = group()
    assert len(rows) == GROUPS[group]
    beyond = [row for row in rows if not row["deviation"] <= row["tolerance"]]
    assert not beyond, sorted(beyond, key=lambda row: -row["deviation"])[:5]


def test_a_wrong_reference_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A load line whose offset is a volt off is beyond its tolerance in every row: the comparison can fail."""
    lines = {"MMA": (21.0, 0.04, 45.0), "TIG": (11.0, 0.04, 35.0), "MIG": (15.0, 0.05, 45.0)}
    monkeypatch.setattr("weldsim.parts.load._LOAD_LINES", lines)
    monkeypatch.setattr("weldsim.runs.supply._KEPT", {})
    assert all(row["deviation"] > row["tolerance"] for row in transients.load_line())
