"""The Scenario and its tables: every field has a rule, names agree with the contract, and reading stays light."""

import dataclasses
import subprocess
import sys
from pathlib import Path

import pytest

from weldsim.scenario.document import TABLES, TEXTS, Scenario, given_fields
from weldsim.scenario.reading import read
from weldsim.units import Quantity, Rows, rule_of

PROJECT = Path(__file__).resolve().parents[2]
HEAVY = ("numpy", "numba", "scipy", "h5py", "matplotlib")
# Names that others rely on.
AGREED = (
    "mains.voltage",
    "mains.frequency",
    "mains.resistance",
    "mains.inductance",
    "mains.background",
    "mains.dc_offset",
    "breaker.curve",
    "breaker.current",
    "supply_lead.length",
    "supply_lead.section",
    "phase_control.dial",
    "phase_control.delay_at_0",
    "phase_control.delay_at_100",
    "phase_control.pulse_width",
    "phase_control.pulse_kind",
    "phase_control.asymmetry",
    "phase_control.latching_current",
    "phase_control.holding_current",
    "phase_control.snubber_resistance",
    "phase_control.snubber_capacitance",
    "bank.capacitance",
    "bank.resistance",
    "bank.bleed_resistance",
    "choke.inductance",
    "choke.resistance",
    "boost.kind",
    "boost.ballast_resistance",
    "load.kind",
    "load.resistance",
    "load.voltage",
    "start.flux_linkage",
    "start.bank_voltage",
    "start.mains_phase",
)


@pytest.mark.parametrize("key", AGREED)
def test_agreed_names(key):
    """Each agreed key is a field of its table."""
    table, name = key.split(".")
    assert name in {item.name for item in dataclasses.fields(TABLES[table])}


def test_scenario_has_one_attribute_per_table():
    """Table and attribute carry the same name; two more hold the text and its source."""
    names = {item.name for item in dataclasses.fields(Scenario)}
    assert names == {*TABLES, *TEXTS, "text", "source"}


@pytest.mark.parametrize("name", sorted(TABLES))
def test_every_field_has_a_rule(name):
    """Each field says what it is, and its default lies within its own bounds."""
    for item in dataclasses.fields(TABLES[name]):
        rule = rule_of(item)
        assert rule.doc
        if item.default is not dataclasses.MISSING and item.default is not None and not isinstance(rule, Rows):
            assert rule.read(item.default, bare=True) == item.default
        if isinstance(rule, Quantity):
            assert rule.low is None or rule.high is None or rule.low < rule.high


def test_given_fields_leave_defaults_out():
    """Only what was said is given."""
    part = read("benchmark_b").bank
    assert given_fields(part) == {"capacitance": 0.044, "resistance": 6e-3, "bleed_resistance": 470.0}


def test_reading_and_judging_load_no_numerical_library():
    """From file to findings nothing heavy is imported: what `weldsim check` needs starts at once."""
    probe = (
        "import sys; from weldsim.scenario.reading import read; from weldsim.scenario.checks import findings; "
        "from weldsim.scenario.vary import vary; from weldsim.scenario.writing import write_text; "
        "scenario = read('toroid_shed'); findings(scenario); write_text(vary(scenario, boost='absent')); "
        f"print(*[name for name in {HEAVY} if name in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", probe], cwd=PROJECT, capture_output=True, text=True, check=True)
    assert result.stdout.strip() == ""
