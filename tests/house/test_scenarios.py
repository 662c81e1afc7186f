"""The bundled scenarios: all are there, load, and read like a lesson."""

from pathlib import Path

import pytest

from weldsim.scenario.bundled import bundled_scenarios, find_scenario
from weldsim.scenario.reading import read

ROOT = Path(__file__).resolve().parents[2]
PROMISED = (
    "toroid_shed",
    "toroid_shed_boost",
    "garage_60hz",
    "long_lead",
    "charger",
    "quarter_kiloamp",
    "benchmark_a",
    "benchmark_b",
    "benchmark_c",
)
LEAST_COMMENTS = 5  # lines of comment that make a file a lesson rather than a list


def test_all_promised_scenarios_are_bundled():
    """Every scenario that the documents name is found by its name alone."""
    assert set(bundled_scenarios()) >= {f"{name}.toml" for name in PROMISED}
    for name in PROMISED:
        path, remark = find_scenario(f"{name}.toml")
        assert path.name == f"{name}.toml"
        assert "bundled scenario" in remark or path.parent == Path()


@pytest.mark.parametrize("path", sorted((ROOT / "scenarios").glob("*.toml")), ids=lambda path: path.stem)
def test_scenario_loads_and_explains_itself(path):
    """Each file can be read, has a title and is commented."""
    scenario = read(path)
    comments = [line for line in path.read_text(encoding="utf-8").splitlines() if line.lstrip().startswith("#")]

    assert scenario.title
    assert len(comments) >= LEAST_COMMENTS
