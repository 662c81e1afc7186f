"""Recording: exact figures against samples, the window, what is kept, and going on from a settled state."""

import numpy as np
import pytest

import weldsim
from weldsim.errors import QuestionError, SimulationError
from weldsim.runs.perform import record
from weldsim.runs.steady import settle
from weldsim.runs.supply import supply_of

CURRENT, BANK = "output.current", "bank.voltage"


def mean_of(values):
    """Mean by the trapezoidal rule."""
    return (values.sum() - 0.5 * (values[0] + values[-1])) / (len(values) - 1)


@pytest.fixture(scope="module")
def dense():
    """Benchmark B settled at 75 degrees, sampled every 2 us over two periods."""
    return weldsim.perform(weldsim.read("benchmark_b"), delay=75.0, start="steady", duration=0.04, sample_interval=2e-6)


@pytest.mark.parametrize("name", [CURRENT, BANK, "primary.current", "core.flux_linkage"])
def test_exact_figures_are_those_of_dense_samples(dense, name):
    """Mean, rms, least and largest of the table against sums over the samples, by the trapezoidal rule.

    Over whole periods the rule errs at corners only: a bend of 1e6 A/s costs 1e6 x (2 us)^2 / 12 of 0.04 s x 100 A.
    """
    values, full = dense[name], np.abs(dense[name]).max()
    assert dense.figure(f"{name}.mean") == pytest.approx(mean_of(values), abs=1e-6 * full)
    assert dense.figure(f"{name}.rms") == pytest.approx(np.sqrt(mean_of(values**2)), abs=1e-6 * full)
    # A crest lies between two samples: at most 1e5 A/s x 1 us of 0.1 A beside them, and never inside.
    for kind, most in (("min", values.min()), ("max", values.max())):
        assert dense.figure(f"{name}.{kind}") == pytest.approx(most, abs=1e-3 * full)
    assert dense.figure(f"{name}.min") <= values.min() + 1e-12 * full
    assert dense.figure(f"{name}.max") >= values.max() - 1e-12 * full


def test_the_ledger_closes_with_every_part_by_its_own_figures(dense):
    """What the mains gives is lost, delivered or stored; the load's share is the mean of volts times amps sampled."""
    power = mean_of(dense["output.voltage"] * dense[CURRENT])
    supplied = sum(entry.get("source", 0.0) for entry in dense.ledger.values() if isinstance(entry, dict))

    assert dense.ledger["load"]["load"] == pytest.approx(0.04 * power, rel=1e-6)  # as the means above
    assert abs(dense.ledger["residual"]) < 1e-9 * supplied  # rounding of the exact sums
    assert abs(dense.ledger["stored"]) < 1e-6 * supplied  # settled: 1e-9 of each state, and energy has kilowatt-seconds


def test_going_on_from_a_settled_state_gives_the_same_figures(monkeypatch):
    """A state settled before is taken as it is: nothing is settled again, and every figure is the same."""
    scenario = weldsim.read("benchmark_b")
    supply = supply_of(scenario)
    found = settle(supply, delay=75.0)
    anew = record(scenario, delay=75.0, start="steady", duration=0.04)

    def again(*arguments, **keywords):
        raise AssertionError("settled again")

    monkeypatch.setattr("weldsim.runs.perform.settle_fed", again)
    given = record(scenario, delay=75.0, start="steady", duration=0.04, settled=found)
    assert given.settled is found
    assert given.run.table == anew.run.table


@pytest.mark.parametrize("patience", [26, 90])
def test_patience_bounds_the_search(patience):
    """A toroid that hunts is given up as soon as more periods have passed than asked for, Newton's among them."""
    changes = {"load": {"kind": "resistor", "resistance": "0.35 ohm"}}
    supply = supply_of(weldsim.vary(weldsim.read("toroid_shed"), changes))
    found = settle(supply, delay=supply.delay(0.8), patience=patience)

    assert not found.periodic
    assert found.residual > 1e-6
    assert patience < found.periods <= patience + 60  # the last round: 50 plain periods, one more, at most 7 of Newton


def test_figures_speak_of_the_window_only():
    """The last 0.04 s of a run are its window: largest current there, not that of the inrush before it."""
    run = weldsim.perform(weldsim.read("benchmark_b"), delay=75.0, duration=0.3, window=0.04, sample_interval=1e-5)
    late = run.time >= 0.26 - 1e-9

    assert run.window == pytest.approx((0.26, 0.3))
    assert run.figure("primary.current.max") == pytest.approx(run["primary.current"][late].max(), rel=1e-4)
    assert run.figure("primary.current.max") < 0.9 * run["primary.current"].max()


def test_what_is_not_kept_changes_nothing():
    """With only the last 0.1 s kept, samples, table and ledger of the window are those of the whole run (rounding)."""
    scenario = weldsim.read("benchmark_b")
    whole = record(scenario, delay=75.0, duration=2.2, window=0.1).run
    tail = record(scenario, delay=75.0, duration=2.2, window=0.1, keep=0.1).run

    assert tail.time[0] == pytest.approx(2.1, abs=1e-9)
    assert tail.time[-1] == pytest.approx(2.2, abs=1e-9)
    np.testing.assert_allclose(tail[CURRENT], whole[CURRENT][-len(tail.time) :], rtol=0, atol=1e-9)
    for name, (value, _) in whole.table.items():
        assert tail.figure(name) == pytest.approx(value, rel=1e-9, abs=1e-9)
    assert tail.ledger["load"]["load"] == pytest.approx(whole.ledger["load"]["load"], rel=1e-9)


def test_only_the_figures_asked_for():
    """Signals and figures can be chosen apart from each other; a run that shows no chosen waveform has no ledger."""
    run = record(weldsim.read("benchmark_a"), duration=0.02, signals=[CURRENT], figures=[BANK]).run

    assert list(run) == [CURRENT]
    assert set(run.table) == {f"{BANK}.{kind}" for kind in ("mean", "rms", "min", "max")}
    assert run.doubt is None  # chosen waveforms are shown to somebody: its energy adds up
    assert "residual" in run.ledger
    assert record(weldsim.read("benchmark_a"), duration=0.02, signals=(), figures=[BANK]).run.ledger == {}


def test_an_unknown_signal_names_the_nearest():
    """A signal that the supply does not have is refused with those that are spelt alike."""
    with pytest.raises(SimulationError, match="output.current"):
        weldsim.perform(weldsim.read("benchmark_a"), duration=0.02, signals=["output.curent"])


@pytest.mark.parametrize("start", ["rest", "steady"])
def test_a_window_is_part_of_the_run(start):
    """A window longer than the duration is refused with both lengths; as long as it, it is the whole run."""
    scenario = weldsim.read("benchmark_a")
    with pytest.raises(QuestionError, match="window of 0.2 s is longer than the whole duration of 0.1 s"):
        weldsim.perform(scenario, start=start, duration=0.1, window=0.2)
    assert weldsim.perform(scenario, start=start, duration=0.1, window=0.1).window == pytest.approx((0.0, 0.1))


@pytest.mark.parametrize("start", ["rest", "steady"])
def test_switchings_stand_at_their_instants(start):
    """A switch on a resistor fires at 90 deg, 5 ms, and ends with its voltage at 10 ms, from where the run begins.

    A threshold, slope and leakage of next to nothing move the ends by less than a microsecond.
    """
    text = """
    [mains]
    voltage = "230 V"
    frequency = "50 Hz"
    [phase_control]
    threshold = "0 V"
    slope = "0 ohm"
    latching_current = "0 A"
    holding_current = "0 A"
    off_resistance = "1000 Mohm"
    [load]
    kind = "resistor"
    resistance = "10 ohm"
    """
    run = weldsim.perform(weldsim.read_text(text), delay=90.0, start=start, duration=0.04)

    changes = [(at, left, entered) for at, name, left, entered in run.events if name == "phase_control"]
    fired = [at for at, _, entered in changes if entered in ("gated_plus", "gated_minus")]
    ended = [at for at, left, _ in changes if left in ("plus", "minus") and at > 0.001]
    assert fired == pytest.approx([0.005, 0.015, 0.025, 0.035], abs=1e-9)
    assert ended[:3] == pytest.approx([0.01, 0.02, 0.03], abs=1e-6)
