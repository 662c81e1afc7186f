"""Preview: every name of the interface, a sensible part of them for smaller circuits, and verdicts that say why."""

import re

import numpy as np
import pytest

import weldsim
from weldsim.figures.preview import draw
from weldsim.figures.style import save
from weldsim.report.wording import page
from weldsim.runs.perform import record
from weldsim.studies import preview

NAMES = {
    **{
        f"output.{quantity}.{statistic}": unit
        for quantity, unit in (("current", "A"), ("voltage", "V"))
        for statistic in ("mean", "rms", "min", "max", "ripple")
    },
    "bank.voltage.mean": "V",
    "bank.voltage.ripple": "V",
    "bank.current.rms": "A",
    "primary.current.rms": "A",
    "primary.current.peak": "A",
    "primary.current.harmonic_3": "A",
    "primary.power.mean": "W",
    "primary.power_factor": "1",
    "plug.power_factor": "1",
    "core.flux_linkage.peak": "V.s",
    "core.flux_linkage.mean": "V.s",
    "conduction.angle": "deg",
    "missed_half_cycles.count": "1",
    "switch_on.current.peak": "A",
}  # the interface, to the letter
SPREAD = r"mains -10, 0, \+10 %: ([^ ,]+), ([^ ,]+), ([^ ,]+) (?:A|V\.s)"


def vary(name, **changes):
    """A bundled scenario with changes; "absent" takes a table away."""
    return weldsim.vary(weldsim.read(name), changes)


def levels(answer):
    """Verdict -> level."""
    return {verdict.name: verdict.level for verdict in answer.verdicts}


def text_of(answer, name):
    """The text of one verdict."""
    return next(verdict.text for verdict in answer.verdicts if verdict.name == name)


@pytest.fixture(scope="module")
def toroid():
    """The toroid at its own dial."""
    return preview.ask(weldsim.read("toroid_shed"))


@pytest.fixture(scope="module")
def early():
    """The toroid at dial 90 %, where it fires too early for its pulse."""
    return preview.ask(weldsim.read("toroid_shed"), dial=0.9)


def test_every_name_of_the_interface(toroid):
    """All names are there with their units and finite values, and both runs."""
    for name, unit in NAMES.items():
        assert toroid.numbers[name].unit == unit
        assert np.isfinite(toroid.numbers[name].value), name
    assert toroid.study == "preview"
    assert set(toroid.runs) == {"window", "approach"}


def test_the_figures_are_of_one_mind(toroid):
    """Least, mean, rms and largest in this order; ripple between the extremes; powers below volt-amperes."""
    numbers = {name: number.value for name, number in toroid.numbers.items()}
    for place in ("output.current", "output.voltage"):
        ordered = [numbers[f"{place}.{statistic}"] for statistic in ("min", "mean", "rms", "max")]
        assert ordered == sorted(ordered)
        # rounding only: three exact figures
        assert numbers[f"{place}.ripple"] == pytest.approx(numbers[f"{place}.max"] - numbers[f"{place}.min"], rel=1e-12)
    assert numbers["primary.current.rms"] < numbers["primary.current.peak"] < numbers["switch_on.current.peak"]
    # on the conventional load line of IEC 60974-1, behind whose knee the arc stays (rounding of exact integrals)
    assert numbers["output.voltage.mean"] == pytest.approx(14.0 + 0.05 * numbers["output.current.mean"], rel=1e-9)
    # the definition of the power factor at the ideal source of 230 V rms
    factor = numbers["primary.power.mean"] / (230.0 * numbers["primary.current.rms"])
    assert numbers["primary.power_factor"] == pytest.approx(factor, rel=1e-9)
    assert numbers["output.current.mean"] * numbers["output.voltage.mean"] < numbers["primary.power.mean"]


@pytest.mark.parametrize("duration", [0.004, 0.9])
def test_largest_from_rest_is_of_the_run_asked_for(duration):
    """It is the peak of a window that is the whole run, shorter than what is shown or with its surge late."""
    scenario = vary("benchmark_c", bank="absent", **{"load.short_start": "0.5 s", "load.short_duration": "9 ms"})
    asked = {"delay": 90.0, "start": "rest", "duration": duration}
    whole = preview.ask(scenario, window=duration, **asked).numbers["primary.current.peak"].value

    answer = preview.ask(scenario, window=0.003, **asked)

    assert answer.numbers["switch_on.current.peak"].value == pytest.approx(whole, rel=1e-9)  # exact extremes, twice
    seen = np.abs(answer.runs["approach"]["primary.current"]).max()  # of samples, every 50 us
    assert seen == pytest.approx(whole, rel=0.01)


def test_largest_from_rest_is_no_less_than_settled():
    """Direct voltage on the mains saturates a core over seconds, long after a gentle switch-on at the crest."""
    absent = dict.fromkeys(("phase_control", "rectifier", "bank", "choke", "weld_leads", "load"), "absent")
    scenario = vary("benchmark_a", **absent, **{"mains.dc_offset": "1 V", "start.mains_phase": "90 deg"})
    numbers = preview.ask(scenario).numbers

    assert numbers["switch_on.current.peak"].value >= numbers["primary.current.peak"].value


def test_what_each_instrument_shows(toroid):
    """A moving coil shows the mean, true rms the rms; a rectifier meter 1.1107 times the mean magnitude (its scale)."""
    numbers = {name: number.value for name, number in toroid.numbers.items()}
    wave = toroid.runs["window"]["primary.current"][:-1]
    scale = np.pi / (2.0 * np.sqrt(2.0))

    assert numbers["output.current.moving_coil"] == numbers["output.current.mean"]
    assert numbers["output.current.true_rms"] == numbers["output.current.rms"]
    # a current that never changes its sign: its mean, to rounding
    expected = scale * numbers["output.current.mean"]
    assert numbers["output.current.average_responding"] == pytest.approx(expected, rel=1e-12)
    # alternating: recorded samples every 50 us, whose corners cost some 1e-3
    expected = scale * np.abs(wave).mean()
    assert numbers["primary.current.average_responding"] == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize(
    ("changes", "missing"),
    [
        ({"bank": "absent"}, ("bank",)),
        ({"choke": "absent"}, ()),
        ({"core": "absent"}, ("core",)),
        ({"weld_leads": "absent"}, ()),
        ({"load": "absent"}, ()),
        ({"phase_control": "absent"}, ("conduction", "missed_half_cycles")),
        ({"rectifier": "absent", "bank": "absent", "choke": "absent"}, ("bank",)),
        (
            dict.fromkeys(("rectifier", "bank", "choke", "transformer", "core"), "absent")
            | {"load": {"kind": "resistor", "resistance": "10 ohm"}},
            ("bank", "core"),
        ),
        (dict.fromkeys(("rectifier", "bank", "choke", "load", "weld_leads"), "absent"), ("bank",)),
    ],
    ids=["bank", "choke", "core", "leads", "load", "control", "rectifier", "transformer", "transformer alone"],
)
def test_parts_can_be_left_out(changes, missing):
    """Without a part its figures are left out and all others stand; the energy still closes."""
    answer = preview.ask(vary("benchmark_a", **changes))

    expected = {name for name in NAMES if name.split(".")[0] not in missing}
    assert {name for name in answer.numbers if name in NAMES} == expected
    assert all(np.isfinite(answer.numbers[name].value) for name in expected)
    assert answer.verdicts or "phase_control" in changes
    assert "energy" not in levels(answer)


@pytest.mark.parametrize("name", ["toroid_shed_boost", "garage_60hz", "charger"])
def test_other_bundled_supplies(name):
    """Boost, 60 Hz and battery: the energy closes and the verdicts are sorted, the grave ones first."""
    answer = preview.ask(weldsim.read(name))
    order = [("fault", "note", "good").index(verdict.level) for verdict in answer.verdicts]

    assert "energy" not in levels(answer)
    assert order == sorted(order)
    assert {"conduction.angle", "output.current.mean", "core.flux_linkage.peak"} <= set(answer.numbers)


def test_half_waving_names_its_cause(early):
    """The lost pulse, the direct current and the biased core are told with the numbers of the answer."""
    text = text_of(early, "half_waving")

    assert levels(early)["half_waving"] == levels(early)["latching"] == "fault"
    assert "flux_bias" not in levels(early)  # a verdict for supplies that conduct in both polarities
    assert "100 % of the negative half cycles" in text
    assert f"{early.numbers['primary.current.mean'].value:.3g} A of direct current" in text
    assert f"biased by {early.numbers['core.flux_linkage.mean'].value:.3g} V.s" in text
    assert "Cause: the pulse ends while the other half cycle's current still flows" in text
    assert "pulse of 100 us" in text_of(early, "latching")
    assert early.numbers["missed_half_cycles.count"].value == 0.5 * early.numbers["half_cycles.count"].value


def test_flux_bias_is_a_verdict_of_its_own():
    """Benchmark A at its own 60 degrees conducts in both polarities and settles with a biased core."""
    answer = preview.ask(weldsim.read("benchmark_a"))
    peak, mean = (answer.numbers[f"core.flux_linkage.{which}"].value for which in ("peak", "mean"))

    assert answer.numbers["missed_half_cycles.count"].value == 0.0
    assert abs(mean) > 0.1 * peak
    assert levels(answer)["flux_bias"] == "fault"
    assert "half_waving" not in levels(answer)
    assert f"biased by {mean:.3g} V.s" in text_of(answer, "flux_bias")
    # the same supply fired at 90 degrees settles without one
    assert "flux_bias" not in levels(preview.ask(weldsim.read("benchmark_a"), delay=90.0))


def test_an_arc_that_touches_zero():
    """Benchmark C lets the arc's current fall to zero between half cycles; benchmark B at 90 degrees does not."""
    touching, steady = (preview.ask(weldsim.read(name)) for name in ("benchmark_c", "benchmark_b"))

    assert levels(touching)["arc_current"] == "fault"
    assert touching.numbers["output.current.min"].value < 0.1
    assert "up to 100 times a second" in text_of(touching, "arc_current")
    assert levels(steady)["arc_current"] == "good"
    assert steady.numbers["output.current.min"].value > 15.0
    assert any("does not repeat with the mains" in line for line in touching.assumptions)


@pytest.mark.parametrize("fault", ["one diode open", "one diode shorted"])
def test_a_broken_diode_is_named_as_the_cause(fault):
    """Verdicts of a supply with a broken bridge name the diode, not the firing; one pulse in a period is left."""
    answer = preview.ask(vary("benchmark_b", **{"rectifier.fault": fault}))

    assert f"the rectifier has {fault}" in text_of(answer, "arc_current")
    assert "up to 50 times a second" in text_of(answer, "arc_current")
    if "flux_bias" in levels(answer):
        assert f"a rectifier with {fault}" in text_of(answer, "flux_bias")


def test_an_unloaded_supply_says_so_and_shows_no_zeros():
    """Without a load the answer tells the voltage that stands there; page and picture leave out its current."""
    answer = preview.ask(vary("toroid_shed", load="absent"))
    panels = draw(answer).axes

    assert "Nothing is connected" in text_of(answer, "unloaded")
    assert f"{answer.numbers['output.voltage.mean'].value:.3g} V on the mean" in text_of(answer, "unloaded")
    assert "output current" not in page(answer)
    assert answer.numbers["output.current.mean"].value == 0.0  # for programs it stays
    assert len(panels) == len(draw(preview.ask(weldsim.read("toroid_shed"))).axes) - 2


def test_a_bank_over_its_ripple_rating(toroid):
    """Four cans of 20 A carry more than 80 A: a fault, with the heat as the square of the ratio; ten times the cans
    are enough.
    """
    current = toroid.numbers["bank.current.rms"].value
    cured = preview.ask(vary("toroid_shed", **{"bank.cans": 40}))

    assert levels(toroid)["bank_ripple"] == "fault"
    assert f"continuous rating of 80 A: {(current / 80.0) ** 2:.1f} times" in text_of(toroid, "bank_ripple")
    assert levels(cured)["bank_ripple"] == "good"


def test_spreads_bracket_the_figure(toroid):
    """Settled at mains -10, 0 and +10 %: three rising numbers, of which the middle one is the table's."""
    for name, number in (
        ("operating_point", "output.current.mean"),
        ("arc_current", "output.current.min"),
        ("bank_ripple", "bank.current.rms"),
    ):
        found = [float(word) for word in re.search(SPREAD, text_of(toroid, name)).groups()]
        assert found == sorted(found)
        assert found[1] == pytest.approx(toroid.numbers[number].value, rel=1e-3)  # four digits are written


@pytest.mark.parametrize(("name", "start"), [("benchmark_b", "steady"), ("benchmark_c", "rest")])
def test_spreads_are_those_of_other_mains_voltages(name, start):
    """The outer figures are those of scenarios with 207 and 253 V, looked at in the same window.

    Settled or, where the load does not repeat with the mains, run from rest for the same second.
    """
    scenario = weldsim.read(name)
    text = text_of(preview.ask(scenario), "operating_point")
    low, _, high = (float(word) for word in re.search(SPREAD, text).groups())
    for factor, told in ((0.9, low), (1.1, high)):
        other = weldsim.vary(scenario, {"mains.voltage": factor * scenario.mains.voltage})
        run = record(other, start=start, duration=None if start == "steady" else 1.0, window=0.2).run
        assert told == pytest.approx(run.figure("output.current.mean"), rel=1e-3)  # four digits are written


def test_the_line_is_that_of_the_process():
    """A stick set is held against 20 V + 0.04 ohm x I, not against the line of MIG (IEC 60974-1, from memory)."""
    stick = weldsim.vary(weldsim.read("toroid_shed"), {"load.process": "MMA"})
    answer = preview.ask(stick)
    amps, volts = (answer.numbers[f"output.{what}.mean"].value for what in ("current", "voltage"))
    assert volts == pytest.approx(20.0 + 0.04 * amps, rel=1e-6)
    assert f"of MMA, 20 V + 0.04 ohm x I, at this current is {volts:.3g} V" in text_of(answer, "operating_point")


def test_a_charger_is_not_held_to_a_welding_line():
    """A battery is no weld: the conventional load voltage of IEC 60974-1 is not told of it."""
    assert "operating_point" not in levels(preview.ask(weldsim.read("charger")))


@pytest.mark.parametrize("start", ["steady", "rest"])
def test_the_window_is_the_one_asked_for(start):
    """Figures of a run speak of its last part: 0.06 s are six half cycles."""
    answer = preview.ask(weldsim.read("benchmark_b"), start=start, duration=0.3, window=0.06)

    assert answer.numbers["half_cycles.count"].value == 6.0
    assert answer.runs["window"].window == pytest.approx((0.24, 0.3), abs=1e-12)  # rounding of one difference
    assert answer.runs["approach"].time[-1] == pytest.approx(preview.APPROACH, abs=1e-12)


def test_the_picture_may_be_drawn_before_the_verdicts(tmp_path):
    """What is handed over on the way has no verdicts yet, and gives the picture of the whole answer."""
    early = []
    whole = preview.ask(weldsim.read("toroid_shed"), dial=0.6, draw=early.append)
    assert whole.verdicts
    assert [one.verdicts for one in early] == [[]]
    pictures = [save(draw(one), tmp_path / f"{k}.png").read_bytes() for k, one in enumerate((*early, whole))]
    assert pictures[0] == pictures[1]


def test_what_a_window_takes_out_of_the_bank_is_told():
    """Pulses too short to latch every time: a bank that empties gives what its bleed takes beyond the source's watts.

    The energy of the window, sources against losses, closes by what the text names (definition; three digits told).
    """
    erratic = weldsim.read_text("""
[mains]
voltage = "240 V"
frequency = "50 Hz"
resistance = "0.446 ohm"
inductance = "0.439 mH"
[phase_control]
pulse_width = "55.6 us"
snubber_resistance = "220 ohm"
snubber_capacitance = "220 nF"
[rectifier]
[bank]
capacitance = "0.4 mF"
resistance = "0.227 ohm"
bleed_resistance = "314 ohm"
""")
    answer = preview.ask(erratic, delay=62.5, start="rest", duration=0.3, window=0.11)
    parts = {role: sum(row["power"] for row in answer.rows if row["role"] == role) for role in ("source", "loss")}
    text = next(one for one in answer.verdicts if one.name == "power").text
    off = parts["source"] - parts["loss"]
    assert abs(off) > 0.02 * parts["source"]
    assert f"{abs(off):.3g} W {'go into' if off > 0.0 else 'come out of'} charge and flux" in text
    unloaded = next(one for one in answer.verdicts if one.name == "unloaded").text
    assert "iron" not in unloaded  # there is none


def test_a_pair_that_shorts_itself_is_told():
    """Parallel secondaries, one the wrong way round: all volts drive the loop, and nothing comes to the arc.

    Both windings behind 15 mohm and 9 uH each take 31 V x 2 over twice that at full firing (Ohm's law): far above 20 A
    from the mains; `share` tells the same fault (of one mind).  The load is there, though it gets nothing.
    """
    pair = weldsim.vary(weldsim.read("benchmark_b"), {"second_transformer.secondaries": "parallel"})
    answer = preview.ask(weldsim.vary(pair, {"second_transformer.reversed": True}))
    found = {one.name: one for one in answer.verdicts}
    assert answer.verdicts[0].level == found["reversed"].level == "fault"
    assert answer.numbers["primary.current.rms"].value > 50.0
    assert f"{answer.numbers['primary.current.rms'].value:.3g} A rms to the pair" in found["reversed"].text
    assert "0 % arrive at the load" in found["power"].text
    assert found["power"].level == "note"
    assert "e-" not in found["open_circuit_voltage"].text.split("limit")[0]
    sound = preview.ask(pair)
    assert "reversed" not in {one.name for one in sound.verdicts}
