"""Units at the door: texts that people write, what they become, and what is said of those that mean nothing.

Expected values were worked out by hand from the SI prefixes; the telling texts are those that a general unit library
gets wrong (a square millimetre as a thousandth of a square metre, a comma read as nothing).
"""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.errors import UnitError
from weldsim.unit_table import KINDS, article
from weldsim.units import Choice, Count, Flag, Quantity, Ratio, Text, from_text, nearest, quoted, to_text

HAND_VALUES = [
    ("230 V", "voltage", 230.0),
    ("12 mV", "voltage", 0.012),
    ("1 kV", "voltage", 1000.0),
    ("25 mm2", "area", 25e-6),
    ("25 mm^2", "area", 25e-6),
    ("25 mm\u00b2", "area", 25e-6),
    ("55 cm2", "area", 55e-4),
    ("0.30 mH", "inductance", 0.30e-3),
    ("9 \u00b5H", "inductance", 9e-6),
    ("9 \u03bcH", "inductance", 9e-6),
    ("44mF", "capacitance", 0.044),
    ("100 nF", "capacitance", 100e-9),
    ("35 mohm", "resistance", 0.035),
    ("35 mOhm", "resistance", 0.035),
    ("35 m\u03a9", "resistance", 0.035),
    ("35 m\u2126", "resistance", 0.035),
    ("200 kohm", "resistance", 200e3),
    ("1 Mohm", "resistance", 1e6),
    ("1.10 V.s", "flux_linkage", 1.10),
    ("1.10 Vs", "flux_linkage", 1.10),
    ("1.10 V s", "flux_linkage", 1.10),
    ("1.10 V\u00b7s", "flux_linkage", 1.10),
    ("1.2 T", "flux_density", 1.2),
    ("10 A/m", "field", 10.0),
    ("1 A/cm", "field", 100.0),
    ("3 %", "fraction", 0.03),
    ("68.75%", "fraction", 0.6875),
    ("170 deg", "angle", 170.0),
    ("170\u00b0", "angle", 170.0),
    ("40 degC", "temperature", 40.0),
    ("-10 \u00b0C", "temperature", -10.0),
    ("6 m/min", "speed", 0.1),
    ("100 us", "time", 100e-6),
    ("2 min", "time", 120.0),
    ("50 A/us", "current_rate", 50e6),
    ("10 V/\u00b5s", "voltage_rate", 10e6),
    ("1500 A2.s", "i2t", 1500.0),
    ("1.5 kA2s", "i2t", 1.5e6),
    ("1.1 W/kg", "loss_per_mass", 1.1),
    ("0.6 uH/m", "inductance_per_length", 0.6e-6),
    ("2.5 kVA", "apparent_power", 2500.0),
    ("17 mW/K", "heat_per_kelvin", 0.017),
    ("3000 K", "temperature_step", 3000.0),
    ("\u22123 V", "voltage", -3.0),
    ("+.5e1 A", "current", 5.0),
    ("1 rad", "angle", 57.29577951308232),
    ("230 volts", "voltage", 230.0),
    ("12 ft", "length", 3.6576),
    ("0.030 in", "length", 0.762e-3),
    ("0.5 inch", "length", 12.7e-3),
    ("8 in2", "area", 51.6128e-4),
    ("25 sq mm", "area", 25e-6),
    ("300 in/min", "speed", 0.127),
    ("200 ipm", "speed", 5.08 / 60.0),
    ("8 cm/s", "speed", 0.08),
    ("10 lb", "mass", 4.5359237),
]


@pytest.mark.parametrize(("text", "kind", "value"), HAND_VALUES)
def test_texts_people_write(text, kind, value):
    """Each spelling gives the value worked out by hand; exact but for the last bit of the float."""
    assert from_text(text, kind) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "square_millimetres"),
    [("14 AWG", 2.080907717), ("8awg", 8.365564060), ("#1 AWG", 42.40769870), ("0 AWG", 53.475), ("4/0 AWG", 107.22)],
)
def test_wire_gauges(text, square_millimetres):
    """ASTM B 258: 14, 8 and 1 computed with 30 digits outside, 0 and 4/0 from a table (from memory, five digits)."""
    assert from_text(text, "area") == pytest.approx(square_millimetres * 1e-6, rel=1e-9 if "0" not in text else 2e-5)
    assert from_text("0000 AWG", "area") == from_text("4/0 AWG", "area")


@pytest.mark.parametrize(("text", "kind"), [("4 AWG", "length"), ("5/0 AWG", "area"), ("4.5 AWG", "area")])
def test_no_wire_gauge(text, kind):
    """A gauge is a section and nothing else, and none lies beyond 4/0."""
    with pytest.raises(UnitError):
        from_text(text, kind)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("4k7", "resistance", 4700.0),
        ("0R18", "resistance", 0.18),
        ("R10", "resistance", 0.1),
        ("470R", "resistance", 470.0),
        ("1M", "resistance", 1e6),
        ("2.2K", "resistance", 2200.0),
        ("100n", "capacitance", 100e-9),
        ("4\N{MICRO SIGN}7", "capacitance", 4.7e-6),
    ],
)
def test_markings_of_parts(text, kind, value):
    """IEC 60062: the letter stands where the decimal point would, worked out by hand (from memory)."""
    assert from_text(text, kind) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "kind"),
    [("4k7", "capacitance"), ("100n", "resistance"), ("1k", "voltage"), ("44m", "capacitance"), ("4.7k5", "resistance")]
    + [("k", "resistance"), ("1 k", "resistance"), ("-4k7", "resistance"), ("4k7 ohm", "resistance")],
)
def test_no_marking(text, kind):
    """Each kind has letters of its own, once, with a digit and without spaces or a sign; metres are no farads."""
    with pytest.raises(UnitError):
        from_text(text, kind)


COMPLAINTS = [
    ("0,3 mH", "inductance", 'write a decimal point, not a comma: "0.3 mH"'),
    ("1,000 V", "voltage", "a comma is not clear here"),
    ("44 mH", "capacitance", "is an inductance, but a capacitance is needed here"),
    ("44 F", "inductance", "is a capacitance, but an inductance is needed here"),
    ("1 k", "voltage", "the unit 'k' is not known"),
    ("230", "voltage", 'has no unit: write "230 V"'),
    ("50/60 Hz", "frequency", "is not one number with a unit"),
    ("230 v", "voltage", "did you mean 'V'?"),
    ("1 000 V", "voltage", "without spaces"),
    ("nan V", "voltage", "is not one number"),
    ("inf V", "voltage", "is not one number"),
    ("1e999 V", "voltage", "too large"),
    ("", "voltage", "is not one number"),
    ("V", "voltage", "is not one number"),
    ("3 foo", "voltage", "a voltage takes V, mV, kV"),
    ("0x10 V", "voltage", "the unit"),
    ("\u0663 V", "voltage", "is not one number"),
    ("9" * 300 + " V", "voltage", "too long"),
]


@pytest.mark.parametrize(("text", "kind", "words"), COMPLAINTS)
def test_texts_that_mean_nothing(text, kind, words):
    """Each slip gets a sentence that says what to write."""
    with pytest.raises(UnitError, match=re.escape(words)):
        from_text(text, kind)


@given(st.sampled_from(sorted(KINDS)), st.floats(-1e289, 1e289))
def test_text_and_back_loses_nothing(kind, value):
    """Any float of any kind reads back as the same float, bit for bit; beyond 1e290 nothing physical is left."""
    assert from_text(to_text(value, kind), kind) == value


@given(st.sampled_from(sorted(KINDS)), st.floats())
def test_any_float_can_be_printed(kind, value):
    """Also infinity and not-a-number get a text."""
    assert to_text(value, kind)
    assert to_text(value, kind, digits=3)


@given(st.text(max_size=60), st.sampled_from(sorted(KINDS)))
def test_any_text_is_a_value_or_a_complaint(text, kind):
    """Whatever is typed, the answer is a finite float or a UnitError."""
    try:
        value = from_text(text, kind)
    except UnitError:
        return
    assert math.isfinite(value)


@pytest.mark.parametrize(
    ("value", "kind", "shown"),
    [
        (0.0003, "inductance", "300 uH"),
        (2.5e-5, "area", "25 mm2"),
        (55e-4, "area", "55 cm2"),
        (0.0, "resistance", "0 ohm"),
        (200e3, "resistance", "200 kohm"),
        (0.6875, "fraction", "68.75 %"),
        (0.1, "speed", "6 m/min"),
        (1.1, "flux_linkage", "1.1 V.s"),
        (20.0, "temperature", "20 degC"),
        (50e6, "current_rate", "50 A/us"),
    ],
)
def test_engineering_units(value, kind, shown):
    """Values are printed as an engineer writes them."""
    assert to_text(value, kind) == shown


def test_digits_are_for_people():
    """With digits the text is rounded to that many."""
    assert to_text(325.26911934581187, "voltage", digits=4) == "325.3 V"


def test_every_kind_prints_and_names_its_unit():
    """Each kind has a base unit of factor one (a fraction's is 1), and prints only in units it can read."""
    for name, kind in KINDS.items():
        assert kind.base == "1" or kind.factors[kind.base] == 1, name
        assert set(kind.shown) <= set(kind.factors)


def test_no_unit_has_two_sizes():
    """The same unit text means the same factor in every kind, apart from degrees."""
    seen: dict[str, object] = {}
    for kind in KINDS.values():
        for unit, factor in kind.factors.items():
            if unit not in ("C",):  # coulomb, and what people write for degrees Celsius
                assert seen.setdefault(unit, factor) == factor


BANK = Quantity("total of the bank", "capacitance", 100e-6, 1.0)


def test_range_is_told_with_units():
    """A value outside its bounds is answered with the bounds, their units, and what the field is."""
    with pytest.raises(UnitError, match=re.escape("'44 F' is outside 100 uF to 1 F (total of the bank)")):
        BANK.read("44 F")


def test_bounds_belong_to_the_range():
    """Both ends of a range are allowed."""
    assert BANK.read("100 uF") == 100e-6
    assert BANK.read("1 F") == 1.0


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (44, 'write "44 mF"'),
        (0.044, 'write "0.044 F"'),
        ("44", 'write "44 mF"'),
        (True, "got true"),
        (float("nan"), "not a number that can be used"),
        (float("inf"), "not a number that can be used"),
        (10**400, "not a number that can be used"),
        ([1], "got [1]"),
        ({"a": 1}, "got a table"),
        (None, "got None"),
    ],
)
def test_values_that_are_no_quantity(value, words):
    """Numbers without unit and other things are refused; the unit proposed is one that lands inside the range."""
    with pytest.raises(UnitError, match=re.escape(words)):
        BANK.read(value)


def test_bare_numbers_are_si_where_allowed():
    """From Python a plain number is SI, and bounds hold for it too."""
    assert BANK.read(0.044, bare=True) == 0.044
    with pytest.raises(UnitError, match="outside"):
        BANK.read(44, bare=True)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("0.6", 'write "60 %", or "0.6 %" if that is meant'),
        (0.6, 'write "60 %", or "0.6 %" if that is meant'),
        ("60", 'write "60 %"'),
    ],
)
def test_a_fraction_without_unit_is_told_as_a_share_first(value, words):
    """Who writes 0.6 for a dial means 60 % of it, most likely; the advice must not turn that into 0.6 %."""
    with pytest.raises(UnitError, match=re.escape(words)):
        Quantity("position of the dial", "fraction", 0.0, 1.0).read(value)


COUNT = Count("turns on the core", 1, 1000)


@pytest.mark.parametrize(("value", "number"), [(12, 12), ("12", 12), ("12 turns", 12), (12.0, 12)])
def test_counts(value, number):
    """A count may be a number, digits, or digits with the word turns."""
    assert COUNT.read(value) == number


def test_the_largest_count():
    """A bound that is told as allowed is read: the largest seed has nineteen digits."""
    seed = Count("start of the draws", 0, 2**63 - 1)
    assert seed.read("9223372036854775807") == 2**63 - 1
    with pytest.raises(UnitError):
        seed.read("9223372036854775808")


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("12 \u03a9", "a count has no unit"),
        ("thirty", "a whole number from 1 to 1000"),
        (12.5, "got 12.5"),
        (0, "got 0"),
        (True, "got true"),
        (1001, "got 1001"),
        ([], "got []"),
        ("1" * 30, "a whole number"),
    ],
)
def test_counts_that_are_none(value, words):
    """A unit, a word, a half, and numbers outside the range are refused."""
    with pytest.raises(UnitError, match=re.escape(words)):
        COUNT.read(value)


RATIO = Ratio("turns ratio", 1e-3, 1e3)


def test_ratio_of_two_numbers():
    """230:31 is the quotient."""
    assert RATIO.read("230:31") == 230 / 31
    assert RATIO.read(7.5) == 7.5


@pytest.mark.parametrize(
    "value", ["230:0", "a:b", ":", "1:2:3", "-1", True, float("nan"), 1e9, "1" * 400, 10**400, None]
)
def test_ratios_that_are_none(value):
    """Zero, words, too many colons and numbers outside the range are refused."""
    with pytest.raises(UnitError, match="a ratio such as"):
        RATIO.read(value)


def test_choice_offers_the_nearest_word():
    """A misspelt word is answered with the right one and with all."""
    words = "'resister' is not known; did you mean 'resistor'? (one of resistor, arc)"
    with pytest.raises(UnitError, match=re.escape(words)):
        Choice("kind", ("resistor", "arc")).read("resister")
    with pytest.raises(UnitError, match=re.escape("'stick' is not known; did you mean 'MMA'? (one of MMA, MIG)")):
        Choice("MMA is stick", ("MMA", "MIG")).read("stick")  # another word of the trade for it
    with pytest.raises(UnitError, match=re.escape("'square' is not known (one of MMA, MIG: MMA is stick)")):
        Choice("MMA is stick", ("MMA", "MIG")).read("square")
    with pytest.raises(UnitError, match="got 3"):
        Choice("kind", ("resistor", "arc")).read(3)


def test_flags_and_texts():
    """Flags are true or false; texts are texts of bearable length."""
    assert Flag("coiled").read("False") is False
    assert Flag("coiled").read(True) is True
    with pytest.raises(UnitError, match="true or false"):
        Flag("coiled").read("yes")
    with pytest.raises(UnitError, match="text of at most 5"):
        Text("title", 5).read("too long")


def test_articles():
    """An inductance, a capacitance."""
    assert article("inductance") == "an inductance"
    assert article("capacitance") == "a capacitance"


def test_messages_stay_short():
    """A monster of a value does not flood the message."""
    assert len(quoted("x" * 10_000)) < 70
    assert nearest("x" * 10_000, ("voltage",)) == ""


def test_a_part_of_a_name_is_enough_of_a_hint():
    """A word that is one part of a known name is no slip of the finger, but clear; of three names it is not."""
    assert nearest("path", ("path_length", "section", "steel")) == "; did you mean 'path_length'?"
    two = ("primary_wire_section", "secondary_wire_section")
    assert nearest("section", two) == "; did you mean 'primary_wire_section' or 'secondary_wire_section'?"
    assert nearest("section", (*two, "boost_wire_section_or_so")) == ""
