"""Numbers in words: units, prefixes, aligned columns, the order of verdicts, and cautions where they belong."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.cli.main import main
from weldsim.report.cautions import cautions
from weldsim.report.wording import (
    TABLE_WIDTH,
    WIDTH,
    check_page,
    columns,
    figures,
    listed,
    page,
    quantity,
    verdict_lines,
)
from weldsim.scenario.checks import findings
from weldsim.scenario.reading import read, read_text
from weldsim.studies.answer import Answer, Number, Verdict

PREFIXES = {"n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "M": 1e6, "G": 1e9, "p": 1e-12}


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (127.650056, "A", "127.7 A"),
        (20.0, "V", "20.00 V"),
        (0.05, "A", "50.00 mA"),
        (4979.5, "W", "4980 W"),
        (12345.0, "W", "12.35 kW"),
        (0.0, "A", "0 A"),
        (-0.0, "A", "0 A"),
        (-3.25e-5, "V", "-32.50 uV"),
        (1.0e-15, "F", "0.001000 pF"),
        (0.62853, "1", "0.6285"),
        (7.0, "1", "7"),
        (1500.0, "1", "1500"),
        (90.0, "deg", "90.00°"),
        (20.0, "degC", "20.00°C"),
        (2450.0, "A2.s", "2450 A²s"),
        (0.75, "V.s", "0.7500 V s"),
        (float("nan"), "A", "unknown"),
        (float("inf"), "s", "never"),
        (None, "V", "unknown"),
        (9999.9, "W", "10000 W"),
        (123456.0, "1", "123500"),
        (80e3, "A/s", "80.00 A/ms"),
        (2.5e6, "V/s", "2.500 V/us"),
        (0.1, "m/s", "6.000 m/min"),
        (0.00413, "m", "4.130 mm"),
        (float("inf"), "m", "any looked at"),
    ],
)
def test_quantities_as_people_say_them(value, unit, words):
    """Four digits, a prefix only for the very small and the very large, no exponents (words written by hand)."""
    assert quantity(value, unit) == words


@given(st.floats(1e-9, 1e8), st.sampled_from(["A", "V", "W", "ohm"]))
def test_words_and_value_agree(value, unit):
    """Read back, the words give the value to the four digits that are printed: half of the last one, 5e-4 relative."""
    number, prefix = re.fullmatch(rf"([\d.]+) ([a-zA-Z]?){unit}", quantity(value, unit)).groups()
    assert float(number) * PREFIXES[prefix] == pytest.approx(value, rel=5.01e-4)


def test_what_rounding_leaves_is_told_as_none():
    """A mean of 229 pA beside 33 A rms says nothing; a mean of 1 % of the rms does."""
    told = "\n".join(figures({"a.mean": (2.29e-10, "A"), "a.rms": (33.4, "A"), "b.mean": (0.334, "A")}))
    assert "0 A" in told
    assert "pA" not in told
    assert "0.3340 A" in told


def test_a_wide_table_goes_on_below():
    """Forty columns do not fit in one line: each line keeps to the width, and the first column comes again."""
    lines = listed([{"number": n, **{f"quantity_{k}": 100.0 + k for k in range(40)}} for n in range(2)])
    assert max(map(len, lines)) <= TABLE_WIDTH
    assert sum(line.split()[:1] == ["number"] for line in lines) > 1
    assert sum(line.count("quantity") for line in lines) == 40


def test_columns_are_aligned():
    """First column to the left, others to the right; all rows end in the same place."""
    lines = columns([["a", "1", "22"], ["long name", "333", "4"]], head=["", "x", "y"])
    assert {len(line) for line in lines} == {len(lines[0])}
    assert lines[2].startswith("  long name  333")


def test_rows_and_columns_of_the_table_are_names_of_json():
    """A line and a column together are the name of the number; others stand below."""
    lines = figures(
        {"output.current.mean": (120.0, "A"), "output.current.ripple": (30.0, "A"), "primary.power_factor": (0.6, "1")}
    )
    assert lines[0].split() == ["mean", "ripple"]
    assert lines[1].split() == ["output", "current", "120.0", "A", "30.00", "A"]
    assert lines[-1].split() == ["primary", "power", "factor", "0.6"]


def test_empty_tables_are_empty():
    """Nothing to say gives no lines, not a lonely heading."""
    assert figures({}) == []
    assert listed([]) == []
    assert columns([], head=["a"]) == []


def test_worst_verdict_first_and_wrapped():
    """Faults come before notes and good news; long sentences are broken within the page."""
    lines = verdict_lines(
        [
            Verdict("a", "good", "All is well."),
            Verdict("b", "fault", "Too hot. " * 30),
            Verdict("c", "note", "Look here."),
        ]
    )
    assert lines[0].startswith("  FAULT  Too hot.")
    assert max(map(len, lines)) <= WIDTH
    assert lines.index("  note   Look here.") < lines.index("  good   All is well.")


def test_cases_in_words():
    """Rows of a study become a table: dial in percent, missing values empty, truth as yes and no."""
    lines = listed([{"dial": 0.6, "current": 120.0, "struck": True}, {"dial": None, "current": 9.5, "struck": False}])
    assert lines[0].split() == ["dial", "current", "struck"]
    assert lines[1].split() == ["60", "%", "120.0", "A", "yes"]
    assert lines[2].split() == ["9.500", "A", "no"]


def test_page_holds_everything_once():
    """A page tells title, remark, verdicts, figures, assumptions and cautions, each once."""
    answer = Answer(
        "preview",
        read("toroid_shed"),
        {"output.current.mean": Number(120.0, "A")},
        [Verdict("x", "note", "A verdict.")],
        ["An assumption."],
    )
    text = page(answer, remark="A remark.")
    for part in ("Village repair shed", "A remark.", "A verdict.", "120.0 A", "An assumption.", "certify nothing"):
        assert text.count(part) == 1


def test_cautions_of_each_study():
    """What a full supply is told beside each question, by the dangers that the question touches."""
    whole = read("toroid_shed_boost")
    of_all = {"both poles", "stays charged", "open-circuit voltage: check"}
    asked = {
        "bigger breaker": {"inrush", "drill", "mains", "breaker", "taps"},
        "hot to the hand": {"breaker", "lead", "generator"},
        "exhaust kills": {"generator"},
        "emission rules": {"mains"},
        "how long it may run": {"setting"},
        "Arc light": {"strike", "weld", "choke", "sequence", "spot"},
        "Rolls and gear": {"feed", "sequence", "spot"},
    }
    for study in ("preview", "characteristic", "meters", *set().union(*asked.values())):
        told = " ".join(cautions(whole, study=study))
        assert {words for words in of_all if words in told} == of_all, study
        assert {words for words in asked if words in told} == {words for words in asked if study in asked[words]}, study


MAINS = '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n'


@pytest.mark.parametrize(
    ("text", "study", "present", "missing"),
    [
        (MAINS, "preview", ["live mains"], ["bank", "battery", "breaker"]),
        (MAINS + '[bank]\ncapacitance = "44 mF"\n', "preview", ["stays charged"], ["battery"]),
        (
            MAINS + '[load]\nkind = "battery"\nvoltage = "24 V"\nresistance = "25 mohm"\n',
            "preview",
            ["from behind"],
            ["bank"],
        ),
        (MAINS + '[breaker]\ncurve = "C"\ncurrent = "16 A"\n', "inrush", ["bigger breaker"], ["bank"]),
        (MAINS + '[breaker]\ncurve = "C"\ncurrent = "16 A"\n', "preview", [], ["bigger breaker"]),
        (MAINS + '[wire]\ndiameter = "0.8 mm"\n', "strike", ["Arc light"], ["Electrodes"]),
        (MAINS + '[wire]\ndiameter = "0.8 mm"\n', "spot", ["Arc light", "Rolls and gear"], ["Electrodes"]),
        (MAINS, "spot", ["Electrodes crush fingers"], ["Arc light", "Rolls and gear"]),
        (MAINS + "[phase_control]\n", "mains", ["emission rules", "gives full output"], ["bank"]),
    ],
)
def test_cautions_appear_where_they_matter(text, study, present, missing):
    """Each caution comes with the part or the question it belongs to, and the general one always."""
    said = " ".join(cautions(read_text(text), study=study))
    assert all(words in said for words in present)
    assert not any(words in said for words in missing)
    assert "licensed persons have the last word" in said


@pytest.mark.parametrize(
    ("study", "heading", "last"),
    [
        pytest.param("feed", "Starts", "headroom", marks=pytest.mark.slow),
        ("breaker", "At each dial", "plug rise"),
        ("mains", "Limits", "status"),
    ],
)
def test_tables_fit_the_page(study, heading, last, capsys, tmp_path):
    """The widest tables of the farm on its long lead are one block each, from their first column to their last."""
    assert main([study, "long_lead", "--figure", str(tmp_path / "picture.svg")]) == 0
    lines = capsys.readouterr().out.splitlines()
    begin = lines.index(heading) + 1
    assert lines[begin].endswith(last)
    assert len(lines[begin]) <= TABLE_WIDTH
    end = lines.index("", begin)
    assert not lines[end + 1].startswith("  ")  # the next section, not the rest of this table


def test_columns_with_nothing_to_tell_are_left_out():
    """A column that no case fills, or of a soft start that no case has, is left out; others say their unit."""
    rows = [{"number": 1, "peak": 75.0, "thermistor": float("nan"), "softened": False, "soft_start_heat": 0.0}]
    assert [line.split() for line in listed(rows)] == [["number", "peak"], ["1", "75.00", "A"]]
    head = listed([{**rows[0], "thermistor": 31.0, "softened": True, "soft_start_heat": 4.0}])[0]
    assert head.split() == ["number", "peak", "NTC", "softened", "soft", "start"]


def test_no_title_commands_a_terminal(tmp_path, capsys):
    """A title with escapes, a bell and line feeds is told in one line and in plain letters, on page and picture."""
    place = tmp_path / "\x1b[2Jred.toml"
    title = 'title = "\\u001b[31mred \\u6eb6\\u63a5 \\u0007\\nFAULT"\n'
    rest = '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n[load]\nkind = "resistor"\nresistance = "9 ohm"\n'
    place.write_text(title + rest)
    picture = tmp_path / "\x1b[2Jred.svg"

    for command in ("check", "preview"):
        assert main([command, str(place), *(["--figure", str(picture)] if command != "check" else [])]) == 0
        told = capsys.readouterr()
        assert told.out.splitlines()[0] == "\\x1b[31mred \u6eb6\u63a5 \\x07\\nFAULT"
        assert not [letter for letter in told.out + told.err if not letter.isprintable() and letter != "\n"]
    assert r"\x1b[31mred" in picture.read_text(encoding="utf-8")


def test_one_finding_is_no_plural():
    """A battery above the crest of the mains is one fault, and the page says so."""
    scenario = read_text(
        'format = 1\n[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n[rectifier]\nkind = "bridge"\n'
        '[load]\nkind = "battery"\nvoltage = "400 V"\nresistance = "1 ohm"'
    )
    assert ": 1 fault, 3 notes, 0 good" in check_page(scenario, findings(scenario))
