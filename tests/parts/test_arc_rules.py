"""The arc's voltage, falling part and re-ignition against the trade's figures and limit cases."""

import csv
import math
from pathlib import Path

import pytest

from weldsim.parts.arc_rules import (
    burning_voltage,
    falling_rise,
    reignition_factor,
    reignition_voltage,
)
from weldsim.parts.wire import Wire, constants
from weldsim.parts.wire_rules import extension_resistance

WIRE = constants(Wire())
SAID = {
    "dead_time": WIRE.dead_time,
    "first": WIRE.reignite_first,
    "later": WIRE.reignite_later,
    "later_time": WIRE.reignite_time,
    "lost_time": WIRE.reignite_lost,
}
REFERENCE = Path(__file__).parents[2] / "weldsim" / "data" / "reference"
SETTINGS = [
    row
    for row in csv.DictReader((REFERENCE / "short_arc_settings.csv").read_text(encoding="utf-8").splitlines())
    if float(row["I_min_A"]) >= 50.0  # wires of 0.6 mm and less at 20 to 40 A are beyond what the constants cover
]


def circuit_voltage(wire, current: float, length: float) -> float:
    """Volts of arc, extension and contact tube together."""
    arc = burning_voltage(
        current, length, offset=wire.arc_voltage, gradient=wire.arc_gradient, slope=wire.arc_resistance
    )
    extension = extension_resistance(10e-3 - length, resistivity=wire.resistivity_hot, section=wire.section)
    return arc + (extension + wire.contact_tube) * current


@pytest.mark.parametrize("row", SETTINGS, ids=lambda row: f"{row['plate_mm']} mm")
def test_mean_of_arc_and_short_falls_into_published_settings(row):
    """Makers' short-arc settings in argon mix at 50 to 170 A lie between an arc that burns on and one often shorted.

    Two makers' manuals (published, named in the file).  Not a prediction of the mean, which needs the circuit: the
    bounds are arc only, and 30 % of the time a short of 4.5 V (measured for 1.2 mm), with 1 V on each side.
    """
    low, high = (float(row[key]) for key in ("U_min_V", "U_max_V"))
    current = 0.5 * (float(row["I_min_A"]) + float(row["I_max_A"]))
    ends = [float(text) for text in row["wire_mm"].split("-")]
    bounds = []
    for diameter in ends:
        wire = constants(Wire(diameter=diameter * 1e-3, gas="argon mix"))
        burning = circuit_voltage(wire, current, 1e-3)
        bounds += [burning, 0.7 * burning + 0.3 * 4.5]
    assert min(bounds) - 1.0 <= high
    assert max(bounds) + 1.0 >= low


def test_falling_part_meets_the_line():
    """No jump at the hold limit; the full rise at no current."""
    assert falling_rise(10.0, rise=8.0, break_current=10.0) == 0.0
    assert falling_rise(0.0, rise=8.0, break_current=10.0) == 8.0


def test_falling_part_falls_faster_than_the_arc_rises():
    """Below the hold limit the voltage needed rises as the current falls: the sum of both slopes is negative."""
    for diameter in (0.6, 0.8, 0.9, 1.0, 1.2):
        wire = constants(Wire(diameter=diameter * 1e-3))
        assert wire.falling_voltage / wire.falling_current > wire.arc_resistance + 0.1


def test_reignition_grows_out_of_reach():
    """Never within the dead time; 1.5 to 3 times in the first millisecond (published range); then hundreds of volts."""
    arc = WIRE.arc_voltage + WIRE.arc_gradient * 1e-3
    said = {"offset": WIRE.arc_voltage, "gradient": WIRE.arc_gradient, "rise": WIRE.falling_voltage}
    assert math.isinf(reignition_factor(0.99 * WIRE.dead_time, **SAID))
    assert 1.5 <= reignition_factor(WIRE.dead_time, **SAID) <= 3.0
    assert reignition_voltage(1e-3, reignition_factor(WIRE.reignite_time, **SAID), **said) == pytest.approx(3.0 * arc)
    assert reignition_voltage(1e-3, reignition_factor(WIRE.reignite_lost, **SAID), **said) > 300.0
    assert math.isinf(reignition_factor(1.001 * WIRE.reignite_lost, **SAID))


def test_reignition_only_grows():
    """A gap never becomes easier to bridge with time."""
    factors = [reignition_factor(WIRE.dead_time + k * 1e-5, **SAID) for k in range(380)]
    assert factors == sorted(factors)


def test_no_welding_supply_reaches_the_late_voltage():
    """3 ms after a loss even the highest open-circuit voltage allowed, 113 V, is too little (IEC 60974-1)."""
    factor = reignition_factor(3e-3, **SAID)
    said = {"offset": WIRE.arc_voltage, "gradient": WIRE.arc_gradient, "rise": WIRE.falling_voltage}
    assert reignition_voltage(0.0, factor, **said) > 113.0
