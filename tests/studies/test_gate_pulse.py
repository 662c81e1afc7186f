"""The shortest gate pulse that a setting needs: by closed form on a choke, and by what the supply really does."""

import math

import pytest
from scipy.optimize import brentq

import weldsim
from weldsim.errors import QuestionError
from weldsim.studies import preview
from weldsim.studies.answer import amount
from weldsim.studies.gate_pulse import LEAST, shortest_pulse

CHOKE = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "1 mohm"
pulse_width = "30 us"
latching_current = "80 mA"
holding_current = "50 mA"
off_resistance = "100 Mohm"
[load]
kind = "resistor"
resistance = "10 ohm"
inductance = "0.5 H"
"""


def until_latched(delay, resistance=10.0, inductance=0.5, latching=0.08):
    """Time until the current of a resistor with a choke, fired at rest, has reached latching [s]: the textbook form.

    i = (V/Z) (sin(wt - phi) - sin(a - phi) exp(-(wt - a) R/wL)).
    """
    omega, start = 100.0 * math.pi, math.radians(delay)
    impedance, phi = math.hypot(resistance, omega * inductance), math.atan2(omega * inductance, resistance)

    def above(time):
        fade = math.exp(-time * resistance / inductance)
        wave = math.sin(start + omega * time - phi) - math.sin(start - phi) * fade
        return 230.0 * math.sqrt(2.0) / impedance * wave - latching

    return brentq(above, 0.0, 1.5e-3)


def told(answer, name):
    """One verdict by its name."""
    return next(one for one in answer.verdicts if one.name == name)


@pytest.mark.parametrize("delay", [100.0, 125.0, 150.0])
def test_on_a_choke_it_is_the_closed_form(delay):
    """Fired later than the load's angle of 86 degrees each half cycle begins at rest: the textbook tells the pulse."""
    found = shortest_pulse(weldsim.read_text(CHOKE), delay=delay)
    assert found == pytest.approx(until_latched(delay), rel=0.035)  # it is looked for to 3 %


def test_where_the_current_rises_at_once_any_pulse_does():
    """On a resistor 80 mA flow within a microsecond of a firing at the crest."""
    assert shortest_pulse(weldsim.vary(weldsim.read_text(CHOKE), {"load.inductance": "0 H"}), delay=90.0) == LEAST


def test_where_the_zero_crossing_comes_first_none_does():
    """At 170 degrees the choke's current does not reach 80 mA before the pulse must end at 175 degrees."""
    omega, inductance = 100.0 * math.pi, 2.0
    end = (
        230.0 * math.sqrt(2.0) / (omega * inductance) * (math.cos(math.radians(170.0)) - math.cos(math.radians(175.0)))
    )
    assert abs(end) < 0.08  # without the resistance, which only takes from it
    assert shortest_pulse(weldsim.vary(weldsim.read_text(CHOKE), {"load.inductance": "2 H"}), delay=170.0) is None


@pytest.mark.slow
def test_the_pulse_that_a_preview_advises_cures():
    """The charger at 26 degrees: the pulse that would latch the first lost half cycle leaves it half-waving.

    What the verdict advises must be told by a run of its own: that pulse misses none, one a tenth shorter some.
    """
    charger = weldsim.read("charger")
    lost = preview.ask(charger, dial=0.9, gate=True)
    name = "phase_control.pulse_needed"
    needed = max(lost.numbers[f"{name}{end}"].value for end in (".low_mains", "", ".high_mains"))
    assert f"none is missed with a pulse of {amount(1e6 * needed, 'us')} or more" in told(lost, "latching").text
    assert told(lost, "gate_pulse").level == "fault"
    other = weldsim.vary(charger, {"phase_control.pulse_width": needed})
    for volts in (207.0, 230.0, 253.0):
        answer = preview.ask(weldsim.vary(other, {"mains.voltage": volts}), dial=0.9)
        assert answer.numbers["missed_half_cycles.count"].value == 0
    rated = weldsim.vary(charger, {"phase_control.pulse_width": 0.9 * lost.numbers[name].value})
    assert preview.ask(rated, dial=0.9).numbers["missed_half_cycles.count"].value == 10


@pytest.mark.slow
def test_a_pulse_that_serves_the_rated_mains_alone_is_no_good_one():
    """Between what the rated and the low mains need, no half cycle is missed at 230 V, and some are at 207 V.

    Told as a fault, with the pulse that serves all; the witness is a preview of the same set on 207 V.
    """
    charger = weldsim.read("charger")
    asked = preview.ask(charger, dial=0.9, gate=True)
    name = "phase_control.pulse_needed"
    low, rated = asked.numbers[f"{name}.low_mains"].value, asked.numbers[name].value
    assert low > 1.1 * rated
    between = weldsim.vary(charger, {"phase_control.pulse_width": math.sqrt(low * rated)})
    answer = preview.ask(between, dial=0.9)
    assert answer.numbers["missed_half_cycles.count"].value == 0
    found = told(answer, "latching")
    assert found.level == "fault"
    assert "but at mains -10 % it misses some" in found.text
    assert f"none is missed with a pulse of {amount(1e6 * low, 'us')} or more" in found.text
    weak = preview.ask(weldsim.vary(between, {"mains.voltage": 207.0}), dial=0.9)
    assert weak.numbers["missed_half_cycles.count"].value > 0


@pytest.mark.slow
def test_a_device_that_only_discharges_its_snubber_has_not_latched():
    """A pulse of 2 us fires the toroid's snubber into the triac and nothing else: no output, and no half cycle counts.

    The output current is the witness: a settled supply that conducts in every half cycle would give some 170 A.
    """
    answer = preview.ask(weldsim.vary(weldsim.read("toroid_shed"), {"phase_control.pulse_width": "2 us"}), dial=1.0)
    assert answer.numbers["output.current.mean"].value < 0.1
    assert answer.numbers["missed_half_cycles.count"].value == 20
    assert told(answer, "latching").level == "fault"
    assert "which the snubber discharges" in told(answer, "latching").text


def test_more_volts_let_a_battery_go_sooner():
    """At higher mains the charger's current begins earlier, so a shorter pulse will do; the train misses none."""
    train = weldsim.vary(weldsim.read("charger"), {"phase_control.pulse_kind": "train"})
    answer = preview.ask(train, delay=26.0, gate=True)
    low, rated, high = (
        answer.numbers[f"phase_control.pulse_needed{end}"].value for end in (".low_mains", "", ".high_mains")
    )
    crest = 230.0 * math.sqrt(2.0) * 36 / 260
    begins = math.degrees(math.asin((26.5 + 1.6) / crest))  # of the load current: battery and two diodes
    assert low > rated > high > 0.0
    assert rated > (begins - 26.0) / 18000.0  # and more, as the tail of the half cycle before outlasts it
    assert told(answer, "gate_pulse").level == "good"


def test_refused_where_no_gate_is_given_a_pulse():
    """A dial with a diac makes its own pulse; without phase control there is none."""
    with pytest.raises(QuestionError, match="diac"):
        preview.ask(weldsim.read("school_spot"), gate=True)
    with pytest.raises(QuestionError, match="no pulse"):
        preview.ask(weldsim.vary(weldsim.read("charger"), {"phase_control": "absent"}), gate=True)
