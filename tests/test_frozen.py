"""Frozen dataclasses of our own behave as the library's do."""

import copy
import dataclasses
import pickle
from typing import Any

import pytest

from weldsim import frozen


def pair(**options: bool) -> tuple[Any, Any]:
    """The same class by the library and by us."""

    def written(make: Any) -> Any:
        @make(frozen=True, **options)
        class Part:
            """A part."""

            name: str
            ohms: float = 2.0
            taps: list = dataclasses.field(default_factory=list)
            place: str = dataclasses.field(default="", compare=False, repr=False)

            def twice(self) -> float:
                """Something of its own."""
                return 2.0 * self.ohms

        return Part

    return written(dataclasses.dataclass), written(frozen.dataclass)


@frozen.dataclass(frozen=True)
class Lead:
    """One that can be pickled."""

    metres: float
    square: float = 25.0


@frozen.dataclass(frozen=True)
class Reel(Lead):
    """One that inherits, looks at its values and tells itself in its own words."""

    turns: int = 10

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if self.turns < 0:
            raise ValueError("turns")

    def __repr__(self) -> str:
        """In own words."""
        return "a reel"


def test_values_words_and_comparison_are_the_librarys():
    """By place or by name, defaults and their order, repr, equality, hash, replace, fields, matching."""
    theirs, ours = pair()
    for made in (lambda kind: kind("r"), lambda kind: kind("r", 3.0, [1]), lambda kind: kind(ohms=1.0, name="r")):
        one, other = made(theirs), made(ours)
        assert repr(one) == repr(other)
        assert dataclasses.asdict(one) == dataclasses.asdict(other)
        assert list(vars(one)) == list(vars(other))
        assert other == made(ours)
        assert other != one
        assert other.twice() == one.twice()
    for kind in (theirs, ours):
        assert kind("r", place="here") == kind("r", place="there")
        assert "here" not in repr(kind("r", place="here"))
    assert dataclasses.replace(ours("r"), ohms=7.0) == ours("r", 7.0)
    assert theirs.__match_args__ == ours.__match_args__
    assert ours("r").taps is not ours("r").taps
    assert hash(Lead(1.0)) == hash(Lead(1.0, 25.0))
    assert len({Lead(1.0), Lead(1.0), Lead(2.0)}) == 2


@pytest.mark.parametrize(
    ("places", "values"),
    [
        ((), {}),
        (("r", 1.0, [], "", 5), {}),
        (("r",), {"name": "s"}),
        (("r",), {"volts": 1.0}),
        ((), {"name": "r", "volts": 1.0}),
    ],
)
def test_what_the_library_refuses_is_refused(places: tuple, values: dict):
    """Missing, too many, twice, unknown: the same kind of error."""
    for kind in pair():
        with pytest.raises(TypeError, match="Part"):
            kind(*places, **values)


def test_by_keyword_only():
    """No place is taken."""
    for kind in pair(kw_only=True):
        assert kind(name="r").ohms == 2.0
        with pytest.raises(TypeError):
            kind("r")


def test_nothing_can_be_changed():
    """Neither set nor deleted, known or not."""
    for kind in pair():
        one = kind("r")
        for change in (lambda one: setattr(one, "ohms", 3.0), lambda one: setattr(one, "volts", 3.0)):
            with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field"):
                change(one)
        with pytest.raises(dataclasses.FrozenInstanceError, match="cannot delete field 'ohms'"):
            del one.ohms


def test_without_equality_each_is_itself():
    """As for those that hold arrays."""
    for kind in pair(eq=False):
        assert kind("r") != kind("r")
        assert len({kind("r"), kind("r")}) == 2


def test_what_a_class_defines_itself_stays():
    """Inherited fields come first; its own words and its look at the values count."""
    reel = Reel(30.0, 1.5, 4)
    assert repr(reel) == "a reel"
    assert [field.name for field in dataclasses.fields(reel)] == ["metres", "square", "turns"]
    assert reel != Lead(30.0, 1.5)
    with pytest.raises(ValueError, match="turns"):
        Reel(30.0, turns=-1)


def test_copies_and_pickles():
    """To other processes and back."""
    lead = Lead(6.0)
    assert pickle.loads(pickle.dumps(lead)) == copy.deepcopy(lead) == copy.copy(lead) == lead


def test_nothing_is_compiled_for_a_class():
    """That is what it is for: its functions stand in the file."""
    for name in ("__init__", "__repr__", "__eq__", "__hash__", "__setattr__", "__delattr__"):
        assert getattr(Lead, name).__code__.co_filename == frozen.__file__, name


def test_others_go_to_the_library():
    """Classes that are not frozen are not for this."""
    with pytest.raises(TypeError, match="dataclasses"):
        frozen.dataclass(frozen=False)
