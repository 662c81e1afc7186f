"""A capture beside the simulation: captures come from twins that know nothing of the package, and from its own runs.

Twins: a resistor behind a phase control in closed form, a bridge with capacitor and resistor integrated by scipy, and
the whole benchmark supply of ``tests/reference/twin.py``.
Every capture has noise, an offset, an unknown trigger, uneven samples of its own and 8 bits.
"""

import json
import math
from functools import cache, partial
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

import weldsim
from tests.figures import layout
from tests.reference.twin import Case, solve
from tests.reference.twin_equations import Supply
from weldsim.analysis.folding import BINS, folded
from weldsim.cli.main import main
from weldsim.errors import QuestionError, RunFileError, UnitError
from weldsim.figures import compare as picture
from weldsim.scenario.bundled import bundled_scenarios
from weldsim.scenario.reading import read, read_text
from weldsim.scenario.vary import vary
from weldsim.studies.compare import ask
from weldsim.studies.compare_causes import Variation, faults_of, values_of
from weldsim.studies.compare_fits import begun
from weldsim.studies.compare_telling import _told
from weldsim.studies.operating import welding

PERIOD = 0.02
CONTROLLER = """
title = "A resistor behind a phase control"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0.1 mA"
holding_current = "0.1 mA"
off_resistance = "1000 Mohm"
[load]
kind = "resistor"
resistance = "23 ohm"
"""
# A bridge straight on a small mains: V = 40 V, 0.5 ohm in front, 10 mF and 4 ohm behind.
SOURCE, FRONT, CAPACITANCE, LOAD, DIODE = 40.0, 0.5, 10e-3, 4.0, (0.8, 5e-3)
BRIDGE = f"""
title = "Bridge, capacitor, resistor"
[mains]
voltage = "{SOURCE} V"
frequency = "50 Hz"
resistance = "{FRONT} ohm"
[rectifier]
kind = "bridge"
threshold = "{DIODE[0]} V"
slope = "{DIODE[1]} ohm"
leakage_resistance = "1000 Mohm"
[bank]
capacitance = "{CAPACITANCE} F"
[load]
kind = "resistor"
resistance = "{LOAD} ohm"
"""


def as_captured(wave, *, cycles=3.3, frequency=50.0, seed=7, noise=0.01, offset=0.005, bits=8, count=2500):
    """What an oscilloscope makes of a wave(phase in periods): noise and offset over the rms, trigger anywhere."""
    chance = np.random.default_rng(seed)
    time = np.cumsum(chance.uniform(0.5, 1.5, count))
    time *= cycles / frequency / time[-1]
    values = wave(time * frequency + chance.uniform())
    rms = math.sqrt(np.mean(values**2))
    values = values + rms * (offset + noise * chance.standard_normal(count))
    step = 1.2 * np.ptp(values) / 2**bits
    return {"time": time - 0.5 * time[-1], "values": step * np.round(values / step)}


def chopped(delay, *, resistance=23.0):
    """Current of a resistor behind a phase control, closed form: the sine from the delay to the zero crossing."""

    def wave(phase):
        angle = 360.0 * phase % 180.0
        return np.where(angle >= delay, np.sin(2.0 * np.pi * phase), 0.0) * math.sqrt(2.0) * 230.0 / resistance

    return wave


@cache
def bridge(*, front=FRONT, capacitance=CAPACITANCE, load=LOAD, both=True, of="current"):
    """The twin of the bridge, settled: wave(phase) of the source's current, or of the capacitor's voltage."""

    def current(time, volts):
        source = math.sqrt(2.0) * SOURCE * np.sin(2.0 * np.pi * time / PERIOD)
        forward = np.maximum(np.abs(source) - volts - 2.0 * DIODE[0], 0.0) / (front + 2.0 * DIODE[1])
        return np.sign(source) * forward * (np.ones_like(source) if both else source > 0.0)

    def rate(time, volts):
        return (np.abs(current(time, volts[0])) - volts[0] / load) / capacitance

    periods = 25
    found = solve_ivp(
        rate, (0.0, periods * PERIOD), [40.0], rtol=1e-8, atol=1e-8, max_step=PERIOD / 200, dense_output=True
    )
    place = np.arange(4000) / 4000
    time = (periods - 1 + place) * PERIOD
    volts = found.sol(time)[0]
    values = volts if of == "voltage" else current(time, volts)
    return lambda phase: np.interp(phase, place, values, period=1.0)


def asked(text, capture, **keywords):
    """The answer to a twin's capture."""
    return weldsim.compare(read_text(text), **capture, **keywords)


def causes(answer):
    """Rows of causes, the likeliest first."""
    return [row for row in answer.rows if row["kind"] in ("cause", "lesser cause")]


def the(answer, key):
    """The row of one key."""
    return next(row for row in causes(answer) if row["key"] == key)


def text_of(answer, name):
    """The words of a verdict."""
    return next(one.text for one in answer.verdicts if one.name == name)


def value(answer, name):
    """One number."""
    return answer.numbers[name].value


@pytest.mark.parametrize("delay", [35.0, 90.0, 130.0])
def test_a_sound_controller_is_called_sound(delay):
    """Noise of 1 % and a zero 0.5 % off remain, nothing is looked for; figures are those of the closed form.

    The rms of a chopped sine is 10 A sqrt(1 - a/pi + sin 2a/2pi); 1 % for noise, offset and bits.
    """
    answer = asked(CONTROLLER, as_captured(chopped(delay)), delay=delay)
    assert [one.level for one in answer.verdicts if one.name == "agreement"] == ["good"]
    assert value(answer, "causes.count") == 0.0
    assert 0.01 < value(answer, "remainder.share") < 0.05
    assert value(answer, "remainder.repeating.share") < 0.02  # half a bin of an edge is there from cycle to cycle
    angle = math.radians(delay)
    rms = 10.0 * math.sqrt(1.0 - angle / math.pi + math.sin(2.0 * angle) / (2.0 * math.pi))
    assert value(answer, "capture.rms") == pytest.approx(rms, rel=0.01)
    assert value(answer, "simulated.rms") == pytest.approx(rms, rel=1e-4)  # holding current
    assert value(answer, "capture.peak") == pytest.approx(value(answer, "simulated.peak"), rel=0.06)  # noise on crests
    assert "likeliest" not in answer.runs


def test_the_firing_delay_is_found():
    """A gate that comes 13 degrees late is named first, to half a degree (edges within a bin are 0.2 degrees)."""
    answer = asked(CONTROLLER, as_captured(chopped(88.0)), delay=75.0)
    best = causes(answer)[0]
    assert best["key"] == "delay"
    assert best["value"] == pytest.approx(88.0, abs=0.5)
    assert value(answer, "likeliest.repeating.share") < 0.03
    assert f"firing delay {best['takes']} in place of 75 deg" in text_of(answer, "likeliest_cause")


def test_what_cannot_be_told_apart_is_told_so():
    """On the current of a bare resistor twice the ohms and half the probe's scale are one and the same.

    What tells them is the same current seen by another probe: 10 and 5 A of it differ by half of the larger.
    """
    answer = asked(CONTROLLER, as_captured(chopped(60.0, resistance=46.0)), delay=60.0)
    both = {"load.resistance", "measurement.scale"}
    assert {row["key"] for row in causes(answer)[:2]} == both
    assert the(answer, "load.resistance")["value"] == pytest.approx(46.0, rel=0.02)  # the offset
    assert the(answer, "measurement.scale")["value"] == pytest.approx(0.5, rel=0.02)
    told = text_of(answer, "not_told_apart")
    assert "resistance of the load" in told
    assert "scale of the probe" in told
    first = next(row for row in answer.rows if row["kind"] == "telling")
    assert first["signal"] == "primary.current"
    assert first["apart"] == pytest.approx(0.5, rel=0.02)
    assert "capture primary.current" in text_of(answer, "next_measurement")


def test_a_scale_may_be_given():
    """The same current through a clamp of 100 A per volt, as text and as a number."""
    capture = as_captured(chopped(60.0))
    capture["values"] = capture["values"] / 100.0
    for scale in ("100 A", "0.1 kA", 100.0):
        assert value(asked(CONTROLLER, capture, delay=60.0, per_unit=scale), "remainder.share") < 0.03
    answer = asked(CONTROLLER, capture, delay=60.0, per_unit="1 A")
    assert causes(answer)[0]["key"] in ("measurement.scale", "load.resistance")


def test_an_offset_is_put_down_to_the_measurement():
    """2 A on 8.97 A rms of alternating current: no part of a resistor behind a phase control makes them."""
    capture = as_captured(chopped(60.0), offset=0.0)
    capture["values"] = capture["values"] + 2.0
    best = causes(asked(CONTROLLER, capture, delay=60.0))[0]
    assert best["key"] == "measurement.offset"
    assert best["value"] == pytest.approx(2.0, abs=0.03)


@pytest.mark.parametrize(("signal", "of"), [("primary.current", "current"), ("bank.voltage", "voltage")])
def test_a_sound_bridge_is_called_sound(signal, of):
    """Two independent solutions of the same circuit agree but for what the oscilloscope adds: 1.2 % and the bits."""
    answer = asked(BRIDGE, as_captured(bridge(of=of)), signal=signal)
    assert [one.level for one in answer.verdicts if one.name == "agreement"] == ["good"]
    assert value(answer, "remainder.share") < 0.02
    assert value(answer, "capture.correlation") > (0.999 if of == "current" else 0.97)  # the ripple is a tenth


@pytest.mark.slow
@pytest.mark.parametrize(
    ("changed", "key", "true"),
    [
        ({"capacitance": 0.3 * CAPACITANCE}, "bank.capacitance", 0.3 * CAPACITANCE),
        ({"capacitance": 0.15 * CAPACITANCE}, "bank.capacitance", 0.15 * CAPACITANCE),
        ({"front": 2.5 * FRONT}, "mains.resistance", 2.5 * FRONT),
        ({"load": 0.5 * LOAD}, "load.resistance", 0.5 * LOAD),
    ],
    ids=lambda one: str(one) if isinstance(one, str) else "",
)
@pytest.mark.parametrize(("signal", "of"), [("primary.current", "current"), ("bank.voltage", "voltage")])
def test_the_changed_part_of_the_bridge_is_found(changed, key, true, signal, of):
    """Among the first three, and what it takes: to 5 % (noise, and a zero that is 0.5 % off)."""
    answer = asked(BRIDGE, as_captured(bridge(of=of, **changed)), signal=signal)
    assert key in [row["key"] for row in causes(answer)[:3]]
    assert the(answer, key)["value"] == pytest.approx(true, rel=0.05)
    assert the(answer, key)["repeating"] < 0.02
    assert value(answer, "remainder.share") > 0.05


def test_a_diode_that_is_open_is_found():
    """A bridge that conducts in one half wave only: named first, whichever half it is."""
    for turned in (1.0, -1.0):
        capture = as_captured(bridge(both=False))
        capture["values"] = turned * capture["values"]
        answer = asked(BRIDGE, capture, signal="primary.current")
        assert causes(answer)[0]["cause"] == "one diode open"
        assert causes(answer)[0]["remains"] < 0.03


def test_a_reversed_probe_is_seen():
    """The half-wave bridge as written and captured both ways: both agree, one of them with its sign reversed."""
    text, seen = BRIDGE.replace('kind = "bridge"', 'kind = "bridge"\nfault = "one diode open"'), []
    for turned in (1.0, -1.0):
        capture = as_captured(bridge(both=False))
        capture["values"] = turned * capture["values"]
        answer = asked(text, capture, signal="primary.current")
        assert value(answer, "remainder.share") < 0.03
        seen.append((value(answer, "capture.reversed"), any(one.name == "polarity" for one in answer.verdicts)))
    assert sorted(seen) == [(0.0, False), (1.0, True)]


def test_the_mains_may_be_off_in_frequency():
    """At 49.8 Hz over ten cycles: found to 0.01 Hz, and as sound as at 50 Hz."""
    answer = asked(BRIDGE, as_captured(bridge(), cycles=10.2, frequency=49.8, count=8000), signal="primary.current")
    assert value(answer, "capture.frequency") == pytest.approx(49.8, abs=0.01)
    assert value(answer, "remainder.share") < 0.03


def test_what_nothing_explains_is_told():
    """A triangle of 100 Hz is no current of a bridge with a capacitor, whatever is changed in it."""
    answer = asked(BRIDGE, as_captured(lambda phase: np.abs(4.0 * (phase % 0.5) - 1.0)), signal="primary.current")
    assert "No single change that was tried explains it" in text_of(answer, "likeliest_cause")
    assert "not the cause by itself" in text_of(answer, "unexplained")
    assert not [one for one in answer.verdicts if one.name in ("told_apart", "not_told_apart")]


def test_what_does_not_repeat_is_told():
    """A capture of another mains frequency, and one of a load that comes and goes."""
    answer = asked(BRIDGE, as_captured(bridge(), frequency=60.0), signal="primary.current")
    assert "It repeats with 60 Hz" in text_of(answer, "repetition")
    capture = as_captured(bridge())
    capture["values"] = capture["values"] * np.linspace(0.2, 1.0, len(capture["values"]))
    answer = asked(BRIDGE, capture, signal="primary.current")
    assert "differ from one mains cycle to the next" in text_of(answer, "repetition")
    assert "It repeats" not in text_of(answer, "repetition")


def test_where_nothing_can_be_told_no_cause_is_looked_for():
    """Another mains, noise alone, a channel at its end: each told as such, and no cause named."""
    sound = as_captured(bridge())
    noise = {"time": sound["time"], "values": np.random.default_rng(1).standard_normal(2500)}
    cut = {"time": sound["time"], "values": np.clip(sound["values"], None, 0.6 * sound["values"].max())}
    for capture, told in (
        (as_captured(bridge(), frequency=60.0), "it repeats with 60 Hz, so the mains of the scenario are not its"),
        (noise, "hardly anything of it repeats with the mains"),
        (cut, "the channel was at its end"),
    ):
        answer = asked(BRIDGE, capture, signal="primary.current")
        assert told in text_of(answer, "agreement")
        assert [one.level for one in answer.verdicts if one.name == "agreement"] == ["fault"]
        assert causes(answer) == []
        assert not [one for one in answer.verdicts if one.name == "likeliest_cause"]
    assert "stand at one end" in text_of(answer, "cut_off")


def test_millivolts_for_volts_are_a_scale():
    """A thousand times too large."""
    capture = as_captured(bridge(), offset=0.0)
    first = causes(asked(BRIDGE, capture | {"values": 1e3 * capture["values"]}, signal="primary.current"))[0]
    assert (first["key"], first["value"]) == ("measurement.scale", pytest.approx(1e3, rel=0.01))


@pytest.mark.slow
@pytest.mark.parametrize("signal", [pytest.param("output.current", marks=pytest.mark.slow), "primary.current"])
def test_firing_five_degrees_late_is_found(signal):
    """The shed at 79 in place of 74 degrees: other values promise as much, and a delay only moves edges."""
    run = weldsim.perform(read("toroid_shed"), delay=79.0, start="steady", duration=0.08)
    first = causes(ask(read("toroid_shed"), time=run.time, values=run[signal], signal=signal, dial=0.6))[0]
    assert (first["key"], first["value"]) == ("delay", pytest.approx(79.0, abs=0.2))


def test_what_a_trace_that_agrees_does_not_show_is_told():
    """The shed's primary current with half of the choke differs by 4.9 %: called sound, but with the choke named."""
    run = weldsim.perform(
        vary(read("toroid_shed"), {"choke.inductance": 150e-6}), dial=0.6, start="steady", duration=0.08
    )
    answer = ask(read("toroid_shed"), time=run.time, values=run["primary.current"], signal="primary.current", dial=0.6)
    assert [one.level for one in answer.verdicts if one.name == "agreement"] == ["good"]
    assert "inductance of the choke 150 uH" in text_of(answer, "unseen")
    row = next(one for one in answer.rows if one["kind"] == "unseen" and one["takes"] == "150 uH")
    left = value(answer, "remainder.share")
    assert row["changes"] == pytest.approx(left, rel=0.05)  # the one a run, the other a settled state


def test_the_half_wave_that_a_fault_sits_in_tells_nothing():
    """Pulses of one half wave and the same of the other differ by their sign alone, as a probe may: not at all."""
    phases = 2.0 * np.pi * (np.arange(BINS) + 0.5) / BINS
    pulses = np.maximum(np.sin(phases), 0.0) ** 2
    found = _told("primary.current", "A", "gate of one half wave lost", waves=(pulses, -np.roll(pulses, BINS // 2)))
    assert found.first[0] == pytest.approx(-found.second[0], rel=1e-9)
    assert found.apart < 1e-6  # rounding
    assert _told("primary.current", "A", "another", waves=(pulses, np.abs(np.sin(phases)) ** 2)).apart > 0.3


def test_a_fault_that_turns_the_trace_over_is_unseen_too():
    """At 90 % the shed half-waves: one diode open makes the same current the other way round, as a probe may be."""
    faulty = vary(read("toroid_shed"), {"rectifier.fault": "one diode open"})
    run = weldsim.perform(faulty, dial=0.9, start="steady", duration=0.08)
    answer = ask(read("toroid_shed"), time=run.time, values=run["primary.current"], signal="primary.current", dial=0.9)
    assert [one.level for one in answer.verdicts if one.name == "agreement"] == ["good"]
    assert "one diode open" in text_of(answer, "unseen")


@pytest.mark.parametrize("noise", [0.1, 0.4])
def test_noise_is_no_difference(noise):
    """A sound bridge behind 10 and 40 % of noise is called sound: what differs from cycle to cycle is taken off."""
    for seed in range(10):
        capture = as_captured(bridge(), noise=noise, count=4000, seed=seed)
        answer = asked(BRIDGE, capture, signal="primary.current")
        assert value(answer, "remainder.share") == pytest.approx(noise / math.sqrt(1.0 + noise**2), rel=0.07)
        assert [one.level for one in answer.verdicts if one.name == "agreement"] == ["good"]


@pytest.mark.parametrize("turned", [1.0, -1.0])
@pytest.mark.parametrize(
    ("keywords", "lifted", "key"), [({"both": False}, 0.0, ""), ({}, 5.0, "measurement.offset")], ids=["part", "zero"]
)
def test_the_waveforms_kept_are_those_that_were_laid_over(keywords, lifted, key, turned):
    """On the clock of the mains the capture less either waveform leaves what the numbers say, to 2 % (bins)."""
    capture = as_captured(bridge(**keywords), frequency=49.9)
    capture["values"] = turned * (capture["values"] + lifted)
    answer = asked(BRIDGE, capture, signal="primary.current")
    assert causes(answer)[0]["key"] == key
    seen = answer.runs["capture"]
    for name, number in (("simulated", "remainder.share"), ("likeliest", "likeliest.remainder.share")):
        run = answer.runs[name]
        wave = np.interp(seen.time, run.time, run["primary.current"], period=PERIOD)
        left = math.sqrt(np.mean((seen["primary.current"] - wave) ** 2))
        assert left == pytest.approx(value(answer, number) * value(answer, "capture.rms"), rel=0.02)
    assert seen.time[0] == pytest.approx(value(answer, "capture.begins"), abs=1e-9)


def test_one_cycle_will_do():
    """Then noise counts as a difference; a record of a whole cycle may lack the sample that closes it."""
    place = np.arange(500) / 500
    wave = bridge()(place + 0.3)
    answer = asked(BRIDGE, {"time": PERIOD * place, "values": wave}, signal="primary.current")
    assert value(answer, "remainder.share") < 0.01
    assert value(answer, "capture.noise.share") == 0.0
    assert any("noise counts" in line for line in answer.assumptions)


@pytest.mark.parametrize(
    ("capture", "keywords", "told"),
    [
        ({}, {}, "no trace to compare with"),
        ({"time": [0.0]}, {}, "no trace to compare with"),
        ({"capture": "x.csv", "time": [0.0, 1.0], "values": [0.0, 1.0]}, {}, "given twice"),
        ({"time": np.linspace(0, 0.01, 500), "values": np.ones(500)}, {}, "0.5 mains cycles"),
        ({"time": [], "values": []}, {}, "0 mains cycles"),
        ({"time": np.linspace(0, 60.0, 500), "values": np.ones(500)}, {}, "500 samples in 3000 mains cycles"),
        ({"time": np.linspace(0, 0.06, 500), "values": np.zeros(500)}, {}, "nothing but zeros"),
        ({"time": np.linspace(0, 0.06, 500), "values": np.ones(500)}, {"signal": "bank.curent"}, "bank.current"),
        ({"time": np.linspace(0, 0.06, 500), "values": np.ones(500)}, {"per_unit": "100 V"}, "a scale in V"),
        ({"time": np.linspace(0, 0.06, 500), "values": np.ones(500)}, {"per_unit": "0 A"}, "0 is no scale"),
        ({"time": np.linspace(0, 0.06, 500), "values": np.ones(500)}, {"per_unit": "100 ohm"}, "ohm"),
        ({"time": np.linspace(0, 0.06, 500), "values": np.ones(500)}, {"per_unit": "100"}, "has no unit"),
    ],
)
def test_what_cannot_be_compared_is_refused(capture, keywords, told):
    """One sentence each."""
    with pytest.raises((QuestionError, UnitError), match=told):
        asked(BRIDGE, capture, **keywords)


def test_arrays_with_faults_are_refused():
    """Times that do not rise are those of the capture, not of the question."""
    with pytest.raises(RunFileError, match="times must rise"):
        asked(BRIDGE, {"time": [0.0, 1.0, 0.5], "values": [1.0, 1.0, 1.0]})


@pytest.mark.parametrize("name", ["toroid_shed_boost", "charger", "resistance_spot", "school_spot"])
def test_every_value_as_written_changes_nothing(name):
    """Each candidate set to what is written gives the supply as written: no search begins from somewhere else.

    3e-3 of the rms: the conventional load line becomes an arc line, which begins a little otherwise near no current.
    """
    scenario = welding(read(name))
    capture = as_captured(chopped(60.0))
    trial, written = begun(folded(capture["time"], capture["values"], PERIOD), scenario, "output.current")
    rms = math.sqrt(np.mean(written.wave**2))
    looked = [one for one in values_of(trial.scenario, trial.delay) if one.starts_inside]
    assert len(looked) >= 8
    for one in looked:
        case = trial.case(one.change(one.written), near=written)
        assert math.sqrt(np.mean((case.wave - written.wave) ** 2)) < 3e-3 * rms, one.words
        assert one.value(one.place(one.written)) == pytest.approx(one.written, rel=1e-9)
    again = trial.case(Variation(), near=written).laid.remainder
    assert again == pytest.approx(written.laid.remainder, rel=1e-6)  # settling ends at 1e-9


def test_a_part_that_is_absent_is_no_candidate():
    """The bare resistor has no bank, choke or transformer to blame, and no rectifier to be broken."""
    words = [one.words for one in (*values_of(read_text(CONTROLLER), 60.0), *faults_of(read_text(CONTROLLER)))]
    assert not [one for one in words if any(part in one for part in ("bank", "choke", "transformer", "diode"))]
    assert "resistance of the load" in words


def test_the_leakage_is_looked_for_where_it_is_written():
    """On the primary of the spot welder, on the secondary of the shed."""
    for name, side in (("resistance_spot", "primary"), ("toroid_shed", "secondary")):
        (leakage,) = [one for one in values_of(read(name), 90.0) if one.words == "leakage of the transformer"]
        assert leakage.key == f"transformer.{side}_leakage_inductance"
        assert leakage.written == getattr(read(name).transformer, f"{side}_leakage_inductance")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"choke.inductance": "0.12 mH"}, "choke.inductance"),
        pytest.param(
            {"transformer.secondary_leakage_inductance": "60 uH"},
            "transformer.secondary_leakage_inductance",
            marks=pytest.mark.slow,
        ),
        pytest.param(
            {"weld_leads.contact_resistance": "20 mohm"}, "weld_leads.contact_resistance", marks=pytest.mark.slow
        ),
    ],
)
def test_a_supply_of_our_own_with_one_value_changed(change, key):
    """The shed, output current, 1 % of noise and 8 bits: among the first three, to 5 %, with what to measure next."""
    shed = read("toroid_shed")
    other = vary(shed, change)
    run = weldsim.perform(other, dial=0.6, start="steady", duration=PERIOD, sample_interval=5e-6)
    capture = as_captured(lambda phase: np.interp(phase, run.time / PERIOD, run["output.current"], period=1.0))
    answer = weldsim.compare(shed, **capture, dial="60 %")
    assert key in [row["key"] for row in causes(answer)[:3]]
    table, field = key.split(".")
    assert the(answer, key)["value"] == pytest.approx(getattr(getattr(other, table), field), rel=0.05)
    assert text_of(answer, "next_measurement")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "key", "true", "signal"),
    [
        ({}, "", 0.0, "output.current"),
        ({"output_inductance": 0.132e-3}, "choke.inductance", 0.12e-3, "output.current"),  # 12 uH are the leads'
        ({"bank_capacitance": 15e-3}, "bank.capacitance", 15e-3, "primary.current"),
        ({"mains_resistance": 0.9}, "mains.resistance", 0.9, "primary.current"),
        ({"secondary_inductance": 30e-6}, "transformer.secondary_leakage_inductance", 30e-6, "primary.current"),
    ],
    ids=lambda one: one if isinstance(one, str) else "",
)
def test_a_whole_supply_of_plain_equations(change, key, true, signal):
    """The benchmark supply solved by the twin, its last period of 0.4 s: sound, or the changed part first, to 3 %."""
    end = 0.4
    solved = solve(Case(load="B", delay=90.0, duration=end, supply=Supply()._replace(**change)), tolerance=1e-6)
    last = solved.time >= end - PERIOD - 1e-9
    place, seen = (solved.time[last] - end) / PERIOD, solved[signal][last]
    capture = as_captured(lambda phase: np.interp(phase, place, seen, period=1.0))
    answer = weldsim.compare(read("benchmark_b"), **capture, signal=signal, delay=90.0)
    if not key:
        assert value(answer, "remainder.share") < 0.02
        assert not causes(answer)
        return
    near = [row["key"] for row in causes(answer) if row["repeating"] <= causes(answer)[0]["repeating"] + 0.01]
    assert key in near[:3]
    assert the(answer, key)["value"] == pytest.approx(true, rel=0.03)


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(set(bundled_scenarios()) - {"bench_readings.toml"}))  # that holds no supply
def test_every_bundled_supply_with_one_thing_changed(name):
    """Output and primary current, 1 % of noise and 8 bits: the true cause is not told apart from the first, to 5 %.

    What leaves less than 5 % as written is called sound, as the supply itself is.
    """
    supply = read(name)
    period, plain = 1.0 / supply.mains.frequency, welding(supply)
    asked_for = [Variation(), Variation({"mains.resistance": 2.5 * max(supply.mains.resistance, 0.05)})]
    own = {one.key: one for one in values_of(plain, 90.0)}
    for key, times in (("bank.capacitance", 0.4), ("choke.inductance", 0.4), ("weld_leads.contact_resistance", 4.0)):
        if key in own and own[key].written:
            asked_for.append(Variation({key: times * own[key].written}))
    asked_for += [one.variation for one in faults_of(plain) if one.words == "one diode open"]
    for number, variation in enumerate(asked_for):
        other = variation.of(plain)
        run = weldsim.perform(other, start="steady", duration=period, sample_interval=period / 4000)
        for signal in ("output.current", "primary.current"):
            place, seen = run.time / period, run[signal]
            wave = partial(np.interp, xp=place, fp=seen, period=1.0)
            capture = as_captured(wave, frequency=supply.mains.frequency, seed=number)
            answer = weldsim.compare(supply, **capture, signal=signal)
            if value(answer, "remainder.repeating.share") <= 0.05:
                assert not causes(answer)
                continue
            assert variation.keys
            ((key, true),) = variation.keys.items()
            first = causes(answer)[0]["repeating"]
            row = next(row for row in causes(answer) if key == row["key"] or true == row["cause"])
            assert row["repeating"] <= first + 0.01, (key, signal)
            assert row["value"] is None or row["value"] == pytest.approx(true, rel=0.05), (key, signal)


def test_searching_tells_how_far_it_is():
    """The meter is told of values looked at and searched, never more than there are."""
    seen = []
    capture = as_captured(bridge(capacitance=0.3 * CAPACITANCE))
    ask(read_text(BRIDGE), **capture, signal="primary.current", progress=lambda *told: seen.append(told))
    assert {what for _, _, what in seen} == {"values looked at", "search for values"}
    assert all(done < whole for done, whole, _ in seen)


def test_the_bundled_capture():
    """One can of the bank is off: 45 mF in place of 60, found to 2 %; no words of the picture lie on each other."""
    answer = weldsim.compare(read("toroid_shed"), capture=Path("toroid_shed_capture.csv"), per_unit="100 A", dial=0.6)
    assert causes(answer)[0]["key"] == "bank.capacitance"
    assert causes(answer)[0]["value"] == pytest.approx(45e-3, rel=0.02)
    figure = picture.draw(answer)
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


def test_the_page_tells_causes_and_care(tmp_path, monkeypatch, capsys):
    """What is printed, drawn and saved."""
    monkeypatch.chdir(tmp_path)
    capture = as_captured(bridge(capacitance=0.2 * CAPACITANCE))
    Path("own.toml").write_text(BRIDGE)
    lines = [f"{moment:.7f},{one / 10.0:.5f}" for moment, one in zip(*capture.values(), strict=True)]
    Path("own.csv").write_text("\n".join(lines))
    typed = ["compare", "own.toml", "--capture", "own.csv", "--signal", "primary.current", "--per-unit", "10 A"]
    assert main([*typed, "--save", "run.h5", "--figure", "seen.png"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "One change would explain it: capacitance of the bank" in page
    assert "A trace of the primary is taken from live mains" in page
    assert "10 mF" in page
    assert Path("seen.png").stat().st_size > 10_000
    assert "output.current" in weldsim.open_run("run.h5")


def test_the_picture_without_causes():
    """Where the two agree there are two panels and no bars."""
    figure = picture.draw(asked(CONTROLLER, as_captured(chopped(90.0)), delay=90.0))
    assert len(figure.axes) == 2
    assert layout.overlapping(figure) == []
    assert layout.cut_off(figure) == []


def test_json_and_exit_codes(tmp_path, capsys):
    """One object with rows and verdicts; what is no capture ends with 2 and one sentence, without a traceback."""
    capture = as_captured(chopped(60.0))
    (tmp_path / "own.toml").write_text(CONTROLLER)
    lines = [f"{moment:.7f};{one:.5f}".replace(".", ",") for moment, one in zip(*capture.values(), strict=True)]
    (tmp_path / "good.csv").write_text("\n".join(["s;A", *lines]))
    (tmp_path / "bad.csv").write_text("s;A\n0;1\n0;2\n")
    typed = ["compare", str(tmp_path / "own.toml"), "--delay", "60deg", "--json", "--capture"]
    assert main([*typed, str(tmp_path / "good.csv")]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["study"] == "compare"
    assert answer["numbers"]["remainder.share"]["value"] < 0.03
    for name in ("bad.csv", "nowhere.csv"):
        assert main([*typed, str(tmp_path / name)]) == 2
        out, told = capsys.readouterr()
        assert out == ""
        assert told.count("\n") == 1
        assert name in told
    assert main(typed[:-1]) == 2
    assert "--capture trace.csv" in capsys.readouterr().err
