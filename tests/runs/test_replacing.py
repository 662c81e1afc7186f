"""Saving: the final name never holds a torn file, an old file outlives every failure, each told in a sentence."""

import errno
import os
import signal
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.runs.samples import a_run
from weldsim.errors import RunFileError
from weldsim.runs import replacing
from weldsim.runs.files import open_run, save_run
from weldsim.runs.replacing import clear_left_over, refuse_unwritable, written_beside

ROOT = Path(__file__).parents[2]
FULL = """
import resource, sys
from tests.runs.samples import a_run
from weldsim.errors import RunFileError
from weldsim.runs.files import save_run
run = a_run(60_000)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]),) * 2)
try:
    save_run(run, sys.argv[1])
except RunFileError as problem:
    print(problem)
"""


def child(code, *arguments, **options):
    """Run Python code in a process of its own; negative return codes are deaths by signal."""
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
        **options,
    )


def test_a_new_file_replaces_an_old_one(tmp_path):
    """The second save under a name is what opens afterwards, and nothing else is left in the folder."""
    save_run(a_run(10), tmp_path / "run.h5")

    assert save_run(a_run(20), tmp_path / "run.h5") == tmp_path / "run.h5"
    assert len(open_run(tmp_path / "run.h5").time) == 20
    assert [place.name for place in tmp_path.iterdir()] == ["run.h5"]


@pytest.mark.parametrize("room", [0, 100, 5_000, 100_000, 400_000])
def test_disk_full(tmp_path, room):
    """A disk that fills up at any moment ends in one sentence (plain HDF5 dies of it), and the old file stays.

    A limit on the size of files stands in for the full disk; the file is about 470 kB.
    """
    pytest.importorskip("resource")
    place = save_run(a_run(10), tmp_path / "run.h5")

    done = child(FULL, place, room)

    assert (done.returncode, done.stderr) == (0, "")
    assert "cannot be written, the file is larger than this disk or session allows" in done.stdout
    assert str(place) in done.stdout
    assert len(open_run(place).time) == 10
    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.ENOSPC, "the disk is full"), (errno.EDQUOT, "your share of the disk"), (errno.EIO, os.strerror(errno.EIO))],
)
def test_trouble_at_the_last_moment(tmp_path, monkeypatch, number, words):
    """A disk that reports its trouble only when asked to keep the bytes counts as one that failed."""
    place = save_run(a_run(10), tmp_path / "run.h5")

    def fail(handle):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(RunFileError, match=words):
        save_run(a_run(20), place)
    monkeypatch.undo()
    assert len(open_run(place).time) == 10
    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]


def test_bytes_reach_the_disk_before_the_name(tmp_path, monkeypatch):
    """The file is handed to the disk before it is renamed, and the folder after."""
    steps = []
    keep, rename = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (steps.append("keep"), keep(handle)))
    monkeypatch.setattr(os, "replace", lambda old, new: (steps.append("rename"), rename(old, new)))

    save_run(a_run(10), tmp_path / "run.h5")

    assert steps == ["keep", "rename", "keep"]


def test_places_where_nothing_can_be_put(tmp_path):
    """Folders, missing folders, files taken for folders, devices and impossible names are each told apart."""
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_text("text")
    os.symlink(tmp_path / "loop", tmp_path / "loop")
    for name, words in [
        (tmp_path / "folder", "the name of a folder"),
        (f"{tmp_path}/", "the name of a folder"),
        (f"{tmp_path}/new/", "the name of a folder"),
        ("", "the name of a folder"),
        (tmp_path / "none" / "run.h5", "the folder does not exist; make the folder first"),
        (tmp_path / "file" / "run.h5", "part of the path is a file"),
        (tmp_path / ("x" * 300), "the name is too long"),
        (tmp_path / "loop", "a link that leads back"),
        (os.devnull, "not an ordinary file"),
        ("a\0b", "no file name"),
        (5j, "no file name"),
    ]:
        with pytest.raises(RunFileError, match=words) as caught:
            save_run(a_run(3), name)
        assert "\n" not in str(caught.value)
    assert sorted(item.name for item in tmp_path.iterdir()) == ["file", "folder", "loop"]


def test_names_that_look_hostile_are_only_names(tmp_path):
    """Spaces, quotes, line breaks, dashes, dots and broken letters in a name do no harm."""
    for name in [
        "my run.h5",
        "a'b\".h5",
        "a\nb.h5",
        "-rf",
        "$(date).h5",
        "run",
        ".hidden",
        "caf\udce9.h5",
        "ü Ω.h5",
        "x" * 250,
    ]:
        place = save_run(a_run(3), tmp_path / name)
        assert len(open_run(place).time) == 3


@pytest.mark.skipif(not Path("/sys/kernel").is_dir(), reason="needs a place that nobody may write to")
def test_read_only_place():
    """A place that refuses new files is told in a sentence with advice."""
    with pytest.raises(RunFileError, match=r"cannot be written, .*; save"):
        save_run(a_run(3), "/sys/kernel/run.h5")


def test_read_only_folder(tmp_path):
    """A folder without permission to write is told in a sentence, and the file in it stays."""
    place = save_run(a_run(10), tmp_path / "run.h5")
    tmp_path.chmod(0o555)
    try:
        if os.access(tmp_path, os.W_OK):
            pytest.skip("this user may write anywhere")
        with pytest.raises(RunFileError, match="writing is not allowed there"):
            save_run(a_run(20), place)
        assert len(open_run(place).time) == 10
    finally:
        tmp_path.chmod(0o755)


def test_a_link_keeps_leading_to_its_file(tmp_path):
    """Saving under the name of a link replaces the file it leads to, not the link."""
    real = tmp_path / "real.h5"
    link = tmp_path / "link.h5"
    os.symlink(real, link)

    save_run(a_run(10), link)

    assert link.is_symlink()
    assert len(open_run(real).time) == 10


def test_a_file_held_open_elsewhere_is_tried_again(tmp_path, monkeypatch):
    """Where the system refuses to replace a file in use, saving tries again, and gives up with the old file kept."""
    place = save_run(a_run(10), tmp_path / "run.h5")
    rename, refusals = os.replace, [2]

    def refuse(old, new):
        refusals[0] -= 1
        if refusals[0] >= 0:
            raise PermissionError(errno.EACCES, "in use")
        rename(old, new)

    monkeypatch.setattr(os, "replace", refuse)
    monkeypatch.setattr(replacing.time, "sleep", lambda seconds: None)
    save_run(a_run(20), place)
    refusals[0] = 99
    with pytest.raises(RunFileError, match="writing is not allowed there"):
        save_run(a_run(30), place)
    assert len(open_run(place).time) == 20
    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]


def test_a_mistake_of_the_program_keeps_the_old_file(tmp_path):
    """Any error inside the block leaves the old file, takes the scrap away and is passed on as it is."""
    place = save_run(a_run(10), tmp_path / "run.h5")

    def stumble():
        with written_beside(place) as stream:
            stream.write(memoryview(b"half a file"))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        stumble()
    assert len(open_run(place).time) == 10
    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]


def test_an_interrupt_waits_for_the_file(tmp_path):
    """Ctrl-C in the middle of saving arrives when the file is whole under its name (inside HDF5 it would be fatal)."""
    place = tmp_path / "file"

    def write():
        with written_beside(place) as stream:
            os.kill(os.getpid(), signal.SIGINT)
            stream.write(memoryview(b"all of it"))

    with pytest.raises(KeyboardInterrupt):
        write()
    assert place.read_bytes() == b"all of it"
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_an_interrupt_can_be_asked_for(tmp_path):
    """A long file gives up at its next check after Ctrl-C, and nothing appears."""

    def write():
        with written_beside(tmp_path / "file") as stream:
            os.kill(os.getpid(), signal.SIGINT)
            stream.check()

    with pytest.raises(KeyboardInterrupt):
        write()
    assert list(tmp_path.iterdir()) == []


def test_permissions_are_those_of_any_new_file(tmp_path):
    """A saved run may be read by whoever may read other files of its maker."""
    (tmp_path / "other").write_text("text")

    assert save_run(a_run(3), tmp_path / "run.h5").stat().st_mode == (tmp_path / "other").stat().st_mode


def test_threads_save_at_once(tmp_path):
    """Several threads save and open side by side, though only the main one can hold interrupts back."""

    def save(number):
        assert threading.current_thread() is not threading.main_thread()
        return len(open_run(save_run(a_run(1000 + number), tmp_path / f"{number}.h5")).time)

    with ThreadPoolExecutor(4) as pool:
        assert list(pool.map(save, range(24))) == [1000 + number for number in range(24)]


def test_what_can_be_written_is_not_refused_and_nothing_is_left(tmp_path):
    """A new name and an old file pass; the folder is as before."""
    (tmp_path / "old.h5").write_bytes(b"old")
    for name in ("old.h5", "new.h5"):
        refuse_unwritable(tmp_path / name)
    assert [(place.name, place.read_bytes()) for place in tmp_path.iterdir()] == [("old.h5", b"old")]


def test_what_cannot_be_written_is_refused(tmp_path, monkeypatch):
    """A folder of the name, none around it, a write-protected file, and a folder that takes no file (made by hand)."""
    (tmp_path / "folder").mkdir()
    (tmp_path / "mine.h5").touch(mode=0o444)
    for name, words in (
        ("folder", "name of a folder"),
        ("none/run.h5", "folder does not exist"),
        ("mine.h5", "write-protected"),
    ):
        with pytest.raises(RunFileError, match=words):
            refuse_unwritable(tmp_path / name)

    def read_only(place, mode):
        raise OSError(errno.EROFS, "")

    monkeypatch.setattr(replacing, "open", read_only, raising=False)
    with pytest.raises(RunFileError, match="the disk is read-only; save elsewhere"):
        refuse_unwritable(tmp_path / "run.h5")


def test_only_old_scraps_are_cleared(tmp_path):
    """What a writer killed two hours ago has left is taken away; a write under way and other files are not."""
    old, young, other = (
        tmp_path / name for name in (f".weldsim-{'0' * 16}.part", f".weldsim-{'1' * 16}.part", "x.part")
    )
    for place in (old, young, other):
        place.touch()
    for place in (old, other):
        os.utime(place, (place.stat().st_atime, place.stat().st_mtime - 7200.0))
    clear_left_over(tmp_path)
    assert sorted(tmp_path.iterdir()) == [young, other]
