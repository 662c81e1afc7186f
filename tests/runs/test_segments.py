"""Long recordings: blocks of any size become whole segments and then one file, in memory that does not grow."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.runs.samples import LEDGER, TABLE, a_run, waves
from weldsim.errors import RunFileError, SimulationError
from weldsim.runs.files import open_run, save_run
from weldsim.runs.layout import CHUNK
from weldsim.runs.segments import SegmentWriter, join_segments

ROOT = Path(__file__).parents[2]
STEP = 1e-4
h5py = pytest.importorskip("h5py")


def blocks(rows, size):
    """Blocks of the waveforms of the sample run, with a switching at each block's first and last time."""
    for first in range(0, rows, size):
        time = np.arange(first, min(first + size, rows)) * STEP
        events = [(float(time[0]), "triac", "off", f"on {first % 3}"), (float(time[-1]), "triac", "on", "off")]
        yield time, waves(time), events


def child(code, place):
    """Run Python code in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", code, str(place)], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False
    )


def heading():
    """What will be recorded."""
    return a_run(0, events=[], ledger={}, table={})


def record(place, rows, size, *, segment=CHUNK):
    """A finished recording."""
    with SegmentWriter(place, heading(), rows=segment) as writer:
        for time, signals, events in blocks(rows, size):
            writer.add(time, signals, events)
        return writer.finish(ledger=LEDGER, table=TABLE, window=(0.5, 1.0))


@pytest.mark.parametrize(
    ("rows", "size"),
    [
        (1, 1),
        (CHUNK, CHUNK),
        (3 * CHUNK, 1000),
        (3 * CHUNK + 1, 2 * CHUNK + 5),
        (2 * CHUNK - 1, 50_000),
        (CHUNK + 7, 4099),
    ],
)
def test_streamed_is_the_same_as_saved_at_once(tmp_path, rows, size):
    """A recording in blocks of any size gives the file that saving the whole at once gives, sample for sample."""
    streamed = open_run(record(tmp_path / "streamed.h5", rows, size))
    time = np.arange(rows) * STEP
    events = [event for _, _, some in blocks(rows, size) for event in some]
    at_once = open_run(save_run(a_run(rows, step=STEP, events=events), tmp_path / "at once.h5"))

    np.testing.assert_array_equal(streamed.time, time)
    for name in at_once:
        np.testing.assert_array_equal(streamed[name], at_once[name])
    assert streamed.events == at_once.events == events
    assert streamed.ledger == LEDGER
    assert streamed.figure("output.current.mean") == 127.650056
    assert streamed.window == (0.5, 1.0)
    assert streamed.scenario == at_once.scenario
    assert streamed.provenance["command"] == at_once.provenance["command"]
    assert "segment" not in streamed.provenance
    assert sorted(place.name for place in tmp_path.iterdir()) == ["at once.h5", "streamed.h5"]


def test_segments_of_a_recording_under_way_open(tmp_path):
    """While a recording goes on, its finished segments open one by one and together, with their switchings."""
    writer = SegmentWriter(tmp_path / "run.h5", heading(), rows=CHUNK)
    for time, signals, events in blocks(3 * CHUNK + 100, 1000):
        writer.add(time, signals, events)

    assert sorted(place.name for place in writer.folder.iterdir()) == ["0001.h5", "0002.h5", "0003.h5"]
    second = open_run(writer.folder / "0002.h5")
    np.testing.assert_array_equal(second.time, np.arange(CHUNK, 2 * CHUNK) * STEP)
    assert all(second.time[0] <= event[0] <= second.time[-1] for event in second.events)
    whole = open_run(writer.folder)
    np.testing.assert_array_equal(whole.time, np.arange(3 * CHUNK) * STEP)
    assert len(whole.events) == 99  # of rows 0, 1000 ... 49000 and 999, 1999 ... 48999, below 3 * 16384 = 49152
    assert whole.window == (0.0, whole.time[-1])
    assert not (tmp_path / "run.h5").exists()


@pytest.mark.parametrize("problem", [KeyboardInterrupt(), SimulationError("no consistent mode")])
def test_recorded_part_is_kept(tmp_path, problem):
    """A run that breaks off leaves what was recorded in its folder, the old file as it was, and its own error."""
    old = save_run(a_run(10), tmp_path / "run.h5")

    def break_off():
        with SegmentWriter(old, heading(), rows=CHUNK) as writer:
            for time, signals, events in blocks(CHUNK + 500, 700):
                writer.add(time, signals, events)
            raise problem

    with pytest.raises(type(problem)):
        break_off()
    assert len(open_run(tmp_path / "run.h5.segments").time) == CHUNK + 500
    assert len(open_run(old).time) == 10


def test_next_recording_sets_an_older_folder_aside(tmp_path):
    """Segments of a recording that broke off outlive the start of the next one and go when that one is finished."""
    place = tmp_path / "run.h5"
    for _ in range(2):  # broken off twice: the newer one is kept
        with SegmentWriter(place, heading(), rows=CHUNK) as writer:
            writer.add(*next(blocks(500, 500)))
    with SegmentWriter(place, heading(), rows=CHUNK) as writer:
        assert len(open_run(tmp_path / "run.h5.segments.old").time) == 500
        writer.add(*next(blocks(300, 300)))
        writer.finish(ledger={}, table={}, window=(0.0, 1.0))

    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]
    assert len(open_run(place).time) == 300


def test_foreign_files_in_the_folder_survive(tmp_path):
    """Clearing up removes segments only; what somebody else put beside them stays."""
    folder = tmp_path / "run.h5.segments"
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")

    record(tmp_path / "run.h5", 100, 100)

    assert [item.name for item in folder.iterdir()] == ["notes.txt"]


def test_nothing_recorded_leaves_an_empty_run(tmp_path):
    """A recording without a single row is still a file that opens; one that is given up leaves nothing."""
    assert len(open_run(record(tmp_path / "run.h5", 0, 1)).time) == 0
    with SegmentWriter(tmp_path / "none.h5", heading()):
        pass
    assert [item.name for item in tmp_path.iterdir()] == ["run.h5"]


def test_interrupted_recording_can_be_joined_later(tmp_path):
    """The folder of a recording that broke off becomes one file on request, and the segments stay."""
    with SegmentWriter(tmp_path / "run.h5", heading(), rows=CHUNK) as writer:
        for time, signals, events in blocks(CHUNK + 500, 700):
            writer.add(time, signals, events)
    joined = join_segments(writer.folder, tmp_path / "rescued.h5", ledger={}, table={}, window=(0.0, 1.0))

    np.testing.assert_array_equal(open_run(joined).time, np.arange(CHUNK + 500) * STEP)
    assert writer.folder.is_dir()


def test_gaps_and_mixtures_are_not_joined(tmp_path):
    """A missing segment and a segment of another recording are told, never papered over."""
    folders = []
    for name in ("one.h5", "two.h5"):
        with SegmentWriter(tmp_path / name, heading(), rows=CHUNK) as writer:
            for time, signals, events in blocks(3 * CHUNK, CHUNK):
                writer.add(time, signals, events)
        folders.append(writer.folder)
    (folders[0] / "0002.h5").unlink()
    for attempt in (
        lambda: open_run(folders[0]),
        lambda: join_segments(folders[0], tmp_path / "x.h5", ledger={}, table={}, window=(0.0, 1.0)),
    ):
        with pytest.raises(RunFileError, match="segment 2 is missing"):
            attempt()
    (folders[1] / "0002.h5").rename(folders[0] / "0002.h5")
    for attempt in (
        lambda: open_run(folders[0]),
        lambda: join_segments(folders[0], tmp_path / "x.h5", ledger={}, table={}, window=(0.0, 1.0)),
    ):
        with pytest.raises(RunFileError, match="different recordings"):
            attempt()
    assert not (tmp_path / "x.h5").exists()


def test_blocks_that_do_not_fit(tmp_path):
    """A block with a signal missing, unannounced or too short is refused, as is a segment that could not be joined."""
    time = np.arange(10) * STEP
    with SegmentWriter(tmp_path / "run.h5", heading()) as writer:
        for signals in ({}, waves(time) | {"more": time}, waves(time[:5])):
            with pytest.raises(RunFileError, match="one value per time for every signal"):
                writer.add(time, signals)
    for rows in (0, -CHUNK, 1000):
        with pytest.raises(RunFileError, match="multiple of 16384"):
            SegmentWriter(tmp_path / "run.h5", heading(), rows=rows)


def test_bad_places_fail_before_the_simulation(tmp_path):
    """A place that cannot be written to is told when the recording starts, not when it ends."""
    for name, words in [(tmp_path, "the name of a folder"), (tmp_path / "none" / "run.h5", "folder does not exist")]:
        with pytest.raises(RunFileError, match=words):
            SegmentWriter(name, heading())


FULL = """
import resource, sys
from tests.runs.test_segments import CHUNK, SegmentWriter, blocks, heading
from weldsim.errors import RunFileError
resource.setrlimit(resource.RLIMIT_FSIZE, (600_000, 600_000))
try:
    with SegmentWriter(sys.argv[1], heading(), rows=CHUNK) as writer:
        for time, signals, events in blocks(8 * CHUNK, 5000):
            writer.add(time, signals, events)
        writer.finish(ledger={}, table={}, window=(0.0, 1.0))
except RunFileError as problem:
    print(problem)
"""


NOTHING = FULL.replace("(600_000, 600_000)", "(1000, 1000)")


def test_no_room_for_the_first_segment(tmp_path):
    """Where not even a segment fits (a limit of 1 kB on the size of files) the sentence comes and no folder is left."""
    pytest.importorskip("resource")
    done = child(NOTHING, tmp_path / "run.h5")
    assert (done.returncode, done.stderr) == (0, "")
    assert "cannot be written" in done.stdout
    assert not list(tmp_path.iterdir())


def test_no_room_for_the_joined_file(tmp_path):
    """Where segments fit and the whole does not, the sentence comes, the segments stay and the old file stays.

    A limit on the size of files stands in for the full disk: a segment has about 150 kB, the whole about 1 MB.
    """
    pytest.importorskip("resource")
    old = save_run(a_run(10), tmp_path / "run.h5")

    done = child(FULL, old)

    assert (done.returncode, done.stderr) == (0, "")
    assert "cannot be written" in done.stdout
    assert len(open_run(old).time) == 10
    assert len(open_run(tmp_path / "run.h5.segments").time) == 8 * CHUNK


MEMORY = """
import resource, sys
from tests.runs.test_segments import CHUNK, record
peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
record(sys.argv[1] + "/short.h5", 8 * CHUNK, 5000)
before = peak()
record(sys.argv[1] + "/long.h5", 80 * CHUNK, 5000)
print(peak() - before)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the unit of the peak memory differs elsewhere")
def test_memory_does_not_grow_with_the_recording(tmp_path):
    """A recording ten times as long needs no more memory, joined file included.

    The longer one holds 24 MB of samples more; 6 MB are allowed for what the allocator and the libraries keep.
    """
    done = child(MEMORY, tmp_path)

    assert float(done.stdout) < 6.0


def test_packed_chunks_are_moved_not_repacked(tmp_path):
    """Whole chunks of the joined file are the very bytes of the segments: packed at level 9, they stay at level 9."""
    with SegmentWriter(tmp_path / "run.h5", heading(), rows=CHUNK) as writer:
        for time, signals, events in blocks(2 * CHUNK, CHUNK):
            writer.add(time, signals, events)
    with h5py.File(writer.folder / "0002.h5", "r+") as second:
        column = second["choke.current"]
        values, attributes = column[()], {key: column.attrs[key] for key in ("units", "long_name")}
        del second["choke.current"]
        column = second.create_dataset("choke.current", data=values, chunks=(CHUNK,), compression=9, shuffle=True)
        column.attrs.update(attributes)
        packed = column.id.read_direct_chunk((0,))
    joined = join_segments(writer.folder, tmp_path / "joined.h5", ledger={}, table={}, window=(0.0, 1.0))

    with h5py.File(joined, "r") as whole:
        assert whole["choke.current"].id.read_direct_chunk((CHUNK,)) == packed
    np.testing.assert_array_equal(open_run(joined)["choke.current"][CHUNK:], values)
