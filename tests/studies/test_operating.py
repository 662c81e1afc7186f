"""The search for a setting: past jumps, in either direction of the dial, never a setting that misses half cycles."""

import math

import pytest
from scipy.optimize import brentq

import weldsim
from weldsim.studies.operating import closest_between, found_by, sound, sweep

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
pulse_width = "1 ms"
[load]
kind = "resistor"
resistance = "23 ohm"
"""


def current(setting):
    """Output current of a setting [A]."""
    return setting.current


def delay_for(amps):
    """Delay at which 23 ohm carry so many amperes, rms [deg] (closed form, in any book of power electronics)."""

    def excess(angle):
        a = math.radians(angle)
        share = (math.pi - a + math.sin(2.0 * a) / 2.0) / math.pi
        return 10.0 * math.sqrt(share) - amps

    return brentq(excess, 5.0, 175.0)


@pytest.mark.parametrize("ends", [(170.0, 10.0), (10.0, 170.0)], ids=["rising", "falling"])
def test_a_jump_gives_no_setting(ends):
    """Pulses of 18 degrees from 170 on fire the next half cycle whole: 10 A fall to 1 A in a jump, past the wanted 6 A.

    The search goes on to where 6 A are had in earnest, 0.02 degrees from the closed form (1e-4 of the output).
    """
    supply = weldsim.vary(
        weldsim.read_text(CONTROLLER), {"phase_control.delay_at_0": ends[0], "phase_control.delay_at_100": ends[1]}
    )
    swept = sweep(supply)
    pair = (swept[0], swept[1]) if ends[0] > ends[1] else (swept[-2], swept[-1])
    beside = closest_between(supply, 6.0, measure=current, pair=pair)

    assert max(one.current for one in pair) == pytest.approx(10.0, rel=1e-3)
    assert abs(beside.current - 6.0) > 1.0
    assert found_by(supply, 6.0, measure=current, among=pair) is None
    assert found_by(supply, 6.0, measure=current, among=swept).delay == pytest.approx(delay_for(6.0), abs=0.02)


def test_half_cycles_that_the_pulse_before_has_fired_are_no_setting():
    """At 170 degrees the pulse of 18 fires every next half cycle whole: 10 A that the dial does not govern.

    Wanted just below them, the dial is the one whose own pulses give it (closed form; 1e-4 of the output is 0.4 degrees
    where no more than 1e-3 is cut away), and every half cycle of the other counts as misfired.
    """
    swept = sweep(weldsim.read_text(CONTROLLER))

    assert swept[0].early == swept[0].missed == 1.0
    assert not sound(swept[:1])
    assert found_by(weldsim.read_text(CONTROLLER), 9.99, measure=current, among=swept).delay == pytest.approx(
        delay_for(9.99), abs=0.4
    )


def test_what_misfires_brackets_nothing():
    """The shed's supply misses half cycles above some 84 % of its dial: its fall from 172 A to 43 A gives no 100 A."""
    supply = weldsim.read("toroid_shed")
    swept = sweep(weldsim.vary(supply, {"load": {"kind": "load line", "process": "MIG"}}), (0.8, 0.9))

    assert swept[0].current > 100.0 > swept[1].current
    assert swept[1].missed
    assert found_by(supply, 100.0, measure=current, among=swept) is None


@pytest.mark.slow
@pytest.mark.parametrize("study", ["meters", "breaker", "generator"])
def test_a_setting_that_misfires_is_told_first(study):
    """A pulse of 1 ms at 177 degrees reaches into the next half cycle and turns one polarity on (trade knowledge).

    Whatever is asked of such a setting begins with it; a sound one says nothing.
    """
    late = weldsim.vary(
        weldsim.read("toroid_shed"),
        {"phase_control.dial": 0.02, "phase_control.delay_at_0": 180.0, "phase_control.pulse_width": 1e-3},
    )
    answer = getattr(weldsim, study)(late)
    assert answer.verdicts[0].name == "firing"
    assert answer.verdicts[0].level == "fault"
    assert "-10 to +10 %" in answer.verdicts[0].text
    well = getattr(weldsim, study)(weldsim.read("toroid_shed"))
    assert not [one for one in well.verdicts if one.name == "firing"]


def test_what_fires_too_early_is_told_with_its_cause():
    """The gate driven past the zero crossing is told where other figures are asked for, and a pulse too short is not.

    Half cycles that begin whole at once are no missed ones (trade knowledge).
    """
    answer = weldsim.meters(weldsim.read_text(CONTROLLER), dial=0.0)
    assert answer.verdicts[0].name == "firing"
    assert "fires 100 % (the same over mains -10 to +10 %) of the half cycles before" in answer.verdicts[0].text
    assert "past the zero crossing" in answer.verdicts[0].text
    assert "latches" not in answer.verdicts[0].text
