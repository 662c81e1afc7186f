"""The error tree: each error prints as place, fact and advice."""

import weldsim.errors as errors


def test_place_fact_advice():
    """The three stand in one line, in this order."""
    error = errors.WiringError("has no solution", place="choke", advice="write at least 1 uH")
    assert str(error) == "choke: has no solution; write at least 1 uH"


def test_only_a_fact():
    """Place and advice may be missing."""
    assert str(errors.SimulationError("stopped at 12 ms")) == "stopped at 12 ms"


def test_complaints_are_listed():
    """A scenario error prints one line for each complaint, with the line of the file where it is known."""
    complaints = [errors.Complaint("mains.voltage", "missing", 3), errors.Complaint("wire", "missing")]
    text = str(errors.ScenarioError("2 problems", place="x.toml", complaints=complaints))
    assert text.splitlines() == [
        "x.toml: 2 problems",
        "  line   3  mains.voltage: missing",
        "  line   -  wire: missing",
    ]


def test_one_tree():
    """Everything a user can put right is a WeldsimError."""
    kinds = [value for value in vars(errors).values() if isinstance(value, type) and issubclass(value, Exception)]
    assert len(kinds) > 5
    assert all(issubclass(kind, errors.WeldsimError) for kind in kinds)
