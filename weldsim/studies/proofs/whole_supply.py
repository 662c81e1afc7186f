"""The three benchmark supplies from rest, beside the same supplies solved with general methods outside the project."""

import math

from weldsim.runs.perform import Recording
from weldsim.scenario.bundled import bundled_scenarios
from weldsim.studies.proofs.bench import Reading, Row, amplitudes, from_rest, references, side_by_side

DIGITS = 5e-5  # of the value: five or six digits, sampled every 20 us
COARSE = 1e-4  # a crest, and a voltage that jumps when the arc is shorted, between two samples
HARMONICS = 1e-4  # of the fundamental
ORDERS = (1, 3, 5, 7)


def benchmark() -> list[Row]:
    """Output, bank and mains figures of the last of five fifths of a second."""
    return side_by_side("whole supply", references("whole_supply", "whole_supply"), _measure)


def _measure(condition: str) -> dict[str, Reading]:
    name = f"benchmark_{condition.split()[1].strip(',').lower()}.toml"
    text = bundled_scenarios()[name].read_text(encoding="utf-8")
    recording = from_rest(text, 1.0, delay=float(condition.split()[-2]), window=0.2)
    return _figures(recording)


def _figures(recording: Recording) -> dict[str, Reading]:
    begin, end = recording.window
    whole = recording.trace.integrals(begin, end)
    values = {
        f"{signal}.{kind}": getattr(whole, kind)(signal)
        for signal in ("output.current", "output.voltage", "bank.voltage", "primary.current")
        for kind in ("mean", "rms")
    }
    values["primary.power.mean"] = whole.product("mains.voltage", "primary.current") / whole.length
    apparent = whole.rms("mains.voltage") * values["primary.current.rms"]
    values["primary.power_factor"] = values["primary.power.mean"] / apparent
    ((least, largest),) = recording.trace.extremes(["bank.voltage"], begin, end)[0]
    values["bank.voltage.ripple"] = float(largest - least)
    ((low, high),) = recording.trace.extremes(["primary.current"], 0.0, end)[0]
    lines = [abs(line) / math.sqrt(2.0) for line in amplitudes(recording, "primary.current", ORDERS)]
    return (
        {name: Reading(value, COARSE if "output.voltage" in name else DIGITS) for name, value in values.items()}
        | {"switch_on.current.peak": Reading(float(max(high, -low)), COARSE)}
        | {
            f"primary.current.harmonic_{order}": Reading(line, HARMONICS, lines[0])
            for order, line in zip(ORDERS, lines, strict=True)
        }
    )
