"""The command as a process of its own: an interrupt ends it, wherever Python or a library lets it go astray."""

import contextlib
import signal
import subprocess
import sys

import pytest

from weldsim.cli import entry
from weldsim.cli.main import main
from weldsim.cli.progress import meter


@pytest.fixture(autouse=True)
def ours(monkeypatch):
    """Handler, hooks and flag as a process of our own has them, put back afterwards.

    Nothing is sent again here: what comes late would end the test session. What is sent again is tried in a process
    of its own below.
    """
    before = signal.signal(signal.SIGINT, entry._hear)
    monkeypatch.setattr(entry, "_insist", lambda main_thread: None)
    monkeypatch.setattr(sys, "unraisablehook", sys.unraisablehook)
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(entry, "_HEARD", [False])
    yield
    signal.signal(signal.SIGINT, before)


IN_A_PROCESS = """
import contextlib, signal, time
from weldsim.cli import entry
from weldsim.runs.interrupts import held_back
signal.signal(signal.SIGINT, entry._hear)
entry.AGAIN = 0.4
"""


def _told(steps: str) -> list[str]:
    """What a process prints that hears interrupts as the command does and does these steps."""
    done = subprocess.run(
        [sys.executable, "-c", IN_A_PROCESS + steps], capture_output=True, text=True, check=True, timeout=300
    )
    return done.stdout.split()


def test_an_interrupt_that_was_dropped_is_sent_again():
    """What a library keeps to itself comes once more, and again, until the work ends."""
    steps = """
with contextlib.suppress(KeyboardInterrupt):
    signal.raise_signal(signal.SIGINT)
    print("never")
for _ in range(3):
    try:
        time.sleep(30.0)
    except KeyboardInterrupt:
        print("again")
entry.hear_no_more()
time.sleep(0.8)
print(entry.interrupt_heard())
"""
    assert _told(steps) == ["again", "again", "again", "True"]


def test_an_interrupt_that_is_held_back_is_not_sent_again():
    """Where a file is being written nothing more is sent than what was typed."""
    steps = """
noted = []
try:
    with held_back(lambda: noted.append("heard")):
        signal.raise_signal(signal.SIGINT)
    print("never")
except KeyboardInterrupt:
    print(*noted)
try:
    with held_back(lambda: noted.append("heard once more")):
        time.sleep(1.0)
    print(len(noted))
    time.sleep(30.0)
except KeyboardInterrupt:
    print("again")
entry.hear_no_more()
"""
    assert _told(steps) == ["heard", "1", "again"]


class HalfMade:
    """What cannot be cleared away."""

    def __del__(self):
        raise AttributeError("half made")


def test_nothing_unraisable_is_told_after_an_interrupt(monkeypatch, capsys):
    """Half-made objects of a library that was interrupted complain in vain; without an interrupt they are told."""
    monkeypatch.setattr(sys, "unraisablehook", entry._lost)
    HalfMade()
    assert "half made" in capsys.readouterr().err
    with contextlib.suppress(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
    entry.hear_no_more()
    HalfMade()
    assert capsys.readouterr().err == ""


def test_what_goes_wrong_after_an_interrupt_is_told_as_one(monkeypatch, capsys):
    """A library that turns it into an error of its own does not make a fault of it; without one it stays a fault."""

    def swallow(name):
        try:
            if name == "interrupted":
                signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            pass
        raise RuntimeError("half loaded")

    monkeypatch.setattr("weldsim.cli.main._command", swallow)
    assert main(["fault"]) == 2
    assert "half loaded" in capsys.readouterr().err
    assert main(["interrupted"]) == 130
    assert capsys.readouterr().err == "weldsim: interrupted; files that were already complete are kept\n"


def test_an_interrupt_that_was_dropped_for_good_ends_the_work():
    """A study that goes on, because a library kept it to itself, ends where it tells how far it has come."""
    show = meter()
    show(1, 3, "presses")
    with contextlib.suppress(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        show(2, 3, "presses")


def test_an_interrupt_before_anything_was_begun(monkeypatch, capsys):
    """One sentence and 130, at once: nothing more is heard, nor told by what would be closed down."""

    def at_once():
        raise KeyboardInterrupt

    left = []
    monkeypatch.setattr("os._exit", left.append)
    monkeypatch.setattr("weldsim.cli.main.main", at_once)
    assert entry.start() == 130
    assert left == [130]
    assert capsys.readouterr().err == "weldsim: interrupted\n"
    assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN


def test_nothing_is_printed_of_an_interrupt_by_a_library(monkeypatch, capsys):
    """Uncaught errors are printed as ever, an interrupt is not."""
    monkeypatch.setattr("weldsim.cli.main.main", lambda: 0)
    assert entry.start() == 0
    sys.excepthook(KeyboardInterrupt, KeyboardInterrupt(), None)
    assert capsys.readouterr().err == ""
    sys.excepthook(ValueError, ValueError("seen"), None)
    assert "ValueError: seen" in capsys.readouterr().err


def test_an_interrupt_that_was_dropped_while_the_work_ended(monkeypatch, capsys):
    """Work that a library let go on to its end after Ctrl-C still ends with 130, never as if nothing had been."""

    def swallow(typed):
        with contextlib.suppress(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        return 0

    monkeypatch.setattr("weldsim.cli.main._dispatch", swallow)
    assert main(["preview"]) == 130
    assert capsys.readouterr().err.startswith("weldsim: interrupted")


def test_little_is_loaded_before_interrupts_are_heard():
    """The entry waits for no library: beyond a bare Python with the module signal it loads itself and importlib."""
    asked = (
        "import sys, signal, types; bare = set(sys.modules); import weldsim.cli.entry; print(*set(sys.modules) - bare)"
    )
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout.split()
    ours = {"weldsim", "weldsim.cli", "weldsim.cli.entry"}
    assert ours <= set(told)
    assert {name.partition(".")[0] for name in set(told) - ours} <= {"importlib", "warnings"}
