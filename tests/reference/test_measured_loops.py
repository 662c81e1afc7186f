"""The core model against measured iron (weldsim/data: origin and licences there).

Every loop of the model is driven in small steps (loop_drive.py).  Tolerances are those judged fair for the two sets of
measurements: non-oriented ring 2 % of the peak field from 0.7 to 1.6 T at 50 Hz, 5 % of coercive field, remanence, loop
area and of the exciting power above 1.5 T; nested loops of grain-oriented sheet 10 % of coercive field and area, 15 %
for the outer one.
"""

import numpy as np
import pytest

from tests.reference.loop_drive import (
    MU_0,
    drive,
    first_rise,
    model_loop,
    nested_loop,
    ring_first_curve,
    ring_loop,
    ring_sine,
)
from weldsim.parts.iron import Core, FrictionRow, magnetising_branch
from weldsim.parts.loop_fit import MeasuredLoop, fit_family, fit_loop
from weldsim.parts.magnetising_curve import CurvePoint
from weldsim.parts.measured_sheets import GRAIN_ORIENTED, NON_ORIENTED
from weldsim.studies.proofs.iron_loops import INSTRUMENT, RING_DENSITY

FIT_ALIKE = 2e-3  # constants made again: rounding to the digits stored, other solver versions


def remake_grain_oriented():
    """The fit behind GRAIN_ORIENTED: all three loops."""
    loops = [
        MeasuredLoop(nested_loop(k).field, nested_loop(k).density, tolerance=0.15 if k == 3 else 0.10)
        for k in (3, 2, 1)
    ]
    return fit_family(loops, stops=5, pieces=7, margin=0.92)


def remake_non_oriented():
    """The fit behind NON_ORIENTED: outer loop and first-magnetisation curve of stack 1."""
    loop = MeasuredLoop(ring_loop(1).field, ring_loop(1).density, tolerance=0.046)
    return fit_family([loop], stops=4, pieces=11, margin=0.75, first_curve=ring_first_curve(1).tolist())


def measured_peak(loop):
    """Tip of a measured loop: the lesser of its two [T]."""
    return min(loop.density.max(), -loop.density.min())


@pytest.mark.parametrize("stack", [1, 2])
def test_ring_outer_loop(stack):
    """Fitted on stack 1, checked on 1 and 2: coercive field, remanence, loss of the instrument's figures within 5 %."""
    coercive, remanence, energy = INSTRUMENT[stack]
    loop = model_loop(NON_ORIENTED.curve, NON_ORIENTED.stops, measured_peak(ring_loop(stack)))

    assert loop.coercive_field == pytest.approx(coercive, rel=0.05)
    assert loop.remanence == pytest.approx(remanence, rel=0.05)
    assert loop.area / RING_DENSITY == pytest.approx(energy, rel=0.05)


@pytest.mark.parametrize("stack", [1, 2])
def test_reading_the_measured_loop(stack):
    """Our reading of the data gives the instrument's figures (1 %): otherwise the checks above would prove nothing."""
    loop = ring_loop(stack)
    coercive, remanence, energy = INSTRUMENT[stack]

    assert loop.coercive_field == pytest.approx(coercive, rel=0.01)
    assert loop.remanence == pytest.approx(remanence, rel=0.01)
    assert loop.area / RING_DENSITY == pytest.approx(energy, rel=0.01)


def test_ring_first_magnetisation():
    """Stack 1 from 0.7 to 1.62 T: 2 %, the tolerance it was fitted with."""
    curve = ring_first_curve(1)
    for density, field in curve[curve[:, 0] > 0.7]:
        assert first_rise(NON_ORIENTED.curve, NON_ORIENTED.stops, density) == pytest.approx(field, rel=0.02)


def test_ring_peak_field_under_sinusoidal_flux():
    """Loops inside, stack 1, 50 Hz, 0.7 to 1.6 T, not fitted: peak field within 2 %."""
    rows = ring_sine(1, 50)
    rows = rows[rows[:, 0] > 0.69]

    assert len(rows) == 10
    for polarisation, field in rows[:, :2]:
        loop = model_loop(NON_ORIENTED.curve, NON_ORIENTED.stops, polarisation + MU_0 * field)
        assert loop.field.max() == pytest.approx(field, rel=0.02)


def test_ring_peak_field_of_the_other_stack():
    """Stack 2, not fitted: 2 % beyond the difference of the two stacks, which is up to 3 % of their measured curves."""
    rows = ring_sine(2, 50)
    rows = rows[rows[:, 0] > 0.69]
    one, two = ring_first_curve(1), ring_first_curve(2)
    for polarisation, field in rows[:, :2]:
        density = polarisation + MU_0 * field
        difference = abs(np.interp(density, *one.T) / np.interp(density, *two.T) - 1.0)
        model = first_rise(NON_ORIENTED.curve, NON_ORIENTED.stops, density)
        assert difference < 0.035
        assert model == pytest.approx(field, rel=0.02 + difference)


@pytest.mark.parametrize("stack", [1, 2])
def test_ring_exciting_power(stack):
    """Above 1.5 T at 50 Hz, not fitted: VA/kg of the static loop within 5 %.

    Sinusoidal polarisation; S = H rms x (dB/dt) rms / density.  The eddy part is left out: it adds to H rms in square,
    a few A/m to 2 kA/m.
    """
    rows = ring_sine(stack, 50)
    rows = rows[rows[:, 0] > 1.5]

    assert len(rows) == 1
    for polarisation, field, _, power, *_ in rows:
        peak = polarisation + MU_0 * field
        loop = model_loop(NON_ORIENTED.curve, NON_ORIENTED.stops, peak)
        rate = 2.0 * np.pi * 50.0 * peak / np.sqrt(2.0)
        ours = np.sqrt(np.mean(loop.field[1:] ** 2)) * rate / RING_DENSITY
        assert ours == pytest.approx(power, rel=0.05)


@pytest.mark.parametrize(("number", "tolerance"), [(1, 0.10), (2, 0.10), (3, 0.15)])
def test_nested_loops(number, tolerance):
    """Three nested loops of one grain-oriented sheet with one set of constants: coercive field and area."""
    measured = nested_loop(number)
    loop = model_loop(GRAIN_ORIENTED.curve, GRAIN_ORIENTED.stops, measured_peak(measured))

    assert loop.coercive_field == pytest.approx(measured.coercive_field, rel=tolerance)
    assert loop.area == pytest.approx(measured.area, rel=tolerance)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_nested_loops_remanence_and_tip(number):
    """Remanence and field at the tip within 6 % (fitted with 5 % and 10 %): no fair tolerance is known."""
    measured = nested_loop(number)
    loop = model_loop(GRAIN_ORIENTED.curve, GRAIN_ORIENTED.stops, measured_peak(measured))

    assert loop.remanence == pytest.approx(measured.remanence, rel=0.06)
    assert loop.field.max() == pytest.approx(measured.field.max(), rel=0.06)


def test_minor_loop_closes_inside():
    """A small loop on the falling branch of the outer one closes and lies inside it (return-point memory; rounding)."""
    leg = np.linspace(1.49, 0.3, 1000)
    small = np.concatenate([np.linspace(0.3, 0.7, 500), np.linspace(0.7, 0.3, 500)])
    field = drive(GRAIN_ORIENTED.curve, GRAIN_ORIENTED.stops, np.concatenate([np.linspace(0.0, 1.49, 500), leg, small]))
    outer = model_loop(GRAIN_ORIENTED.curve, GRAIN_ORIENTED.stops, 1.49)
    turn = int(np.argmin(outer.density))
    rising = np.interp(small, outer.density[turn:], outer.field[turn:])
    falling = np.interp(small, outer.density[turn::-1], outer.field[turn::-1])

    assert field[-1] == pytest.approx(field[1499], abs=1e-9)
    assert np.all(field[1500:] <= rising + 0.05)
    assert np.all(field[1500:] >= falling - 0.05)


@pytest.mark.parametrize("fit", [GRAIN_ORIENTED, NON_ORIENTED], ids=["grain-oriented", "non-oriented"])
def test_as_a_core_of_a_scenario(fit):
    """The same sheet written as a [core] table: on the first rise its primary current is H l / N (rounding)."""
    turns, section, path = 120, 20e-4, 0.5
    curve = tuple(
        CurvePoint(flux_density=b, field=h + sum(min(b / reach, 1.0) * limit for limit, reach in fit.stops))
        for b, h in fit.curve[1:]
    )
    rows = tuple(FrictionRow(field=limit, flux_density=reach) for limit, reach in fit.stops)
    branch = magnetising_branch(
        Core(section=section, path_length=path, magnetising_curve=curve, hysteresis=rows), turns
    )
    for density in np.linspace(0.05, fit.curve[-1][0], 30):
        flux = density * turns * section
        current = branch.current(flux) + sum(min(stiffness * flux, limit) for stiffness, limit in branch.frictions)
        assert current * turns / path == pytest.approx(first_rise(fit.curve, fit.stops, density), rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("remake", "stored"), [(remake_grain_oriented, GRAIN_ORIENTED), (remake_non_oriented, NON_ORIENTED)]
)
def test_constants_can_be_made_again(remake, stored):
    """The stored constants are what the fit gives today: same loops and first rise within 0.2 %."""
    made = remake()
    for density in np.linspace(0.1, 1.0, 10) * stored.curve[-1][0]:
        assert first_rise(made.curve, made.stops, density, 200) == pytest.approx(
            first_rise(stored.curve, stored.stops, density, 200), rel=FIT_ALIKE
        )
        one, other = (model_loop(fit.curve, fit.stops, density, 200) for fit in (made, stored))
        assert one.coercive_field == pytest.approx(other.coercive_field, rel=FIT_ALIKE)


@pytest.mark.slow
def test_one_loop_does_not_tell_the_others():
    """A limit of the model, kept in sight: fitted to the outer loop alone, the inner ones come out far too wide."""
    outer = nested_loop(3)
    alone = fit_loop(outer.field, outer.density, stops=5, pieces=7)
    inner = model_loop(alone.curve, alone.stops, measured_peak(nested_loop(1)))

    assert model_loop(alone.curve, alone.stops, measured_peak(outer)).coercive_field == pytest.approx(
        outer.coercive_field, rel=0.15
    )
    assert inner.coercive_field > 1.5 * nested_loop(1).coercive_field
