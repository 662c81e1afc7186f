"""The entry: which command is meant, and every error as sentences on stderr with its exit code.

Exit codes: 0 done (findings and bad verdicts included), 2 wrong input or a run that cannot be done, 130 interrupted.
"""

import os
import sys
from collections.abc import Sequence
from io import UnsupportedOperation

from weldsim import __version__
from weldsim.cli.beside import command_of_its_own
from weldsim.cli.commands import COMMANDS, Command
from weldsim.cli.entry import INTERRUPTED, hear_no_more, interrupt_heard
from weldsim.cli.options import CommandLineError, parser_for, read_request
from weldsim.cli.progress import silence
from weldsim.errors import WeldsimError
from weldsim.units import nearest

DONE, WRONG = 0, 2
TRACEBACK = "WELDSIM_TRACEBACK"  # environment variable: show where an unexpected fault happened

_ABOUT = "weldsim: exact waveforms of phase-controlled iron-transformer welding supplies, from a scenario file"
_USAGE = "usage: weldsim COMMAND FILE [options]"
_CLOSING = """\
weldsim COMMAND --help tells the options of a command.
Exit codes: 0 done, 2 wrong input or a run that cannot be done, 130 interrupted.
Results are estimates for study and planning and certify nothing; mains work belongs to licensed persons."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what was typed; the exit code."""
    typed = list(sys.argv[1:] if arguments is None else arguments)
    if arguments is None:
        command_of_its_own()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only cost start-up
    _print_what_the_terminal_can()
    try:
        code = _dispatch(typed)
        if sys.stdout is not None:
            sys.stdout.flush()
        if interrupt_heard():  # and dropped by a library since
            raise KeyboardInterrupt
        return code
    except BrokenPipeError:
        silence()
        return DONE
    except KeyboardInterrupt as stop:
        return _interrupted(stop)
    except Exception as error:
        return _interrupted(error) if interrupt_heard() else _failed(error)


def _dispatch(typed: list[str]) -> int:
    """Find the command, read its options, do it."""
    if not typed or typed[0] in ("-h", "--help", "help"):
        print(overview())
        return DONE
    if typed[0] in ("-V", "--version"):
        print(f"weldsim {__version__}")
        return DONE
    command = _command(typed[0])
    parser = parser_for(
        command.name,
        question=command.question,
        options=command.options,
        closing=f"Example: {command.example}" if command.example else "",
    )
    try:
        request = read_request(command.name, typed[1:], parser=parser, options=command.options)
    except SystemExit:  # --help has been printed
        return DONE
    if request.get("json"):
        _refuse_deaf_output()
    command.run(request)
    return DONE


def _refuse_deaf_output() -> None:
    """Tell before the work that nothing can be printed: closed, open for reading only, a device that is always full."""
    fact = "the standard output is closed"
    try:
        if sys.stdout is not None:
            os.write(sys.stdout.fileno(), b"")
            return
    except UnsupportedOperation:  # no file, such as the memory of another program
        return
    except OSError as trouble:
        fact = f"the standard output cannot be written to: {trouble.strerror}"
    raise CommandLineError(fact, place="--json", advice="lead it into a file or to another program")


def _command(name: str) -> Command:
    """The command of this name, or what was probably meant."""
    for command in COMMANDS:
        if command.name == name:
            return command
    names = [command.name for command in COMMANDS]
    known = [*names, "--help", "--version"] if name.startswith("-") else names
    what = "option" if name.startswith("-") else "command"
    hint = nearest(name, known) or "; there are " + ", ".join(known)
    raise CommandLineError(f"there is no {what} '{name[:80]}'{hint}", usage=_USAGE)


def overview() -> str:
    """What ``weldsim --help`` prints."""
    width = max(len(command.name) for command in COMMANDS)
    lines = [f"  {command.name:<{width}}  {command.question}" for command in COMMANDS]
    return "\n".join([_ABOUT, "", _USAGE, "", "Commands:", *lines, "", _CLOSING])


def _say(sentence: str) -> None:
    line = "\r\x1b[K" if sys.stderr.isatty() else ""  # over a bar that was left half way
    print(f"{line}weldsim: {sentence}", file=sys.stderr)


def _with_notes(sentence: str, error: BaseException) -> str:
    """The sentence, and what was noted on the way of the error, such as where a recorded part is kept."""
    return "; ".join([sentence, *getattr(error, "__notes__", ())])


def _interrupted(stop: BaseException) -> int:
    """Say what an interrupt leaves."""
    hear_no_more()
    _say(_with_notes("interrupted; files that were already complete are kept", stop))
    return INTERRUPTED


def _failed(error: Exception) -> int:
    """What cannot be done, in sentences."""
    if isinstance(error, WeldsimError):
        return _refused(_with_notes(str(error), error))
    if isinstance(error, OSError):
        return _refused(_with_notes(_about_files(error), error))
    if isinstance(error, MemoryError):
        fact = "there is not enough memory for this; ask for a shorter --window or --duration"
        return _refused(_with_notes(fact, error))
    return _unexpected(error)


def _refused(sentences: str) -> int:
    """Say what is wrong; the exit code for it."""
    _say(sentences)
    if os.environ.get(TRACEBACK):
        _print_traceback()
    return WRONG


def _unexpected(error: Exception) -> int:
    """One sentence for a fault of ours, and how to see more of it."""
    kind, text = type(error).__name__, " ".join(str(error).split())[:300]
    return _refused(
        f"this should not have happened ({kind}{': ' + text if text else ''}); "
        f"set {TRACEBACK}=1 to see where, and report it together with the scenario"
    )


def _print_traceback() -> None:
    import traceback

    traceback.print_exc()


def _about_files(error: OSError) -> str:
    """What the system says about a file, in one sentence."""
    reason = error.strerror or type(error).__name__
    return f"{error.filename}: {reason}" if error.filename else reason


def _print_what_the_terminal_can() -> None:
    """Letters that the terminal lacks become question marks instead of an error."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
