"""A generator as source: closed forms on resistors, the ladder, the sag, the page."""

import json
import math

import pytest

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.figures import generator as picture
from weldsim.parts.mains import PRESETS
from weldsim.runs.generator_runs import step_of_load
from weldsim.studies import generator

RESISTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[generator]
rating = "5 kVA"
resistance = "0.6 ohm"
inductance = "0 H"
sag = "20 %"
regulator = "{regulator}"
[load]
kind = "resistor"
resistance = "10 ohm"
"""
CONTROL = {
    "delay_at_0": 180.0,
    "delay_at_100": 0.0,
    "dial": 0.5,
    "threshold": 0.0,
    "slope": 0.0,
    "latching_current": 1e-4,
    "holding_current": 1e-4,
    "off_resistance": 1e9,
}


@pytest.fixture(scope="module")
def farm():
    """The farm supply on a 5 kVA generator."""
    return generator.ask(weldsim.read("long_lead"), rating=5000.0)


def on_resistor(regulator="slow", **changes):
    """Ten ohm on a 5 kVA generator of 0.6 ohm."""
    return weldsim.vary(weldsim.read_text(RESISTOR.format(regulator=regulator)), **changes)


def value(answer, name):
    """One number."""
    return answer.numbers[name].value


def test_a_regulator_holds_the_terminals():
    """230 V at the terminals take an emf of 1 + 0.6/10, and a fifth of 5.29 kVA / 5 kVA on top (voltage divider)."""
    answer = generator.ask(on_resistor())
    # 2e-5: the regulator is settled to 1e-5 of the rated voltage
    assert value(answer, "plug.voltage.rms") == pytest.approx(230.0, rel=2e-5)
    assert value(answer, "generator.emf") == pytest.approx(1.06, rel=2e-5)
    assert value(answer, "generator.excitation") == pytest.approx(1.06 + 0.2 * 5290.0 / 5000.0, rel=2e-5)
    assert value(answer, "plug.apparent_power") == pytest.approx(5290.0, rel=4e-5)


def test_without_a_regulator_it_sags():
    """emf e = 1 - 0.2 e^2 load, load = 230^2 * 10 / 10.6^2 / 5 kVA at e = 1: root of a quadratic by hand."""
    answer = generator.ask(on_resistor("none"))
    full = 0.2 * (230.0**2 * 10.0 / 10.6**2) / 5000.0
    emf = (math.sqrt(1.0 + 4.0 * full) - 1.0) / (2.0 * full)
    assert value(answer, "generator.emf") == pytest.approx(emf, rel=2e-5)
    assert value(answer, "plug.voltage.rms") == pytest.approx(230.0 * emf / 1.06, rel=2e-5)


def test_what_has_no_regulator_gives_nothing_too_much():
    """Without a regulator the voltage stays down, nothing is left over after the weld, and what is short is told."""
    answer = generator.ask(on_resistor("none", mains__resistance=0.1))
    texts = {verdict.name: verdict.text for verdict in answer.verdicts}
    assert "stays there, for want of a regulator" in texts["sag"]
    assert "too much" not in texts["sag"]
    assert ("falls short" in texts["rating"]) == (not any(row.get("carries") for row in answer.rows))
    weak = generator.ask(on_resistor("none", generator__sag=1.0, load__resistance=0.1))
    (rating,) = [one for one in weak.verdicts if one.name == "rating"]
    assert "falls short: even 500 kVA give" in rating.text


def test_a_large_supply_is_carried_by_a_large_generator():
    """230 V on 2 ohm are 26.5 kVA, with a quarter in hand 33 kVA: 30 kVA are too few, 45 kVA carry it."""
    answer = generator.ask(on_resistor(load__resistance=2.0))
    assert value(answer, "generator.rating.needed") == 45e3
    carried = {row["rating"]: row["carries"] for row in answer.rows if row["kind"] == "rating"}
    assert carried[30e3] is False
    assert max(carried) == 45e3


def test_a_ceiling_that_is_too_low_is_a_fault():
    """With a ceiling of 1.1 the excitation stops there, the voltage is not held, and the page says so."""
    answer = generator.ask(on_resistor(generator__ceiling=1.1))
    assert value(answer, "generator.excitation") == pytest.approx(1.1, abs=2e-5)
    assert value(answer, "plug.voltage.rms") < 230.0
    (verdict,) = [one for one in answer.verdicts if one.name == "rating"]
    assert verdict.level == "fault"
    assert "stands at its ceiling" in verdict.text


def test_the_step_on_a_resistor():
    """Without sag x[n] = 1/k + (1 - 1/k)(1 - k a)^n, k = 10/10.6, a = 1 - exp(-20 ms / 0.3 s): solved by hand."""
    scenario = on_resistor(generator__sag=0.0, generator__regulator_time=0.3)
    steps = step_of_load(scenario, delay=None, duration=1.0)
    k, a = 10.0 / 10.6, 1.0 - math.exp(-0.02 / 0.3)
    for number, one in enumerate(steps):
        by_hand = 1.0 / k + (1.0 - 1.0 / k) * (1.0 - k * a) ** number
        assert one.excitation == pytest.approx(by_hand, rel=1e-9)
        assert one.plug == pytest.approx(k * by_hand, rel=1e-9)


def test_distortion_by_closed_form():
    """Phase control at 90 degrees on 10 ohm behind 0.6 ohm: harmonics of the voltage are 0.6 ohm times the current's.

    Harmonics of the current: textbook form, odd orders to 39.  5e-4: the regulator's 1e-5 and leakage.
    """
    answer = generator.ask(on_resistor(phase_control=CONTROL))
    angle = math.pi / 2.0
    a1, b1 = (math.cos(2 * angle) - 1.0) / (2 * math.pi), (2 * (math.pi - angle) + math.sin(2 * angle)) / (2 * math.pi)
    squares = 0.0
    for n in range(3, 41, 2):
        a = ((math.cos((n + 1) * angle) - 1) / (n + 1) - (math.cos((n - 1) * angle) - 1) / (n - 1)) / math.pi
        b = (math.sin((n + 1) * angle) / (n + 1) - math.sin((n - 1) * angle) / (n - 1)) / math.pi
        squares += a * a + b * b
    share = 0.6 / 10.6
    fundamental = math.hypot(share * a1, 1.0 - share * b1)
    assert value(answer, "plug.voltage.thd") == pytest.approx(share * math.sqrt(squares) / fundamental, rel=5e-4)


def test_the_street_does_not_count():
    """Impedance, background and direct voltage of the mains change nothing on a generator; on the mains they do."""
    street = on_resistor(mains__resistance=1.0, mains__background=next(iter(PRESETS)), mains__dc_offset=2.0)
    answer = generator.ask(street)
    assert value(answer, "generator.emf") == pytest.approx(1.06, rel=2e-5)
    assert value(answer, "plug.voltage.thd") == pytest.approx(0.0, abs=1e-9)
    assert value(answer, "on_mains.plug.voltage.thd") > 0.01


def test_mains_without_impedance_are_no_comparison():
    """Whatever is drawn from mains of 0 ohm and 0 H, their voltage stays a sine: words and no figure in its place.

    With 0.1 ohm, or with harmonics of others, there is something to compare with.
    """
    control = {"phase_control": CONTROL}
    stiff = generator.ask(on_resistor(**control))
    (text,) = [one.text for one in stiff.verdicts if one.name == "distortion"]
    assert math.isnan(value(stiff, "on_mains.plug.voltage.thd"))
    assert stiff.as_json()["numbers"]["on_mains.plug.voltage.thd"]["value"] is None
    assert "beside nothing on the mains, which this scenario gives without impedance" in text
    assert "on the mains;" not in text
    assert any(line.startswith("The mains beside it have no impedance") for line in stiff.assumptions)
    soft = generator.ask(on_resistor(mains__resistance=0.1, **control))
    (text,) = [one.text for one in soft.verdicts if one.name == "distortion"]
    assert "% on the mains;" in text
    assert value(soft, "on_mains.plug.voltage.thd") > 0.001
    background = generator.ask(on_resistor(mains__background=next(iter(PRESETS))))
    assert value(background, "on_mains.plug.voltage.thd") > 0.01


def test_the_picture_of_a_tiny_load_can_be_read():
    """Half a watt hardly moves the voltage: no label lies on another, amps in mA, no key of what is not drawn."""
    drawn = picture.draw(generator.ask(on_resistor(load__resistance=1e5)))
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []
    assert "output [mA]" in [axes.get_ylabel() for axes in drawn.axes]
    texts = [text for text, _ in layout.texts_of(drawn)]
    assert "EN 50160: 8 %" not in texts
    assert "does not" not in texts


def test_every_run_meets_the_generator():
    """From rest the emf stays at 230 V: 230 V times 10/10.6 at the terminals; settled, the regulator holds 230 V."""
    run = weldsim.perform(on_resistor(), start="rest", duration=0.2, window=0.02)
    assert run.figure("plug.voltage.rms") == pytest.approx(230.0 * 10.0 / 10.6, rel=1e-9)
    run = weldsim.perform(on_resistor(), start="steady", duration=0.2)
    assert run.figure("plug.voltage.rms") == pytest.approx(230.0, rel=2e-5)  # a settled regulator is held to 1e-5
    assert run.figure("mains.voltage.rms") == pytest.approx(230.0 * 1.06, rel=2e-5)


def test_the_mains_question_reads_at_the_generators_terminals():
    """A resistor has power factor 1 behind any impedance; 230 V on 10 ohm are 5290 W there, 1.06 times that at the emf.

    Distortion at a reference impedance is one on the mains, so it does not move with the generator's size.
    """
    answer = weldsim.mains(on_resistor(mains__resistance=0.3))
    assert value(answer, "plug.power_factor") == pytest.approx(1.0, abs=1e-9)
    assert value(answer, "primary.power.mean") == pytest.approx(
        5290.0 * 1.06, rel=4e-5
    )  # the regulator's 1e-5, squared
    dimmed = on_resistor(phase_control=CONTROL)
    larger = weldsim.mains(weldsim.vary(dimmed, generator__resistance=0.2))
    smaller = weldsim.mains(dimmed)
    assert value(smaller, "plug.voltage.thd") > 2.0 * value(larger, "plug.voltage.thd")
    name = "reference.plug.voltage.thd"
    assert value(smaller, name) == pytest.approx(value(larger, name), rel=1e-9)


@pytest.mark.slow
def test_presses_on_a_generator():
    """A generator of more resistance lowers the worst press, and the remedy of more impedance is one of the generator.

    The ring's surge is held by resistance (saturated core: crest over what stands in the way).
    """
    shed = weldsim.vary(weldsim.read("toroid_shed"), {"generator.rating": 20e3})
    stiff, soft = (weldsim.inrush(one, presses=8) for one in (shed, weldsim.vary(shed, {"generator.rating": 4e3})))
    assert value(soft, "first_peak.worst") < 0.7 * value(stiff, "first_peak.worst")
    rows = {row["name"]: row for row in stiff.rows if row["kind"] == "remedy"}
    (more,) = [row for name, row in rows.items() if name.endswith("more in the generator")]
    assert more["largest"] < rows["as it is"]["largest"]


@pytest.mark.slow
def test_every_study_says_what_of_a_generator_it_leaves_out():
    """Settled ones that the regulator holds, sudden ones that sag and regulator are left out; on the mains neither."""
    shed = weldsim.vary(weldsim.read("toroid_shed"), {"generator.rating": 6e3})
    told = {
        "preview": "regulator holds 230 V at the terminals",
        "breaker": "regulator holds 230 V at the terminals",
        "weld": "are left out here",
        "strike": "are left out here",
    }
    short = {"weld": {"seconds": 0.5}, "strike": {"trials": 1}}
    for study, words in told.items():
        lines = getattr(weldsim, study)(shed, **short.get(study, {})).assumptions
        assert sum(words in line for line in lines) == 1, study
    assert not any("generator" in line for line in weldsim.preview(weldsim.read("toroid_shed")).assumptions)


def test_larger_generators_do_better(farm):
    """Down the ladder: less distortion, load and excitation; what carries once carries from there on.

    The demo's own estimate for it is a petrol generator of 5 kVA with 0.6 ohm and 3 mH, which is overloaded.
    """
    ladder = [row for row in farm.rows if row["kind"] == "rating"]
    for small, large in zip(ladder, ladder[1:], strict=False):
        assert large["plug_thd"] < small["plug_thd"]
        assert large["load"] < small["load"]
        assert large["excitation"] < small["excitation"]
        assert large["carries"] or not small["carries"]
    assert value(farm, "generator.resistance") == pytest.approx(0.6, rel=0.01)
    assert value(farm, "generator.inductance") == pytest.approx(3e-3, rel=0.01)
    assert value(farm, "generator.load") > 1.0
    assert value(farm, "generator.rating.needed") > 5000.0


def test_the_step_ends_where_it_settles(farm):
    """After three seconds, ten times the regulator's constant, the step is within 0.5 % of the settled output."""
    steps = [row for row in farm.rows if row["kind"] == "step"]
    assert steps[-1]["output_current"] == pytest.approx(value(farm, "output.current.mean"), rel=5e-3)
    assert value(farm, "generator.dip") == pytest.approx(1.0 - min(row["plug_voltage"] for row in steps) / 230.0)
    assert 0.0 < value(farm, "generator.recovery_time") < 3.0


def test_verdicts_state_their_spread(farm):
    """Rating and distortion move with the voltage the regulator is set to."""
    texts = {verdict.name: verdict.text for verdict in farm.verdicts}
    assert set(texts) == {"rating", "distortion", "sag"}
    assert "set voltage -10 to +10 %" in texts["rating"]
    assert "set voltage -10 to +10 %" in texts["distortion"]


def test_the_picture_can_be_read(farm):
    """Nothing overlaps or leaves the picture."""
    drawn = picture.draw(farm)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []


@pytest.mark.slow
def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with caution and picture; JSON with both kinds of rows; an own [generator] is used where it is given."""
    monkeypatch.chdir(tmp_path)
    assert main(["generator", "benchmark_b", "--rating", "6.5 kVA"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "change-over switch" in page
    assert "Ratings" in page
    assert (tmp_path / "benchmark_b-generator.png").exists()
    assert main(["generator", "benchmark_b", "--set", "generator.rating=4 kVA", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert {row["kind"] for row in answer["rows"]} == {"rating", "step"}
    assert answer["numbers"]["generator.rating"]["value"] == 4000.0
