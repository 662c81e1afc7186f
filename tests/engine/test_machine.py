"""What is shipped of the compiler's work: that it is of these sources, fits, and gives what numba gives."""

import io
import lzma
import subprocess
import sys
import tarfile

import numpy as np
import pytest

from tests.engine.test_doors import DOUBLED, compiled_only, leapt
from tests.house.test_house import ROOT
from weldsim.engine import doors, kept, machine
from weldsim.engine.doors import Door

LEAP = "kernel.leap d4 i d1 i d1 d1"
AGAIN = "python -m tests.engine.write_intermediate"


def archive():
    """The texts that are shipped, by their names."""
    with tarfile.open(kept.SHIPPED) as found:
        return {one.name: found.extractfile(one).read().decode() for one in found}


@pytest.fixture
def fresh(tmp_path, monkeypatch):
    """No code kept, and nothing remembered of the archive."""
    monkeypatch.setattr(doors, "cache_folder", lambda: tmp_path)
    monkeypatch.setattr(machine, "_shipped", machine._shipped.__wrapped__)
    return tmp_path


def test_it_is_of_these_sources():
    """Whoever changes a kernel writes the archive anew."""
    assert archive()[machine.SOURCES] == kept.source_digest(), f"kernels changed: {AGAIN}"
    assert machine.is_shipped()


def test_names_and_machines():
    """It holds no name of numba's making, which differ from one time to the next, and nothing of a processor."""
    for name, text in archive().items():
        if name.endswith(".ll"):
            assert text.startswith("; returns ")
            assert f"@{machine.BODY}(" in text
            assert "_ZN" not in text
            assert "target-cpu" not in text
            assert "llvm.x86" not in text


@compiled_only
def test_it_is_used_without_the_compiler(fresh, monkeypatch):
    """The source is not even looked at."""
    monkeypatch.setattr(Door, "_function", None)
    assert leapt(Door("kernel", "leap")) == DOUBLED


def torn(content):
    """A part of it."""
    return content[: len(content) // 2]


def flipped(content):
    """One bit of it, in the middle."""
    middle = len(content) // 2
    return content[:middle] + bytes([content[middle] ^ 1]) + content[middle + 1 :]


def changed(content, **changes):
    """An archive with some members changed."""
    with tarfile.open(fileobj=io.BytesIO(content)) as found:
        members = {one.name: found.extractfile(one).read() for one in found}
    return packed(members | changes)


def other_sources(content):
    """An archive like this of other sources."""
    return changed(content, **{machine.SOURCES: b"0" * 64})


def later_compiler(content):
    """An archive like this for a later LLVM."""
    return changed(content, **{machine.LEAST: b"999"})


def not_understood(_):
    """A function in words that this LLVM does not know."""
    text = b"; returns none\ndefine void @weldsim_body() unheardof { ret void }"
    return packed({machine.SOURCES: kept.source_digest().encode(), machine.name_of(LEAP): text})


def packed(members):
    """An archive."""
    whole = io.BytesIO()
    with tarfile.open(fileobj=whole, mode="w:xz") as made:
        for name, content in members.items():
            about = tarfile.TarInfo(name)
            about.size = len(content)
            made.addfile(about, io.BytesIO(content))
    return whole.getvalue()


@compiled_only
@pytest.mark.parametrize(
    "change",
    [
        None,
        torn,
        flipped,
        other_sources,
        later_compiler,
        not_understood,
        lambda _: b"",
        lambda _: b"?",
        lambda _: lzma.compress(b"?"),
    ],
)
def test_without_it_numba_compiles(fresh, monkeypatch, change):
    """Where the archive is missing, torn, of other sources or of another LLVM."""
    path = fresh / "archive"
    if change is not None:
        path.write_bytes(change(kept.SHIPPED.read_bytes()))
    monkeypatch.setattr(machine, "SHIPPED", path)
    asked, function = [], Door._function
    monkeypatch.setattr(Door, "_function", lambda door: asked.append(door.name) or function(door))
    assert leapt(Door("kernel", "leap")) == DOUBLED
    assert asked == ["leap"]


@compiled_only
def test_on_a_processor_that_llvm_does_not_know(fresh, monkeypatch):
    """Its abilities cannot be told, as of some that are no PC's: code is made without them, as numba does."""

    def unknown():
        raise RuntimeError

    monkeypatch.setattr(machine.llvm, "get_host_cpu_features", unknown)
    monkeypatch.setattr(doors, "_processor", doors._processor.__wrapped__)
    assert doors.abilities() == ""
    assert leapt(Door("kernel", "leap")) == DOUBLED


@compiled_only
def test_on_a_machine_of_other_words_numba_compiles(fresh, monkeypatch):
    """Its addresses and numbers are others."""
    monkeypatch.setattr(machine.sys, "byteorder", "big")
    assert machine.shipped(LEAP) is None
    assert leapt(Door("kernel", "leap")) == DOUBLED


@compiled_only
def test_it_gives_what_numba_gives(fresh, monkeypatch):
    """The rungs of a ladder to the last digits: the same operations, in an order that may differ with the version."""
    matrix = np.random.default_rng(5).normal(size=(12, 12))
    found = []
    for shipped in (machine.shipped, lambda _: None):
        monkeypatch.setattr(machine, "shipped", shipped)
        rungs = np.zeros((8, 12, 12))
        small = np.zeros((12, 16))
        small[:, :12] = matrix * 1e-3
        room = np.zeros((12, 16)), np.zeros((12, 16)), np.zeros((2, 12, 8))
        Door("kernel", "climb")(small, 1e-3, 0, 12, 0, np.zeros(0), *room, rungs)
        found.append(rungs)
        for file in fresh.iterdir():
            file.unlink()
    np.testing.assert_allclose(found[0], found[1], rtol=1e-12, atol=1e-12 * np.abs(found[1]).max())


@compiled_only
@pytest.mark.slow
def test_written_again_it_is_the_same(tmp_path):
    """By the versions and on the processor that it was written with, to the byte; by others, for the same functions."""
    path = tmp_path / "again.tar.xz"
    command = [sys.executable, "-m", "tests.engine.write_intermediate", str(path)]
    subprocess.run(command, check=True, cwd=ROOT, capture_output=True)
    before, path_before = archive(), kept.SHIPPED
    with tarfile.open(path) as found:
        again = {one.name: found.extractfile(one).read().decode() for one in found}
    assert list(again) == list(before)
    if again[machine.VERSIONS] == before[machine.VERSIONS]:
        assert path.read_bytes() == path_before.read_bytes()
