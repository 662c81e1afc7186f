"""Drawing in a process of its own, which loads what draws while the numbers are still computed.

Loading takes as long as a short study, so on two cores a picture costs half.  Nothing depends on it: where the process
cannot be had, or has not drawn, the picture is drawn here.
"""

import contextlib
import importlib
import io
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

_OF_ITS_OWN = [False]  # whether this process does one command and ends


def command_of_its_own() -> None:
    """Tell that this process was started for one command: only then is a process beside it worth starting."""
    _OF_ITS_OWN[0] = True


class Beside:
    """A process that waits for an answer to draw; without one, nothing is drawn."""

    def __init__(self, process: "subprocess.Popen[bytes] | None" = None) -> None:
        self._process, self._asked = process, False

    def ask(self, answer: Any, place: Path) -> None:
        """Hand over what is to be drawn, where nothing was yet; what else the answer will tell may come later."""
        if self._process is None or self._process.stdin is None or self._asked:
            return
        self._asked = True
        try:
            self._process.stdin.write(pickle.dumps((answer, place)))
            self._process.stdin.close()
        except (OSError, pickle.PicklingError, TypeError, AttributeError):
            self._process.terminate()

    def has_drawn(self, answer: Any, place: Path) -> bool:
        """Hand the answer over, if that was not done before, and wait; whether the picture is there."""
        self.ask(answer, place)
        return self._process is not None and self._process.wait() == 0


@contextlib.contextmanager
def drawing_beside(module: str, *, wanted: bool) -> Iterator[Beside]:
    """A process that loads ``weldsim/figures/<module>.py`` at once; it ends with this block, however that ends."""
    process = None
    if wanted and _OF_ITS_OWN[0] and (os.cpu_count() or 1) > 1:
        command = [sys.executable, "-P", "-m", "weldsim.cli.beside", module]
        nothing = subprocess.DEVNULL
        with contextlib.suppress(OSError):
            process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=nothing, stderr=nothing)
    try:
        yield Beside(process)
    finally:
        if process is not None:
            process.terminate()
            with contextlib.suppress(OSError):
                process.communicate()


def draw_what_comes(module: str) -> None:
    """Load everything, then draw what arrives on the standard input, if anything does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the other process hears it, and ends this one
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # half-written files are cleared away
    _load_less()
    figure_of = importlib.import_module(f"weldsim.figures.{module}").draw
    importlib.import_module("weldsim.scenario.document")  # of which an answer is made
    from weldsim.figures.style import blank, save

    blank(1.0, 1.0).savefig(io.BytesIO(), format="png")  # the writer of pictures is loaded too
    try:
        answer, place = pickle.load(sys.stdin.buffer)
    except EOFError:
        sys.exit(1)
    save(figure_of(answer), place)
    os._exit(0)  # the other process waits; there is nothing to clear away


def _load_less() -> None:
    """Leave out what matplotlib does in any case while it loads, and what no picture of ours needs.

    What draws in space is a twelfth of its loading; a quarter is the help text of every kind of artist, put together
    from the help texts of all that can be set of it.  Another version may have other names for it: then it is slower.
    """
    sys.modules["mpl_toolkits.mplot3d"] = None  # type: ignore[assignment]
    with contextlib.suppress(ImportError, AttributeError):
        artist: Any = importlib.import_module("matplotlib.artist")
        artist.Artist._update_set_signature_and_docstring = lambda: None
        artist.kwdoc = lambda kind: ""


if __name__ == "__main__":
    draw_what_comes(sys.argv[1])
