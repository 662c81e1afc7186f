"""A file is written beside its final name and renamed when it is whole, so that the final name never holds a torn one.

HDF5 is handed a ``CarefulStream`` instead of a file name: a full disk in the middle of a write leaves the library with
objects that it can neither finish nor close (tried with HDF5 2.0: the process dies with a segmentation fault).  The
stream keeps the first trouble to itself, lets the library close in peace, and the trouble is reported afterwards.  An
interrupt (Ctrl-C) inside a write does the same harm and is held back likewise.
"""

import contextlib
import errno
import os
import re
import secrets
import stat
import time
from collections.abc import Iterator
from pathlib import Path

from weldsim.errors import RunFileError, written_out
from weldsim.runs.interrupts import held_back

PathText = str | os.PathLike[str]
_PATIENCE = (0.05, 0.2, 0.5)  # [s] between attempts to replace a file that another program holds open
_LEFT_OVER = re.compile(r"\.weldsim-[0-9a-f]{16}\.part")
_LEFT_BEHIND = 3600.0  # [s] since anything was written to it
_REASONS = {
    errno.ENOSPC: ("the disk is full", "make room or save elsewhere"),
    errno.EDQUOT: ("your share of the disk is used up", "make room or save elsewhere"),
    errno.EFBIG: ("the file is larger than this disk or session allows", "save elsewhere or record fewer signals"),
    errno.EROFS: ("the disk is read-only", "save elsewhere"),
    errno.EACCES: ("writing is not allowed there", "save in a folder of your own"),
    errno.EPERM: ("writing is not allowed there", "save in a folder of your own"),
    errno.ENOENT: ("the folder does not exist", "make the folder first"),
    errno.ENOTDIR: ("part of the path is a file, not a folder", "check the path"),
    errno.EISDIR: ("the name is that of a folder", "add a file name"),
    errno.ENAMETOOLONG: ("the name is too long", "choose a shorter one"),
    errno.ELOOP: ("the path is a link that leads back to itself", "check the link"),
}


class CarefulStream:
    """An open file that remembers its first trouble instead of raising it; ``check`` raises."""

    def __init__(self, path: Path, target: Path) -> None:
        self.path, self.target = path, target
        self.trouble: OSError | None = None
        self.interrupted = False
        self._file = open(path, "x+b", buffering=0)  # noqa: SIM115 (closed by written_beside)

    def interrupt(self) -> None:
        """Note an interrupt, for ``check``."""
        self.interrupted = True

    def check(self) -> None:
        """Raise what has gone wrong so far, as a sentence; the place to give up a long file after an interrupt."""
        if self.trouble:
            raise cannot_write(self.target, self.trouble)
        if self.interrupted:
            raise KeyboardInterrupt

    def write(self, data: bytes | memoryview) -> int:
        """Write all of the data, or remember why not."""
        left = memoryview(data).cast("B")
        size = left.nbytes
        try:
            while left.nbytes:
                left = left[self._file.write(left) :]
        except OSError as problem:
            self.trouble = self.trouble or problem
            self._file.seek(left.nbytes, os.SEEK_CUR)
        return size

    def truncate(self, size: int | None = None) -> int:
        """Set the length of the file, or remember why not."""
        try:
            return self._file.truncate(size)
        except OSError as problem:
            self.trouble = self.trouble or problem
            return self._file.tell() if size is None else size

    def readinto(self, buffer: memoryview) -> int:
        """Read into a buffer."""
        return self._file.readinto(buffer)

    def read(self, size: int = -1) -> bytes:
        """Read some bytes."""
        return self._file.read(size)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        """Move to a place in the file."""
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        """The place in the file."""
        return self._file.tell()

    def flush(self) -> None:
        """Nothing is held back."""

    def finish(self) -> None:
        """Hand everything to the disk itself and close."""
        try:
            os.fsync(self._file.fileno())
        except OSError as problem:
            self.trouble = self.trouble or problem
        self.abandon()
        if self.trouble:
            raise cannot_write(self.target, self.trouble)

    def abandon(self) -> None:
        """Close, whatever has happened."""
        try:
            self._file.close()
        except OSError as problem:
            self.trouble = self.trouble or problem


@contextlib.contextmanager
def written_beside(path: PathText) -> Iterator[CarefulStream]:
    """A stream whose bytes appear under the final name when the block ends well, and nowhere when it does not.

    An interrupt arrives when the block is done and the file is in place, unless the block itself asks (``check``).
    """
    target = writable_target(path)
    beside = _beside(target)
    try:
        stream = CarefulStream(beside, target)
    except OSError as problem:
        raise cannot_write(target, problem) from problem
    try:
        with held_back(stream.interrupt):
            try:
                yield stream
            except Exception:
                stream.check()  # the library's own words about a full disk help nobody
                raise
            stream.finish()
            _put_in_place(beside, target)
    finally:
        stream.abandon()
        with contextlib.suppress(OSError):
            beside.unlink()


def writable_target(path: PathText) -> Path:
    """The place that a name stands for, links followed; an error where no file can be put there."""
    try:
        text = os.fspath(path)
        target = Path(os.path.realpath(text))
        kind, protected = _kind_of(target)
    except (TypeError, ValueError) as problem:
        raise no_name(path, problem) from problem
    except OSError as problem:
        raise cannot_write(Path(text), problem) from problem
    if kind == "folder" or text.endswith(("/", os.sep)) or not text:
        raise RunFileError("this is the name of a folder", place=shown(path), advice="add a file name")
    if kind == "device":
        raise RunFileError("this is not an ordinary file", place=shown(path), advice="choose another name")
    if protected:
        raise RunFileError("the file there is write-protected", place=shown(path), advice="choose another name")
    return target


def refuse_unwritable(path: PathText) -> None:
    """An error, before the work, where no file could be written under this name now; nothing is left there."""
    target = writable_target(path)
    beside = _beside(target)
    try:
        open(beside, "x+b").close()
    except OSError as problem:
        raise cannot_write(target, problem) from problem
    finally:
        with contextlib.suppress(OSError):
            beside.unlink()


def clear_left_over(folder: Path) -> None:
    """Take away what writers that were killed more than an hour ago have left half written in a folder of ours."""
    with contextlib.suppress(OSError):
        for place in folder.iterdir():
            if _LEFT_OVER.fullmatch(place.name) and time.time() - place.stat().st_mtime > _LEFT_BEHIND:
                place.unlink()


def _beside(target: Path) -> Path:
    """A name that nobody else uses, in the folder of the final one."""
    return target.parent / f".weldsim-{secrets.token_hex(8)}.part"


def _kind_of(path: Path) -> tuple[str, bool]:
    """What stands at a place: "nothing", "file", "folder" or "device"; and whether nobody may write to it."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return "nothing", False
    kind = "folder" if stat.S_ISDIR(mode) else "file" if stat.S_ISREG(mode) else "device"
    return kind, not mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)


def _put_in_place(beside: Path, target: Path) -> None:
    """Rename over the final name and make the folder remember it."""
    for pause in (*_PATIENCE, None):
        try:
            os.replace(beside, target)
            break
        except PermissionError as problem:
            if pause is None:
                raise cannot_write(target, problem) from problem
            time.sleep(pause)
        except OSError as problem:
            raise cannot_write(target, problem) from problem
    _remember(target.parent)


def _remember(folder: Path) -> None:
    """Hand a folder's list of names to the disk, where the system knows how."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def cannot_write(place: Path, problem: OSError) -> RunFileError:
    """The sentence for a file that could not be written."""
    reason = problem.strerror or str(problem)
    fact, advice = _REASONS.get(problem.errno or 0, (reason, "save elsewhere"))
    return RunFileError(f"cannot be written, {fact}", place=shown(place), advice=advice)


def no_name(path: object, problem: Exception) -> RunFileError:
    """The sentence for something that no file can be called."""
    return RunFileError(f"this is no file name ({problem})", place=shown(str(path)), advice="give a plain file name")


def shown(path: PathText) -> str:
    """A path as it stands in a message: on one line, printable, not endless."""
    text = written_out(str(path).encode("utf-8", "backslashreplace").decode())
    return text if len(text) <= 200 else f"...{text[-190:]}"
