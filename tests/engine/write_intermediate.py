"""``python -m tests.engine.write_intermediate``: what numba makes of the kernels, for machines to go on from.

Writes ``weldsim/engine/intermediate.tar.xz`` anew (see ``weldsim/engine/machine.py``); to be called after a change of a
kernel.  Which functions are called, and with which kinds of arguments, is found by asking small questions of all kinds.
"""

import io
import os
import re
import sys
import tarfile
import tempfile
from pathlib import Path

MADE_UP = re.compile(r"\b_Z[\w.]+")


def main(path: Path | None = None) -> None:
    """Compile everything from the sources, and write the archive."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["WELDSIM_CACHE"], os.environ["NUMBA_OPT"] = folder, "1"  # before anything is loaded
        made = made_of_sources()
    import llvmlite.binding as llvm
    import numba

    from weldsim.engine.kept import SHIPPED, source_digest
    from weldsim.engine.machine import LEAST, SOURCES, VERSIONS

    path = path or SHIPPED
    versions = f"Python {sys.version_info[:2]}, numba {numba.__version__}, {llvm.get_host_cpu_name()}"
    least = str(llvm.llvm_version_info[0])  # a later one reads it too
    write(path, {SOURCES: source_digest(), LEAST: least, VERSIONS: versions, **made})
    sys.stdout.write(f"{len(made)} functions, {path.stat().st_size / 1e3:.0f} kB\n")


def made_of_sources() -> dict[str, str]:
    """Text of each function, by its name in the archive."""
    from weldsim.engine import compiled, machine
    from weldsim.engine.doors import said_of

    made, by_numba = {}, compiled.intermediate

    def noted(function, arguments):
        found = by_numba(function, arguments)
        module = function.py_func.__module__.rpartition(".")[2]
        name = machine.name_of(f"{module}.{function.py_func.__name__} {said_of(arguments)}")
        made[name] = f"; returns {found.returns}\n{with_short_names(found.text)}"
        return found

    machine._shipped, compiled.intermediate = dict, noted
    ask()
    return dict(sorted(made.items()))


def with_short_names(text: str) -> str:
    """The text with numba's names, of hundreds of letters and counted differently each time, replaced by numbers."""
    names = dict.fromkeys(MADE_UP.findall(text))
    short = {name: f"n{number}" for number, name in enumerate(names)}
    return MADE_UP.sub(lambda found: short[found.group()], text)


def ask() -> None:
    """Small questions that between them call every function."""
    import weldsim

    boosted, shed, bare = (weldsim.read(name) for name in ("toroid_shed_boost", "toroid_shed", "benchmark_b"))
    weldsim.preview(shed, dial=0.6)
    weldsim.preview(bare, delay=90.0)
    weldsim.strike(boosted, trials=2)
    weldsim.weld(shed, seconds=0.5)
    weldsim.mains(shed, dials=[0.6])
    weldsim.inrush(shed, presses=20)
    weldsim.prove()


def write(path: Path, members: dict[str, str]) -> None:
    """An archive of texts; the same texts make the same file."""
    with tarfile.open(path, "w:xz", preset=9) as archive:
        for name, text in members.items():
            content, about = text.encode(), tarfile.TarInfo(name)
            about.size = len(content)
            archive.addfile(about, io.BytesIO(content))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if sys.argv[1:] else None)
