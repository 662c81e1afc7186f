"""``python -m tests.bench.streamed_weld SECONDS FILE``: weld into a file and tell the most memory taken, as JSON."""

import json
import resource
import sys
import time
from pathlib import Path

import weldsim
from tests.bench.measuring import SCENARIOS
from tests.bench.of_studies import DIPS
from weldsim.runs.weld_runs import Weld
from weldsim.runs.weld_saving import WeldSaver
from weldsim.runs.wire_runs import WireSupply, delay_of

MEGABYTE = 1e6 if sys.platform == "darwin" else 1e3  # the operating system counts bytes there, kilobytes elsewhere


def looked_at(welded: float) -> dict[str, float]:
    """Where the weld is, CPU seconds so far, and the most memory this process ever had [MB]."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / MEGABYTE
    return {"welded": round(welded, 3), "cpu": time.process_time(), "memory": most}


def main(seconds: float, place: Path) -> dict[str, object]:
    """Weld, write, look at a tenth of the length, at half of it and at the end."""
    scenario = weldsim.read(SCENARIOS / "toroid_shed_boost.toml")
    supply = WireSupply(scenario)
    weld = Weld(supply, delay=delay_of(scenario, DIPS, None))
    early: dict[str, float] = {}
    half: dict[str, float] = {}
    with WeldSaver(place, weld, command="bench") as saver:
        for part in weld.parts(seconds):
            saver.add(part)
            if not early and weld.now >= 0.1 * seconds:
                early = looked_at(weld.now)
            if not half and weld.now >= 0.5 * seconds:
                half = looked_at(weld.now)
    return {"early": early, "half": half, "late": looked_at(weld.now), "file": place.stat().st_size / 1e6}


if __name__ == "__main__":
    print(json.dumps(main(float(sys.argv[1]), Path(sys.argv[2]))))
