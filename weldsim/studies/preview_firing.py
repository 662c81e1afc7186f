"""What a preview says of the firing: latched or missed, half-waving, a gate past the zero crossing, a biased core."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from weldsim.parts.phase_control import PhaseControl, gate_pulses
from weldsim.runs.firing import Firing, Miss
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Verdict, amount
from weldsim.studies.gate_pulse import shortest_pulse
from weldsim.studies.operating import MAINS_STEPS, operate
from weldsim.studies.preview_ratings import spread_text

if TYPE_CHECKING:
    from weldsim.studies.preview import Preview

HALF_WAVING = 0.05  # share of half cycles missed in one polarity while the other conducts
MISSED = "missed"  # name in the spread of a preview: share of half cycles missed
FLUX_BIAS = 0.10  # mean flux against its peak


def latching(preview: "Preview") -> Iterator[Verdict]:
    """Whether the device takes over in every half cycle, at its gate and not before."""
    firing, control = preview.firing, preview.scenario.phase_control
    if firing is None or control is None or not firing.half_cycles:
        return
    if firing.early:
        yield Verdict("latching", "fault", _too_long(preview))
        return
    if not firing.missed and any(preview.spread.get(MISSED, ())):
        yield Verdict("latching", "fault", _missed_elsewhere(preview))
        return
    if not firing.missed:
        yield Verdict(
            "latching",
            "good",
            f"The {control.device} latches in all {firing.half_cycles} half cycles looked at; "
            f"it conducts {firing.conduction_angle:.1f} deg per half cycle" + _asked(firing.asked_angle),
        )
        return
    if preview.scenario.load is None and control.pulse_kind == "held" and firing.miss is not None:
        yield Verdict("latching", "note", _idle(firing, firing.miss, control))
        return
    yield Verdict(
        "latching",
        "fault",
        f"The {control.device} fails to latch in {100.0 * firing.missed / firing.half_cycles:.0f} of 100 "
        f"half cycles ({firing.missed} of "
        f"{firing.half_cycles}){_why(preview, firing.miss, control)}. "
        "Assumed: latching current as written, no spread between devices or with temperature.",
    )


def _idle(firing: Firing, miss: Miss, control: PhaseControl) -> str:
    """A held gate on idle iron: the device conducts by its gate, and does not latch."""
    return (
        f"Nothing is connected, so the {control.device} latches in {firing.half_cycles - firing.missed} of "
        f"{firing.half_cycles} half cycles: where its gate ends, at {control.train_end:.4g} deg, "
        f"{1e3 * miss.current_at_end:.2g} mA flow, against a latching current of "
        f"{1e3 * control.latching_current:.3g} mA. Up to there it conducts by its gate. Assumed: latching current as "
        "written; whether it latches under load a [load] tells."
    )


def _missed_elsewhere(preview: "Preview") -> str:
    """A device that latches at the rated mains and not at others, and the pulse that latches at all of them."""
    firing, control = preview.firing, preview.scenario.phase_control
    assert firing is not None
    assert control is not None
    off = (MAINS_STEPS[0], MAINS_STEPS[-1])
    where = _off_rated([step for step, share in zip(off, preview.spread[MISSED], strict=True) if share])
    cure = _cure(preview, None) if preview.recording.supply.periodic else ""
    return (
        f"The {control.device} latches in all {firing.half_cycles} half cycles looked at, but at mains {where} it "
        f"misses some, and then half-waves or gives less{cure}. Assumed: latching current as written, no spread "
        "between devices or with temperature."
    )


def _gate_end(preview: "Preview") -> float | None:
    """Where the gate is driven last [deg]; None without a delay."""
    control, delay = preview.scenario.phase_control, preview.recording.delay
    if control is None or delay is None:
        return None
    frequency = preview.scenario.mains.frequency
    pulses = gate_pulses(control, frequency, delay=delay)
    return 360.0 * frequency * pulses[-1][1] if pulses else None


def _too_long(preview: "Preview") -> str:
    """A device that conducts before its gate is due, and the gate of the half cycle before as the cause."""
    firing, control, end = preview.firing, preview.scenario.phase_control, _gate_end(preview)
    assert firing is not None
    assert control is not None
    cause = "Cause: something else than its gate fires it"
    if end is not None and end > 180.0:
        cause = (
            f"Cause: the gate is driven until {end:.4g} deg, past the zero crossing, and fires the next half cycle at "
            "once; pulse or train must end before 180 deg, by as much as the zero crossing wanders (some 4 deg, common "
            "practice)"
        )
    return (
        f"The {control.device} conducts in {firing.early} of {firing.half_cycles} half cycles before its gate is due: "
        f"{firing.conduction_angle:.1f} deg per half cycle" + _asked(firing.asked_angle)[:-1] + f". {cause}. The dial "
        "no longer governs the output. Assumed: gate times as written."
    )


def _asked(angle: float | None) -> str:
    return "." if angle is None else f" ({angle:.1f} deg from the delay to the zero crossing)."


def _why(preview: "Preview", miss: Miss | None, control: PhaseControl) -> str:
    """Cause of a missed half cycle, in numbers."""
    pulse, latching = control.pulse_width, control.latching_current
    if miss is None and control.dial_kind == "rc-diac":
        return ": at this dial, turned up from rest, its diac does not break over, or when it cannot conduct"
    if miss is None:
        return ": its gate comes when it cannot conduct, or never"
    side = "positive" if miss.polarity > 0 else "negative"
    ends = f"the pulse of {pulse * 1e6:.0f} us"
    if control.pulse_kind == "held":
        ends = f"the gate, held until {control.train_end:.4g} deg,"
    text = (
        f": in the first {side} one {ends} ends at {miss.current_at_end * 1e3:.0f} mA, "
        f"below the latching current of {latching * 1e3:.0f} mA"
    )
    if miss.current_at_end > latching:
        text = (
            f": in the first {side} one {miss.current_at_end * 1e3:.0f} mA flow when the pulse of {pulse * 1e6:.0f} us "
            "ends, which the snubber discharges and which die away"
        )
    if miss.current_at_end < -latching:
        text = (
            f": in the first {side} one the pulse of {pulse * 1e6:.0f} us ends while {-miss.current_at_end:.3g} A of "
            f"the other half "
            "cycle still flow, and is lost"
        )
    return text + _cure(preview, miss)


def _cure(preview: "Preview", miss: Miss | None) -> str:
    """Which pulse misses none, tried; of a run that does not settle, which would have latched that half cycle."""
    scenario, delay = preview.scenario, preview.recording.delay
    if not preview.recording.supply.periodic:
        if miss is None or miss.pulse_needed is None:
            return "; no pulse within that half cycle would do"
        return f"; that half cycle needs {miss.pulse_needed * 1e6:.0f} us"
    needed = [shortest_pulse(scenario, delay=delay, mains_factor=step) for step in MAINS_STEPS]
    gated = vary(scenario, {"phase_control.pulse_kind": "held"})
    held = [operate(gated, delay=delay, mains_factor=step).missed for step in MAINS_STEPS]
    known = [one for one in needed if one is not None]
    told = "no pulse that ends before the zero crossing would do"
    if len(known) == len(needed):
        each = ", ".join(f"{1e6 * one:.4g}" for one in known)
        told = (
            f"none is missed with a pulse of {amount(max(known) * 1e6, 'us')} or more (mains -10, 0, +10 %: {each} us)"
        )
    elif known:
        told += f" at mains {_off_rated([step for step, one in zip(MAINS_STEPS, needed, strict=True) if one is None])}"
    also = "with a gate held until latched" if not any(held) else ""
    if also and len(known) == len(needed):
        also = f", nor {also}"
    elif also:
        also = f", but none is missed {also}"
    return f"; {told}{also} (tried, settled)"


def _off_rated(steps: Sequence[float]) -> str:
    """Mains voltages against the rated one.

    >>> _off_rated([0.9, 1.0]), _off_rated([1.1])
    ('-10, 0 %', '+10 %')
    """
    return ", ".join(f"{100.0 * (step - 1.0):+.0f}".replace("+0", "0").replace("-0", "0") for step in steps) + " %"


def half_waving(preview: "Preview") -> Iterator[Verdict]:
    """One polarity that conducts while the other misses."""
    firing = preview.firing
    if firing is None or firing.half_cycles < 2:
        return
    each = firing.half_cycles / 2.0
    shares = sorted((firing.missed_positive / each, firing.missed_negative / each))
    if shares[1] > HALF_WAVING and shares[0] < 1.0 and shares[1] - shares[0] > HALF_WAVING:
        side = "positive" if firing.missed_positive > firing.missed_negative else "negative"
        mean = preview.numbers.get("core.flux_linkage.mean")
        core = "" if mean is None else f", the core is biased by {mean.value:.3g} V.s"
        dc = preview.numbers["primary.current.mean"].value
        yield Verdict(
            "half_waving",
            "fault",
            f"Half-waving: {100 * shares[1]:.0f} % of the {side} half cycles are missed while the other "
            f"polarity conducts. The primary carries {dc:.3g} A of direct current{core}: hum, heat and blown fuses "
            f"follow. "
            "Cause: " + _cause_of_misses(firing.miss),
        )


def _cause_of_misses(miss: Miss | None) -> str:
    """Why half cycles of one polarity are missed, in short."""
    if miss is None:
        return "the gate falls where the device cannot take over."
    if miss.current_at_end < 0.0:
        return "the pulse ends while the other half cycle's current still flows."
    return "the pulse ends before latching."


def flux_bias(preview: "Preview") -> Iterator[Verdict]:
    """A core that is magnetised one way although both polarities conduct; each of two."""
    for name in ("core.flux_linkage", "second_core.flux_linkage"):
        if f"{name}.peak" in preview.numbers:
            yield from _flux_bias_of(preview, name)


def _flux_bias_of(preview: "Preview", name: str) -> Iterator[Verdict]:
    """One core, by the name of its flux linkage."""
    peak, mean = preview.numbers[f"{name}.peak"].value, preview.numbers[f"{name}.mean"].value
    whose = "second core" if name.startswith("second_") else "core"
    both = preview.firing is None or preview.firing.missed == 0
    if both and peak > 0.0 and abs(mean) > FLUX_BIAS * peak:
        settling = preview.recording.settled is None and preview.recording.supply.periodic
        assumed = (
            f"Assumed: the window of this run from rest, {_magnetised(preview)}; what of it is left of switching on, "
            "the settled state (--from steady) tells."
            if preview.recording.settled is None
            else "Assumed: the settled state reached from a demagnetised core."
        )
        yield Verdict(
            "flux_bias",
            "note" if settling else "fault",
            f"The {whose}'s flux is biased by {mean:.3g} V.s, {100 * abs(mean) / peak:.0f} % of its peak, although "
            f"both polarities conduct: even harmonics and hum. Cause: {_cause_of_bias(preview)}. {assumed}"
            + spread_text(preview, f"{name}.mean", "V.s"),
        )


def _magnetised(preview: "Preview") -> str:
    """How the core is at the start of a run."""
    return "begun with the flux of [start]" if preview.scenario.start.magnetised else "begun demagnetised"


def _cause_of_bias(preview: "Preview") -> str:
    """What makes the half cycles unequal, as far as the scenario says."""
    rectifier, control, mains = preview.scenario.rectifier, preview.scenario.phase_control, preview.scenario.mains
    causes = []
    if preview.firing is not None and preview.firing.early:
        causes.append("half cycles that begin before their gate")
    if rectifier is not None and rectifier.fault != "none":
        causes.append(f"a rectifier with {rectifier.fault}, which loads one half cycle unlike the other")
    by_diac = control is not None and control.dial_kind == "rc-diac"
    if control is not None and control.asymmetry and not by_diac:
        causes.append(f"firing {control.asymmetry:.3g} deg later in the negative half cycles")
    if control is not None and control.diac_asymmetry and by_diac:
        way = "more" if control.diac_asymmetry > 0.0 else "less"
        causes.append(f"a diac that takes {abs(control.diac_asymmetry):.3g} V {way} in the positive half cycles")
    if mains.dc_offset:
        causes.append(f"{mains.dc_offset:.3g} V of direct voltage on the mains")
    if not causes and preview.recording.settled is not None and control is not None:
        causes += _kept_up(preview, control)
    return " and ".join(causes) or "unequal half cycles (firing, latching, dc on the mains, or a load of one polarity)"


def _kept_up(preview: "Preview", control: PhaseControl) -> list[str]:
    """What keeps a bias up although no part is unequal: found by settling the same with it taken away."""
    delay, firing = preview.recording.delay, preview.firing
    overrun = firing is not None and firing.overrun > 0
    if (
        delay is not None
        and overrun
        and control.pulse_kind != "held"
        and not _stays(preview, {"phase_control.pulse_kind": "held"})
    ):
        told = f"is driven for {1e6 * control.pulse_width:.4g} us only"
        if control.pulse_kind == "train":
            (first, _), (second, _) = (*gate_pulses(control, preview.scenario.mains.frequency, delay=delay), (0, 0))[:2]
            told = f"rests between its pulses, which are {1e6 * (second - first):.4g} us apart"
        return [
            f"no part is unequal. One half cycle's current ends later than the gate of the next begins, {delay:.3g} "
            f"deg, and the gate {told}: the later the end, the later the next half cycle begins, so that the bias "
            "keeps itself up. With a gate held until latched it is gone (tried, settled)"
        ]
    if control.holding_current > 0.0 and not _stays(preview, {"phase_control.holding_current": 0.0}):
        return [
            "no part is unequal. The device goes off where its current, by then mostly the core's own, falls below the "
            f"holding current of {1e3 * control.holding_current:.3g} mA, and a bias moves that moment so that it keeps "
            "itself up: it may come with either sign, and may stay away with a device that holds at less"
        ]
    return []


def _stays(preview: "Preview", change: dict[str, object]) -> bool:
    """Whether a bias is still there, settled, with a value changed."""
    changed = vary(preview.scenario, change)
    recording = operate(changed, delay=preview.recording.delay).recording
    for name in ("core.flux_linkage", "second_core.flux_linkage"):
        if f"{name}.peak" in preview.numbers:
            peak = float(np.abs(recording.trace.extremes([name], *recording.window)[0]).max())
            if abs(recording.integrals.mean(name)) > FLUX_BIAS * peak > 0.0:
                return True
    return False
