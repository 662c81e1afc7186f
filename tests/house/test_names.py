"""Names are full words of the trade, and the glossary and the maps in DEVELOPERS.md are those of today's files."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from tests.house.test_house import MAY_IMPORT, PACKAGE, ROOT, modules, tree_of
from weldsim.engine.kept import KERNEL_FILES

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
# Written out in this project.  Words of a formula's letters (rms, d_max) and English words (cap) are not among them.
CUT_SHORT = re.compile(
    "cfg|calc|idx|num|vals?|msg|params?|ptr|tmp|arr|vec|mat|func|fn|res|ind|freq|temp|curr|amp|prim|sec|trafo|xfmr|mag|sat|"
    "rect|cond|resp|ctx|obj|cnt|len|lst|dct|attr|src|dst|prev|nxt|pos|neg|avg|std|vars|est|eff|err|tol|pct|deg|rad|elem|nb|"
    "lim|thr|thresh|diff|deriv|coeff?|eqn|sys|sim|ckt|evt|seq|proc|utils?|misc"
)


def given_names(path: Path) -> Iterator[tuple[int, str]]:
    """Every name a file gives: functions, classes, arguments, fields and variables, with its line."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.lineno, node.name
        elif isinstance(node, ast.arg):
            yield node.lineno, node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.lineno, node.id


def words_of(name: str) -> list[str]:
    """The words that a name is made of."""
    return [word.lower() for word in re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+", name)]


def test_names_are_full_words():
    """No name in the package, nor any file's, is built from words cut short."""
    found = [
        f"{path.relative_to(PACKAGE)}:{line} {name}"
        for path in modules()
        for line, name in [(0, path.stem), *given_names(path)]
        if not name.startswith("__") and any(CUT_SHORT.fullmatch(word) for word in words_of(name))
    ]
    assert not found, "\n" + "\n".join(found)


def test_words_are_seen_within_names():
    """The search is not blind: it takes names of every spelling apart."""
    assert words_of("prevCfg_max") == ["prev", "cfg", "max"]
    assert words_of("_LEAST_RES") == ["least", "res"]


def glossary() -> list[str]:
    """The words that the glossary explains, those that stand together apart from each other."""
    table = DEVELOPERS.partition("## Glossary")[2]
    rows = re.findall(r"^\| ([^|]+?) \| [^|]+ \|$", table, re.M)
    cells = [re.sub(r"\(.*?\)", "", row) for row in rows if row != "word" and set(row) != {"-"}]
    return [word.strip() for cell in cells for word in cell.split(",")]


def test_the_glossary_is_in_use():
    """Each word of the glossary is found in the package or in README; one that nobody uses explains nothing."""
    used = (ROOT / "README.md").read_text(encoding="utf-8")
    used += "\n".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    plain = re.sub(r"[\s_-]+", " ", used.lower())
    words = glossary()
    assert len(words) > 30
    assert [word for word in words if re.sub(r"[\s_-]+", " ", word.lower()).split(" current")[0] not in plain] == []


def test_the_table_of_rooms_is_the_rule():
    """What DEVELOPERS.md says a room may import is what the check of imports lets it."""
    rows = dict(re.findall(r"^\| `(\w+)/` \| [^|]+ \| ?([^|]*?) ?\|$", DEVELOPERS, re.M))
    told = {room: set(re.findall(r"[\w.]+", cell)) for room, cell in rows.items()}
    assert told == {room: names for room, names in MAY_IMPORT.items() if (PACKAGE / room).is_dir()}


def test_every_file_named_is_there():
    """Each Python file that DEVELOPERS.md names exists, x.py of the recipes aside."""
    named = set(re.findall(r"[\w/]*\w\.py\b", DEVELOPERS))
    there = [path.relative_to(ROOT).as_posix() for path in [*ROOT.glob("weldsim/**/*.py"), *ROOT.glob("tests/**/*.py")]]
    missing = [name for name in named if not any(f"/{one}".endswith(f"/{name}") for one in there)]
    assert sorted(name for name in missing if not re.search(r"(^|/|_)x\.py$", name)) == []


def test_the_digest_covers_the_kernels():
    """Every compiled file is among those whose digest names the folder of compiled code, and is told of."""
    kernels = {path.name for path in (PACKAGE / "engine").glob("*kernel.py")} | {"products.py"}
    assert set(KERNEL_FILES) == kernels
    assert all(f"`{name}`" in DEVELOPERS for name in kernels)
