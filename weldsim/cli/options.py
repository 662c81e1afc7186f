"""Options as data: what may be written behind a command, read by the same rules as the scenario files.

One parser is made for the command that was typed, and only for that one, so that usage and suggestions are its own.
"""

import argparse
import os
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import field
from typing import Any, NoReturn

from weldsim.errors import UnitError, WeldsimError
from weldsim.frozen import dataclass
from weldsim.unit_table import KINDS, plain_unit
from weldsim.units import Flag, Quantity, Rule, Text, nearest, quoted


class CommandLineError(WeldsimError):
    """What was typed cannot be understood; carries the usage of the command concerned."""

    def __init__(self, fact: str, *, place: str = "", advice: str = "", usage: str = "") -> None:
        super().__init__(fact, place=place, advice=advice)
        self.usage = usage

    def __str__(self) -> str:
        """The sentence, then the usage."""
        return f"{super().__str__()}\n{self.usage.rstrip()}" if self.usage else super().__str__()


@dataclass(frozen=True)
class Bare(Quantity):
    """A quantity whose option names the unit already: a plain number will do."""

    def read(self, value: Any, *, bare: bool = False) -> float:
        """SI float of "5", or of "5 s"."""
        try:
            value = float(value)
        except (TypeError, ValueError):
            return super().read(value)
        return super().read(value, bare=True)


@dataclass(frozen=True)
class FileName(Text):
    """The name of a file; from Python a path will do."""

    def read(self, value: Any, *, bare: bool = False) -> str:
        """The name as it is."""
        return super().read(os.fspath(value) if isinstance(value, os.PathLike) else value)


@dataclass(frozen=True)
class Scale(Rule):
    """How much one unit of something else is, in a unit of one of these kinds; from Python a plain number is SI."""

    kinds: tuple[str, ...]

    def read(self, value: Any, *, bare: bool = False) -> Any:
        """The number and its SI unit, of "100 A"; a plain number as it is."""
        if bare and isinstance(value, (int, float)) and not isinstance(value, bool):
            return float(value)
        unit = plain_unit(str(value).lstrip("+-0123456789.eE "))
        kind = next((one for one in self.kinds if unit in KINDS[one].factors), self.kinds[0])
        return Quantity(self.doc, kind, None, None).read(value), KINDS[kind].base


@dataclass(frozen=True)
class Option:
    """One option: what is typed, the rule its value follows, and the keyword under which the command gets it.

    A name without dashes is an argument that must be given.  The rule's ``doc`` is the help text.
    """

    flag: str
    rule: Rule
    keyword: str
    shown: str = "TEXT"
    repeated: bool = False

    @property
    def is_argument(self) -> bool:
        """Whether it is told by its place, not by a flag."""
        return not self.flag.startswith("-")


@dataclass(frozen=True)
class Request:
    """What was asked on the command line: values by keyword, only those that were given."""

    command: str
    values: dict[str, Any] = field(default_factory=dict)
    typed: str = ""  # the whole command line, for the record

    def get(self, keyword: str, default: Any = None) -> Any:
        """A value, or the default where it was not given."""
        return self.values.get(keyword, default)


@dataclass(frozen=True)
class Command:
    """One command: its name, what it answers, the function that does it and the options it takes.

    ``module`` is the study behind it, where there is one.
    """

    name: str
    question: str
    run: Callable[[Request], None]
    options: tuple[Option, ...]
    example: str = ""
    module: str = ""


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are ours: no exit inside, the usage of the right command."""

    def error(self, message: str) -> NoReturn:
        raise self._in_our_words(message)

    def _in_our_words(self, message: str) -> CommandLineError:
        """What the library found, told as everything else is."""
        usage = self.format_usage()
        concerned = re.fullmatch(
            r"argument (--[\w-]+): (expected one argument|ignored explicit argument (.*))", message
        )
        if concerned and concerned[3]:
            return CommandLineError(f"it takes no value, not {concerned[3][:60]}", place=concerned[1], usage=usage)
        if concerned:
            shown = next(action.metavar for action in self._actions if concerned[1] in action.option_strings)
            advice = f"write {concerned[1]} {shown}, with the value in quotes where it has spaces"
            return CommandLineError("its value is missing", place=concerned[1], advice=advice, usage=usage)
        advice = 'a value with spaces goes in quotes, as "120 A"' if message.startswith("unrecognized") else ""
        return CommandLineError(message[:1].lower() + message[1:][:300], advice=advice, usage=usage)


def parser_for(command: str, *, question: str, options: Iterable[Option], closing: str) -> argparse.ArgumentParser:
    """The parser of one command."""
    parser = _Parser(
        prog=f"weldsim {command}",
        description=question,
        epilog=closing,
        allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    for option in options:
        settings: dict[str, Any] = {"help": option.rule.doc.replace("%", "%%")}
        if option.is_argument:
            parser.add_argument(option.keyword, metavar=option.flag, **settings)
        elif isinstance(option.rule, Flag):
            parser.add_argument(option.flag, dest=option.keyword, action="store_const", const="true", **settings)
        else:
            settings |= {"dest": option.keyword, "metavar": option.shown}
            parser.add_argument(option.flag, action="append", **settings)
    return parser


def read_request(
    command: str, typed: Sequence[str], *, parser: argparse.ArgumentParser, options: Sequence[Option]
) -> Request:
    """Read what was typed behind the command; every value goes through the rule of its option."""
    _refuse_unknown_flags(typed, parser=parser, options=options)
    found = vars(parser.parse_args(_with_signs(typed)))
    values = {}
    for option in options:
        text = found[option.keyword]
        if text is None:
            continue
        if option.repeated:
            values[option.keyword] = tuple(_value(option, one, parser.format_usage()) for one in text)
        else:
            values[option.keyword] = _value(option, _only(option, text, parser.format_usage()), parser.format_usage())
    return Request(command, values, " ".join(["weldsim", command, *typed]))


def _with_signs(typed: Sequence[str]) -> list[str]:
    """What was typed, with a value below zero joined to its option, which else would be taken for an option."""
    joined: list[str] = []
    for text in typed:
        if re.match(r"-[\d.]", text) and joined and joined[-1].startswith("--") and "=" not in joined[-1]:
            joined[-1] += f"={text}"
        else:
            joined.append(text)
    return joined


def _only(option: Option, found: str | list[str], usage: str) -> str:
    """The one text of an option that counts once; an argument comes as it is."""
    if isinstance(found, str):
        return found
    if len(found) > 1:
        told = " and ".join(quoted(one) for one in found[:3])
        raise CommandLineError(f"given {len(found)} times, as {told}; give it once", place=option.flag, usage=usage)
    return found[0]


def _refuse_unknown_flags(typed: Sequence[str], *, parser: argparse.ArgumentParser, options: Sequence[Option]) -> None:
    """Say which option was probably meant, before a missing argument hides the slip."""
    known = [option.flag for option in options if not option.is_argument] + ["--help", "-h"]
    for text in typed:
        if text == "--":
            return
        flag = text.split("=", 1)[0]
        if flag.startswith("--") and flag not in known:
            raise CommandLineError(
                f"{parser.prog} has no option {flag}{nearest(flag, known)}", usage=parser.format_usage()
            )


def _value(option: Option, text: str, usage: str) -> Any:
    """The value of one option, or a complaint that names the option."""
    try:
        return option.rule.read(text)
    except UnitError as error:
        raise CommandLineError(str(error), place=option.flag, usage=usage) from None
