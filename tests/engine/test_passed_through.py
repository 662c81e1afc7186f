"""Modes that are only passed through, from one to the next in no time, are never completed."""

import dataclasses

import numba
import numpy as np
import pytest

import weldsim
from weldsim.engine import layout
from weldsim.engine.library import ModeLibrary
from weldsim.runs.supply import Supply

LARGE = [] if bool(numba.config.DISABLE_JIT) else ["toroid_shed_boost"]  # uncompiled it takes minutes


@pytest.fixture(scope="module", params=["toroid_shed", *LARGE, "garage_60hz"])
def run(request):
    """A supply and the trace of its first three periods, from rest."""
    supply = Supply(weldsim.read(request.param))
    going = supply.from_rest(0.06, delay=60.0)
    going.run_to(0.06)
    return supply.library, going.trace()


def read_out(trace):
    """All that a trace tells, as numbers."""
    names = ["primary.current", "output.voltage", "core.flux_linkage"]
    member = np.arange(len(trace.time)) // 10
    integrals = trace.integrals(0.005, 0.055)
    return [
        trace.sample(names, 0.0, spacing=1e-4, count=500),
        *trace.extremes(names),
        trace.steepest("primary.current"),
        *trace.groups("primary.current", member),
        trace.mean_squares(["primary.current"], 0.0, width=1e-3, count=50),
        trace.fourier(names, [1, 3, 5.5], begin=0.02, end=0.06),
        [integrals.mean(name) for name in names],
        [integrals.rms(name) for name in names],
    ]


def test_what_lasts_is_complete_and_the_rest_is_not(run):
    """Diodes of a bridge and elements of the core's friction change one by one at an instant."""
    library, trace = run
    ready = library.tables.about[library.tables.about[: len(library.signatures), layout.TWIN], layout.READY]
    lasting = np.append(trace.time[1:], trace.end) > trace.time
    assert ready[trace.mode[lasting]].all()
    assert library.completed < len(library.signatures)
    assert not ready.all()


def test_what_is_read_out_does_not_depend_on_it(run):
    """Completed afterwards, the modes that were passed through tell the same to the last bit."""
    library, trace = run
    before = read_out(trace)
    for mode in range(len(library.signatures)):
        library.complete(mode)
    for one, other in zip(before, read_out(trace), strict=True):
        np.testing.assert_array_equal(one, other)


def test_the_first_of_its_kin_tells_what_they_share(run):
    """Trace and read-outs look there, whether it lasts itself or only another with the same equations does."""
    library, _ = run
    about, found = library.tables.about, 0
    for mode, signature in enumerate(library.signatures):
        kin = int(about[mode, layout.KIN])
        if kin == mode or about[mode, layout.TWIN] != mode:
            continue
        library.complete(mode)
        anew = ModeLibrary(library.system, room=4)
        assert anew.mode(library.signatures[kin]) == 0
        anew.complete(anew.mode(signature))
        assert not anew.tables.about[0, layout.READY]
        for name in ("rungs", "axes", "smooth"):
            np.testing.assert_array_equal(getattr(anew.tables, name)[0], getattr(library.tables, name)[mode])
        np.testing.assert_array_equal(anew.tables.about[0, : layout.PAIRS], about[mode, : layout.PAIRS])
        found += 1
    assert found


def test_room_is_less_where_memory_is_short(run, monkeypatch):
    """Where the system refuses a large table, a smaller one does; the numbers stay the same."""
    library, trace = run
    refused = []

    def short(*shape, dtype=np.float64):
        if np.prod(shape) * np.dtype(dtype).itemsize > 64e6:
            refused.append(shape)
            raise OSError(12, "Cannot allocate memory")
        return np.zeros(shape, dtype)

    monkeypatch.setattr("weldsim.engine.library.untouched", short)
    anew = ModeLibrary(library.system)
    assert refused
    assert 64 <= anew.capacity < library.capacity
    for signature in library.signatures[:200]:  # more than there is room for: the tables grow
        assert (anew.equations[anew.mode(signature)].matrix == library.system.assemble(signature).matrix).all()


def test_frictions_stick_together_as_they_would_one_by_one():
    """At a reversal of the voltage every element that slides sticks: in one change what several would do, 1e-9."""
    supply = Supply(weldsim.read("long_lead"))
    apart = Supply(supply.scenario)
    apart.library = ModeLibrary(dataclasses.replace(supply.system, alongside={}))
    traces = []
    for one in (supply, apart):
        going = one.from_rest(0.06, delay=60.0)
        going.run_to(0.06)
        traces.append(going.trace())
    together, singly = traces
    assert len(together.time) < len(singly.time)
    names = ["core.magnetising_current", "core.flux_linkage", "primary.current", "output.voltage"]
    first, second = (trace.sample(names, 0.0, spacing=2e-5, count=3000) for trace in traces)
    assert (np.abs(first - second) <= 1e-9 * np.abs(second).max(axis=1, keepdims=True)).all()
