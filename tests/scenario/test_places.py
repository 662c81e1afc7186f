"""Line numbers of keys: headers, dotted and quoted keys, inline tables, rows, and texts that span lines."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weldsim.scenario.places import lines_of_keys

TEXT = '''# a comment = with a sign
title = """one
two # not a comment
[not.a.table]
"""
mains.voltage = "230 V"   # dotted
[ "core" ]
'steel' = 'x = y'
curve = [
  {field = "1 A/m", density = "1 T"},   # row

  {field = "2 A/m", density = "2 T"},
]
[[load]]
kind = "short"
[[load]]
kind = "arc line"
[boost.inner]
last = 1'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("title",), 2),
        (("mains",), 6),
        (("mains", "voltage"), 6),
        (("core",), 7),
        (("core", "steel"), 8),
        (("core", "curve"), 9),
        (("core", "curve", 0), 10),
        (("core", "curve", 1, "field"), 12),
        (("core", "curve", 1, "density"), 12),
        (("load",), 14),
        (("load", 1, "kind"), 17),
        (("boost", "inner", "last"), 19),
    ],
)
def test_lines(place, line):
    """Counted by eye in the text above."""
    assert tomllib.loads(TEXT)
    assert lines_of_keys(TEXT)[place] == line


def test_windows_line_ends():
    """Carriage returns do not move the count."""
    assert lines_of_keys("a = 1\r\n\r\nb = 2\r\n")[("b",)] == 3


KEYS = st.from_regex(r"[a-z]{1,6}", fullmatch=True)
VALUES = st.recursive(
    st.one_of(st.integers(), st.booleans(), st.sampled_from(["x", "a = b", "[c]", "#"])),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(KEYS, VALUES, min_size=1, max_size=8))
def test_one_key_a_line(document):
    """Written one key a line, the n-th key is on line n."""
    text = "\n".join(
        f"{key} = {value!r}".replace("True", "true").replace("False", "false") for key, value in document.items()
    )
    assert tomllib.loads(text) == document
    found = lines_of_keys(text)
    assert {key: found[(key,)] for key in document} == {key: at for at, key in enumerate(document, 1)}


@given(st.text(max_size=200))
def test_any_text_ends(text):
    """Also on text that is not TOML it comes to an end without an error."""
    assert isinstance(lines_of_keys(text), dict)
