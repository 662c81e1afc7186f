"""The scenario files that come with the package, and how a name given by a user finds its file."""

from pathlib import Path

from weldsim.errors import ScenarioError
from weldsim.units import nearest

_HERE = Path(__file__).resolve()
PLACES = (_HERE.parents[1] / "scenarios", _HERE.parents[2] / "scenarios")  # installed; in the source tree


def bundled_scenarios() -> dict[str, Path]:
    """File name -> path of every bundled scenario."""
    for place in PLACES:
        found = {path.name: path for path in sorted(place.glob("*.toml"))}
        if found:
            return found
    return {}


def find_scenario(name: str) -> tuple[Path, str]:
    """The file that a name stands for, and a remark where that is a bundled one.

    A file that exists always wins.  Otherwise ``toroid_shed.toml``, ``toroid_shed`` and ``scenarios/toroid_shed.toml``
    all mean the bundled scenario of that name.
    """
    path = Path(name)
    if path.exists():
        return path, ""
    known = bundled_scenarios()
    wanted = path.name if path.suffix else path.name + ".toml"
    if path.parent.name in ("", "scenarios") and wanted in known:
        return known[wanted], f"There is no file {name} here: this is the bundled scenario {wanted}."
    raise ScenarioError(
        "there is no such file, and no bundled scenario of that name" + nearest(wanted, tuple(known)),
        place=name,
        advice="bundled are " + ", ".join(known) if known else "",
    )
