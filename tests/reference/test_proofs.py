"""Everything that `weldsim prove` shows, group by group, on the same data; and the table in README.

Every group runs scenarios through engine and read-out and compares with numbers computed elsewhere from textbook
formulas with thirty digits, or printed in textbooks, standards and manuals (weldsim/data); the groups evaluate none of
those formulas.
"""

import ast
import contextlib
import importlib
import inspect
import json
import pkgutil
import re
from collections import Counter
from concurrent.futures import BrokenExecutor, Future
from pathlib import Path

import pytest

import weldsim
import weldsim.studies.proofs
from tests.reference.proof_rows import rows_of
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.report.proofs import BEGIN, END, markdown
from weldsim.studies import prove
from weldsim.studies.proofs import arc, short_arc, transients
from weldsim.studies.proofs.bench import Row
from weldsim.studies.proofs.groups import BESIDE, FED, GROUPS, REASONS

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
KEYS = {"subsystem", "quantity", "condition", "source", "status", "ours", "theirs", "tolerance", "deviation"}


def all_rows() -> list[Row]:
    """Rows of all groups."""
    return [row for group in GROUPS for row in rows_of(group)]


# What is known to lie beyond its tolerance (README tells of it): words of the condition, word of the quantity.
MISSED = [
    ("OTC, plate 1.0 mm", "current"),  # 35 % above, where 30 % are allowed
    ("OTC, plate 4.0 mm", "shorts"),  # 9 a second; in CO2 it would be 45
    ("Panasonic, plate 4.0 mm", "current"),  # 29 % above, where 28 % are allowed
    ("wire 0.89 mm, 17 V, 3.81 m/min, extension 9.52 mm", "current"),  # told: 3 mm of extension halve the current
]


@pytest.mark.parametrize("group", GROUPS, ids=lambda group: group.__name__)
def test_group_meets_its_references(group):
    """Every value of a group lies within the tolerance of its kind (groups.REASONS), but for those known not to."""
    missed = [
        row
        for row in rows_of(group)
        if prove.beyond(row)
        and not any(row["condition"].startswith(where) and what in row["quantity"] for where, what in MISSED)
    ]
    assert not missed, sorted(missed, key=lambda row: -prove.share(row))[:5]


def test_misses_are_still_misses():
    """A value that is listed as missed is beyond its tolerance today: the list shrinks when the tool gets better."""
    beyond = [row for row in all_rows() if prove.beyond(row)]
    assert len(beyond) == len(MISSED)


def test_no_group_is_left_out():
    """Every function of the proofs that gives rows stands in the list of groups."""
    found = set()
    for place in pkgutil.iter_modules(weldsim.studies.proofs.__path__):
        module = importlib.import_module(f"weldsim.studies.proofs.{place.name}")
        for function in vars(module).values():
            if inspect.isfunction(function) and function.__module__ == module.__name__:
                gives_rows = inspect.signature(function).return_annotation == list[Row]
                if gives_rows and not inspect.signature(function).parameters and not function.__name__.startswith("_"):
                    found.add(function)
    assert found == set(GROUPS)
    assert len(GROUPS) == len(set(GROUPS))


def test_enough_from_everywhere():
    """At least 400 values from 30 sources, none twice; at least 5 from each subsystem, each with a reason."""
    rows = all_rows()
    assert len(rows) >= 400
    assert len({row["source"] for row in rows}) >= 30
    assert min(Counter(row["subsystem"] for row in rows).values()) >= 5
    assert {row["subsystem"] for row in rows} == set(REASONS)
    assert {row["status"] for row in rows} <= set(prove.STATUSES)
    places = Counter((row["subsystem"], row["condition"], row["quantity"], row["source"]) for row in rows)
    assert [place for place, count in places.items() if count > 1] == []


def test_circuits_stand_around_all_but_a_class_of_its_own():
    """Groups outside that class read their circuit as a scenario's text; those of the class say so in their name."""
    for group in GROUPS:
        fed = {row["subsystem"] in FED for row in rows_of(group)}
        assert len(fed) == 1
        names = vars(importlib.import_module(group.__module__))
        assert fed == {True} or {"from_rest", "settled", "read_text"} & set(names), group
    assert {row["subsystem"] for row in all_rows()} > set(FED)
    assert all("prescribed" in name or "given" in name for name in FED)


# What only proofs use: what makes the prescribed voltages, a metal for the wire, what drives the wire's own rule.
FOR_PROOFS = {"modulated_mean_squares", "linear_action", "LoneArc"}


@pytest.mark.slow
def test_what_is_proved_is_what_runs_use():
    """What proofs take from parts, runs and analysis is used by the rest of the package too.

    A value that comes out of a function of its own would stay right while what users get went wrong.
    """
    package = Path(weldsim.studies.proofs.__file__).parents[2]
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in package.rglob("*.py")}
    taken, used = set(), set()
    for path, tree in trees.items():
        names = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
        if path.parent.name == "proofs":
            layers = [
                node for node in names if (node.module or "").split(".")[1:2] in (["parts"], ["runs"], ["analysis"])
            ]
            taken |= {alias.name for node in layers for alias in node.names}
        else:
            used |= {alias.name for node in names for alias in node.names}
            used |= {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
    assert taken - used == FOR_PROOFS


def test_another_process_takes_its_share():
    """Two processes give the rows that one gives, in the order of the groups, and tell of every group that is done."""
    groups, told = (transients.load_line, arc.dynamic_arc, transients.discharge), []
    answer = prove.ask(groups=groups, workers=2, progress=lambda done, whole, what: told.append((done, whole)))
    assert arc.dynamic_arc in BESIDE
    assert answer.rows == [row for group in groups for row in rows_of(group)]
    assert told == sorted(told)
    assert told[-1] == (3, 3)
    assert set(BESIDE) < set(GROUPS[1:])


def test_a_process_that_ends_before_its_time(monkeypatch):
    """What the other process could not do is done by this one."""

    @contextlib.contextmanager
    def broken(_):
        class Broken:
            def submit(self, _):
                future = Future()
                future.set_exception(BrokenExecutor("killed"))
                return future

        yield Broken()

    monkeypatch.setattr(prove, "processes", broken)
    groups = (transients.load_line, arc.dynamic_arc)
    assert prove.ask(groups=groups, workers=2).rows == [row for group in groups for row in rows_of(group)]


def test_answer_counts_what_it_holds(capsys, monkeypatch):
    """Names and keys as the contract says; a value beyond its tolerance is counted, told and no error."""

    def spoilt() -> list[Row]:
        first, *others = rows_of(transients.load_line)
        return [Row(**(first | {"ours": 99.0, "deviation": 3.0})), *others]

    monkeypatch.setattr(prove.ask, "__kwdefaults__", prove.ask.__kwdefaults__ | {"groups": (spoilt,)})
    assert main(["prove", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    count = {name: number["value"] for name, number in told["numbers"].items()}
    assert count["checks.count"] == len(told["rows"]) == len(rows_of(transients.load_line))
    assert (count["checks.failed"], count["sources.count"]) == (1, len({row["source"] for row in told["rows"]}))
    assert all(set(row) == KEYS for row in told["rows"])
    assert [one["level"] for one in told["verdicts"]] == ["fault"]
    assert count["checks.fed"] == 0
    assert all(f"`{name}`" in README or f"`.{name.partition('.')[2]}`" in README for name in count)
    assert sum(count[f"checks.{status}"] for status in prove.STATUSES) == count["checks.count"]


def test_page_tells_subsystems_and_failures(capsys, monkeypatch, tmp_path):
    """The page has a line for the subsystem and the value that is beyond; with --subsystem every value; a picture."""

    def spoilt() -> list[Row]:
        first, *others = rows_of(transients.load_line)
        return [Row(**(first | {"ours": float("nan"), "deviation": float("nan")})), *others]

    monkeypatch.setattr(prove.ask, "__kwdefaults__", prove.ask.__kwdefaults__ | {"groups": (spoilt,)})
    monkeypatch.chdir(tmp_path)
    assert main(["prove", "--subsystem", "Load"]) == 0
    page = capsys.readouterr().out
    assert re.search(r"^  load line +27 .* 1 ", page, re.M)
    assert "Beyond tolerance" in page
    assert page.count("theirs") >= 27
    assert (tmp_path / "weldsim-prove.png").exists()


def test_unknown_subsystem_is_told():
    """A word that no subsystem has, or none at all, is answered with their names before anything is run."""
    for word in ("plasma", " "):
        with pytest.raises(QuestionError, match=f"no subsystem has '{word}'.*load line"):
            prove.ask(subsystems=(word,), groups=(lambda: pytest.fail("the work has begun"),))


def cells(table: str) -> list[list[str]]:
    """Cells of the lines of a Markdown table."""
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines() if line[:1] == "|"]


def test_table_in_readme_is_not_stale():
    """README holds what the groups give today; `python -m weldsim.report.proofs README.md` renews it.

    The share of a tolerance that the worst value uses may differ by 2 points or a tenth: rounding of other machines.
    """
    written = README.partition(BEGIN)[2].partition(END)[0]
    made = markdown(all_rows())
    shares = re.compile(r"(< )?(\d+) %")
    worst = next(k for k, name in enumerate(cells(made)[0]) if name == "worst")
    for old, new in zip(cells(written), cells(made), strict=True):
        ours, theirs = (shares.fullmatch(row[worst]) for row in (new, old))
        if ours and theirs:
            assert float(theirs[2]) == pytest.approx(float(ours[2]), abs=2.0, rel=0.1), new
            new[worst] = old[worst]
        assert old == new
    assert written.strip().rpartition("\n\n")[2] == made.rpartition("\n\n")[2]


def test_settings_are_welded_in_the_gas_of_their_makers():
    """Both manuals print theirs for argon with CO2 (the file's column of sources)."""
    with (Path(weldsim.__file__).parent / "data/reference/short_arc_settings.csv").open(encoding="utf-8") as file:
        sources = {line.partition('"')[2] for line in file if '"' in line}
    assert all("Ar+CO2" in source or "MAG 80/20" in source for source in sources)
    row = next(row for row in rows_of(short_arc.settings) if row["quantity"] == "mean current")
    assert row["condition"].startswith("OTC, plate 1.0 mm, wire 0.89 mm, 50 to 55 A, 13 to 15 V")
    welded = short_arc._welded(14.0, 52.5, 0.89, feed=52.5 * short_arc._rules()[0.89], gas="argon mix")
    assert row["ours"] == welded.current
