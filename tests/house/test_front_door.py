"""The package from outside: public names, the version, and how little a light command loads."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import weldsim
from weldsim.cli.commands import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("numpy", "numba", "scipy", "h5py", "matplotlib")


def loaded_by(lines: str) -> str:
    """Heavy libraries that a fresh Python has loaded after these lines; what they print is thrown away."""
    probe = (
        "import contextlib, io, sys\nwith contextlib.redirect_stdout(io.StringIO()):\n    "
        + "\n    ".join(lines.splitlines())
        + f"\nprint(*[name for name in {HEAVY} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, check=True)
    return done.stdout.strip()


@pytest.mark.parametrize(
    "lines",
    [
        "import weldsim",
        "from weldsim.cli.main import main\nassert main(['--help']) == 0",
        "from weldsim.cli.main import main\nassert main(['preview', '--help']) == 0",
        "from weldsim.cli.main import main\nassert main(['check', 'toroid_shed.toml']) == 0",
        "from weldsim.cli.main import main\nassert main(['check', 'toroid_shed.toml', '--json']) == 0",
        "import weldsim\nweldsim.vary(weldsim.read('toroid_shed'), {'choke.inductance': '0.4 mH'})",
    ],
    ids=["import", "help", "help of a command", "check", "check --json", "read and vary"],
)
def test_light_work_loads_no_numerical_library(lines):
    """Help, check and reading a scenario start without numpy, numba, scipy, h5py and matplotlib."""
    assert loaded_by(lines) == ""


def test_the_probe_sees_a_heavy_library():
    """The probe above is not blind: it reports numpy when numpy is loaded."""
    assert loaded_by("import numpy") == "numpy"


def test_every_public_name_can_be_fetched():
    """All names that the front door promises exist where it looks for them."""
    for name in weldsim.__all__:
        assert getattr(weldsim, name) is not None
    assert set(weldsim.__all__) <= set(dir(weldsim))


def test_every_question_has_a_public_name():
    """Each command that puts a question is a function of the same name in Python; check and show are not questions."""
    assert {command.name for command in COMMANDS} - set(weldsim.__all__) == {"check", "show"}


def test_unknown_name_lists_the_known_ones():
    """A misspelt public name is answered with those that exist."""
    with pytest.raises(AttributeError, match=r"no public name 'pervew'; there are .*preview"):
        _ = weldsim.pervew


def test_one_version():
    """The version in pyproject.toml and in the package are the same."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

    assert weldsim.__version__ == project["version"]
