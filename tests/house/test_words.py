"""Words that do not belong into the project: places of one machine, hosts of registries, how it was written."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SUFFIXES = {".py", ".toml", ".md", ".ipynb", ".csv", ".json", ".txt", ""}
FOLDERS = ("weldsim", "tests", "scenarios", "notebooks", ".ci")

# Each in two pieces, so that this file passes its own test.
UNWANTED = [
    a + b
    for a, b in (
        (r"/wo", r"rk/"),
        (r"/ro", r"ot/"),
        (r"/o", r"pt/ws"),
        (r"/tmp/br", r"ief"),
        (r"\bsub-?ag", r"ents?\b"),
        (r"\bAI ag", r"ents?\b"),
        (r"\btrans", r"cripts?\b"),
        (r"\bpy", r"pi\.org"),
        (r"\bpython", r"hosted\b"),
        (r"registry\.np", r"mjs"),
        (r"\blanguage mo", r"dels?\b"),
        (r"\bcod", r"ing session"),
        (r"\bwork", r"place\b"),
    )
]


def project_files() -> list[Path]:
    """Text files of the project, without what tools leave behind."""
    files = [path for path in ROOT.iterdir() if path.is_file()]
    for folder in FOLDERS:
        files += [path for path in (ROOT / folder).rglob("*") if path.is_file() and "__pycache__" not in path.parts]
    return [path for path in files if path.suffix in SUFFIXES and path.name not in ("py.typed", ".git")]


def test_no_unwanted_words():
    """No file mentions a place of one machine, a registry's host or how the project was written."""
    pattern = re.compile("|".join(UNWANTED), re.IGNORECASE)
    found = []
    for path in project_files():
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            if match := pattern.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {match[0]!r}")

    assert not found, "\n" + "\n".join(found)


def test_the_search_finds_what_it_looks_for():
    """The pattern is not blind: it finds each kind of unwanted word in a made-up line."""
    line = " ".join(re.sub(r"\\b|\?|\\", "", word) for word in UNWANTED)

    assert all(re.search(word, line, re.IGNORECASE) for word in UNWANTED)
