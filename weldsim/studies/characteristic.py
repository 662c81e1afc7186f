"""Static characteristic: which volts at which amps, for several dial settings, and where the load line crosses."""

from collections.abc import Sequence

from weldsim.errors import QuestionError
from weldsim.parts.load import load_line
from weldsim.runs.perform import Recording, record
from weldsim.runs.run import Run
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Answer, Number, Verdict

DIALS = (0.2, 0.4, 0.6, 0.8, 1.0)
RESISTANCES = (0.005, 0.02, 0.04, 0.06, 0.09, 0.13, 0.2, 0.35, 0.7, 2.0, 10.0)  # [ohm] from nearly short to nearly open
SIGNALS = ("output.voltage", "output.current", "primary.current")
MAINS_STEPS = (0.9, 1.0, 1.1)


def ask(scenario: Scenario, *, dials: Sequence[float] | None = None) -> Answer:
    """Output voltage against current for each dial setting, settled, on resistors from nearly short to nearly open.

    Parameters
    ----------
    scenario : Scenario
    dials : sequence of float or None
        Settings of the dial [1]; 20, 40, 60, 80 and 100 % by default; ignored where there is no phase control.

    Returns
    -------
    Answer : rows "line" (points of a line), "crossing" (with the conventional load line) and "load line".

    Raises
    ------
    QuestionError : an RC-and-diac dial or no phase control cannot be set to several dials; WiringError,
    SimulationError.
    """
    settings = _settings(scenario, dials)
    process = scenario.load.process if scenario.load is not None and scenario.load.kind == "load line" else "MIG"
    rows: list[dict] = []
    lines = {r: with_load(scenario, {"load.kind": "resistor", "load.resistance": r}) for r in RESISTANCES}
    crossing = with_load(scenario, {"load.kind": "load line", "load.process": process})
    numbers: dict[str, Number] = {}
    verdicts: list[Verdict] = []
    runs: dict[str, Run] = {}
    for dial in settings:
        recordings = {step: _settled(crossing, dial, mains_factor=step) for step in MAINS_STEPS}
        current, voltage = _point(recordings[1.0])
        for resistance in RESISTANCES:
            point = _point(_settled(lines[resistance], dial))
            rows.append(
                {
                    "kind": "line",
                    "dial": dial,
                    "delay": recordings[1.0].delay,
                    "resistance": resistance,
                    "current": point[0],
                    "voltage": point[1],
                }
            )
        rows.append(
            {"kind": "crossing", "dial": dial, "delay": recordings[1.0].delay, "current": current, "voltage": voltage}
        )
        name = "crossing" if dial is None else f"crossing.dial_{100 * dial:.0f}"
        numbers[f"{name}.current"], numbers[f"{name}.voltage"] = Number(current, "A"), Number(voltage, "V")
        verdicts.append(_verdict(dial, recordings))
        runs.setdefault("window", recordings[1.0].run)
    line = load_line(process)
    rows += _load_line_rows(line, largest=max(row["current"] for row in rows))
    assumptions = [
        f"Conventional load line of {process}: {line[0]:g} V + {line[1]:g} ohm x I, at most {line[2]:g} V (IEC "
        f"60974-1); real short arcs lie below it.",
        "Every point is a settled state on a resistor, means of voltage and current behind the weld leads; windings "
        "at the scenario's temperature.",
        "Spread: the crossing at mains -10, 0 and +10 %, same dial.",
    ]
    return Answer("characteristic", scenario, numbers, verdicts, assumptions, rows=rows, runs=runs)


def _load_line_rows(line: tuple[float, float, float], *, largest: float) -> list[dict]:
    """The load line's corners up to the largest current, as rows of their own kind."""
    base, slope, most = line
    corner = (most - base) / slope
    currents = [0.0, corner, largest] if corner < largest else [0.0, largest]
    return [{"kind": "load line", "current": amps, "voltage": min(base + slope * amps, most)} for amps in currents]


def _settings(scenario: Scenario, dials: Sequence[float] | None) -> list[float | None]:
    """The dial settings to go through."""
    control = scenario.phase_control
    if control is None or control.dial_kind == "rc-diac":
        if dials:
            raise QuestionError(
                "its output cannot be set by --dial",
                place="phase_control",
                advice='leave --dial out, or choose dial_kind = "linear"',
            )
        return [None]
    return list(dials or DIALS)


def with_load(scenario: Scenario, changes: dict[str, object]) -> Scenario:
    """The scenario with another load in place of its own."""
    bare = vary(scenario, {"load": "absent"}) if scenario.load is not None else scenario
    return vary(bare, changes)


def _settled(scenario: Scenario, dial: float | None, *, mains_factor: float = 1.0) -> Recording:
    return record(
        scenario,
        dial=dial,
        start="steady",
        signals=SIGNALS,
        figures=SIGNALS,
        duration=2.0 / scenario.mains.frequency,
        mains_factor=mains_factor,
    )


def _point(recording: Recording) -> tuple[float, float]:
    """Mean current and voltage; of an alternating output their rms."""
    kind = "mean" if recording.supply.scenario.rectifier is not None else "rms"
    table = recording.run.table
    return table[f"output.current.{kind}"][0], table[f"output.voltage.{kind}"][0]


def _verdict(dial: float | None, recordings: dict[float, Recording]) -> Verdict:
    currents = [_point(recordings[step])[0] for step in MAINS_STEPS]
    name = "crossing" if dial is None else f"crossing_dial_{100 * dial:.0f}"
    where = "The supply" if dial is None else f"Dial {100 * dial:.0f} % ({recordings[1.0].delay:.0f} deg)"
    current, voltage = _point(recordings[1.0])
    return Verdict(
        name,
        "note",
        f"{where} meets the load line at {current:.4g} A, {voltage:.3g} V "
        f"(mains -10, 0, +10 %: {currents[0]:.4g}, {currents[1]:.4g}, {currents[2]:.4g} A).",
    )
