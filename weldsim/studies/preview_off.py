"""What a preview says of the trigger let go: volts that snubber and blocked device let through to an open output."""

from weldsim.parts.phase_control import PhaseControl
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict, spread
from weldsim.studies.operating import MAINS_STEPS, operate
from weldsim.studies.preview_ratings import NOTHING

NEVER = 176.0  # [deg] after the end of a held gate: nothing is fired
UNNOTICED, FELT = 0.01, 5.0  # [V] below: nothing; above: worth a bleed resistor or a smaller snubber (assumed)


def _through(control: PhaseControl) -> str:
    """What lets a current past the switch, in words.

    >>> _through(PhaseControl())
    'the blocked triac lets'
    """
    past = ["the snubber"] if control.snubber_capacitance is not None else []
    past += ["the timing circuit of the dial"] if control.dial_kind == "rc-diac" else []
    past.append(f"the blocked {control.device}")
    return f"{' and '.join(past)} {'lets' if len(past) == 1 else 'let'}"


def trigger_off(scenario: Scenario) -> tuple[dict[str, Number], list[Verdict]]:
    """Highest volts at the open output and current from the mains while nothing is fired, settled, over the mains.

    Without a core nothing holds them down as the iron of any real transformer does: then they are not told.
    """
    control = scenario.phase_control
    if control is None or scenario.transformer is None:
        return {}, []
    if scenario.core is None:
        text = (
            f"What stands at the open output with the trigger off is not told: {_through(control)} a little through, "
            "and how far the idle iron takes that down the file does not say. Cause: there is no [core]; with its "
            "magnetising inductance, ask again. Measure before touching it."
        )
        return {}, [Verdict("trigger_off", "note", text)]
    changes: dict[str, object] = {"phase_control.pulse_kind": "held", "phase_control.train_end": NEVER - 1.0}
    changes |= {"phase_control.asymmetry": 0.0} | ({} if scenario.load is None else {"load": "absent"})
    off = vary(scenario, changes)
    settings = [operate(off, delay=NEVER, mains_factor=step) for step in MAINS_STEPS]
    peaks = [max(abs(one["output.voltage.min"]), abs(one["output.voltage.max"])) for one in settings]
    volts = [peak if peak > NOTHING else 0.0 for peak in peaks]
    numbers = {
        "trigger_off.output.voltage.max": Number(volts[1], "V"),
        "trigger_off.primary.current.rms": Number(settings[1].primary, "A"),
    }
    stands = "next to nothing" if max(volts) < UNNOTICED else f"up to {spread(volts, 'V')}"
    text = (
        f"With the trigger off the open output has {stands}. Cause: {_through(control)} "
        f"{1e3 * settings[1].primary:.3g} mA into the idle iron"
    )
    if max(volts) > FELT:
        smaller = "a smaller snubber, or " if control.snubber_capacitance is not None else ""
        text += f"; {smaller}a bleed resistor takes it down. The output is not dead"
    other = "" if control.dial_kind == "rc-diac" else " or dial circuit"
    assumed = f"Assumed: settled, no interference filter{other} across the switch."
    return numbers, [Verdict("trigger_off", "note" if max(volts) > FELT else "good", f"{text}. {assumed}")]
