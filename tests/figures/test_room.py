"""Pictures give their room to what there is to see."""

import math

import pytest

import weldsim
from weldsim.figures import breaker, setting
from weldsim.studies.answer import Answer, Number

EDGES = ("fastest", "middle", "slowest")


@pytest.mark.parametrize(("trip", "panels"), [(math.inf, 1), (30.0, 2)])
def test_no_panel_for_trips_that_never_come(trip, panels):
    """Where a breaker carries every current for good the currents alone are drawn, and that is said."""
    row = {"missed": 0.0, "trip_middle": math.inf, "trip_slowest": math.inf}
    rows = [row | {"output_current": amps, "primary_rms": 0.2 * amps, "trip_fastest": trip} for amps in (50.0, 100.0)]
    numbers = {f"breaker.for_ever.{edge}": Number(18.0 + 2.0 * k, "A") for k, edge in enumerate(EDGES)}
    figure = breaker.draw(Answer("breaker", weldsim.read("toroid_shed"), numbers, rows=rows))
    assert len(figure.axes) == panels
    assert ("never trips by heat" in figure.texts[1].get_text()) == (panels == 1)


@pytest.mark.parametrize(("least", "from_nothing"), [(26.0, False), (10.0, True)])
def test_volts_far_from_nothing_fill_their_axis(least, from_nothing):
    """A charger's volts are those of its battery at every dial: their axis does not begin at nothing."""
    row = {"kind": "dial", "mains": 0.0, "missed": 0.0}
    rows = [row | {"dial": dial, "voltage": volts} for dial, volts in ((0.2, least), (0.8, 28.0))]
    found = {"wanted.output.voltage": Number(27.0, "V"), "setting.dial": Number(0.5, "1")}
    numbers = found | {"setting.reached": Number(1.0, "1")}
    rows.append(row | {"kind": "point", "dial": 0.5, "voltage": 27.0})
    (axes,) = setting.draw(Answer("setting", weldsim.read("charger"), numbers, rows=rows)).axes
    assert (axes.get_ylim()[0] == 0.0) == from_nothing
