"""Questions asked from Python: their keywords follow the rules of the command line's options.

``weldsim.strike(scenario, feed="5 m/min", dial="60 %")`` is understood as ``--feed "5 m/min" --dial 60%`` is; a plain
number is taken as SI (a dial from 0 to 1, a delay in degrees).  What an option would refuse is refused by its keyword.
"""

import functools
import inspect
import numbers
from collections.abc import Callable, Iterable
from typing import Any

from weldsim.cli.commands import COMMANDS
from weldsim.cli.options import Option
from weldsim.errors import QuestionError, UnitError
from weldsim.scenario.document import check_is_read
from weldsim.units import nearest

_PLAIN: tuple[type, ...] = (bool, int, float)


def by_keyword(name: str, question: Callable[..., Any]) -> Callable[..., Any]:
    """The function behind a command, its keywords read by the rules of that command's options.

    Raises (when called)
    ------
    QuestionError : a value that the option would refuse, or a keyword that the question does not have; names it
    """
    command = next(command for command in COMMANDS if command.name == name)
    options = {option.keyword: option for option in command.options}

    parameters = inspect.signature(question).parameters
    takes_any = any(one.kind is one.VAR_KEYWORD for one in parameters.values())

    @functools.wraps(question)
    def asked(*arguments: Any, **keywords: Any) -> Any:
        check_is_read(arguments[0] if arguments else keywords.get("scenario"))
        for keyword in () if takes_any else keywords.keys() - parameters.keys():
            known_words = [word for word, one in parameters.items() if one.kind is one.KEYWORD_ONLY]
            raise QuestionError(
                f"{name} has no such keyword{nearest(keyword, known_words)}",
                place=keyword,
                advice=f"its keywords are {', '.join(known_words)}",
            )
        known = options.keys() & keywords.keys()
        return question(
            *arguments, **keywords | {keyword: _value(options[keyword], keywords[keyword]) for keyword in known}
        )

    asked.__module__, asked.__qualname__ = "weldsim", name  # where pickling finds it
    return asked


def sweep_by_keyword(question: Callable[..., Any]) -> Callable[..., Any]:
    """A sweep from Python: the study by the name of its command too, what it is asked by the rules of its options."""
    own = [name for name, one in inspect.signature(question).parameters.items() if one.kind is one.KEYWORD_ONLY]

    @functools.wraps(question)
    def asked(*arguments: Any, **keywords: Any) -> Any:
        check_is_read(arguments[0] if arguments else keywords.get("scenario"))
        study = keywords.get("study", "preview")
        command = next((one for one in COMMANDS if study in (one.name, one.module)), None)
        if command is None:  # the question itself says which there are
            return question(*arguments, **keywords)
        options = {option.keyword: option for option in command.options if option.keyword not in own}
        read = {name: _value(options[name], keywords[name]) for name in options.keys() & keywords.keys()}
        return question(*arguments, **keywords | read | {"study": command.module})

    asked.__module__, asked.__qualname__ = "weldsim", "sweep"  # where pickling finds it
    return asked


def _value(option: Option, value: Any) -> Any:
    """What is handed on; nothing asked for stays nothing."""
    if value is None:
        return None
    if option.repeated and isinstance(value, Iterable) and not isinstance(value, str):
        return tuple(_one(option, one) for one in value)
    return (_one(option, value),) if option.repeated else _one(option, value)


def _one(option: Option, value: Any) -> Any:
    if type(value) not in _PLAIN and isinstance(value, numbers.Real):  # a number of numpy's
        value = int(value) if isinstance(value, numbers.Integral) else float(value)
    try:
        return option.rule.read(value, bare=True)
    except UnitError as error:
        raise QuestionError(str(error), place=option.keyword) from None
