"""What the figures of the mains stand on, in sentences."""

from weldsim.analysis.flicker import pair_for
from weldsim.studies.mains_flicker import WINDOWS, Minutes
from weldsim.studies.mains_numbers import Emission
from weldsim.studies.operating import kept_over_the_mains, told_backlash, told_setting


def assumptions(emission: Emission | None, *, settings: int, minutes: Minutes | None = None) -> list[str]:
    """What was measured how, what was assumed, and what was simulated."""
    lines = []
    if emission is not None:
        lines += _measured(emission, settings=settings)
        lines += [
            f"Demand current for TDD: {emission.demand:.3g} A (--demand; else the breaker's rating, else the "
            "fundamental). Input current for the scope of a standard: that of this setting, not a rating plate's.",
            *emission.told_kind,
            "Short-circuit ratio by the impedance of the whole loop, which is stricter than the line's alone. Iref of "
            "IEC 61000-3-12: the fundamental, as in its first edition; the second takes the whole rms current (from "
            "memory, 85 %), which the same harmonics are a smaller share of.",
        ]
    if minutes is not None:
        lines += _welded(minutes)
    lines += [
        "Reference impedance 0.4 + j 0.25 ohm (IEC/TR 60725), at 60 Hz too, for comparison only.",
        "Rows of limits say how each is known; those from memory have been seen by nobody here in print.",
    ]
    return lines


def _measured(emission: Emission, *, settings: int) -> list[str]:
    look = emission.look
    if look.periods == 1:
        lines = told_setting(emission.scenario, look.dial, look.delay) if settings == 1 else []
        lines += [
            "Settled state, every period alike: lines at the orders only, so that groups and subgroups of IEC "
            "61000-4-7 are the harmonics themselves; exact integrals over one period.",
            "Spread: the same figure at mains -10, 0 and +10 %, same "
            f"{kept_over_the_mains(emission.scenario, look.delay)}.",
        ]
        if settings > 1:
            backlash = told_backlash(emission.scenario)
            of = "" if look.dial is None else f", dial {100.0 * look.dial:.3g} %"
            lines.append(
                f"{settings} settings, each settled from {'rest' if backlash else 'the state of the one before'}; "
                "numbers and orders are those of the setting with the largest total harmonic current"
                f"{of}, settled from rest. With hysteresis a settled state need not be the only one."
            )
            lines += backlash
        return lines
    return [
        f"Measured by IEC 61000-4-7: {len(look.current)} windows of {look.periods} periods, groups smoothed over 1.5 "
        "s and averaged for the limits, lines of the orders for harmonics and THD.",
    ]


def _welded(minutes: Minutes) -> list[str]:
    stream, mains = minutes.stream, minutes.stream.scenario.mains
    told = "all unlike each other" if minutes.distinct == minutes.parts else f"{minutes.distinct} of them unlike others"
    lines = [
        f"{stream.seconds:g} s simulated outright with {stream.events} {stream.kind}, in {minutes.parts} parts, "
        f"{told}: no part was copied or carried on.",
        "Flicker and distortion behind the reference impedance: the current of this run through that impedance (the "
        "fictitious mains of IEC 61400-21, from memory); on such mains itself a set draws otherwise, and a wire dips "
        "otherwise, which moved Pst by 0.86 to 1.9 times where it was tried (a demo supply).",
        f"{_windows(minutes)}; Plt takes the rest of two hours to be like this.",
        f"Lamp, eye and brain of IEC 61000-4-15 on a lamp for {pair_for(mains.voltage, frequency=mains.frequency)}; "
        "spread of the flicker: minute by minute.",
    ]
    frequency, nominal = mains.frequency, 50.0 if mains.frequency < 55.0 else 60.0
    if abs(frequency - nominal) > 0.05 * nominal:
        lines.append(
            f"The flickermeter knows {nominal:g} Hz: periods of {frequency:g} Hz are counted as those, so that Pst and "
            "the times above 3.3 % are not those of this mains."
        )
    if minutes.distinct < minutes.parts:
        lines.append("Parts alike come from a load that keeps step with the mains, not from copying.")
    return lines


def _windows(minutes: Minutes) -> str:
    """What harmonics were read from."""
    if minutes.look is None:
        return "Harmonics from the settled state, since no press is as long as a window of 200 ms"
    return f"Harmonics from the first {WINDOWS} whole windows after 1 s"
