"""What the inspector, the neighbour and the supply itself would say of it, in words."""

import math
from collections.abc import Mapping, Sequence

from weldsim.analysis.emission import ratio_needed
from weldsim.analysis.limit_tables import NO_CERTIFICATE, LimitVerdict, first_failure
from weldsim.analysis.voltage_limits import against_iec_61000_3_3
from weldsim.runs.mains_streams import DIPS, Stream
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Number, Verdict, amount, counted, percent, spread
from weldsim.studies.mains_flicker import Minutes, reference_asked
from weldsim.studies.mains_numbers import Emission
from weldsim.studies.mains_spread import FLUXES
from weldsim.studies.weld_measure import RATES

SINGLE_WINDOW = 1.5  # of the limit, for single smoothed windows (IEC 61000-3-2, from memory, 85 % sure)
FLUX_BIAS = 0.10  # of the peak
ROUNDING = 1e-6  # of the peak: a mean below it is what settling leaves of none
DC_NOTED, EVEN_NOTED = 0.005, 0.02  # of the fundamental: direct current, even orders (common practice, no source)
PLUG_THD = 0.08  # EN 50160
IEEE = "IEEE 519"  # meant for the whole customer: a single set can only be noted
NARROWLY = 1.05  # times the limit: below it the excess is told


def emission_verdicts(
    emission: Emission, limits: Sequence[LimitVerdict], spreads: Mapping[str, list[float]]
) -> list[Verdict]:
    """The harmonics against limits, their size and the power factor."""
    appliance = [one for one in limits if one.limit.standard != IEEE]
    customer = [one for one in limits if one.limit.standard == IEEE]
    found = [_against_limits(emission, appliance, spreads, reason=emission.scope.reason, name="limits")]
    if customer:
        reason = f"demand {amount(emission.demand, 'A')}; meant for the whole customer at the point of common coupling"
        found.append(_against_limits(emission, customer, spreads, reason=reason, name="limits_of_the_customer"))
    return [*found, _distortion(emission, spreads), *_single_windows(emission, appliance)]


def _told(value: float, unit: str) -> str:
    """A figure of a limit as people write it."""
    value = value if value > ROUNDING else 0.0
    return f"{100.0 * value:.3g} %" if unit == "1" else f"{value:.3g} {unit}"


def _of_flicker(one: LimitVerdict) -> str:
    """A figure of flicker: severities are plain numbers, voltage changes shares."""
    severity = one.quantity in ("Pst", "Plt")
    return f"{one.quantity} {f'{one.found:.2f}' if severity else _told(one.found, one.limit.unit)}"


def _named(one: LimitVerdict) -> str:
    return f"order {one.quantity}" if one.quantity.isdigit() else one.quantity


def _spread_of(one: LimitVerdict, emission: Emission, spreads: Mapping[str, list[float]]) -> str:
    """What was found, over the mains where that is known: of orders, in a settled state with every period alike."""
    base = {"Iref": spreads.get("order_1", ()), "IL": [emission.demand] * 3}.get(one.limit.of, [1.0] * 3)
    sizes = spreads.get(f"order_{one.quantity}", ())
    told = [part / whole if whole else math.nan for part, whole in zip(sizes, base, strict=False)]
    if len(told) != 3 or not math.isclose(told[1], one.found, rel_tol=1e-6) or not one.found > ROUNDING:
        return _told(one.found, one.limit.unit)
    share = one.limit.unit == "1"
    return spread([100.0 * value if share else value for value in told], "%" if share else one.limit.unit)


def _cause_of_orders(scenario: Scenario) -> str:
    """What bends the current, as far as the scenario has it."""
    causes = ["chopped by the phase control"] if scenario.phase_control is not None else []
    causes += ["drawn by the bank at the crest"] if scenario.bank is not None else []
    return (
        f"current in pulses, {' or '.join(causes)}" if causes else "rectifier, load or saturating iron bend the current"
    )


def _against_limits(
    emission: Emission,
    limits: Sequence[LimitVerdict],
    spreads: Mapping[str, list[float]],
    *,
    reason: str,
    name: str,
) -> Verdict:
    """First order that fails, by how much, by which clause; and how the row is known."""
    start = f"At {amount(emission.look.rms, 'A')} rms"
    if not limits:
        return Verdict(name, "note", f"{start}: no limit for the single appliance applies ({reason}). {NO_CERTIFICATE}")
    failed = first_failure(list(limits))
    standard = limits[0].limit
    of = f" of {standard.of}" if standard.of else ""
    memory = " These limits are from memory." if any(one.limit.from_memory for one in limits) else ""
    needed = _stiffer(emission) if "3-12" in standard.standard else ""
    if failed is None:
        nearest = min((one for one in limits if not one.disregarded), key=lambda one: one.margin, default=limits[0])
        text = (
            f"{start} all limits of {standard.standard} are kept; nearest is {_named(nearest)} with "
            f"{_spread_of(nearest, emission, spreads)} of {_told(nearest.most, nearest.limit.unit)}{of}, a margin of "
            f"{100.0 * nearest.margin:.0f} %"
        )
        too_soft = bool(needed) and emission.ratio < ratio_needed(emission.groups)
        level = "note" if too_soft else "good"
        return Verdict(name, level, f"{text} ({reason}).{needed}{memory} {NO_CERTIFICATE}")
    count = sum(not one.kept for one in limits)
    text = (
        f"{start} {count} of {len(limits)} limits of {standard.standard} are exceeded, first {_named(failed)}: "
        f"{_spread_of(failed, emission, spreads)} against {_told(failed.most, failed.limit.unit)}{of} (clause "
        f"{failed.limit.clause}; {_beyond(failed)}). Cause: "
        f"{_cause_of_orders(emission.scenario)} ({reason})."
    )
    level = "note" if standard.standard == IEEE else "fault"
    return Verdict(name, level, f"{text}{needed}{memory} {NO_CERTIFICATE}")


def _beyond(failed: LimitVerdict) -> str:
    """How far a figure lies beyond its limit: times, or per cent where both are written alike."""
    times = failed.found / failed.most if failed.most else math.inf
    return f"{times:.3g} times" if times >= NARROWLY else f"{100.0 * (times - 1.0):.2g} % beyond it"


def _stiffer(emission: Emission) -> str:
    """Which short-circuit ratio would do."""
    needed = ratio_needed(emission.groups)
    ratio = "endless, on a mains without impedance" if math.isinf(emission.ratio) else f"{emission.ratio:.3g}"
    here = f" The short-circuit ratio here is {ratio}"
    if math.isinf(needed):
        return f"{here}; no ratio is high enough for these harmonics."
    if emission.ratio >= needed:
        return f"{here}; {needed:.0f} is enough."
    return f"{here}; {needed:.0f} would be needed: whether this mains may carry it is for its operator to say."


def _single_windows(emission: Emission, limits: Sequence[LimitVerdict]) -> list[Verdict]:
    """Windows that go beyond one and a half times the limit although the mean keeps it."""
    over = [
        one
        for one in limits
        if one.kept
        and one.quantity.isdigit()
        and one.limit.unit == "A"
        and emission.largest[int(one.quantity) - 1] > SINGLE_WINDOW * one.most
    ]
    if not over:
        return []
    names = ", ".join(one.quantity for one in over[:6])
    return [
        Verdict(
            "single_windows",
            "fault",
            f"Orders {names} keep their limits on average, but single smoothed windows go beyond 1.5 times of them "
            "(IEC 61000-3-2, from memory).",
        )
    ]


def _distortion(emission: Emission, spreads: Mapping[str, list[float]]) -> Verdict:
    """Power factor and distortion, with their cause and spread."""
    look, rms = emission.look, emission.orders
    if not look.rms > 0.0:
        return Verdict("power_factor", "note", "No current flows: there is no power factor to tell of.")
    factor = look.source_power / (look.rms * look.source_rms)
    thd = 100.0 * math.sqrt(float((rms[1:] ** 2).sum())) / float(rms[0]) if rms[0] > 0.0 else math.nan
    over = f" Over the mains: THD {_over(spreads['thd'])}." if spreads else ""
    lost = 1.0 - look.plug_power / look.source_power if look.source_power > 0.0 else math.nan
    return Verdict(
        "power_factor",
        "good" if factor > 0.9 else "note",
        f"Power factor {factor:.3f} at the source, {look.plug_power / (look.rms * look.plug_rms):.3f} at the plug; "
        f"THD {thd:.0f} % of the fundamental, crest {look.peak / look.rms:.2f} times the rms. The current of "
        f"{amount(look.rms, 'A')} rms heats the mains and the plug like one of full power factor that carries "
        f"{look.rms * look.source_rms:.0f} W; {100.0 * lost:.1f} % of the power is lost before the plug.{over}",
    )


def _over(values: list[float]) -> str:
    return spread([0.0 if value < ROUNDING else 100.0 * value for value in values], "%")


def voltage_verdicts(
    numbers: Mapping[str, Number],
    emission: Emission,
    *,
    failed: LimitVerdict | None,
    spreads: Mapping[str, list[float]],
) -> list[Verdict]:
    """The voltage at the plug: distortion here and at the reference impedance, dents."""
    here, compared = numbers["plug.voltage.thd"].value, emission.told_supply
    reference = numbers.get("reference.plug.voltage.thd")
    told = _over(spreads["plug"]) if "plug" in spreads and here > ROUNDING else percent(here)
    text = f"The voltage at the plug has a THD of {told}"
    if reference is not None:
        text += f", {percent(reference.value)} behind the reference impedance of IEC/TR 60725"
    if "plug.notch.depth" in numbers:
        deepest = f"{percent(numbers['plug.notch.depth'].value)} of the crest"
        if "reference.plug.notch.depth" in numbers:
            deepest += f" ({percent(numbers['reference.plug.notch.depth'].value)} there)"
        text += f"; its deepest dent is {deepest}, the largest has {1e3 * numbers['plug.notch.area'].value:.3g} V ms"
    if failed is not None:
        allowed = "EN 50160 lets a public supply deliver"
        if failed.limit.standard.startswith(IEEE):
            allowed, compared = "IEEE 519 allows at the point of common coupling, which lies before it", "from memory"
        text += (
            f". {_named(failed).capitalize()} is above what {allowed} "
            f"({_told(failed.found, '1')} against {_told(failed.most, '1')}{f'; {compared}' if compared else ''})"
        )
    text += ". Cause: the current's steps and pulses in the impedance of the mains; assumed: that of the scenario."
    own = emission.scenario.generator is not None
    level = "fault" if here > PLUG_THD and not own else "note" if failed else "good"
    return [Verdict("plug_voltage", level, text)]


def _amperes(direct: float, spreads: Mapping[str, list[float]]) -> str:
    """Direct current, over the mains where that is known."""
    return spread(spreads["direct"], "A", digits=2) if "direct" in spreads else amount(direct, "A", digits=2)


def symmetry_verdicts(
    numbers: Mapping[str, Number], spreads: Mapping[str, list[float]], *, settled: bool = True
) -> list[Verdict]:
    """Direct current, even orders, and the bias of the core's flux; the even orders of a weld come from its dips."""
    first = numbers["primary.current.harmonic_1"].value
    direct, even = abs(numbers["primary.current.mean"].value), numbers["primary.current.even"].value
    found = []
    if first > 0.0 and (direct > DC_NOTED * first or (settled and even > EVEN_NOTED)):
        found.append(
            Verdict(
                "asymmetry",
                "fault" if (settled and even > 5.0 * EVEN_NOTED) or direct > 10.0 * DC_NOTED * first else "note",
                f"The half cycles are unequal: {_amperes(direct, spreads)} of direct current, even orders "
                f"{_over(spreads['even']) if 'even' in spreads else percent(even)} of the fundamental. Cause: unequal "
                "firing, missed half cycles, a broken rectifier, or direct voltage or even orders on the mains; "
                f"assumed: {'a settled state' if settled else 'the windows read'}. Unequal "
                "half waves are in general not allowed on public mains (IEC 61000-3-2, 6.1, from memory).",
            )
        )
    found += [_flux_bias(name, numbers, spreads) for name in FLUXES if f"{name}.peak" in numbers]
    return found


def _flux_bias(name: str, numbers: Mapping[str, Number], spreads: Mapping[str, list[float]]) -> Verdict:
    """Whether a core is magnetised one way, by the name of its flux."""
    mean, peak = numbers[f"{name}.mean"].value, numbers[f"{name}.peak"].value
    biased = peak > 0.0 and abs(mean) > FLUX_BIAS * peak
    mean = mean if abs(mean) > ROUNDING * peak else 0.0
    fluxes = [one if abs(one) > ROUNDING * peak else 0.0 for one in spreads.get(name, ())]
    over = f" Over the mains: {spread(fluxes, 'V.s')}." if fluxes else ""
    return Verdict(
        f"{_place(name)}flux_bias",
        "fault" if biased else "good",
        f"The {_place(name, ' ')}core's flux has a mean of {mean:.3g} V.s, "
        f"{100.0 * abs(mean) / peak if peak else 0.0:.0f} % of its peak of {peak:.3g} "
        f"V.s{': biased; hum, even orders and peaks of magnetising current' * biased}. Cause of a bias: "
        "unequal half cycles, or direct voltage on the mains over the primary's resistance." + over,
    )


def _place(name: str, end: str = "_") -> str:
    """What stands before the names of the second of two cores."""
    return f"second{end}" if name.startswith("second_") else ""


def background_verdict(numbers: Mapping[str, Number], *, bank: bool) -> list[Verdict]:
    """What the distortion and direct voltage of others do to output and core, against clean mains."""
    if "clean.output.current" not in numbers:
        return []
    here, clean = numbers["output.current"].value, numbers["clean.output.current"].value
    change = (here - clean) / clean if clean else math.nan
    change = change if abs(change) > ROUNDING else 0.0
    text = (
        f"The background of the mains (voltage THD {percent(numbers['mains.voltage.thd'].value)}, "
        f"{numbers['mains.voltage.mean'].value:.2g} V of direct voltage) moves the output from {amount(clean, 'A')} on "
        f"clean mains to {amount(here, 'A')} ({100.0 * change:+.2g} %)"
    )
    for name in FLUXES:
        if f"clean.{name}.mean" in numbers:
            peak = numbers[f"{name}.peak"].value
            means = (numbers[f"{place}{name}.mean"].value for place in ("clean.", ""))
            before, after = (one if abs(one) > ROUNDING * peak else 0.0 for one in means)
            text += f" and the mean of the {_place(name, ' ')}core's flux from {before:.3g} to {after:.3g} V.s"
    causes = []
    if numbers["mains.voltage.thd"].value > ROUNDING:
        causes.append(
            ("the bank charges at" if bank else "the current draws most near") + " the crest, which others flatten"
            if change < 0.0
            else "the current draws on the flanks, which are higher where others flatten the crest"
        )
    if numbers["mains.voltage.mean"].value:
        causes.append(
            "direct voltage drives the core one way, until its current in the primary's resistance stops it"
            if any(f"{name}.mean" in numbers or f"clean.{name}.mean" in numbers for name in FLUXES)
            else "direct voltage makes one half wave larger than the other; the file has no core that it could drive"
        )
    text += f". Cause: {'; '.join(causes)}. Assumed: same fundamental, same delay."
    return [Verdict("background", "note" if abs(change) > 0.02 else "good", text)]


def _transfer(stream: Stream) -> list[Verdict]:
    """Whether what was welded is dip transfer at all, where it should be."""
    rate = stream.events / stream.seconds
    if stream.kind != DIPS or rate >= RATES[0]:
        return []
    return [
        Verdict(
            "transfer",
            "fault",
            f"{counted(stream.events, 'dip')} in {stream.seconds:g} s, {rate:.3g} a second, fewer than the "
            f"{RATES[0]:g} of a regular dip transfer: flicker and harmonics told here are those of whatever burns "
            "instead, mostly a long arc. Cause: too many volts for the feed, or too few to burn; `weld` tells which. "
            "Assumed: the wire's constants as written.",
        )
    ]


def flicker_verdicts(minutes: Minutes) -> list[Verdict]:
    """Flicker and voltage changes against IEC 61000-3-3, here and behind the reference impedance."""
    stream = minutes.stream
    found = _transfer(stream)
    for name, figures, where in (
        ("flicker", minutes.given, "at the plug of the scenario"),
        ("flicker_reference", minutes.reference, "behind the reference impedance of IEC/TR 60725"),
    ):
        changes = figures.changes
        values = {"Pst": figures.pst, "Plt": figures.plt, "d_max": changes.d_max, "d_c": changes.d_c}
        values["time above 3.3 %"] = changes.time_above
        failed = [one for one in against_iec_61000_3_3(values) if not one.kept]
        over = ", ".join(_of_flicker(one) for one in failed)
        least, most = min(figures.minutes, default=figures.pst), max(figures.minutes, default=figures.pst)
        text = (
            f"Pst {figures.pst:.2f}, Plt {figures.plt:.2f} {where} (minute by minute {least:.2f} to {most:.2f}); "
            f"largest voltage change {100.0 * changes.d_max:.2g} %, {changes.time_above:.3g} s above 3.3 %. "
            f"{f'Above IEC 61000-3-3: {over}.' if failed else 'Within IEC 61000-3-3.'} Cause: the current follows "
            f"{stream.kind}, and the voltage sags with it. It holds for up to 16 A at the reference impedance; "
            "elsewhere IEC 61000-3-11 asks for a stiffer mains."
        )
        if abs(stream.seconds - 600.0) > 1.0:
            text += f" A Pst of the standard takes 600 s; this one {stream.seconds:g} s."
        level = "fault" if failed and name.endswith("reference") else "note" if failed else "good"
        if name.endswith("reference") and stream.kind == DIPS and (asked := reference_asked(stream.scenario)):
            text += f" Told from the current drawn here; on that mains the wire dips otherwise: ask again with {asked}."
            level = "note" if level == "good" else level
        found.append(Verdict(name, level, text))
    return found
