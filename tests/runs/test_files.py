"""Run files: nothing lost between saving and opening, nothing strange believed, everything readable without weldsim."""

import os
import pickle
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.runs.samples import LEDGER, NAMES, PROVENANCE, TABLE, TEXT, a_run
from weldsim.errors import RunFileError, WeldsimError
from weldsim.runs import layout
from weldsim.runs.files import open_run, save_run
from weldsim.runs.run import ScenarioText
from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read_text

h5py = pytest.importorskip("h5py")


@pytest.fixture
def saved(tmp_path):
    """A saved run."""
    return save_run(a_run(), tmp_path / "run.h5")


# --- round trip ----------------------------------------------------------------------------------------------------


def test_nothing_is_lost(saved):
    """Times, events, ledger, table, provenance, window and scenario come back exactly, waveforms as float32."""
    run, again = a_run(), open_run(saved)

    np.testing.assert_array_equal(again.time, run.time)
    for name in NAMES:
        assert again[name].dtype == np.float32
        np.testing.assert_allclose(again[name], run[name], rtol=2**-24)  # half a unit in the last place of float32
    assert list(again) == list(NAMES)
    assert (again.units, again.labels, again.events) == (run.units, run.labels, run.events)
    assert again.ledger == LEDGER
    assert list(again.table) == list(TABLE)
    assert again.table["output.current.mean"] == (127.650056, "A")
    assert again.table["plug.power_factor"] == (1.0 / 3.0, "1")  # float64 to the last bit
    assert np.isnan(again.figure("time.to_arc"))
    assert again.provenance == PROVENANCE
    assert again.window == (0.06, 0.1)


def test_scenario_comes_back(saved):
    """The scenario is read again from the text inside, comments of its writer included."""
    scenario = open_run(saved).scenario

    assert scenario == read_text(TEXT)
    assert scenario.text == TEXT
    assert scenario.source == "my supply.toml"


def test_scenario_made_in_python_is_written_out(tmp_path):
    """A scenario that never was a file is kept as text all the same."""
    made = Scenario(mains=read_text(TEXT).mains, title="made here")

    assert open_run(save_run(a_run(scenario=made), tmp_path / "run.h5")).scenario == made


def test_scenario_that_cannot_be_read_is_kept_as_text(tmp_path):
    """A text that this version does not understand costs the scenario, not the run."""
    old = ScenarioText("an old supply", "[mains]\npressure = '3 bar'\n", "old.toml")

    assert open_run(save_run(a_run(scenario=old), tmp_path / "run.h5")).scenario == old


@pytest.mark.parametrize("rows", [0, 1, 2, 16384, 16385, 50000])
def test_any_length(tmp_path, rows):
    """Empty runs, single samples and lengths on and beside whole chunks come back."""
    run = a_run(rows, events=[])
    again = open_run(save_run(run, tmp_path / "run.h5"))

    np.testing.assert_array_equal(again.time, run.time)
    np.testing.assert_array_equal(again["choke.current"], run["choke.current"].astype(np.float32))
    assert again.events == []


def test_numbers_outside_float32(tmp_path):
    """Samples that float32 cannot hold become infinite or zero, not-a-number stays, and nothing warns."""
    wild = a_run(4, signals={"choke.current": np.array([1e300, -1e300, 1e-300, np.nan])})
    again = open_run(save_run(wild, tmp_path / "run.h5"))

    np.testing.assert_array_equal(again["choke.current"], [np.inf, -np.inf, 0.0, np.nan])


@settings(max_examples=25, deadline=None)
@given(text=st.text(max_size=40), label=st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0")))
def test_any_text(tmp_path_factory, text, label):
    """Any title, label, command or switch name is stored, nulls and broken letters written out."""
    place = tmp_path_factory.mktemp("text") / "run.h5"
    run = a_run(
        3,
        labels={"choke.current": label},
        events=[(0.0, text, "off", text)],
        scenario=ScenarioText(text, "not toml [", text),
        provenance={"command": text},
    )
    again = open_run(save_run(run, place))

    assert again.label("choke.current") == (label or "choke.current")
    expected = text.replace("\0", "\\x00").encode("utf-8", "backslashreplace").decode()
    assert again.events == [(0.0, expected, "off", expected)]
    assert again.provenance["command"] == expected


def test_a_scenario_of_a_megabyte(tmp_path):
    """Long scenario texts fit, though HDF5 keeps ordinary attributes below 64 kB."""
    text = TEXT + "# a very long remark\n" * 50_000

    kept = open_run(save_run(a_run(scenario=ScenarioText("t", text, "s")), tmp_path / "long.h5")).scenario
    assert kept.text == text


def test_part_of_a_file(saved):
    """Some signals and a span of time can be opened alone; table and ledger stay those of the whole."""
    part = open_run(saved, names=["choke.current"], between=(0.02, 0.05))

    assert list(part) == ["choke.current"]
    assert len(part.time) == 301  # 20.0 to 50.0 ms in steps of 0.1 ms, both ends
    assert len(part["choke.current"]) == 301
    assert [event[0] for event in part.events] == [0.02, 0.05]
    assert part.ledger == LEDGER
    assert len(open_run(saved, between=(7.0, 8.0)).time) == 0
    with pytest.raises(WeldsimError, match=r"'choke\.current'"):
        open_run(saved, names=["choke.curent"])


@pytest.mark.parametrize("name", ["", ".", "..", "a/b", "a\0b", "a\nb", " a", "x" * 201, "time", "events"])
def test_names_that_no_reader_would_take(tmp_path, name):
    """Signals whose names would become folders, clash or break a listing are refused, and no file appears."""
    with pytest.raises(RunFileError, match="name"):
        save_run(a_run(3, signals={name: np.zeros(3)}, units={name: "A"}, labels={}), tmp_path / "run.h5")
    assert list(tmp_path.iterdir()) == []


def test_provenance_without_end(tmp_path):
    """Provenance that contains itself could not be read again and is refused; eight levels are kept."""
    endless: dict = {"command": "x"}
    endless["more"] = endless
    with pytest.raises(RunFileError, match="nested more than 8 deep"):
        save_run(a_run(3, provenance=endless), tmp_path / "run.h5")
    deep = {"command": "x"}
    for _ in range(8):
        deep = {"inside": deep}
    assert open_run(save_run(a_run(3, provenance=deep), tmp_path / "run.h5")).provenance == deep


# --- open elsewhere ------------------------------------------------------------------------------------------------


def test_listed_by_plain_hdf5(saved):
    """Plain h5py finds signals in order, with units, names and dimension scales, and the rest in plain groups."""
    with h5py.File(saved, "r") as file:
        assert list(file) == ["time", *NAMES, "provenance", "events", "ledger", "table"]
        current = file["choke.current"]
        assert (current.attrs["units"], current.attrs["long_name"]) == ("A", "choke current")
        assert current.dims[0][0] == file["time"]
        assert (current.dtype, file["time"].dtype) == (np.float32, np.float64)
        assert (current.compression, current.compression_opts, current.shuffle) == ("gzip", 1, True)
        assert file.attrs["title"] == "A made-up supply"
        assert file.attrs["source"] == "weldsim 0.1.0"
        assert file.attrs["Conventions"].startswith("CF-")
        assert file.attrs["scenario"] == TEXT
        assert file.attrs["weldsim_run_format"] == 1
        assert file["table/output.current.mean"][()] == 127.650056
        assert file["table/output.current.mean"].dtype == np.float64
        assert file["ledger/choke/loss"].attrs["units"] == "J"
        element = file["events/element"]
        assert [element.attrs["names"][number] for number in element] == ["triac", "triac", "diode 1"]
        assert file["provenance/versions"].attrs["numpy"] == "2.4.6"


def test_chunks_are_whole(tmp_path):
    """Long columns are cut into chunks of 16384, short ones into one chunk of their length."""
    with h5py.File(save_run(a_run(40_000), tmp_path / "long.h5"), "r") as file:
        assert file["time"].chunks == file["choke.current"].chunks == (16384,)
    with h5py.File(save_run(a_run(100), tmp_path / "short.h5"), "r") as file:
        assert file["choke.current"].chunks == (100,)


def test_no_group_has_more_than_eight_attributes(tmp_path):
    """Older HDF5 libraries refuse a ninth attribute where the order of creation is kept."""
    counts = []
    with h5py.File(save_run(a_run(), tmp_path / "run.h5"), "r") as file:
        counts.append(len(file.attrs))
        file.visititems(lambda name, item: counts.append(len(item.attrs)))
    assert max(counts) <= 8


def test_opens_in_xarray(saved):
    """xarray opens the file unchanged, with time as a float coordinate in seconds and units on every signal."""
    xarray = pytest.importorskip("xarray")
    pytest.importorskip("h5netcdf")
    with xarray.open_dataset(saved, engine="h5netcdf") as data:
        assert list(data.data_vars) == list(NAMES)
        assert data["choke.current"].dims == ("time",)
        assert data["choke.current"].attrs["units"] == "A"
        assert data["time"].dtype == np.float64
        assert float(data["choke.current"].sel(time=0.0)) == 170.0


def test_opens_as_a_tree_in_xarray(saved):
    """xarray opens all groups as one tree: the switch log with its own times, table and ledger with units."""
    xarray = pytest.importorskip("xarray")
    pytest.importorskip("h5netcdf")
    if not hasattr(xarray, "open_datatree"):
        pytest.skip("this xarray is older than its trees")
    with xarray.open_datatree(saved, engine="h5netcdf") as tree:
        assert float(tree["table"]["output.current.mean"]) == 127.650056
        assert tree["table"]["output.current.mean"].attrs["units"] == "A"
        assert float(tree["ledger/choke"]["loss"]) == 0.1 + 0.2
        assert tree["events"]["event_time"].values.tolist() == [0.01, 0.02, 0.05]
        assert tree["provenance/versions"].attrs["weldsim"] == "0.1.0"


# --- formats -------------------------------------------------------------------------------------------------------


def test_a_file_of_format_1_stays_readable():
    """A file written by the first version opens for ever; its content is known by hand.

    It was made with ``a_run(5, first=0.5)`` of tests/runs/samples.py, its current replaced by 100, 110 ... 140 A.
    """
    run = open_run(Path(__file__).with_name("format_1.h5"))

    np.testing.assert_allclose(run.time, [0.5, 0.5001, 0.5002, 0.5003, 0.5004], rtol=1e-15)  # one product each
    assert run["choke.current"].tolist() == [100.0, 110.0, 120.0, 130.0, 140.0]
    assert run.events[0] == (0.01, "triac", "off", "on forward")
    assert run.figure("output.current.mean") == 127.650056
    assert run.ledger["mains"] == {"source": 1234.5}
    assert run.scenario.text == TEXT


@pytest.mark.parametrize(
    ("number", "words"),
    [(7, "format 7; this version reads up to 1; use a newer weldsim"), (0, "format 0.*use the weldsim that wrote it")],
)
def test_other_formats_are_named(saved, number, words):
    """A run of a format that this version does not know is refused with both numbers."""
    with h5py.File(saved, "r+") as file:
        file.attrs[layout.FORMAT_KEY] = number

    with pytest.raises(RunFileError, match=words):
        open_run(saved)


# --- what is not a run ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("none.h5", "there is no such file"),
        ("none/run.h5", "there is no such file"),
        ("a\0b", "no file name"),
        (7j, "no file name"),
        (".", "no finished segment"),
        ("x" * 5000, "cannot be read"),
        (os.devnull, "not an ordinary file"),
    ],
)
def test_missing_and_impossible_names(tmp_path, monkeypatch, name, words):
    """Names that lead nowhere, to nothing openable or cannot be names get one sentence each."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(RunFileError, match=words) as caught:
        open_run(name)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"hello",
        b"\x89HDF\r\n\x1a\n",
        b"\x89HDF\r\n\x1a\n" + bytes(500),
        bytes(5000),
        b"PK\x03\x04" + bytes(100),
        pickle.dumps({"a": 1}),
        TEXT.encode(),
    ],
)
def test_foreign_content(tmp_path, content):
    """Empty files, texts, archives and pickles are refused before any library looks at them."""
    place = tmp_path / "run.h5"
    place.write_bytes(content)

    with pytest.raises(RunFileError, match="not a whole run file"):
        open_run(place)


def test_foreign_hdf5(tmp_path):
    """An HDF5 file of another program is told from a damaged run."""
    place = tmp_path / "other.h5"
    with h5py.File(place, "w") as file:
        file["data"] = np.arange(5)

    with pytest.raises(RunFileError, match="not a weldsim run"):
        open_run(place)


def test_damage_anywhere_is_found(saved):
    """Torn ends, zeroed stretches and changed bytes never open as a run and never raise anything but RunFileError."""
    whole = saved.read_bytes()
    chance = np.random.default_rng(1)
    for case in range(150):
        torn = bytearray(whole)
        start, length = int(chance.integers(len(whole))), int(chance.integers(1, 4000))
        if case % 3 == 0:
            torn = torn[:start]
        elif case % 3 == 1:
            torn[start : start + length] = bytes(len(torn[start : start + length]))
        else:
            torn[start] ^= 1 << int(chance.integers(8))
        if bytes(torn) == whole:
            continue
        saved.write_bytes(torn)
        with pytest.raises(RunFileError):
            open_run(saved)


def edited(place, edit):
    """The file after an edit with plain h5py, which takes the seal off."""
    with h5py.File(place, "r+") as file:
        edit(file)
    return place


def instead(**data):
    """An edit that puts another dataset in the place of the current, described like it."""

    def edit(file):
        del file["choke.current"]
        column = file.create_dataset("choke.current", **data)
        column.attrs["units"], column.attrs["long_name"] = "A", "choke current"

    return edit


def link(make):
    """An edit that puts a link in the place of the current."""

    def edit(file):
        del file["choke.current"]
        file["choke.current"] = make(file.filename)

    return edit


def beside(name):
    """A sound run beside a file, to be linked to."""
    return str(save_run(a_run(), Path(name).with_name("other.h5")))


def many_ways_down(file):
    """Groups of provenance, each the next one under twenty names: 20 to the seventh ways from the first to the last."""
    groups = [file["provenance"].create_group("way")]
    for _ in range(7):
        groups.append(groups[-1].create_group("0"))
        for name in range(1, 20):
            groups[-2][str(name)] = groups[-1]


def one_column_many_times(file):
    """Zeros, which pack to a thousandth, under so many names that the file would fill memory some times over."""
    rows = 2**23
    for name in [name for name in file if name not in layout.GROUPS]:
        del file[name]
    for name in ("time", "zeros"):
        column = file.create_dataset(name, data=np.zeros(rows), chunks=(2**18,), compression=9)
        column.attrs["units"], column.attrs["long_name"] = "A", "zeros"
    for number in range(20):
        file[f"zeros_{number}"] = file["zeros"]


def a_window(*moments):
    """An edit of the window."""
    return lambda file: file.attrs.__setitem__("window", np.array(moments))


EDITS = {
    "no time": (lambda file: file.__delitem__("time"), "'time'"),
    "no table": (lambda file: file.__delitem__("table"), "'table' is not a plain group"),
    "no scenario": (lambda file: file.attrs.__delitem__("scenario"), "scenario"),
    "no units": (lambda file: file["choke.current"].attrs.__delitem__("units"), "units"),
    "format is text": (lambda file: file.attrs.__setitem__(layout.FORMAT_KEY, "one"), "invalid literal"),
    "scenario is a number": (lambda file: file.attrs.__setitem__("scenario", 5), "text was expected"),
    "another length": (instead(data=np.zeros(7)), "columns differ in length"),
    "two dimensions": (instead(data=np.zeros((7, 7))), "not a plain column of numbers"),
    "text for numbers": (instead(data=["a", "b"]), "not a plain column of numbers"),
    "a pickle": (instead(data=np.void(pickle.dumps([1]))), "not a plain column of numbers"),
    "a link to another file": (link(lambda name: h5py.ExternalLink(beside(name), "/choke.current")), "not a plain"),
    "a link within the file": (link(lambda name: h5py.SoftLink("/output.voltage")), "not a plain"),
    "data in another file": (instead(shape=(1001,), dtype="f4", external=[("/etc/passwd", 0, 4004)]), "or placed"),
    "an exotic packing": (instead(data=np.zeros(1001, "f4"), compression="lzf"), "packed or placed"),
    "a group in itself": (lambda file: file["provenance"].__setitem__("loop", file["provenance"]), "nested without"),
    "twenty ways to each group": (many_ways_down, "nested without"),
    "one column many times": (one_column_many_times, "hold more than the file can"),
    "a window of no numbers": (a_window(np.nan, np.nan), "no span of time"),
    "a window without end": (a_window(0.0, np.inf), "no span of time"),
    "a window running backward": (a_window(2.0, 1.0), "no span of time"),
    "times far apart": (lambda file: file["time"].__setitem__(slice(0, 2), [-1.7e308, 1.7e308]), "not run forward"),
    "time running backward": (lambda file: file["time"].__setitem__(5, -1.0), "times do not run forward"),
    "time not a number": (lambda file: file["time"].__setitem__(5, np.nan), "times do not run forward"),
    "a switch without name": (lambda file: file["events/to"].__setitem__(0, 99), "index out of range"),
}


@pytest.mark.parametrize(("edit", "words"), EDITS.values(), ids=EDITS)
def test_strange_content_is_not_believed(saved, edit, words):
    """Content that weldsim does not write is refused with one sentence; no other file is followed."""
    with pytest.raises(RunFileError, match=words) as caught:
        open_run(edited(saved, edit))
    assert str(saved) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_column_that_claims_the_whole_memory(saved):
    """A file of a few kilobytes that claims a terabyte of samples is refused before memory is asked for."""

    def edit(file):
        del file["time"], file["choke.current"]
        for name in ("time", "choke.current"):
            file.create_dataset(name, shape=(2**37,), dtype="f4", chunks=(16384,), compression=1)

    with pytest.raises(RunFileError, match="claims more rows"):
        open_run(edited(saved, edit))


def zeros(file, name, rows, dtype="f4", chunk=2**16):
    """A column of zeros, which pack to a thousandth, written without ever being in memory."""
    described = dict(file[name].attrs) if name in file else {}
    if name in file:
        del file[name]
    column = file.create_dataset(name, shape=(rows,), dtype=dtype, chunks=(chunk,), compression=9)
    packed = zlib.compress(bytes(chunk * column.dtype.itemsize), 9)
    for row in range(0, rows, chunk):
        column.id.write_direct_chunk((row,), packed)
    for key, value in described.items():
        if key not in ("DIMENSION_LIST", "REFERENCE_LIST", "CLASS", "NAME"):
            column.attrs[key] = value


def a_gigabyte_of_samples(file):
    """The current and its times as zeros: little more than a megabyte on the disk."""
    for name in [name for name in file if name not in (*layout.GROUPS, "time", "choke.current")]:
        del file[name]
    for name in ("time", "choke.current"):
        zeros(file, name, 2**27)


def a_gigabyte_of_switchings(file):
    """Likewise the switch log, of which Python would make ten."""
    for name in ("event_time", *layout.COLUMNS):
        zeros(file["events"], name, 2**26, "f8" if name == "event_time" else "i4")


@pytest.mark.parametrize("edit", [a_gigabyte_of_samples, a_gigabyte_of_switchings])
def test_zeros_that_would_fill_the_memory(saved, edit):
    """Zeros packed to a thousandth are refused by what they would unpack to, before memory is asked for."""
    edited(saved, edit)
    assert saved.stat().st_size < 3e6
    tracemalloc.start()
    try:
        with pytest.raises(RunFileError, match=r"would unpack from .* MB; beyond .* at most 100 times") as caught:
            open_run(saved)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert most < 50e6
    assert "\n" not in str(caught.value)


def test_a_part_of_a_swollen_file_opens(saved):
    """What is asked for counts, not the whole: a span of it is read."""
    edited(saved, a_gigabyte_of_samples)
    with h5py.File(saved, "r+") as file:
        file["time"][-1000:] = np.linspace(1.0, 2.0, 1000)
    run = open_run(saved, between=(1.0, 2.0))
    assert len(run.time) == 1000


def test_a_piece_that_is_the_whole_column(saved):
    """One value of a packed piece unpacks all of it: pieces without bound are refused, whatever is asked for."""

    def edit(file):
        a_gigabyte_of_samples(file)
        zeros(file, "time", 2**24, chunk=2**24)

    with pytest.raises(RunFileError, match="packed in pieces of 16777216 rows"):
        open_run(edited(saved, edit), between=(0.0, 0.0))


def test_a_file_edited_by_others_still_opens(saved):
    """A note that someone adds with an HDF5 program takes the seal off but not the run away."""
    edited(saved, lambda file: file.attrs.__setitem__("note", "the good one"))

    assert open_run(saved).figure("output.current.mean") == 127.650056
