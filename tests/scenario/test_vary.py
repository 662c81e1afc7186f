"""Varying: changed values are judged like those of a file; the original stays as it is."""

import pytest

from weldsim.errors import ScenarioError
from weldsim.parts.load import Load
from weldsim.scenario.reading import read, read_text
from weldsim.scenario.vary import vary, vary_by_text

BASE = read("benchmark_b")


def test_text_with_unit_and_absent():
    """The two forms that the command line uses."""
    changed = vary(BASE, {"choke.inductance": "0.4 mH", "bank": "absent"})
    assert changed.choke.inductance == 0.4e-3
    assert changed.bank is None
    assert (BASE.choke.inductance, BASE.bank is None) == (0.3e-3, False)


def test_keyword_form_and_bare_numbers():
    """Double underscores stand for the dot; plain numbers are SI."""
    changed = vary(BASE, mains__voltage=253.0, choke__inductance="0.4 mH")
    assert (changed.mains.voltage, changed.choke.inductance) == (253.0, 0.4e-3)


def test_absent_value_goes_back_to_its_default():
    """Taking a field away leaves its default."""
    assert vary(BASE, {"bank.bleed_resistance": "absent"}).bank.bleed_resistance is None
    assert vary(BASE, {"mains.resistance": None}).mains.resistance == 0.0


def test_new_table_from_its_fields():
    """A part that was not there is made from the values given."""
    changed = vary(BASE, {"boost.kind": "winding", "boost.voltage": "48 V", "boost.ballast_resistance": "22 ohm"})
    assert (changed.boost.kind, changed.boost.voltage) == ("winding", 48.0)


def test_whole_table():
    """A table may be given as a mapping or as the part itself."""
    resistor = {"kind": "resistor", "resistance": "0.2 ohm"}
    assert vary(BASE, {"load": resistor}).load == Load(kind="resistor", resistance=0.2)
    assert vary(BASE, load=Load(kind="short")).load == Load(kind="short")


def test_rows_and_presets():
    """Lists are given as lists of mappings, or by a preset's name."""
    changed = vary(BASE, {"mains.background": [{"order": 3, "fraction": "3 %"}]})
    assert changed.mains.background[0].fraction == 0.03
    assert vary(changed, {"mains.background": "flat top"}).mains.background == "flat top"


def test_source_tells_what_was_varied():
    """The changed scenario says where it comes from, and its text reads back to it."""
    changed = vary(vary(BASE, {"choke.inductance": "0.4 mH"}), {"bank": "absent"})
    assert changed.source == "benchmark_b.toml with choke.inductance = 0.4 mH, bank = absent"
    assert read_text(changed.text) == changed


def test_nothing_changed():
    """No change gives an equal scenario."""
    assert vary(BASE) == BASE


@pytest.mark.parametrize(
    ("changes", "place", "words"),
    [
        ({"choke.inductanc": "1 mH"}, "choke.inductanc", "did you mean 'inductance'?"),
        ({"chok.inductance": "1 mH"}, "chok.inductance", "did you mean 'choke'?"),
        ({"mains": "absent"}, "mains", "cannot be absent"),
        ({"mains.voltage": "absent"}, "mains.voltage", "missing"),
        ({"boost": 5}, "boost", 'expected "absent"'),
        ({"mains.voltage": "12 A"}, "mains.voltage", "is a current"),
        ({"mains.voltage": "-1 V"}, "mains.voltage", "outside 0 V to 1 kV"),
        ({"mains.voltage": 1e9}, "mains.voltage", "outside 0 V to 1 kV"),
        ({"mains.voltage": float("nan")}, "mains.voltage", "not a number"),
        ({"mains.voltage": True}, "mains.voltage", "expected a voltage"),
        ({"transformer": "absent"}, "core", "no [transformer]"),
        ({"boost.kind": "choke"}, "boost.choke_ratio", "give choke_ratio"),
        ({"load.kind": "resistor"}, "load.resistance", "needs it"),
        ({"": "1"}, "", "unknown table"),
    ],
)
def test_changes_that_mean_nothing(changes, place, words):
    """The complaints are those of a file."""
    with pytest.raises(ScenarioError) as caught:
        vary(BASE, changes)
    assert any(found.place == place and words in found.fact for found in caught.value.complaints), str(caught.value)


def test_all_faults_at_once():
    """Two bad changes, two complaints."""
    with pytest.raises(ScenarioError) as caught:
        vary(BASE, {"mains.voltage": "12 A", "choke.turnz": 3})
    assert len(caught.value.complaints) == 2


@pytest.mark.parametrize(
    "setting",
    ["choke.inductance=0.4 mH", "choke.inductance = 0.4 mH", 'choke.inductance="0.4 mH"', "choke.inductance='0.4 mH'"],
)
def test_typed_settings(setting):
    """As typed behind --set, with or without blanks and quotes."""
    assert vary_by_text(BASE, [setting]).choke.inductance == 0.4e-3


def test_typed_lists_tables_counts_and_flags():
    """Lists and tables in TOML, whole numbers and flags as words."""
    changed = vary_by_text(
        BASE,
        [
            'mains.background=[{order = 3, fraction = "3 %"}]',
            "bank.cans=4",
            "boost=absent",
            "load={kind = 'resistor', resistance = '0.18 ohm'}",
            "transformer.ratio=230:30",
        ],
    )
    assert (changed.mains.background[0].order, changed.bank.cans, changed.load.resistance) == (3, 4, 0.18)
    assert changed.transformer.ratio == 230 / 30


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("choke.inductance", "is not a change"),
        ("=1", "is not a change"),
        ("choke.inductance=0.4", "has no unit"),
        ("mains.background=[{", "is not a TOML value"),
        ("load={kind=short}", "is not a TOML value"),
        ("mains.background=" + "[" * 5000, "is not a TOML value"),
    ],
)
def test_typed_slips(setting, words):
    """Each gets a sentence that names what was typed."""
    with pytest.raises(ScenarioError, match=words):
        vary_by_text(BASE, [setting])


def test_an_empty_list_of_harmonics_is_a_clean_mains():
    """Other people's loads are taken away by an empty list, as by "absent", and read back from the text."""
    dirty = read_text('[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\nbackground = "flat top"\n')

    for nothing in ([], (), "absent"):
        clean = vary(dirty, {"mains.background": nothing})
        assert clean.mains.background == ()
        assert read_text(clean.text) == clean
