"""Keys that were swept in vain: what cases say of values without effect, and what changes no number at all."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from weldsim.scenario.axes import Axis
from weldsim.scenario.document import Scenario
from weldsim.scenario.idle import idle_values
from weldsim.studies.answer import Verdict


def swept_in_vain(
    scenario: Scenario,
    axes: Sequence[Axis],
    *,
    rows: Sequence[Mapping[str, Any]],
    done: Mapping[int, Mapping[str, Any]],
) -> Iterator[Verdict]:
    """What the cases say of values without effect, beyond what the scenario as it is says of itself.

    Then every other key with which no number of the study changes, whatever the second key.
    """
    known = [idle.told for idle in idle_values(scenario, kinds=False)]
    verdicts = [verdict for kept in done.values() for verdict in kept.get("answer", {}).get("verdicts", [])]
    told = dict.fromkeys(verdict["text"] for verdict in verdicts if verdict["name"] == "idle_value")
    said = [text for text in told if text not in known]
    yield from (Verdict("idle_value", "note", text) for text in said)
    if any(row["error"] is not None for row in rows):
        return
    for axis in axes:
        if not any(text.startswith(f"{axis.key}:") for text in said) and _changes_nothing(axis, axes, rows):
            text = f"{axis.key}: no number of the study changes with it; another key may count in its place."
            yield Verdict("without_effect", "note", text)


def turns_alone(scenario: Scenario, axes: Sequence[Axis]) -> list[str]:
    """That the resistance of a winding stays as written while its turns are swept, where it is given as such."""
    told = []
    for winding in ("primary", "secondary"):
        given = scenario.transformer is not None and getattr(scenario.transformer, f"{winding}_resistance") is not None
        if given and any(axis.key == f"transformer.{winding}_turns" for axis in axes):
            told.append(
                f"The resistance of the {winding} and the leakage stay as written while its turns change; wire section "
                f"and turn length in place of it, or {'`taps`' if winding == 'primary' else '`characteristic --turns`'}"
                ", let the resistance go with the turns."
            )
    return told


def _changes_nothing(axis: Axis, axes: Sequence[Axis], rows: Sequence[Mapping[str, Any]]) -> bool:
    """Whether all values of a key give the same numbers, at each value of the other."""
    others = [one.key for one in axes if one is not axis]
    alike: dict[tuple[Any, ...], list[Any]] = {}
    for row in rows:
        alike.setdefault(tuple(row[key] for key in others), []).append(row["numbers"])
    return len(axis.values) > 1 and all(one == same[0] for same in alike.values() for one in same)
