"""Reading: every complaint at once, each with line, key, value, what is allowed, and the nearest right word."""

import dataclasses
import re
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weldsim.errors import ScenarioError
from weldsim.scenario import trade_words
from weldsim.scenario.document import TABLES
from weldsim.scenario.reading import LARGEST_FILE, MOST_COMPLAINTS, read, read_text
from weldsim.scenario.vary import vary, vary_by_text
from weldsim.scenario.writing import write_text

LEAST = '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n'


def complaints(text):
    """What is said of a text: (line, place, fact)."""
    with pytest.raises(ScenarioError) as caught:
        read_text(text, "test.toml")
    return [(found.line, found.place, found.fact) for found in caught.value.complaints]


def only_complaint(text):
    """The single complaint about a text."""
    found = complaints(text)
    assert len(found) == 1, found
    return found[0]


def test_least_scenario():
    """Mains alone is a scenario; everything else is absent, the start is at zero."""
    scenario = read_text(LEAST, "least.toml")
    assert (scenario.mains.voltage, scenario.mains.frequency, scenario.mains.tolerance) == (230.0, 50.0, 0.1)
    assert all(getattr(scenario, name) is None for name in TABLES if name not in ("mains", "start"))
    assert scenario.start.flux_linkage == 0.0
    assert (scenario.text, scenario.source) == (LEAST, "least.toml")


def test_all_faults_in_one_reading():
    """A file with nine slips of different kinds gets nine complaints, in the order of its lines."""
    found = complaints("""title = "x"
[mains]
voltage = 230 V
freqency = "50 Hz"
[bank]
capacitance = "44 mH"
rated_voltage = 63
[choke]
inductance = "0,3 mH"
turns = "thirty"
[brige]
kind = "bridge"
[load]
kind = "resister"
[boost]
kind = "choke"
choke_ratio = "900000 F"
""")
    assert [(line, place) for line, place, _ in found] == [
        (3, "mains.voltage"),
        (4, "mains.freqency"),
        (6, "bank.capacitance"),
        (7, "bank.rated_voltage"),
        (9, "choke.inductance"),
        (10, "choke.turns"),
        (11, "brige"),
        (14, "load.kind"),
        (17, "boost.choke_ratio"),
    ]
    facts = " / ".join(fact for _, _, fact in found)
    for words in (
        'goes in quotes: voltage = "230 V"',
        "did you mean 'frequency'?",
        "is an inductance, but a",
        'write "63 V"',
        'decimal point, not a comma: "0.3 mH"',
        "a whole number from 1 to 10000",
        "unknown table",
        "did you mean 'resistor'?",
        "a ratio such as",
    ):
        assert words in facts


@pytest.mark.parametrize(
    ("text", "line", "place", "words"),
    [
        ("", None, "mains", "missing: add a table [mains]"),
        ("mains = 5", 1, "mains", "expected a table of named values, got 5"),
        ("mains = [1]", 1, "mains", "expected a table"),
        ('[[mains]]\nvoltage = "1 V"', 1, "mains", "write [mains] in single brackets"),
        (LEAST + "[mains]\n", 4, "text", "written twice"),
        (LEAST.replace('"50 Hz"', "50"), 3, "mains.frequency", 'has no unit: write "50 Hz"'),
        (LEAST.replace('"50 Hz"', "nan"), 3, "mains.frequency", "not a number that can be used"),
        (LEAST.replace('"230 V"', "-inf"), 2, "mains.voltage", "not a number that can be used"),
        (LEAST.replace('"230 V"', "1e999"), 2, "mains.voltage", "not a number that can be used"),
        (LEAST.replace('"230 V"', '"230 Hz"'), 2, "mains.voltage", "is a frequency, but a voltage is needed"),
        (LEAST.replace('"230 V"', '"2 kV"'), 2, "mains.voltage", "outside 0 V to 1 kV"),
        (LEAST.replace('"230 V"', "1979-05-27"), 2, "mains.voltage", "expected a voltage"),
        (LEAST.replace('"230 V"', "{a = 1}"), 2, "mains.voltage", "expected a voltage"),
        (LEAST + "[load]\n", 4, "load.kind", "missing: what is connected (one of resistor, load line"),
        (LEAST + "[lod]\nkind = 'short'\n", 4, "lod", "did you mean 'load'?"),
        (LEAST + "voltag = 1\n", 4, "mains.voltag", "did you mean 'voltage'?"),
        (LEAST + "capacitance = '1 F'\n", 4, "mains.capacitance", "[bank] has one"),
        (LEAST + "choke = 3\n", 4, "mains.choke", "it is a table of its own, [choke]"),
        (LEAST + "resistance = {a = 1}\n", 4, "mains.resistance", "got a table"),
        (LEAST + "resistance = 2020-01-01\n", 4, "mains.resistance", "got 2020-01-01"),
        (LEAST + "[mains.inner]\na = 1\n", 4, "mains.inner", "unknown name"),
        ("capacitance = '1 F'\n" + LEAST, 1, "capacitance", "it belongs below [bank]"),
        (LEAST + 'background = "flat topp"\n', 4, "mains.background", "did you mean 'flat top'?"),
        (LEAST + "background = 7\n", 4, "mains.background", "a list of {order, fraction, phase}"),
        (LEAST + "background = [[1]]\n", 4, "mains.background[1]", "expected a table"),
        (
            LEAST + 'background = [{order = 3, fraction = "3 %"}, {order = 1, fraction = "3 %"}]\n',
            4,
            "mains.background[2].order",
            "a whole number from 2 to 50",
        ),
        ("format = 2\n" + LEAST, 1, "format", "reads format 1"),
        ("title = 5\n" + LEAST, 1, "title", "expected text"),
        (LEAST + "[wire\n", 4, "text", "not valid TOML"),
        (LEAST + "wire = 5\n[wire]\n", 4, "mains.wire", "unknown name"),
        ("\x00", 1, "text", "not valid TOML"),
        ("=", 1, "text", "not valid TOML"),
        ("a = '''", 1, "text", "not valid TOML"),
        ("a.b = 1\na.b.c = 2", 2, "text", "written twice"),
        ("x = " + "[" * 5000, None, "text", "nested too deeply"),
        ("x = " + "9" * 5000, None, "text", "too many digits"),
        (LEAST + "tolerance = True\n", 4, "mains.tolerance", "small letters"),
    ],
)
def test_each_slip(text, line, place, words):
    """One slip, one complaint at its line and key, with words that help."""
    found = [one for one in complaints(text) if words in one[2]]
    assert [(where, key) for where, key, _ in found] == [(line, place)], complaints(text)


@pytest.mark.parametrize(
    ("tables", "place", "words"),
    [
        ('[phase_control]\nsnubber_resistance = "100 ohm"\n', "phase_control.snubber_capacitance", "both or neither"),
        ("[transformer]\nratio = 7\nprimary_turns = 130\nsecondary_turns = 15\n", "transformer.ratio", "not all three"),
        ('[boost]\nkind = "choke"\nchoke_ratio = 2\n[rectifier]\n', "boost.kind", "no [choke]"),
        ('[load]\nkind = "resistor"\n', "load.resistance", 'kind = "resistor" needs it'),
        ("[supply_lead]\n", "supply_lead.length", "give length and section, or resistance"),
    ],
)
def test_faults_across_fields_and_tables(tables, place, words):
    """What contradicts itself is a complaint at the field that should change."""
    _, found, fact = only_complaint(LEAST + tables)
    assert (found, words in fact) == (place, True), fact


def test_faults_of_fields_and_of_units_come_together():
    """A contradiction in one table is reported beside a slip in another."""
    text = LEAST.replace("50 Hz", "50 V") + '[phase_control]\nsnubber_resistance = "100 ohm"\n'
    assert [place for _, place, _ in complaints(text)] == ["mains.frequency", "phase_control.snubber_capacitance"]


def test_misspelt_key_is_not_also_missing():
    """'freqency' is answered once, not once as unknown and once as missing."""
    assert only_complaint(LEAST.replace("frequency", "freqency"))[1] == "mains.freqency"


def test_a_flood_is_cut_short():
    """A file of another kind is not listed to its end."""
    found = complaints(LEAST + "\n".join(f"[t{number}]" for number in range(5000)))
    assert len(found) <= MOST_COMPLAINTS + 1


def test_wire_is_a_table_like_others():
    """[wire] is read with units, and its slips are told with the nearest word."""
    assert read_text(LEAST + '[wire]\ndiameter = "0.9 mm"\n').wire.diameter == 0.9e-3
    with pytest.raises(ScenarioError, match="did you mean 'diameter'"):
        read_text(LEAST + '[wire]\ndiametre = "0.9 mm"\n')


def test_editors_marks(tmp_path):
    """A byte-order mark and Windows line ends, as some editors write them, change nothing."""
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbf" + LEAST.replace("\n", "\r\n").encode())
    assert read(path).mains == read_text(LEAST).mains
    assert read_text("\ufeff" + LEAST).mains == read_text(LEAST).mains


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ("title = 'Schwei\u00dfen'\n".encode("latin-1"), "line 1 is not UTF-8"),
        (LEAST.encode("utf-16"), "line 1 is not UTF-8"),
        (b"\xff" * 100, "not UTF-8"),
        (b"#" * (LARGEST_FILE + 1), "larger than"),
    ],
)
def test_files_of_another_kind(tmp_path, data, words):
    """Other encodings and monsters get one sentence."""
    path = tmp_path / "x.toml"
    path.write_bytes(data)
    with pytest.raises(ScenarioError, match=words):
        read(path)


def test_files_that_are_not_there(tmp_path):
    """A missing file and a folder get one sentence each."""
    with pytest.raises(ScenarioError, match="no such file"):
        read(tmp_path / "nothing.toml")
    with pytest.raises(ScenarioError, match="cannot be read"):
        read(tmp_path)


@settings(max_examples=300)
@given(st.text(max_size=80))
def test_any_text_is_a_scenario_or_a_complaint(text):
    """Whatever stands in a file, the answer is a scenario or a ScenarioError."""
    for whole in (text, LEAST + text):
        try:
            assert read_text(whole).mains.voltage == 230.0
        except ScenarioError as error:
            assert error.complaints or error.fact  # noqa: PT017


JUNK = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(["voltage", "kind", "order", "x"]), inner)
    ),
    max_leaves=8,
)


@settings(max_examples=300)
@given(st.dictionaries(st.sampled_from([*TABLES, "title", "wire", "format", "junk"]), JUNK, max_size=6))
def test_any_document_is_judged(document):
    """Tables that are no tables, lists in lists, nan: complaints, never a traceback."""
    from weldsim.scenario.reading import TableReader

    reader = TableReader({}, document)
    scenario = reader.scenario()
    assert (scenario is None) or not reader.complaints or reader.complaints[0].fact


def test_the_parser_agrees_on_what_is_toml():
    """The scenario text that passes here is plain TOML to the standard library too."""
    assert tomllib.loads(LEAST)["mains"]["voltage"] == "230 V"


def test_a_cable_in_one():
    """Length and section as people say them, behind ``length`` or in place of the table, in a file and as a change."""
    text = LEAST + '[supply_lead]\nlength = "8 m of 2.5 mm2"\n[weld_leads]\nlength = "600cm of 25 mm²"\n'
    scenario = read_text(text)
    assert (scenario.supply_lead.length, scenario.supply_lead.section) == (8.0, 2.5e-6)
    assert (scenario.weld_leads.length, scenario.weld_leads.section) == (6.0, 25e-6)
    whole = read_text('weld_leads = "6 m of 25 mm2"\n' + LEAST)
    assert (whole.weld_leads.length, whole.weld_leads.section) == (6.0, 25e-6)
    other = vary(scenario, {"weld_leads.contact_resistance": "3 mohm", "weld_leads": "3 m of 16 mm2"})
    assert (other.weld_leads.length, other.weld_leads.section) == (3.0, 16e-6)
    longer = vary_by_text(vary(scenario, {"weld_leads.contact_resistance": "3 mohm"}), ["weld_leads=3 m of 16 mm2"])
    assert longer.weld_leads.contact_resistance == 0.003
    measured = vary(vary(scenario, {"weld_leads": {"resistance": "8 mohm"}}), {"weld_leads": "3 m of 16 mm2"})
    assert measured.weld_leads.resistance is None
    assert read_text(write_text(other)) == dataclasses.replace(other, text=write_text(other), source="text")


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ('[weld_leads]\nlength = "6 m of 25 mm2"\nsection = "16 mm2"\n', "weld_leads.section: given twice"),
        ('[weld_leads]\nlength = "6 m of 25 A"\n', "'25 A' is a current"),
        ('[weld_leads]\nlength = "6 m of"\n', "weld_leads.length"),
        ('[load]\nkind = "resistor"\nresistance = "6 m of 25 mm2"\n', "load.resistance"),
    ],
)
def test_a_cable_in_one_that_is_none(rows, told):
    """Two sections, a wrong unit, half of it, or a cable where none belongs."""
    with pytest.raises(ScenarioError, match=re.escape(told)):
        read_text(LEAST + rows)


def test_contradictions_are_told_beside_other_faults():
    """What tables ask of each other is told in the same reading as slips elsewhere, but not of tables with a slip."""
    text = LEAST + 'resistence = "1 ohm"\n[boost]\nkind = "choke"\nchoke_ratio = 3\n[rectifier]\nkind = "centre-tap"\n'
    places = [place for _, place, _ in complaints(text)]
    assert places == ["mains.resistence", "boost.kind", "rectifier.kind"]
    places = [place for _, place, _ in complaints(text + "[choke]\ninductance = 5\n[tranformer]\nratio = 7\n")]
    assert places == ["mains.resistence", "choke.inductance", "tranformer"]


@pytest.mark.parametrize(
    ("text", "place", "says"),
    [
        ("[triac]\ncurrent = '40 A'\n", "triac", "'phase_control'"),
        ("[bridge]\ndiodes = 4\n", "bridge", "'rectifier'"),  # by spelling alone it would be the trigger
        ("[Capacitors]\nvalue = '47 mF'\n", "Capacitors", "'bank'"),
        ("[extension]\nlength = '15 m'\n", "extension", "'supply_lead'"),  # not the wire's
        ("[cables]\nlength = '3 m'\n", "cables", "'weld_leads'"),
        ("[grinder]\nspeed = 1\n", "grinder", "there are mains, generator, breaker"),
        ("[choke]\nL = '0.3 mH'\n", "choke.L", "'inductance'"),
        ("[wire]\nstickout = '12 mm'\n", "wire.stickout", "'extension'"),
        ("[transformer]\nratio = '230:31'\nweight = '18 kg'\n", "transformer.weight", "'core.mass'"),
        ("[transformer]\nratio = '230:31'\narea = '40 cm2'\n", "transformer.area", "'core.section'"),
    ],
)
def test_first_guesses_of_a_builder_find_the_right_name(text, place, says):
    """Words that a workshop would write lead to the table or key that is meant (common practice)."""
    with pytest.raises(ScenarioError) as caught:
        read_text(LEAST + text)
    told = next(one for one in caught.value.complaints if one.place == place)
    assert says in told.fact


def test_every_word_of_the_trade_leads_somewhere():
    """No hint names a table or a key that does not exist, and none hides a name that does."""
    for word, table in trade_words._CALLED.items():
        assert table in TABLES
        assert word not in TABLES
    fields = {item.name for part in TABLES.values() for item in dataclasses.fields(part)}
    for names in trade_words._KEYS.values():
        for name in names.split():
            table, dot, key = name.rpartition(".")
            assert key in fields
            assert not dot or key in {item.name for item in dataclasses.fields(TABLES[table])}
