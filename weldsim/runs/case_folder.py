"""The folder of a sweep: what is swept, and one file for every case that is finished, written whole or not at all.

    sweep.json          scenario, keys and values, study and its options, version
    case-0001.json      the answer of the first case, or why there is none
    case-0001.h5        its run, where the study records one

Nothing in it is ever executed; a case file that is torn, foreign or of another sweep counts as not there.
"""

import contextlib
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from weldsim.errors import RunFileError
from weldsim.runs.replacing import clear_left_over, written_beside

PLAN = "sweep.json"
FORMAT = 1
_SPOKEN = {
    "weldsim": "the version of weldsim",
    "scenario": "the scenario",
    "over": "what is varied",
    "study": "the study",
    "options": "an option of the study",
}


def text_of(path: Path) -> str:
    """What stands in an ordinary file; what is none, such as a pipe that nobody writes to, is not waited for."""
    if path.exists() and not path.is_file():
        raise OSError("this is not an ordinary file")
    return path.read_text(encoding="utf-8")


def _is_answer(kept: object) -> bool:
    """Whether it has what a sweep reads of an answer."""
    return isinstance(kept, dict) and isinstance(kept.get("numbers"), dict) and isinstance(kept.get("verdicts"), list)


def _refused(place: Path, fact: str, advice: str = "name another --folder") -> RunFileError:
    return RunFileError(fact, place=str(place), advice=advice)


class CaseFolder:
    """A folder that belongs to one plan; a plan is plain data as JSON knows it."""

    def __init__(self, place: Path, plan: Mapping[str, Any], *, resume: bool) -> None:
        self.place = place
        self.plan = json.loads(json.dumps({"format": FORMAT, **plan}))
        self.digest = hashlib.sha256(json.dumps(self.plan, sort_keys=True).encode()).hexdigest()[:16]
        before = self._plan_there()
        if before is None:
            self._begin()
        elif not resume:
            raise _refused(place, "there is a sweep already", "go on with --resume, or name another --folder")
        elif before != self.plan:
            raise _refused(place, f"it was made with other values: {self._changed(before)}")
        else:
            clear_left_over(place)

    def finished(self, number: int) -> dict[str, Any] | None:
        """What is kept of a case, if it is whole and belongs to this plan."""
        try:
            kept = json.loads(text_of(self._file(number, "json")))
        except (OSError, ValueError, RecursionError):
            return None
        whole = isinstance(kept, dict) and kept.get("sweep") == self.digest and kept.get("case") == number
        return kept if whole and ("error" in kept or _is_answer(kept.get("answer"))) else None

    def keep(self, number: int, found: Mapping[str, Any], run: bytes | None = None) -> None:
        """Write a finished case: its run first, so that a case that counts as finished has all its files."""
        if run is not None:
            with written_beside(self._file(number, "h5")) as stream:
                stream.write(memoryview(run))
        self._write(self._file(number, "json"), {"sweep": self.digest, "case": number, **found})

    def _file(self, number: int, ending: str) -> Path:
        return self.place / f"case-{number:04d}.{ending}"

    def _plan_there(self) -> dict[str, Any] | None:
        """The plan that lies in the folder; None where there is no folder, or nothing of ours in it."""
        path = self.place / PLAN
        try:
            text = text_of(path)
        except FileNotFoundError:
            return None
        except (OSError, ValueError) as trouble:
            raise _refused(path, f"cannot be read: {trouble}") from None
        try:
            plan = json.loads(text)
        except (ValueError, RecursionError):
            plan = None
        if not isinstance(plan, dict) or plan.get("format") != FORMAT:
            raise _refused(path, "is not the plan of a sweep")
        return plan

    def _begin(self) -> None:
        """Make the folder and lay the plan into it; neither stays without the other."""
        there = self.place.exists()
        try:
            self.place.mkdir(parents=True, exist_ok=True)
        except OSError as trouble:
            reason = trouble.strerror or str(trouble)
            raise _refused(self.place, f"the folder cannot be made: {reason}") from None
        try:
            self._write(self.place / PLAN, self.plan)
        except RunFileError:
            if not there:
                with contextlib.suppress(OSError):
                    self.place.rmdir()
            raise

    @staticmethod
    def _write(path: Path, content: Mapping[str, Any]) -> None:
        with written_beside(path) as stream:
            stream.write(memoryview(json.dumps(content, indent=1).encode()))

    def _changed(self, before: Mapping[str, Any]) -> str:
        """Which parts of two plans differ, in words."""
        different = [words for key, words in _SPOKEN.items() if before.get(key) != self.plan.get(key)]
        return ", ".join(different) + (" differ" if len(different) > 1 else " differs")
