"""Progress on stderr: a bar on a terminal, plain lines elsewhere, nothing for short work."""

import io

from weldsim.cli.progress import followed, tell


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self):
        """Say so."""
        return True


def clock_with_steps(step):
    """A clock that goes on by ``step`` [s] each time it is read."""
    now = [0.0]

    def clock():
        now[0] += step
        return now[0]

    return clock


def test_items_pass_through_unchanged():
    """Whatever is shown, the items come out as they went in."""
    assert list(followed(range(5), "runs", stream=io.StringIO(), clock=clock_with_steps(2.0))) == [0, 1, 2, 3, 4]


def test_short_work_shows_nothing():
    """Work that ends within a second prints nothing, on a terminal or not."""
    for stream in (io.StringIO(), Terminal()):
        list(followed(range(5), "runs", stream=stream, clock=clock_with_steps(0.01)))
        assert stream.getvalue() == ""


def test_plain_lines_into_a_file():
    """Into a file go whole lines without carriage returns, at most one in five seconds."""
    stream = io.StringIO()
    list(followed(range(20), "runs", stream=stream, clock=clock_with_steps(1.0)))
    lines = stream.getvalue().splitlines()
    assert "\r" not in stream.getvalue()
    assert 2 <= len(lines) <= 20 / 5 + 1
    assert lines[0].startswith("weldsim: runs: ")
    assert lines[0].endswith(" of 20")


def test_bar_on_a_terminal_cleans_up():
    """The bar redraws one line and takes it away at the end."""
    stream = Terminal()
    list(followed(range(10), "runs", stream=stream, clock=clock_with_steps(1.0)))
    assert "\n" not in stream.getvalue()
    assert "] 5 of 10" in stream.getvalue()
    assert stream.getvalue().endswith("\r\x1b[K")


def test_unknown_length_counts_up():
    """Where the number of items is not known, it says how many are done."""
    stream = io.StringIO()
    list(followed(iter(range(20)), "presses", stream=stream, clock=clock_with_steps(1.0)))
    assert " of " not in stream.getvalue()


def test_tell_goes_to_stderr(capsys):
    """Announcements never mix with results."""
    tell("compiling the solver")
    printed = capsys.readouterr()
    assert (printed.out, printed.err) == ("", "weldsim: compiling the solver\n")
