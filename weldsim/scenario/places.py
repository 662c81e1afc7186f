"""On which line of a TOML text a key stands: what the parser of the standard library does not tell.

The text has been parsed before, so it is taken as valid; where this small reader loses its way it gives no line.
"""

import re

Place = tuple[str | int, ...]

_TOKEN = re.compile(
    r"""
    (?P<newline>\r?\n)
  | (?P<space>[ \t\r]+|\#[^\n]*)
  | (?P<string>\"\"\"(?:[^\\]|\\.)*?\"{3,5} | '''.*?'{3,5} | "(?:[^"\\\n]|\\.)*" | '[^'\n]*')
  | (?P<word>[A-Za-z0-9_-]+)
  | (?P<sign>.)
""",
    re.VERBOSE | re.DOTALL,
)


class _Reader:
    """A walk over the tokens that notes the line of each key."""

    def __init__(self, text: str) -> None:
        self.tokens: list[tuple[str, str, int]] = []
        line = 1
        for match in _TOKEN.finditer(text):
            if match.lastgroup != "space":
                self.tokens.append((str(match.lastgroup), match[0], line))
            line += match[0].count("\n")
        self.at = 0
        self.lines: dict[Place, int] = {}
        self.counts: dict[Place, int] = {}

    def peek(self) -> tuple[str, str, int]:
        """The token that comes next; an empty one at the end."""
        return self.tokens[self.at] if self.at < len(self.tokens) else ("end", "", 0)

    def skip_newlines(self) -> None:
        """Go on to the next token that is not a line end."""
        while self.peek()[0] == "newline":
            self.at += 1

    def key(self) -> tuple[Place, int]:
        """A bare, quoted or dotted key, and its line."""
        path: list[str] = []
        line = self.peek()[2]
        while self.peek()[0] in ("word", "string") or self.peek()[1] == ".":
            sort, text, _ = self.peek()
            if sort != "sign":
                path.append(text if sort == "word" else text[1:-1])
            self.at += 1
        return tuple(path), line

    def value(self, place: Place) -> None:
        """Walk over a value, noting keys and rows inside it."""
        opening = self.peek()[1]
        if opening == "{":
            self.inside(place, "}")
        elif opening == "[":
            self.inside(place, "]")
        else:
            while self.peek()[0] not in ("newline", "end") and self.peek()[1] not in (",", "]", "}"):
                self.at += 1

    def inside(self, place: Place, closing: str) -> None:
        """The keys of an inline table or the rows of a list."""
        self.at += 1
        row = 0
        while self.peek()[0] != "end":
            self.skip_newlines()
            if self.peek()[1] == closing:
                self.at += 1
                return
            if self.peek()[1] == ",":
                self.at += 1
            elif closing == "]":
                self.note((*place, row), self.peek()[2])
                self.value((*place, row))
                row += 1
            else:
                self.assignment(place)

    def assignment(self, place: Place) -> None:
        """key = value."""
        path, line = self.key()
        if not path or self.peek()[1] != "=":
            raise ValueError("lost")
        self.at += 1
        for length in range(1, len(path) + 1):
            self.note((*place, *path[:length]), line)
        self.value((*place, *path))

    def header(self) -> Place:
        """[table] or [[row of a list of tables]]."""
        self.at += 1
        doubled = self.peek()[1] == "["
        self.at += doubled
        path, line = self.key()
        self.at += 1 + doubled
        if doubled:
            row = self.counts.get(path, 0)
            self.counts[path] = row + 1
            self.note(path, line)
            path = (*path, row)
        for length in range(1, len(path) + 1):
            self.note(path[:length], line)
        return path

    def note(self, place: Place, line: int) -> None:
        """The first line counts."""
        self.lines.setdefault(place, line)

    def walk(self) -> dict[Place, int]:
        """All statements of the text."""
        table: Place = ()
        while True:
            self.skip_newlines()
            sort, text, _ = self.peek()
            if sort == "end":
                return self.lines
            if text == "[":
                table = self.header()
            else:
                self.assignment(table)


def lines_of_keys(text: str) -> dict[Place, int]:
    """Line number of every table, key and row of a valid TOML text: ("mains", "background", 0, "order") -> 7."""
    reader = _Reader(text)
    try:
        return reader.walk()
    except (ValueError, RecursionError):
        return reader.lines
