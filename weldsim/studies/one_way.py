"""An alternating output on a load whose line holds for current of one direction only, and what is to be said of it."""

from weldsim.scenario.document import Scenario

LINES_OF_ARCS = ("load line", "arc line", "shorted arc", "wire")
NONE_OF_IT = 0.02  # of the largest current in the one direction: less in the other is what a gap lets through
TOLD = (
    "The output alternates, but this load's line holds for current of one direction only: in the other half cycles it "
    "takes none, so that all figures are those of a half wave"
)
CURE = (
    'An arc on alternating current burns both ways: take load.kind = "resistor" of the arc\'s volts over its amperes '
    "(rms), as the standards load such a supply."
)


def burns_one_way(scenario: Scenario, *, least: float, largest: float) -> bool:
    """Whether an arc of an alternating output carries current of one direction only, by its least and largest [A]."""
    load = scenario.load
    if scenario.rectifier is not None or load is None or load.kind not in LINES_OF_ARCS:
        return False
    ends = sorted((abs(least), abs(largest)))
    return ends[0] < NONE_OF_IT * ends[1]
