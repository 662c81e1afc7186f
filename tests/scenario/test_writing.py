"""Writing: text with units that reads back as an equal scenario."""

import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.scenario.scenarios_at_random import tables
from weldsim.errors import ScenarioError
from weldsim.scenario.bundled import bundled_scenarios
from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read, read_text
from weldsim.scenario.writing import write, write_text

SLOW_DRAWS = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


@pytest.mark.parametrize("path", bundled_scenarios().values(), ids=lambda path: path.stem)
def test_bundled_scenarios_survive(path, tmp_path):
    """Every bundled scenario, written and read again, is equal."""
    scenario = read(path)
    write(scenario, tmp_path / "again.toml")
    assert read(tmp_path / "again.toml") == scenario


@settings(max_examples=100, suppress_health_check=SLOW_DRAWS)
@given(tables(), st.text(max_size=40), st.text(max_size=200))
def test_round_trip_loses_nothing(parts, title, notes):
    """Any scenario that could be read is equal after writing and reading, to the last bit of each float."""
    scenario = Scenario(**parts, title=title, notes=notes)
    try:
        again = read_text(write_text(scenario))
    except ScenarioError as error:
        assert all("not valid TOML" not in found.fact for found in error.complaints)  # noqa: PT017
        assume(False)
    assert again == scenario


PLAIN = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(2**60), 2**60),
        st.floats(allow_nan=False),
        st.text(max_size=10),
        st.just(datetime.date(2020, 5, 17)),
        st.just(datetime.datetime(2020, 5, 17, 12, 30, tzinfo=datetime.UTC)),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=8,
)


def test_defaults_are_not_written():
    """Only what differs from its default stands in the text."""
    text = write_text(read_text('[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\ntolerance = "10 %"\n'))
    assert text == 'format = 1\n\n[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n'


def test_files_are_plain_utf8(tmp_path):
    """Written with \\n and UTF-8 on every system."""
    scenario = read_text('title = "Schwei\u00dfen"\n[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n')
    write(scenario, Path(tmp_path) / "x.toml")
    data = (tmp_path / "x.toml").read_bytes()
    assert b"\r" not in data
    assert "Schwei\u00dfen".encode() in data
