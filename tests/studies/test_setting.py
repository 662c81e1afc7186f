"""Setting: the dial for a wanted output against closed forms and against runs of their own, and what cannot be had."""

import itertools
import json
import math

import pytest
from scipy.optimize import brentq

import weldsim
from tests.figures import layout
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.figures import setting as picture
from weldsim.studies import setting

CREST, OHMS = math.sqrt(2.0) * 230.0, 23.0
CONTROLLER = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0.1 mA"
holding_current = "0.1 mA"
off_resistance = "1000 Mohm"
delay_at_0 = "170 deg"
delay_at_100 = "10 deg"
pulse_width = "10 us"
[load]
kind = "resistor"
resistance = "23 ohm"
"""
RECTIFIED = (
    CONTROLLER + '[rectifier]\nkind = "bridge"\nthreshold = "0 V"\nslope = "0 ohm"\nleakage_resistance = "1000 Mohm"\n'
)


@pytest.fixture(scope="module")
def shed():
    """120 A from the shed's supply."""
    return setting.ask(weldsim.read("toroid_shed"), current=120.0)


def value(answer, name):
    """One number."""
    return answer.numbers[name].value


def verdict(answer, name):
    """One verdict."""
    return next(one for one in answer.verdicts if one.name == name)


def rms(delay):
    """Rms of a resistor's current behind a phase control [A] (closed form, in any book of power electronics)."""
    a = math.radians(delay)
    return CREST / OHMS * math.sqrt((math.pi - a + math.sin(2.0 * a) / 2.0) / (2.0 * math.pi))


def mean(delay):
    """Mean of the same behind a bridge [A] (closed form)."""
    return CREST / OHMS * (1.0 + math.cos(math.radians(delay))) / math.pi


@pytest.mark.parametrize(("text", "form", "wanted"), [(CONTROLLER, rms, 6.0), (RECTIFIED, mean, 4.0)])
def test_dial_of_a_resistor(text, form, wanted):
    """The delay solves the closed form of rms or mean: 0.02 degrees, since the output is met to 1e-4.

    Its slope for one percent of the dial is that of 1.6 degrees less delay: 2e-3, for the span it is taken over.
    """
    answer = setting.ask(weldsim.read_text(text), current=wanted)
    delay = brentq(lambda angle: form(angle) - wanted, 10.0, 170.0)
    slope = 1.6 * (form(delay - 0.1) - form(delay + 0.1)) / 0.2

    assert value(answer, "setting.reached") == 1.0
    assert value(answer, "setting.delay") == pytest.approx(delay, abs=0.02)
    assert value(answer, "setting.dial") == pytest.approx((170.0 - delay) / 160.0, abs=2e-4)
    assert value(answer, "setting.sensitivity.rated_mains") == pytest.approx(slope, rel=2e-3)


def test_everything_of_a_resistor_goes_with_the_mains():
    """A linear circuit gives 10 % more or less at mains +-10 %, slope included, and needs the closed form's dial again.

    1e-4: leakage; the digits to which the dial is found.
    """
    answer = setting.ask(weldsim.read_text(CONTROLLER), voltage=138.0)  # of 6 A in 23 ohm
    middle = value(answer, "setting.sensitivity.rated_mains")

    for name, factor in (("low_mains", 0.9), ("high_mains", 1.1)):
        delay = brentq(lambda angle, factor=factor: factor * rms(angle) - 6.0, 10.0, 170.0)
        assert value(answer, f"setting.output.{name}") == pytest.approx(factor * 138.0, rel=2e-4)
        assert value(answer, f"setting.sensitivity.{name}") == pytest.approx(factor * middle, rel=1e-4)
        assert value(answer, f"setting.dial.{name}") == pytest.approx((170.0 - delay) / 160.0, abs=2e-4)
    assert answer.numbers["setting.sensitivity.rated_mains"].unit == "V/%"


def test_a_dial_that_turns_the_other_way():
    """With the delays of 0 and 100 % exchanged the dial is one minus what it was, and its slope the negative."""
    turned = weldsim.vary(
        weldsim.read_text(CONTROLLER), {"phase_control.delay_at_0": 10.0, "phase_control.delay_at_100": 170.0}
    )
    plain, other = (setting.ask(one, current=6.0) for one in (weldsim.read_text(CONTROLLER), turned))

    assert value(other, "setting.dial") == pytest.approx(1.0 - value(plain, "setting.dial"), abs=2e-4)
    slopes = [value(one, "setting.sensitivity.rated_mains") for one in (plain, other)]
    assert slopes[1] == pytest.approx(-slopes[0], rel=1e-3)


def test_a_jump_on_the_way_is_passed_over():
    """A pulse of 1 ms at 170 degrees reaches beyond the crossing and gives a triac the whole next half cycle: 10 A.

    From there the output falls in a jump, past 6 A, before it rises to 6 A in earnest at the closed form's delay.
    """
    answer = setting.ask(weldsim.vary(weldsim.read_text(CONTROLLER), {"phase_control.pulse_width": 1e-3}), current=6.0)
    least = next(row for row in answer.rows if row["kind"] == "dial" and row["mains"] == 0.0)

    assert (least["dial"], least["current"]) == (0.0, pytest.approx(10.0, rel=1e-3))
    assert value(answer, "setting.delay") == pytest.approx(brentq(lambda one: rms(one) - 6.0, 10.0, 170.0), abs=0.02)


def test_preview_at_the_dial_gives_what_was_wanted(shed):
    """A preview at the dial that was found gives 120 A at 20 V, on the load line 14 V + 0.05 ohm x I: 2e-4."""
    seen = weldsim.preview(weldsim.read("toroid_shed"), dial=value(shed, "setting.dial")).numbers

    assert seen["output.current.mean"].value == pytest.approx(120.0, rel=2e-4)
    assert value(shed, "output.voltage.mean") == pytest.approx(20.0, rel=2e-4)
    assert verdict(shed, "setting").level == "good"
    assert verdict(shed, "latching").level == "good"


def test_beyond_the_supply_the_end_of_its_dial_is_told():
    """20 A from 10 A of full sine: the nearest is that at the dial's end, 10 degrees, by the closed form (1e-4)."""
    answer = setting.ask(weldsim.read_text(CONTROLLER), current=20.0)

    assert value(answer, "setting.reached") == 0.0
    assert value(answer, "setting.dial") == 1.0
    assert value(answer, "output.current.rms") == pytest.approx(rms(10.0), rel=1e-4)
    assert math.isnan(value(answer, "setting.dial.low_mains"))
    assert verdict(answer, "setting").level == "fault"
    assert "cannot be reached" in verdict(answer, "setting").text
    assert "no setting gives more" in verdict(answer, "setting").text


def test_below_the_supply_the_least_is_told():
    """Half of what the dial's beginning gives, at 170 degrees by the closed form, cannot be had."""
    answer = setting.ask(weldsim.read_text(CONTROLLER), current=0.5 * rms(170.0))

    assert value(answer, "setting.dial") == 0.0
    assert value(answer, "output.current.rms") == pytest.approx(rms(170.0), rel=1e-3)  # holding current, leakage
    assert "no setting gives less" in verdict(answer, "setting").text


@pytest.mark.slow
def test_what_misfires_is_no_setting():
    """The shed's single pulse is too short near full output: 180 A would lie there, and the edge is told.

    Of the wanted 180 A the nearest sound setting is below that edge; half a percent above it half cycles are missed.
    """
    answer = setting.ask(weldsim.read("toroid_shed"), current=180.0)
    dial = value(answer, "setting.dial")
    above = weldsim.preview(weldsim.read("toroid_shed"), dial=dial + setting.EDGE).numbers

    assert value(answer, "missed_half_cycles.count") == 0
    assert above["missed_half_cycles.count"].value > 0
    assert "misses half cycles" in verdict(answer, "setting").text
    assert verdict(answer, "over_the_mains").level == "fault"  # at mains -10 % it misfires there


def test_full_conduction_is_all_there_is():
    """12 ohm and 30 mH behind the triac: below 38 degrees the current never stops, and no dial gives more.

    230 V over 15.3 ohm are 15.08 A less what 1 V of the triac takes (the impedance's angle and modulus, by hand: 1 %).
    That above 90 % the pulses end while the other half cycle's current flows is true, but not why 60 A are out of
    reach; nor is there a transformer to blame, nor anything to set by one percent of the dial.
    """
    inductive = weldsim.vary(
        weldsim.read_text(CONTROLLER),
        {"phase_control.pulse_width": 1e-3, "phase_control.threshold": 1.0, "load.resistance": 12.0}
        | {"load.inductance": 0.03},
    )
    answer = setting.ask(inductive, current=60.0)

    assert value(answer, "output.current.rms") == pytest.approx(230.0 / math.hypot(12.0, 314.16 * 0.03), rel=0.01)
    assert "no setting gives more: the volts of the mains" in verdict(answer, "setting").text
    assert value(answer, "setting.sensitivity.rated_mains") == 0.0
    assert "changes nothing" in verdict(answer, "sensitivity").text


def test_a_load_that_never_settles_is_replaced_and_told():
    """On programmed shorts no settled output exists: the dial is found on 14 V + 0.05 ohm x I, and the page says so."""
    answer = setting.ask(weldsim.read("benchmark_c"), current=90.0)

    assert value(answer, "output.voltage.mean") == pytest.approx(18.5, rel=2e-4)
    assert any("in place of the scenario's shorted arc" in line for line in answer.assumptions)


def test_nothing_to_set_and_nothing_wanted_are_refused():
    """No dial, no wanted value, two of them, or one of nothing: each is answered with what to give."""
    shed = weldsim.read("toroid_shed")
    with pytest.raises(QuestionError, match="no dial"):
        setting.ask(weldsim.vary(shed, {"phase_control": "absent"}), current=100.0)
    with pytest.raises(QuestionError, match="one output is wanted"):
        setting.ask(shed)
    with pytest.raises(QuestionError, match="not both"):
        setting.ask(shed, current=100.0, voltage=20.0)
    with pytest.raises(QuestionError, match="no output to want"):
        setting.ask(shed, voltage=0.0)


def test_a_supply_that_misfires_everywhere_is_refused():
    """A latching current of 10 A that a 23 ohm load never passes within 0.1 us leaves no setting to choose."""
    dead = weldsim.vary(
        weldsim.read_text(CONTROLLER), {"phase_control.latching_current": 10.0, "phase_control.pulse_width": 1e-7}
    )
    dead = weldsim.vary(dead, {"load.resistance": 230.0})
    with pytest.raises(QuestionError, match="at every setting"):
        setting.ask(dead, current=0.5)


def test_the_picture_can_be_read(shed):
    """Nothing overlaps or leaves the picture, both axes have their unit, and the point lies on what is wanted."""
    drawn = picture.draw(shed)
    assert layout.overlapping(drawn) == []
    assert layout.cut_off(drawn) == []
    (axes,) = drawn.axes
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("dial [%]", "output current [A]")
    place = axes.collections[-1].get_offsets()[0]
    assert place[0] == pytest.approx(100.0 * value(shed, "setting.dial"))
    assert place[1] == pytest.approx(120.0, rel=2e-4)


@pytest.mark.slow
def test_from_the_command_line(tmp_path, monkeypatch, capsys):
    """Page with caution and picture, JSON with its rows, and a wish for two things at once is refused."""
    monkeypatch.chdir(tmp_path)
    assert main(["setting", "charger", "--current", "30 A", "--save", "run.h5"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "This dial over the mains" in page
    assert "how long it may run" in page
    table = page.split("This dial over the mains")[1].split("Assumed")[0]
    assert [one in table for one in (" -10 % ", " 0 % ", " +10 % ", "+100 %", "+90 %")] == [
        True,
        True,
        True,
        False,
        False,
    ]
    assert (tmp_path / "charger-setting.png").exists()
    assert (tmp_path / "run.h5").exists()
    assert main(["setting", "charger", "--voltage", "27 V", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert {row["kind"] for row in answer["rows"]} == {"point", "dial"}
    assert main(["setting", "charger", "--voltage", "27 V", "--current", "30 A"]) == 2


def test_the_travel_of_a_dial_on_a_resistor_is_the_closed_form():
    """A lamp on a linear dial from 170 to 10 degrees: which steps of 5 % lie in the first and last 2 % of its range.

    rms = (V/R) sqrt(1 - a / pi + sin(2 a) / (2 pi)), by hand.
    """
    dials = [0.05 * step for step in range(21)]
    angles = [math.radians(170.0 - 160.0 * dial) for dial in dials]
    amps = [10.0 * math.sqrt(1.0 - a / math.pi + math.sin(2.0 * a) / (2.0 * math.pi)) for a in angles]
    span = amps[-1] - amps[0]
    begins = max(dial for dial, one in zip(dials, amps, strict=True) if one - amps[0] <= 0.02 * span)
    full = min(dial for dial, one in zip(dials, amps, strict=True) if amps[-1] - one <= 0.02 * span)
    answer = setting.ask(weldsim.read_text(CONTROLLER), current=5.0)
    assert answer.numbers["setting.dial.begins"].value == pytest.approx(begins)
    assert answer.numbers["setting.dial.full"].value == pytest.approx(full)
    told = next(one for one in answer.verdicts if one.name == "travel")
    steepest = max(later - former for former, later in itertools.pairwise(amps)) / 5.0
    assert f"{steepest:.3g} A for one percent" in told.text
    assert told.level == ("note" if 1.0 - (full - begins) > 0.25 else "good")
