"""Limits of harmonic current: rows against the rules they follow, and verdicts worked by hand."""

import math

import numpy as np
import pytest

from weldsim.analysis.emission import (
    against_iec_61000_3_2,
    against_iec_61000_3_12,
    against_ieee_519,
    emission_scope,
    ratio_needed,
    short_circuit_ratio,
)
from weldsim.analysis.limit_tables import NO_CERTIFICATE, TABLES, first_failure, limit_rows
from weldsim.errors import QuestionError


def orders(count: int = 40, **sizes: float) -> np.ndarray:
    """Rms of the orders: ``orders(h1=10, h3=2)``."""
    rms = np.zeros(count)
    for name, size in sizes.items():
        rms[int(name[1:]) - 1] = size
    return rms


def by_quantity(verdicts: list) -> dict:
    """Quantity -> verdict."""
    return {verdict.quantity: verdict for verdict in verdicts}


@pytest.mark.parametrize("table", TABLES)
def test_every_row_says_how_it_is_known(table):
    """Each row has standard, clause and a status that begins with seen or memory; values are positive."""
    rows = limit_rows(table)

    assert len(rows) >= 2
    for row in rows:
        assert row.standard
        assert row.clause
        assert row.value > 0
        assert row.status.startswith(("seen", "memory")), row
        assert row.from_memory == row.status.startswith("memory")
    assert "No tool certifies" in NO_CERTIFICATE


def test_class_a_follows_its_rules():
    """Class A: the printed rows to order 13 and 0.15 A x 15/n, 0.23 A x 8/n above (published); 39 orders, no gap."""
    rows = {int(row.quantity): row.value for row in limit_rows("iec_61000_3_2") if row.condition == "class A"}

    assert sorted(rows) == list(range(2, 41))
    printed = {3: 2.30, 5: 1.14, 7: 0.77, 9: 0.40, 11: 0.33, 13: 0.21, 2: 1.08, 4: 0.43, 6: 0.30}
    assert {order: rows[order] for order in printed} == printed
    for order in range(15, 40, 2):
        assert rows[order] == pytest.approx(0.15 * 15 / order, abs=5e-6)  # five decimals in the file
    for order in range(8, 41, 2):
        assert rows[order] == pytest.approx(0.23 * 8 / order, abs=5e-6)


def test_class_b_is_half_as_much_again():
    """Class B is 1.5 times class A in every row (published); 1.5 half-units of the fifth decimal for rounding."""
    table = limit_rows("iec_61000_3_2")
    class_a = {row.quantity: row.value for row in table if row.condition == "class A"}
    class_b = {row.quantity: row.value for row in table if row.condition == "class B"}

    assert class_b.keys() == class_a.keys()
    for quantity, value in class_b.items():
        assert value == pytest.approx(1.5 * class_a[quantity], abs=1.3e-5)


@pytest.mark.parametrize(
    ("supply", "table", "condition"),
    [
        ({"voltage": 230.0, "current": 13.0}, "iec_61000_3_2", "class B"),
        ({"voltage": 230.0, "current": 16.0}, "iec_61000_3_2", "class B"),
        ({"voltage": 230.0, "current": 16.1}, "iec_61000_3_12", ""),
        ({"voltage": 230.0, "current": 13.0, "professional": True}, "iec_61000_3_12", ""),
        ({"voltage": 230.0, "current": 80.0}, "", ""),
        ({"voltage": 120.0, "current": 20.0}, "", ""),
    ],
)
def test_which_standard(supply, table, condition):
    """Rated current, voltage and trade decide which standard holds (scope texts, published), with a reason."""
    scope = emission_scope(**supply)

    assert (scope.table, scope.condition) == (table, condition)
    assert scope.reason


def test_margins_by_hand():
    """A third of 3 A and a fifth of 2 A beside class B, 3.45 and 1.71 A: 13 % left, 17 % over; 5 fails first."""
    verdicts = against_iec_61000_3_2(orders(h1=12.0, h3=3.0, h5=2.0, h39=0.2))
    found = by_quantity(verdicts)

    assert len(verdicts) == 39
    assert found["3"].kept
    assert found["3"].margin == pytest.approx(1 - 3.0 / 3.45)
    assert found["5"].margin == pytest.approx(1 - 2.0 / 1.71)
    assert not found["39"].kept
    assert first_failure(verdicts).quantity == "5"
    assert first_failure(against_iec_61000_3_2(orders(h1=12.0))) is None
    assert by_quantity(against_iec_61000_3_2(orders(h3=3.0), condition="class A"))["3"].most == 2.3


def test_small_harmonics_are_disregarded():
    """Below 0.6 % of the input current, or 5 mA, an order does not count (from memory).

    At 15 A that is 90 mA, above the class B limit of order 40, 69 mA.
    """
    rms = orders(h1=15.0, h40=0.08, h38=0.004)

    assert not by_quantity(against_iec_61000_3_2(rms))["40"].kept
    judged = by_quantity(against_iec_61000_3_2(rms, total=15.0))["40"]
    assert judged.disregarded
    assert judged.kept
    assert judged.margin < 0
    assert by_quantity(against_iec_61000_3_2(rms))["38"].disregarded


def test_short_circuit_ratio():
    """One phase, by the definition: S_sc = 3 U^2 / Z, S_equ = U I, Rsce = S_sc / (3 S_equ)."""
    power = 3 * 230.0**2 / 0.3
    assert short_circuit_ratio(voltage=230.0, impedance=0.3, current=20.0) == pytest.approx(power / (3 * 230.0 * 20.0))
    assert math.isinf(short_circuit_ratio(voltage=230.0, impedance=0.0, current=20.0))


def test_limits_by_ratio():
    """Rows of 61000-3-12 at their own ratios, half way between two, and beyond the ends (table from memory)."""
    rms = orders(h1=20.0)
    thirds = {
        ratio: by_quantity(against_iec_61000_3_12(rms, ratio=ratio))["3"].most
        for ratio in (20.0, 33.0, 66.0, 93.0, 120.0, 250.0, 350.0, math.inf)
    }

    assert list(thirds.values()) == pytest.approx([0.216, 0.216, 0.24, 0.255, 0.27, 0.35, 0.41, 0.41])
    quantities = [row.quantity for row in against_iec_61000_3_12(rms, ratio=33.0)]
    assert quantities == ["2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12", "13", "THC", "PWHC"]
    assert by_quantity(against_iec_61000_3_12(rms, ratio=50.0))["2"].most == pytest.approx(0.08)  # 16/n percent
    assert by_quantity(against_iec_61000_3_12(rms, ratio=100.0))["3"].limit.condition == "66"  # the row below


def test_sums_of_61000_3_12():
    """THC and PWHC over the reference current, by hand: 3 and 4 A of 20 are 25 %; order 16, 0.5 A, weighs 2 A."""
    found = by_quantity(against_iec_61000_3_12(orders(h1=20.0, h3=3.0, h5=4.0, h16=0.5), ratio=33.0))

    assert found["THC"].found == pytest.approx(math.sqrt(25.25) / 20)
    assert found["PWHC"].found == pytest.approx(2.0 / 20)
    halved = by_quantity(against_iec_61000_3_12(orders(h1=20.0, h3=3.0), ratio=33.0, reference=10.0))
    assert halved["3"].found == pytest.approx(0.3)


@pytest.mark.parametrize("share", [0.1, 0.216, 0.23, 0.255, 0.30, 0.37, 0.40])
def test_ratio_needed_is_the_edge(share):
    """At the ratio that is said to be needed all limits are kept, and a little below it one is not."""
    rms = orders(h1=10.0, h3=10.0 * share)
    needed = ratio_needed(rms)

    assert first_failure(against_iec_61000_3_12(rms, ratio=needed * (1 + 1e-9))) is None
    if needed > 33.0:
        assert first_failure(against_iec_61000_3_12(rms, ratio=needed * 0.999)) is not None


def test_no_ratio_will_do():
    """A third above 41 %, or a second above 8 %, fails on every network."""
    assert math.isinf(ratio_needed(orders(h1=10.0, h3=4.2)))
    assert math.isinf(ratio_needed(orders(h1=10.0, h2=0.81)))
    assert ratio_needed(orders(h1=10.0, h2=0.79)) == 33.0


def test_ieee_519():
    """Shares of the demand current beside the row of the short-circuit ratio (from memory), evens at a quarter."""
    rms = orders(50, h1=16.0, h2=0.5, h3=3.0, h11=1.0, h12=0.3, h50=0.01)
    stiff, soft = (by_quantity(against_ieee_519(rms, demand=50.0, ratio=ratio)) for ratio in (150.0, 10.0))

    assert len(stiff) == 50  # orders 2 to 50, and the sum
    assert stiff["3"].most == 0.12
    assert stiff["3"].kept
    assert soft["3"].most == 0.04
    assert not soft["3"].kept
    assert soft["2"].most == pytest.approx(0.01)
    assert soft["12"].most == pytest.approx(0.005)
    assert soft["50"].most == pytest.approx(0.00075)
    assert soft["TDD"].found == pytest.approx(math.sqrt(0.25 + 9 + 1 + 0.09 + 1e-4) / 50)
    assert [row.quantity for row in against_ieee_519(rms[:3], demand=50.0, ratio=20.0)] == ["2", "3", "TDD"]
    assert by_quantity(against_ieee_519(rms, demand=50.0, ratio=20.0))["3"].most == 0.07  # 20 is in 20-50


def test_refusals():
    """Too few orders, unknown classes and tables, and missing references are refused with a sentence."""
    with pytest.raises(QuestionError, match="39 orders handed over, 40 are judged"):
        against_iec_61000_3_2(np.ones(39))
    for condition in ("class D", "disregarded"):
        with pytest.raises(QuestionError, match="is not class A or class B"):
            against_iec_61000_3_2(np.ones(40), condition=condition)
    with pytest.raises(QuestionError, match="reference current"):
        against_iec_61000_3_12(np.zeros(40), ratio=33.0)
    with pytest.raises(QuestionError, match="demand current"):
        against_ieee_519(np.ones(40), demand=0.0, ratio=20.0)
    with pytest.raises(QuestionError, match="none of iec_61000_3_2"):
        limit_rows("elsewhere")
