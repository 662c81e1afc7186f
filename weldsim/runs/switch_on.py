"""The largest primary current of a run from rest, looked for from its very beginning to its end."""

from weldsim.runs.commands import with_dial
from weldsim.runs.supply import supply_of
from weldsim.runs.under_way import begin_run
from weldsim.scenario.document import Scenario


def largest_from_rest(
    scenario: Scenario, *, duration: float, dial: float | None = None, delay: float | None = None
) -> tuple[float, float]:
    """Largest magnitude of the primary current from switching on [A], and when it is reached [s from the start].

    Simulated a second at a time and forgotten, so that an hour takes no more memory than a second.
    """
    supply = supply_of(with_dial(scenario, dial))
    going = begin_run(supply, delay=supply.delay(dial, delay), settled=None, duration=duration, window=None)
    largest, instant = 0.0, 0.0
    for begin, end in going.parts_to(going.end):
        values, times = going.stepper.trace().extremes(["primary.current"], begin, end)
        for value, time in zip(values[0].tolist(), times[0].tolist(), strict=True):
            if abs(value) > largest:
                largest, instant = abs(value), time - going.begin
    return largest, instant
