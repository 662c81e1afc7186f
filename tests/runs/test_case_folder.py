"""The folder of a sweep: finished cases survive, torn and foreign ones do not count, other plans are noticed."""

import json
import os

import pytest

from weldsim.errors import RunFileError
from weldsim.runs.case_folder import PLAN, CaseFolder

PLANNED = {"weldsim": "1", "study": "preview", "over": {"dial": [0.1, 0.2]}, "options": {}, "scenario": "a"}

ANSWER = {"numbers": {}, "verdicts": []}


def test_what_was_kept_is_there_again(tmp_path):
    """A case is found by a second look at the folder, with its run; others are not there."""
    CaseFolder(tmp_path / "new", PLANNED, resume=False).keep(2, {"answer": ANSWER}, b"run")
    again = CaseFolder(tmp_path / "new", PLANNED, resume=True)
    assert again.finished(2)["answer"] == ANSWER
    assert again.finished(1) is None
    assert (tmp_path / "new" / "case-0002.h5").read_bytes() == b"run"
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["case-0002.h5", "case-0002.json", PLAN]


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"case": 1}', '{"sweep": "other", "case": 1, "answer": {}}', "\x00"])
def test_torn_and_foreign_cases_do_not_count(tmp_path, text):
    """Whatever lies under a case's name and is not a whole case of this sweep is computed again."""
    folder = CaseFolder(tmp_path, PLANNED, resume=False)
    (tmp_path / "case-0001.json").write_text(text, encoding="utf-8")
    assert folder.finished(1) is None


@pytest.mark.parametrize("answer", [5, [], {}, {"numbers": [], "verdicts": []}, {"numbers": {}, "verdicts": None}])
def test_what_is_no_answer_does_not_count(tmp_path, answer):
    """A case of this sweep in which something else stands for its answer is computed again."""
    folder = CaseFolder(tmp_path, PLANNED, resume=False)
    folder.keep(1, {"answer": answer})
    assert folder.finished(1) is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a system with named pipes")
def test_nobody_waits_for_a_pipe(tmp_path):
    """A pipe under the name of a case does not count, one under that of the plan is refused."""
    folder = CaseFolder(tmp_path, PLANNED, resume=False)
    os.mkfifo(tmp_path / "case-0001.json")
    assert folder.finished(1) is None
    (tmp_path / PLAN).unlink()
    os.mkfifo(tmp_path / PLAN)
    with pytest.raises(RunFileError, match="not an ordinary file"):
        CaseFolder(tmp_path, PLANNED, resume=True)


def test_a_case_under_another_number_does_not_count(tmp_path):
    """A file that was renamed is not taken for another case."""
    folder = CaseFolder(tmp_path, PLANNED, resume=False)
    folder.keep(1, {"answer": ANSWER})
    (tmp_path / "case-0001.json").rename(tmp_path / "case-0002.json")
    assert folder.finished(2) is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"weldsim": "2"}, "the version of weldsim differs"),
        ({"scenario": "b"}, "the scenario differs"),
        ({"over": {"dial": [0.1, 0.3]}}, "what is varied differs"),
        ({"study": "inrush", "options": {"presses": 3}}, "the study, an option of the study differ"),
    ],
)
def test_other_plans_are_noticed(tmp_path, change, words):
    """Going on with another scenario, version, axis or study is refused and says which."""
    CaseFolder(tmp_path, PLANNED, resume=False)
    with pytest.raises(RunFileError, match=words):
        CaseFolder(tmp_path, PLANNED | change, resume=True)


def test_a_folder_is_not_taken_over(tmp_path):
    """Without resume a folder with a sweep in it is left alone; one with another file named like a plan too."""
    CaseFolder(tmp_path, PLANNED, resume=False)
    with pytest.raises(RunFileError, match="--resume"):
        CaseFolder(tmp_path, PLANNED, resume=False)
    (tmp_path / PLAN).write_text(json.dumps(["something else"]), encoding="utf-8")
    with pytest.raises(RunFileError, match="not the plan of a sweep"):
        CaseFolder(tmp_path, PLANNED, resume=True)


def test_no_folder_can_be_made_below_a_file(tmp_path):
    """A place that cannot be a folder is told in a sentence."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(RunFileError, match="cannot be"):
        CaseFolder(tmp_path / "file" / "folder", PLANNED, resume=False)


def test_a_plan_that_finds_no_room_leaves_no_folder(tmp_path, monkeypatch):
    """A full disk, made by hand: what was made for the sweep is gone, what was there before stays."""

    def full(path):
        raise RunFileError("cannot be written, the disk is full")

    monkeypatch.setattr("weldsim.runs.case_folder.written_beside", full)
    (tmp_path / "mine").mkdir()
    for name in ("new", "mine"):
        with pytest.raises(RunFileError, match="the disk is full"):
            CaseFolder(tmp_path / name, {"study": "preview"}, resume=False)
    assert [place.name for place in tmp_path.iterdir()] == ["mine"]
