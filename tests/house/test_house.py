"""Every line of code knows its room: import direction, sizes, docstrings; each check lists all faults."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "weldsim"

# room -> what it may import; its own room and the four files below are always allowed.
EVERYWHERE = {"units", "unit_table", "errors", "frozen", "__version__"}
MAY_IMPORT: dict[str, set[str]] = {
    "errors": set(),
    "units": set(),
    "unit_table": set(),
    "frozen": set(),
    "parts": set(),
    "analysis": set(),
    "scenario": {"parts"},
    "network": {"parts", "scenario", "engine.doors", "engine.layout"},  # many small matrices: compiled
    "engine": {"network.system"},  # the handover sheet only, not the whole room
    "runs": {"parts", "scenario", "network", "engine"},
    "studies": {"parts", "scenario", "runs", "analysis", "engine.trace"},  # exact pieces are read where they are judged
    "figures": {"parts", "studies", "runs"},
    "report": {"studies", "figures", "runs"},
    "cli": {"scenario", "runs", "studies", "figures", "report"},
}
ONLY_ROOM_FOR = {"numba": "engine", "h5py": "runs", "matplotlib": "figures", "tomllib": "scenario"}
PHYSICS_ROOMS = ("parts", "analysis")  # rooms whose docstrings must carry units
KERNELS = re.compile(r"engine/\w*kernel\.py")

LONGEST_FUNCTION = 60  # lines, docstring not counted
LONGEST_FILE = 400  # lines
MOST_METHODS = 12  # of a class
MOST_BY_PLACE = 3  # arguments; two is the rule, a third passes where the order is plain


def modules() -> list[Path]:
    """All modules that live in a room (the package's own two files are checked apart)."""
    return sorted(path for path in PACKAGE.rglob("*.py") if path.parent != PACKAGE or not path.name.startswith("__"))


def room_of(path: Path) -> str:
    """The folder, or the file where it lies beside the folders."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def tree_of(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


def imported_names(path: Path) -> Iterator[str]:
    """Every dotted name a file imports, also those inside functions."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            source = "." * node.level + (node.module or "")
            yield from (f"{source}.{alias.name}" for alias in node.names)


def complaints_about_imports() -> Iterator[str]:
    """Imports against the direction of the rooms, relative ones, libraries outside their home."""
    for path in modules():
        room, where = room_of(path), path.relative_to(PACKAGE)
        allowed = MAY_IMPORT[room] | {room} | EVERYWHERE
        for name in imported_names(path):
            top, _, target = name.partition(".")
            if not top:
                yield f"{where}: write the full name instead of a relative import"
            elif ONLY_ROOM_FOR.get(top, room) != room:
                yield f"{where}: {top} belongs in {ONLY_ROOM_FOR[top]}/"
            elif top == "weldsim" and not any(target == one or target.startswith(one + ".") for one in allowed):
                yield f"{where}: {room} may not look into {target or 'the package front door'}"


def complaints_about_kernels() -> Iterator[str]:
    """Compiled files take every number as an argument: they import each other, and nothing else of ours."""
    for path in modules():
        if KERNELS.fullmatch(path.relative_to(PACKAGE).as_posix()):
            for name in imported_names(path):
                of_theirs = re.match(r"weldsim\.engine\.(\w*kernel|\w*layout|compiled|products)\b", name)
                if name.startswith("weldsim.") and not of_theirs:
                    yield f"{path.relative_to(PACKAGE)}: a kernel may not import {name}"


def complaints_about_dataclasses() -> Iterator[str]:
    """Frozen classes come from weldsim.frozen, which costs no time at every start; others are dataclasses.dataclass."""
    for path in modules():
        if path.name != "frozen.py" and "dataclasses.dataclass" in imported_names(path):
            yield f"{path.relative_to(PACKAGE)}: take dataclass from weldsim.frozen, or write dataclasses.dataclass"


def complaints_about_front_doors() -> Iterator[str]:
    """Rooms without a docstring in ``__init__``, or with more than that."""
    for folder in sorted(path for path in PACKAGE.iterdir() if path.is_dir() and any(path.glob("*.py"))):
        door = folder / "__init__.py"
        body = tree_of(door).body if door.exists() else []
        if len(body) != 1 or not isinstance(getattr(body[0], "value", None), ast.Constant):
            yield f"{folder.name}/__init__.py: a room's front door holds one docstring and nothing else"


def complaints_about_sizes() -> Iterator[str]:
    """Functions, files and classes over the limits; the compiled loops are exempt."""
    for path in modules():
        where = path.relative_to(PACKAGE).as_posix()
        if KERNELS.fullmatch(where):
            continue
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > LONGEST_FILE:
            yield f"{where}: {lines} lines, at most {LONGEST_FILE}"
        for node in ast.walk(tree_of(path)):
            if isinstance(node, ast.FunctionDef):
                length = (node.end_lineno or 0) - node.lineno + 1 - len((ast.get_docstring(node) or "").splitlines())
                if length > LONGEST_FUNCTION:
                    yield f"{where}:{node.lineno} {node.name}: {length} lines, at most {LONGEST_FUNCTION}"
            elif isinstance(node, ast.ClassDef):
                methods = sum(isinstance(one, ast.FunctionDef) for one in node.body)
                if methods > MOST_METHODS:
                    yield f"{where}:{node.lineno} {node.name}: {methods} methods, at most {MOST_METHODS}"


def functions_of(path: Path) -> Iterator[ast.FunctionDef]:
    """What others can call: functions of the file and methods of its classes, not functions within functions."""
    for node in tree_of(path).body:
        inside = node.body if isinstance(node, ast.ClassDef) else [node]
        yield from (one for one in inside if isinstance(one, ast.FunctionDef))


def complaints_about_exceptions() -> Iterator[str]:
    """Rules switched off on a line or in a file without saying why."""
    for path in modules():
        for number, text in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            where = f"{path.relative_to(PACKAGE)}:{number}"
            if re.search(r"# noqa", text) and not re.search(r"# noqa: [A-Z]+\d+(, [A-Z]+\d+)* +\(\w[^)]+\)", text):
                yield f"{where}: an exception needs its rule and, in brackets, its reason"
            if re.search(r"# type: ignore(?!\[)", text):
                yield f"{where}: say which complaint of the type checker is ignored"


def complaints_about_arguments() -> Iterator[str]:
    """More than three arguments told by their place (private and inner functions may have them)."""
    for path in modules():
        where = path.relative_to(PACKAGE).as_posix()
        if KERNELS.fullmatch(where):
            continue
        for node in functions_of(path):
            names = [one.arg for one in node.args.posonlyargs + node.args.args if one.arg not in ("self", "cls")]
            if len(names) > MOST_BY_PLACE and not node.name.startswith("_"):
                yield f"{where}:{node.lineno} {node.name}: {names} by place; keyword-only after the second"


def documented(docstring: str, section: str) -> dict[str, str]:
    """Name -> text of each entry of a numpydoc section."""
    found = re.search(rf"^{section}\n-+\n(.*?)(?=^\S[^\n]*\n-{{3,}}|\Z)", docstring + "\n", re.S | re.M)
    return dict(re.findall(r"^([\w, *]+?)(?: : [^\n]*)?\n((?:[ \t]+[^\n]*\n|\n)*)", found[1], re.M)) if found else {}


def complaints_about_docstrings() -> Iterator[str]:
    """Physics functions whose docstring lacks a parameter, a unit or an example; physics files that name no source."""
    for path in modules():
        if room_of(path) not in PHYSICS_ROOMS or path.name == "__init__.py":
            continue
        text = path.read_text(encoding="utf-8")
        if "def " in text and not SOURCE_NAMED.search(text):
            yield f"{path.relative_to(PACKAGE)}: no word on where the formulas come from"
        for node in tree_of(path).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            where = f"{path.relative_to(PACKAGE)}:{node.lineno} {node.name}"
            yield from (f"{where}: {fault}" for fault in docstring_faults(node))


SOURCE_NAMED = re.compile(r"^ *References\n *-+\n|[Dd]erived here|common practice|from memory", re.M)


def docstring_faults(node: ast.FunctionDef) -> Iterator[str]:
    """What is missing in one function's docstring."""
    text = ast.get_docstring(node) or ""
    entries = {
        name.strip(): entry for names, entry in documented(text, "Parameters").items() for name in names.split(",")
    }
    arguments = [one.arg for one in node.args.posonlyargs + node.args.args + node.args.kwonlyargs]
    if list(entries) != arguments:
        yield f"signature has {arguments}, docstring has {list(entries)}"
    for name, entry in {**entries, **documented(text, "Returns")}.items():
        if not re.search(r"\[[^\]\n]+\]", entry):
            yield f"no [unit] for {name}"
    if ">>>" not in text:
        yield "no example"


def complaints_about_tests() -> Iterator[str]:
    """Tests that do not say in a sentence what they show, compare and drop the answer, or give tolerances by place."""
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        for node in ast.walk(tree_of(path)):
            where = f"{path.relative_to(ROOT)}:{getattr(node, 'lineno', 0)}"
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_") and not ast.get_docstring(node):
                yield f"{where} {node.name}: no docstring"
            elif isinstance(node, ast.Expr) and (isinstance(node.value, ast.Compare) or compared(node.value) == "bool"):
                yield f"{where}: compares, but does not assert"
            elif compared(node) and len(node.args) > (1 if ast.unparse(node.func).endswith("approx") else 2):
                yield f"{where}: tolerances go by keyword"


def compared(node: ast.AST) -> str:
    """Whether a node compares within a tolerance: gives "bool", raises "error", or neither."""
    name = ast.unparse(node.func).rpartition(".")[2] if isinstance(node, ast.Call) else ""
    return {"isclose": "bool", "allclose": "bool", "approx": "bool", "assert_allclose": "error"}.get(name, "")


@pytest.mark.parametrize(
    "check",
    [
        complaints_about_imports,
        complaints_about_kernels,
        complaints_about_dataclasses,
        complaints_about_front_doors,
        complaints_about_sizes,
        complaints_about_arguments,
        complaints_about_exceptions,
        complaints_about_docstrings,
        complaints_about_tests,
    ],
    ids=lambda check: check.__name__.removeprefix("complaints_about_"),
)
def test_house_rule(check):
    """The rule holds in every file."""
    found = list(check())

    assert not found, "\n" + "\n".join(found)
