"""What a capture beside the simulation means, in words."""

import math
from collections.abc import Sequence

import numpy as np

from weldsim.analysis.folding import POINTS, difference_between_periods
from weldsim.frozen import dataclass
from weldsim.runs.measured import Capture
from weldsim.scenario.document import Scenario
from weldsim.studies.answer import Verdict, amount, counted, percent
from weldsim.studies.compare_causes import Value
from weldsim.studies.compare_fits import SEVERAL, Case, Found
from weldsim.studies.compare_telling import SEEN, Telling
from weldsim.studies.compare_unseen import Shown, Unseen
from weldsim.studies.operating import told_load

AGREES = 0.05  # of the capture's rms: what is left counts as agreeing (probes, and values read off labels)
ALIKE = 0.01  # of the capture's rms: causes whose remainders lie closer are not told apart
SURE = 3.0  # standard deviations, which chance hardly ever makes
UNSTEADY = 0.1  # of the capture's rms that differs from cycle to cycle
OTHER_MAINS = (50.0, 60.0)  # [Hz]
REPEATS = 0.3  # of the rms: where less repeats with the mains no settled state is in it
TOLD = 3  # causes in words


@dataclass(frozen=True)
class Measured:
    """What a capture says of itself: its rms and statistics in the signal's unit, period and noise."""

    rms: float
    statistics: tuple[float, float, float, float]  # mean and rms over whole cycles, least, largest
    noise: float  # rms of what differs from cycle to cycle; 0 where there is only one
    period: float  # [s]
    cycles: float
    chance: float  # how far the noise's mean square may be off, of itself
    repeats_better: float | None  # [Hz] another mains frequency with which it repeats
    cut_off: float = 0.0  # share of the samples that stand at the end of the channel

    @classmethod
    def of(cls, capture: Capture, values: np.ndarray, *, period: float) -> "Measured":
        """Read off a capture."""
        told = _statistics(capture.time, values, period)
        rms, cycles = told[1], float(capture.time[-1] - capture.time[0]) / period
        noise = difference_between_periods(capture.time, values, period)
        noise = noise if cycles > 1.25 and math.isfinite(noise) else 0.0
        better = None
        if noise > UNSTEADY * rms:
            apart = {one: difference_between_periods(capture.time, values, 1.0 / one) for one in OTHER_MAINS}
            better = next((one for one, left in apart.items() if left < 0.5 * noise), None)
        chance = SURE * math.sqrt(2.0 / min(len(values), POINTS))
        return cls(rms, told, noise, period, cycles, chance, better)

    def agrees(self, remainder: float) -> bool:
        """Whether so much counts as agreeing; nothing agrees with what does not repeat with the mains."""
        return not self._astray and self.excess(remainder) <= AGREES

    @property
    def unfit(self) -> str:
        """Why no cause can be told from it, in words; "" where one can."""
        if self.cut_off and not self._astray:
            return "the channel was at its end, and what lay beyond is lost: take it again with a larger range"
        return self._astray

    @property
    def _astray(self) -> str:
        """Why it cannot be of this mains, in words."""
        if self.repeats_better:
            return (
                f"it repeats with {self.repeats_better:g} Hz, so the mains of the scenario are not its: write "
                f'--set mains.frequency="{self.repeats_better:g} Hz" if that is the mains it was taken on'
            )
        if self.excess(self.rms) < REPEATS:
            return "hardly anything of it repeats with the mains"
        return ""

    def excess(self, remainder: float) -> float:
        """What remains beside the noise, as a share of the rms; nothing where chance may have made it of noise."""
        return math.sqrt(max(remainder**2 - (1.0 + self.chance) * self.noise**2, 0.0)) / self.rms


def _statistics(time: np.ndarray, values: np.ndarray, period: float) -> tuple[float, float, float, float]:
    """Mean and rms over whole cycles, by straight lines between samples; extremes of all samples."""
    end = time[0] + max(1, math.floor((time[-1] - time[0]) / period + 1e-3)) * period
    last = int(np.searchsorted(time, end, side="right"))
    clock, part = time[:last], values[:last]
    if clock[-1] < end:
        clock, part = np.append(clock, end), np.append(part, np.interp(end, time, values))
    steps, length = np.diff(clock), clock[-1] - clock[0]
    mean = float(np.sum(steps * (part[1:] + part[:-1])) / (2.0 * length))
    square = float(np.sum(steps * (part[1:] ** 2 + part[1:] * part[:-1] + part[:-1] ** 2)) / (3.0 * length))
    return mean, math.sqrt(square), float(values.min()), float(values.max())


def verdicts(
    measured: Measured, written: Case, *, found: Sequence[Found], told: Sequence[Telling], unit: str
) -> list[Verdict]:
    """Agreement, causes, what cannot be told apart, and what to measure next."""
    said = [_agreement(measured, written, unit=unit), *_of_the_capture(measured, written)]
    if found:
        alike = [one for one in found if _near(measured, found[0], one)]
        apart = _not_told_apart(found, alike) if _explains(measured, found[0]) else _unexplained(measured, found[0])
        said += [_likeliest(measured, found), apart, _next(found, told)]
    return said


def of_the_unseen(hidden: Sequence[Unseen], shown: Shown | None) -> list[Verdict]:
    """What may be broken although the trace agrees."""
    if not hidden:
        return []
    listed = "; ".join(f"{f'{one.words} {one.takes}'.strip()} ({percent(one.changes)})" for one in hidden)
    best = (
        f"capture {shown.signal}, which shows {shown.count} of the {len(hidden)}"
        if shown
        else "no other signal at this setting shows any of them: try another dial"
    )
    text = (
        f"This trace does not tell a sound supply from: {listed}. Cause: at this setting they change it by less than "
        f"the {percent(AGREES)} that count as agreeing. To see more {best}. Assumed: one of them at a time."
    )
    return [Verdict("unseen", "note", text)]


def _near(measured: Measured, best: Found, one: Found) -> bool:
    return measured.excess(one.laid.remainder) <= measured.excess(best.laid.remainder) + ALIKE


def _explains(measured: Measured, one: Found) -> bool:
    """Whether what a cause leaves counts as agreeing."""
    return measured.agrees(one.laid.remainder)


def _agreement(measured: Measured, written: Case, *, unit: str) -> Verdict:
    """Whether the two lie over each other, and by how much they do not."""
    laid, agrees = written.laid, measured.agrees(written.laid.remainder)
    left = amount(laid.remainder, unit)
    noise = ""
    if measured.noise:
        noise = f", {percent(measured.excess(laid.remainder))} without what differs from cycle to cycle"
    does = "lies" if agrees else "does not lie"
    return Verdict(
        "agreement",
        "good" if agrees else "fault",
        f"The simulation {does} over the capture: {left} rms remain, {percent(laid.remainder / measured.rms)} of the "
        f"capture's {amount(measured.rms, unit)}{noise}; up to {percent(AGREES)} counts as agreeing. "
        + (f"Correlation {laid.correlation:.3f}. " if math.isfinite(laid.correlation) else "")
        + (
            "No cause is looked for."
            if agrees
            else f"No cause is looked for: {measured.unfit}."
            if measured.unfit
            else "Cause: one of those below, or something that the scenario does not know."
        )
        + f" Assumed: the capture begins {amount(1e3 * laid.shift * written.supply.period, 'ms')} "
        f"({360.0 * laid.shift:.0f} deg) after the source's rising zero crossing, where it fits best.",
    )


def _of_the_capture(measured: Measured, written: Case) -> list[Verdict]:
    """What is odd about the capture itself."""
    said = []
    if written.laid.sign < 0.0:
        text = (
            "The capture fits better with its sign reversed, and is taken so. Cause: a probe or clamp the other way "
            "round. Assumed: that, and no supply whose half waves are exchanged."
        )
        said.append(Verdict("polarity", "note", text))
    if measured.cut_off:
        text = (
            f"{percent(measured.cut_off)} of the samples stand at one end, with few just before it, where the "
            "simulated wave is not flat. Cause: the range of the channel or of the clamp was too small. Assumed: a "
            "crest that is not cut off is round."
        )
        said.append(Verdict("cut_off", "note", text))
    if measured.noise > UNSTEADY * measured.rms:
        better = ""
        if measured.repeats_better:
            better = f" It repeats with {measured.repeats_better:g} Hz: another mains frequency than the scenario's?"
        text = (
            f"{percent(measured.noise / measured.rms)} of the capture differ from one mains cycle to the next. Cause: "
            "noise, a load that is not steady (a weld), or firing that comes and goes; no settled simulation follows "
            f"that.{better} Assumed: what repeats is the settled state."
        )
        said.append(Verdict("repetition", "note", text))
    if not written.settled.periodic:
        text = (
            "The simulation itself does not repeat with the mains at this setting: its mean over many periods is laid "
            "over the capture. Cause: as `preview` tells. Assumed: the capture is as unsteady."
        )
        said.append(Verdict("unsettled", "note", text))
    return said


def _likeliest(measured: Measured, found: Sequence[Found]) -> Verdict:
    """The three likeliest causes with what each takes and leaves."""
    explained = _explains(measured, found[0])
    listed = "; ".join(f"{_change(one)} leaves {_left(measured, one)}" for one in found[:TOLD])
    head = "One change would explain it" if explained else "No single change that was tried explains it; the nearest"
    return Verdict(
        "likeliest_cause",
        "fault" if explained else "note",
        f"{head}: {listed} of the capture's rms. Cause: whichever of them the next measurement confirms. Assumed: one "
        f"thing is otherwise than written, all else as it stands; {counted(len(found), 'change')} tried, values within "
        "a factor of ten or the bounds that make sense.",
    )


def _change(one: Found) -> str:
    """A cause with what it takes, in words."""
    if one.value is None:
        return one.words
    if isinstance(one.candidate, Value):
        return f"{one.words} {one.takes} in place of {one.candidate.spoken(one.candidate.written)}"
    return f"{one.words} {one.takes}"


def _left(measured: Measured, one: Found) -> str:
    return percent(one.laid.remainder / measured.rms)


def _not_told_apart(found: Sequence[Found], alike: Sequence[Found]) -> Verdict:
    """Which causes this trace does not tell from the first."""
    beyond = "Two changes at a time, or something outside the model, may look the same as any of them."
    if len(alike) < 2:
        text = (
            f"This trace tells {found[0].words} from all others by more than {percent(ALIKE)} of its rms. {beyond} "
            "Assumed: probe and time base are better than that."
        )
        return Verdict("told_apart", "note", text)
    names = ", ".join(_change(one) for one in alike)
    text = (
        f"Not told apart by this trace, within {percent(ALIKE)} of its rms: {names}. Cause: at this setting they shape "
        f"it alike. {beyond} Assumed: no probe tells less than that."
    )
    return Verdict("not_told_apart", "note", text)


def _unexplained(measured: Measured, best: Found) -> Verdict:
    """What to think where no single change will do."""
    text = (
        f"The nearest leaves {_left(measured, best)}, more than the {percent(AGREES)} that count as agreeing, so it is "
        "not the cause by itself. Cause: two changes at a time, a dial, load or signal that is not the capture's, a "
        "load that is not steady, or something outside the model. Assumed: the capture is of this supply."
    )
    return Verdict("unexplained", "note", text)


def _next(found: Sequence[Found], told: Sequence[Telling]) -> Verdict:
    """What to measure next to tell the first two apart."""
    if len(found) < 2:
        return Verdict("next_measurement", "note", "Only one change could be tried: nothing is to be told apart.")
    pair = f"{found[0].words} and {found[1].words}"
    if not told:
        text = (
            f"No other signal at this setting differs by more than {percent(SEEN)} between {pair}. Cause: they act "
            "alike on all of the supply. Measure them by themselves, or capture at another dial. Assumed: settled."
        )
        return Verdict("next_measurement", "note", text)
    best = told[0]
    pair = f"{found[0].words} and {best.against}"
    # of alternating quantities the mean tells nothing
    means = abs(best.first[0]), abs(best.second[0])
    alike = math.isclose(*means, rel_tol=SEEN)  # but for the half wave that a fault sits in, or how the probe lies
    which = 0 if min(means) > 0.3 * max(best.first[1], best.second[1]) and not alike else 1
    name = ("mean", "rms")[which]
    first, second = best.first[which], best.second[which]
    reading = f"{name} {amount(first, best.unit)} with the first and {amount(second, best.unit)} with the second"
    if abs(first - second) <= SEEN * max(abs(first), abs(second)):
        reading += ", so its shape decides and no meter"
    text = (
        f"To tell {pair} apart capture {best.signal}: there the two differ by {percent(best.apart)} of its rms, "
        f"{reading}. Cause: both simulations, at whatever shift in time. Assumed: same dial, load and mains."
    )
    return Verdict("next_measurement", "note", text)


def assumptions(scenario: Scenario, measured: Measured, *, written: Case) -> list[str]:
    """What every figure stands on."""
    load = "none connected" if scenario.load is None else told_load(scenario)
    lines = [
        f"Load: {load}; settled, windings at the scenario's temperature. A capture while a wire welds is not settled.",
        "The trigger's instant is unknown: the shift in time that leaves least is taken, and a reversed probe is "
        "tried; for causes anew.",
        f"Capture: {measured.cycles:.3g} mains cycles of {1.0 / measured.period:.5g} Hz (its own, within 2 %), mean "
        "and rms over whole cycles.",
    ]
    if not measured.noise:
        lines.append("One mains cycle only: noise counts as a difference.")
    if written.settled.periodic is False:
        lines.append(f"Simulation: mean over {SEVERAL} periods, as it does not repeat.")
    return lines
