"""dataclass, for frozen classes, at next to no cost when they are defined.

dataclasses.dataclass writes the functions of every class as text and compiles them, one by one: half a millisecond to
two a class, which every command would wait for.  Here they are the same few for all frozen classes, and go by the
fields; options and behaviour are those of the library's.
"""

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(*, frozen: bool, kw_only: bool = False, eq: bool = True) -> Callable[[type], type]:
        """Make a class a frozen dataclass; what it defines itself stays."""
        if not frozen:
            raise TypeError("for a class that is not frozen there is dataclasses.dataclass")
        methods = _ALWAYS | (_COMPARED if eq else {})

        def made(plain: type) -> type:
            for name, method in methods.items():
                if name not in vars(plain):
                    setattr(plain, name, method)
            kind = dataclasses.dataclass(init=False, repr=False, eq=False, kw_only=kw_only)(plain)
            if "__init__" not in vars(plain):
                kind.__init__ = _maker(kind)
            return kind

        return made


def _maker(kind: Any) -> Callable[..., None]:
    """What makes an instance of a class: its values by place or by name, else the defaults of its fields."""
    fields, by_place = dataclasses.fields(kind), kind.__match_args__
    defaults = {field.name: field.default for field in fields}
    factories = {one.name: one.default_factory for one in fields if one.default_factory is not MISSING}
    needed = [name for name, default in defaults.items() if default is MISSING and name not in factories]
    count, most, after = len(defaults), len(by_place), hasattr(kind, "__post_init__")

    def make(self: Any, *places: Any, **values: Any) -> None:
        state = self.__dict__
        state.update(defaults)
        if places:
            state.update(zip(by_place, places, strict=False))
        if values:
            state.update(values)
        if len(state) > count or len(places) > most or (places and values and _twice(by_place, places, values)):
            raise _wrong(kind, places, values)
        for name in needed:
            if state[name] is MISSING:
                raise TypeError(f"{kind.__name__}() is missing '{name}'")
        for name in factories:
            if state[name] is MISSING:
                state[name] = factories[name]()
        if after:
            self.__post_init__()

    return make


def _twice(by_place: tuple[str, ...], places: tuple[Any, ...], values: dict[str, Any]) -> list[str]:
    """Names that are given by place and by name."""
    return [name for name in by_place[: len(places)] if name in values]


def _wrong(kind: Any, places: tuple[Any, ...], values: dict[str, Any]) -> TypeError:
    """What is given that a class does not take."""
    names, by_place = [field.name for field in dataclasses.fields(kind)], kind.__match_args__
    if len(places) > len(by_place):
        return TypeError(f"{kind.__name__}() takes {len(by_place)} values by their places, not {len(places)}")
    twice = _twice(by_place, places, values)
    if twice:
        return TypeError(f"{kind.__name__}() is given '{twice[0]}' twice")
    return TypeError(f"{kind.__name__}() has no '{next(name for name in values if name not in names)}'")


def _state(one: Any) -> tuple[Any, ...]:
    """The values that count where two are compared."""
    return tuple(getattr(one, field.name) for field in dataclasses.fields(one) if field.compare)


def _told(self: Any) -> str:
    told = (f"{field.name}={getattr(self, field.name)!r}" for field in dataclasses.fields(self) if field.repr)
    return f"{type(self).__qualname__}({', '.join(told)})"


def _equal(self: Any, other: object) -> Any:
    return _state(self) == _state(other) if type(other) is type(self) else NotImplemented


def _hashed(self: Any) -> int:
    return hash(_state(self))


def _kept(self: Any, name: str, value: Any) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to field '{name}'")


def _kept_there(self: Any, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete field '{name}'")


_ALWAYS = {"__repr__": _told, "__setattr__": _kept, "__delattr__": _kept_there}
_COMPARED = {"__eq__": _equal, "__hash__": _hashed}
