"""Action integrals and the trade's fusing rules: steel by its tables, copper against Onderdonk, iron against Preece."""

import math

import pytest

from weldsim.parts.fusing import (
    STEEL_TEMPERATURES,
    contact_melting_current,
    linear_action,
    onderdonk_current,
    preece_current,
    steel_action,
    steel_heat_capacity,
    steel_resistivity,
)
from weldsim.studies.proofs.bench import numbers_in, references

FUSING = references("arc", "wire_fusing")


@pytest.mark.parametrize(
    "row", [row for row in FUSING if row.quantity.startswith("Preece")], ids=lambda row: row.condition
)
def test_preece(row):
    """Iron wires of 0.6 to 1.2 mm against numbers computed elsewhere from the published 3148 A/inch^1.5 (rounding)."""
    assert preece_current(numbers_in(row.condition.split()[-2])["d"] * 1e-3) == pytest.approx(row.value, rel=1e-9)


@pytest.mark.parametrize(
    "row", [row for row in FUSING if row.quantity.startswith("Onderdonk")], ids=lambda row: row.condition
)
def test_onderdonk(row):
    """Copper wires against numbers computed elsewhere (circular mil with six digits: 1e-5)."""
    diameter = numbers_in(row.condition.split()[1])["d"] * 1e-3
    time = float(row.condition.split(", ")[1].split()[0])
    assert onderdonk_current(0.25 * math.pi * diameter**2, time) == pytest.approx(row.value, rel=1e-5)


def test_joule_heat_gives_onderdonk_for_copper():
    """Heat capacity over resistivity, integrated with handbook constants of copper, is Onderdonk's rule within 2 %.

    3.45 J/(cm3 K) and 17.24 nohm m at 20 degC, growing by 1/254.5 per kelvin (handbooks, from memory, 98 %).
    """
    action = linear_action(3.45e6, 17.24e-9 * 259.5 / 254.5, coefficient=1.0 / 259.5, begin=25.0, end=1083.0)
    section, time = 1e-6, 0.5
    assert section * math.sqrt(action / time) == pytest.approx(onderdonk_current(section, time), rel=0.02)


def test_action_of_steel():
    """1.4e16 to 1.6e16 A2 s/m4 until it is molten (told for steel from 20 degC to melting, from memory)."""
    assert 1.4e16 < steel_action() < 1.6e16
    assert 0.88 < steel_action(molten=False) / steel_action() < 0.92  # melting itself adds about a tenth


def test_action_with_other_tables():
    """Other published resistivities (0.143 at 20, 0.5 at 600, 1.1 at 900, 1.16, 1.22, 1.28 uohm m) change it by 10 %.

    0.143 is printed for 1010 steel, the hot ones are from memory (82 %).  By hand: trapezoids over the six points.
    """
    points = ((20, 0.143), (600, 0.5), (900, 1.1), (1000, 1.16), (1200, 1.22), (1500, 1.28))
    total = 0.0
    for (t0, r0), (t1, r1) in zip(points, points[1:], strict=False):
        for k in range(100):
            share = (k + 0.5) / 100
            t = t0 + (t1 - t0) * share
            total += 7850.0 * steel_heat_capacity(t) / (1e-6 * (r0 + (r1 - r0) * share)) * (t1 - t0) / 100
    assert steel_action(molten=False) == pytest.approx(total, rel=0.1)


def test_constant_metal():
    """A metal whose resistivity stays: heat capacity times rise over resistivity; the general form joins it."""
    plain = linear_action(3e6, 1e-6, coefficient=0.0, begin=20.0, end=1020.0)
    assert plain == pytest.approx(3e15)  # by hand, rounding only
    assert linear_action(3e6, 1e-6, coefficient=1e-9, begin=20.0, end=1020.0) == pytest.approx(plain, rel=1e-5)


def test_heat_capacity_at_its_corners():
    """The standard's pieces join within 1 %, except at the change of crystal, where it gives 5000 J/(kg K) at 735."""
    assert steel_heat_capacity(599.999) == pytest.approx(steel_heat_capacity(600.0), rel=0.01)
    assert steel_heat_capacity(899.999) == pytest.approx(steel_heat_capacity(900.0), rel=0.01)
    assert steel_heat_capacity(735.0) == pytest.approx(5000.0)  # 545 + 17820 / 4


def test_heat_to_melting():
    """Iron takes 1.04 MJ/kg to melting and 1.29 until molten (tables of iron, from memory, 90 %): within 5 %."""
    heat = sum(steel_heat_capacity(20.5 + k) for k in range(1480))
    assert heat == pytest.approx(1.04e6, rel=0.05)
    assert heat + 2.47e5 == pytest.approx(1.29e6, rel=0.05)


def test_resistivity_keeps_to_its_table():
    """It never falls with temperature, and ends are kept beyond the table."""
    values = [steel_resistivity(float(t)) for t in range(-50, 1700, 10)]
    assert values == sorted(values)
    assert steel_resistivity(5000.0) == steel_resistivity(float(STEEL_TEMPERATURES[-1]))


def test_contact_of_six_milliohm():
    """0.6 V over 6 mohm: 100 A (Holm's melting voltage of iron, from memory, 85 %)."""
    assert contact_melting_current(6e-3) == pytest.approx(100.0)
