"""The verdicts of a preview: each a plain sentence with its number, its cause, what was assumed and its spread."""

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from weldsim.analysis.limits import LimitCheck, no_load_checks
from weldsim.parts.load import Load, load_line
from weldsim.parts.mains import crest_voltage
from weldsim.parts.phase_control import PhaseControl
from weldsim.scenario.finding import highest, source_of
from weldsim.scenario.pair import joined
from weldsim.studies.answer import Verdict, amount, counted, spread
from weldsim.studies.preview_arc import arc_current
from weldsim.studies.preview_firing import flux_bias, half_waving, latching
from weldsim.studies.preview_iron import choke, core
from weldsim.studies.preview_ratings import (
    NOTHING,
    at_this_dial,
    bank,
    breaker,
    diode_current,
    spread_text,
    switch_current,
    thermistor,
    transformer,
)

if TYPE_CHECKING:
    from weldsim.studies.preview import Preview

ALIKE = 6.0  # [V] between an arc line's beginning and that of the load line it is compared with
OF_A_CURRENT = ("breaker", "transformer", "bank_ripple", "phase_control_current", "diode_current", "thermistor")
KICK = 1.02  # times what is left behind a snubber: more is told
ASSUMED_OF_RATES = (
    "Assumed: no capacitance but the snubber's, no jump of the device's own drop, the rating at its own temperature."
)


def verdicts_of(preview: "Preview") -> list[Verdict]:
    """All verdicts that apply, the grave ones first."""
    found = [
        verdict
        for judge in (
            latching,
            half_waving,
            flux_bias,
            _reversed,
            arc_current,
            _unloaded,
            _operating_point,
            _open_circuit,
            breaker,
            transformer,
            bank,
            choke,
            core,
            switch_current,
            thermistor,
            diode_current,
            _voltage_rates,
            _varistor,
        )
        for verdict in judge(preview)
    ]
    if preview.scenario.load is None:
        found = [one for one in found if one.level != "good" or one.name not in OF_A_CURRENT]
    return sorted(found, key=lambda verdict: ("fault", "note", "good").index(verdict.level))


def _operating_point(preview: "Preview") -> Iterator[Verdict]:
    numbers = preview.numbers
    if "output.current.mean" not in numbers or preview.scenario.load is None or preview.scenario.rectifier is None:
        return
    load = preview.scenario.load
    if load.kind in ("battery", "short"):  # no weld: a line of the process says nothing of it
        return
    current, voltage = numbers["output.current.mean"].value, numbers["output.voltage.mean"].value
    process = _process(load)
    if process is None:
        over = spread_text(preview, "output.current.mean", "A")
        yield Verdict("operating_point", "note", f"{voltage:.3g} V at {current:.4g} A on the scenario's load{over}.")
        return
    base, slope, ceiling = load_line(process)
    conventional = min(base + slope * current, ceiling)
    yield Verdict(
        "operating_point",
        "note",
        f"{voltage:.3g} V at {current:.4g} A; the conventional load voltage of {process}, {base:g} V + "
        f"{slope:g} ohm x I, at this current is {conventional:.3g} V (IEC 60974-1; a rating line"
        + (", real short arcs lie 1 to 5 V below it)" if process == "MIG" else ")")
        + spread_text(preview, "output.current.mean", "A")
        + ".",
    )


def _process(load: Load) -> str | None:
    """Whose load line to compare with: the one asked for, or of an arc line the one that begins nearest to it."""
    if load.kind == "load line":
        return load.process
    if load.kind not in ("arc line", "shorted arc") or load.voltage is None:
        return "MIG"
    off = {name: abs(load_line(name)[0] - load.voltage) for name in ("MIG", "MMA", "TIG")}
    nearest = min(off, key=lambda name: off[name])
    return nearest if off[nearest] <= ALIKE else None


def _reversed(preview: "Preview") -> Iterator[Verdict]:
    """A second secondary whose volts count against the first's."""
    table = preview.scenario.second_transformer
    if table is not None and table.reversed:
        yield Verdict(
            "reversed",
            "fault",
            f"The second secondary is joined the wrong way round ({joined(table)}): its volts count against the "
            f"first's. The mains give {amount(preview.numbers['primary.current.rms'].value, 'A')} rms to the pair"
            + spread_text(preview, "primary.current.rms", "A")
            + ". Swap its two ends; a voltmeter across the open join tells before it is closed; see `share`.",
        )


def _unloaded(preview: "Preview") -> Iterator[Verdict]:
    """What stands at an output to which nothing is connected."""
    numbers = preview.numbers
    if preview.scenario.load is not None or "output.voltage.mean" not in numbers:
        return
    volts = [numbers[f"output.voltage.{what}"].value for what in ("mean", "rms", "max")]
    volts = [one if abs(one) > NOTHING else 0.0 for one in volts]
    dc = preview.scenario.rectifier is not None
    takes = " to the idle iron" if preview.scenario.core is not None else ""
    if not dc and preview.scenario.bank is not None:
        takes = " to a bank that stands on alternating voltage"
    stands = f"{volts[0]:.3g} V on the mean" if dc else f"{volts[1]:.3g} V rms"
    yield Verdict(
        "unloaded",
        "note",
        f"Nothing is connected (no table [load]): the output stands at {stands}, {volts[2]:.3g} V at most, and gives "
        f"no current; the mains give {numbers['primary.current.rms'].value:.3g} A rms{takes}"
        + spread_text(preview, "output.voltage.max", "V")
        + "."
        + (
            ' The [wire] is welded by `weld`; here [load] kind = "load line" puts an arc.'
            if preview.scenario.wire
            else ""
        ),
    )


def _open_circuit(preview: "Preview") -> Iterator[Verdict]:
    """The highest voltage without load beside the limits of its kind, direct or alternating, here and fully fired."""
    volts, scenario = preview.open_circuit.get("output"), preview.scenario
    if volts is None:
        return
    rectifier, rms = scenario.rectifier, preview.open_circuit["rms"]
    volts = volts if volts > NOTHING else 0.0
    current = "ac" if rectifier is None else "dc"
    checks = no_load_checks(peak=volts, rms=rms, current=current)
    reaches = f"{volts:.4g} V" if rectifier is not None else f"{volts:.4g} V peak, {rms:.4g} V rms,"
    base = (
        f"Without load the output reaches {reaches} at mains +10 % (limit {_limits(checks)}, {checks[0].limit.clause}, "
        f"{checks[0].limit.status}; {_in_wet_places(checks, current)}). Assumed: "
        f"{at_this_dial(preview)}first second from rest"
        + (" with an empty bank" if scenario.bank is not None else "")
        + (", and what the boost has lifted it to once settled" if scenario.boost is not None else "")
    )
    if rectifier is not None:
        base += ", healthy rectifier" if rectifier.fault == "none" else f", rectifier with {rectifier.fault}"
    kept = all(check.kept for check in checks)
    most = highest(scenario).output
    fully = no_load_checks(peak=most, rms=most / math.sqrt(2.0), current=current)
    level, end = "good", ". Local rules decide."
    if not kept:
        level, end = "fault", ". Too high to touch: do not use it, and have it judged by licensed practice."
    elif scenario.phase_control is not None and not all(check.kept for check in fully):
        level = "note"
        end = f". Turned up it reaches {most:.4g} V at the highest mains: too high to touch (`check`)."
    snubbed = preview.open_circuit.get("snubbed")
    if snubbed is not None and volts > KICK * snubbed:
        base += (
            ". Part of it is a kick of the core, whose last milliamperes the switch cuts off: with a snubber of 47 ohm "
            f"and 100 nF across the switch it is {snubbed:.4g} V"
        )
        behind = no_load_checks(peak=snubbed, rms=preview.open_circuit["snubbed_rms"], current=current)
        if not kept and all(check.kept for check in behind):
            level, end = "note", ", inside the limit: fit one before it is used, and measure. Local rules decide."
    yield Verdict("open_circuit_voltage", level, base + end)


def _limits(checks: Sequence[LimitCheck]) -> str:
    """Limits in words."""
    return " and ".join(f"{check.limit.volts:g} V {check.limit.current} {check.limit.quantity}" for check in checks)


def _in_wet_places(checks: Sequence[LimitCheck], current: str) -> str:
    """The limits where hazard is increased."""
    harder = no_load_checks(peak=0.0, rms=0.0, current=current, place="increased hazard")
    same = [one.limit.volts for one in harder] == [one.limit.volts for one in checks]
    return f"{'the same' if same else _limits(harder)} in wet or cramped places"


def _voltage_rates(preview: "Preview") -> Iterator[Verdict]:
    control = preview.scenario.phase_control
    if control is None:
        return
    limits = (
        ("critical_dvdt", control.critical_dvdt, "max", "while it blocks"),
        ("commutating_dvdt", control.commutating_dvdt, "commutating", "right after its current has ended"),
    )
    for name, limit, kind, where in limits:
        if limit is None:
            continue
        number = f"phase_control.voltage_rate.{kind}"
        rate = preview.numbers[number].value
        low, high = (1e-6 * value for value in preview.spread[number])
        text = (
            f"The voltage across the {control.device} changes by up to {rate * 1e-6:.3g} V/us {where}, against its "
            f"rating of {limit * 1e-6:.3g} V/us (mains -10, 0, +10 %: {low:.3g}, {rate * 1e-6:.3g}, {high:.3g} V/us)"
        )
        if rate > limit:
            text += f": it may fire by itself. Cause: {_cause_of_rate(control)}"
        yield Verdict(name, "fault" if rate > limit else "good", f"{text}. {ASSUMED_OF_RATES}")
    if control.false_firing:
        yield _fired_by_itself(control, int(preview.numbers["phase_control.false_firings.count"].value))


def _cause_of_rate(control: PhaseControl) -> str:
    """What lets the voltage across the switch jump up."""
    if control.snubber_capacitance is None:
        return "there is no snubber, so the circuit's inductance throws its voltage at the switch at once"
    return (
        f"the snubber of {control.snubber_resistance:.4g} ohm and {control.snubber_capacitance * 1e9:.4g} nF is too "
        "small for the inductance it works with (more capacitance; or less resistance, unless it rings)"
    )


def _fired_by_itself(control: PhaseControl, count: int) -> Verdict:
    """Whether the switch has fired without its gate, where that was asked for."""
    if not count:
        return Verdict("false_firing", "good", f"The {control.device} never fires by itself. {ASSUMED_OF_RATES}")
    return Verdict(
        "false_firing",
        "fault",
        f"The {control.device} fires by itself {counted(count, 'time')} in the window: the dial no longer governs it, "
        f"and the rates told are those it got to. Cause: {_cause_of_rate(control)}. {ASSUMED_OF_RATES}",
    )


def _varistor(preview: "Preview") -> Iterator[Verdict]:
    """Whether the varistor clamps, and whether its heat stays within its ratings, also at high mains."""
    varistor, numbers = preview.scenario.varistor, preview.numbers
    if varistor is None:
        return
    clamp = f"{varistor.clamp_voltage:.4g} V"
    peaks = [numbers["varistor.voltage.peak"].value, *preview.spread["varistor.voltage.peak"]]
    told, beyond = [], []
    for what, name, rating, unit in (
        ("of one half cycle", "varistor.energy.max", varistor.rated_energy, "J"),
        ("on the mean", "varistor.power.mean", varistor.rated_power, "W"),
    ):
        low, high = preview.spread[name]
        values = spread((low, numbers[name].value, high), unit)
        told.append(f"{values} {what}, " + ("no rating given" if rating is None else f"rated {rating:.4g} {unit}"))
        beyond.append(rating is not None and max(low, numbers[name].value, high) > rating)
    first = numbers["switch_on.varistor.energy.max"].value
    told.append(f"{amount(first, 'J')} of one half cycle after switch-on")
    beyond.append(varistor.rated_energy is not None and first > varistor.rated_energy)
    clamps = max(peaks) >= varistor.clamp_voltage
    text = (
        f"The varistor sees {spread((peaks[1], peaks[0], peaks[2]), 'V')} at its peak and "
        f"{'clamps' if clamps else 'never clamps'} at {clamp}. Heat: {'; '.join(told)}."
    )
    if any(beyond):
        text += f" That is more than it bears: it fails shorted and may burn. Cause: {_cause_of_clamping(preview)}."
    text += " Assumed: no surge from the mains, no breaker that opens under current, nothing but the primary behind it."
    unknown = clamps and None in (varistor.rated_energy, varistor.rated_power)
    yield Verdict("varistor", "fault" if any(beyond) else "note" if unknown else "good", text)


def _cause_of_clamping(preview: "Preview") -> str:
    """What makes a varistor take more heat than it bears."""
    assert preview.scenario.varistor is not None
    if crest_voltage(source_of(preview.scenario), factor=1.1) > preview.scenario.varistor.clamp_voltage:
        return "its clamp voltage lies below the crest of the mains, so it clamps in every half cycle"
    return "the switch breaks off current that an inductance wants to go on with (holding current, missed latching)"
