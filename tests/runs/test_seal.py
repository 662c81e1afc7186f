"""The seal of a run file can be checked without weldsim, and says what is wrong."""

import hashlib

import pytest

from tests.runs.samples import a_run
from weldsim.runs.files import save_run
from weldsim.runs.seal import broken_seal

h5py = pytest.importorskip("h5py")


def test_seal_is_the_checksum_of_the_rest(tmp_path):
    """The last 32 bytes are the SHA-256 of everything up to 40 bytes before the end, as hashlib finds it."""
    data = save_run(a_run(), tmp_path / "run.h5").read_bytes()

    assert data[-32:] == hashlib.sha256(data[:-40]).digest()
    assert broken_seal(tmp_path / "run.h5") == ""


def test_what_is_wrong_is_said(tmp_path):
    """Missing bytes are counted, changed ones are told from them, and a file of HDF5 alone has no seal to break."""
    place = save_run(a_run(), tmp_path / "run.h5")
    data = place.read_bytes()
    place.write_bytes(data[:-100])
    assert broken_seal(place) == "60 bytes are missing at its end"  # 100 less the seal of 40
    place.write_bytes(data[:-1])
    assert broken_seal(place) == "its checksum does not fit"
    place.write_bytes(data[:-40])
    assert broken_seal(place) == ""


@pytest.mark.parametrize("version", ["earliest", "v108", "v110", "v112"])
def test_every_head_of_hdf5_is_understood(tmp_path, version):
    """The length that a file states of itself is found in each version of the HDF5 head."""
    place = tmp_path / "other.h5"
    with h5py.File(place, "w", libver=version) as file:
        file["a"] = range(1000)

    assert broken_seal(place) == ""
    place.write_bytes(place.read_bytes()[:-5])
    assert broken_seal(place) == "5 bytes are missing at its end"
