"""What the resistance of a supply lead does to every dial: some leads simulated, all between them by interpolation.

Output and primary current fall smoothly with the resistance of the lead, so a few resistances per dial suffice; the
inductance of a lead, small beside the mains', is measured at one of them and counted as a factor.
"""

import math
from collections.abc import Callable, Sequence
from functools import cached_property

import numpy as np

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.parts.cable import LEAD_INDUCTANCE_PER_LENGTH, SupplyLead, supply_lead_resistance
from weldsim.parts.load import Load, arc_voltage, load_line
from weldsim.runs.crew import Crew
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.operating import LINES, Figures, operate, sound, sweep, with_load
from weldsim.studies.progress import Progress

NODES = 6  # resistances simulated
OTHER_MAINS = (0.9, 1.1)
TOP_DIALS = 2  # gone through at those
LOWERED = 2.0  # [V] by which the second line lies below the first, to find the slope of the supply
# Temperature of the cores [degC] in each state; layers on the drum
STATES: dict[str, tuple[float, int]] = {"cold": (20.0, 0), "warm": (60.0, 0), "coiled": (85.0, 3)}


def loop_resistance(length: float, *, section: float, state: str, conductor: str = "copper") -> float:
    """Both cores of a lead in one of the states [ohm]."""
    temperature = STATES[state][0]
    return supply_lead_resistance(
        SupplyLead(length=length, section=section, conductor=conductor, temperature=temperature)
    )


def with_lead(scenario: Scenario, resistance: float, inductance: float = 0.0) -> Scenario:
    """The scenario on a lead of this loop resistance and inductance, whatever lead it had."""
    lead = {"resistance": resistance, "inductance": inductance}
    return vary(scenario, {"supply_lead": lead})


@dataclass(frozen=True, eq=False)
class LeadMap:
    """Figures over lead resistance and dial; those of one dial are at the reference dial."""

    resistances: np.ndarray  # [ohm]
    dials: tuple[float | None, ...]
    reference: int  # which of the dials
    current: np.ndarray  # output current [A], (resistances, dials)
    voltage: np.ndarray  # output voltage [V]
    primary: np.ndarray  # primary current, rms [A], (mains -10, 0, +10 %, resistances)
    plug: np.ndarray  # voltage behind the mains impedance, rms [V]
    largest: np.ndarray  # output current at the best dial [A], (mains -10, 0, +10 %, resistances)
    slope: np.ndarray | None  # [ohm] volts lost per ampere; None where the load is no line
    inductive: tuple[float, float]  # relative change of output and primary current per henry of lead [1/H]

    def output(self, resistance: float, length: float = 0.0) -> float:
        """Output current at the reference dial [A]."""
        return float(self._over(self.current[:, self.reference])(resistance)) * self._factor(length)

    def drawn(self, resistance: float, length: float = 0.0) -> float:
        """Primary current at the reference dial, rms [A]."""
        return self.figure(self.primary[1], resistance) * self._factor(length, of=1)

    def figure(self, values: np.ndarray, resistance: float) -> float:
        """Another figure at the reference dial."""
        return float(self._over(values)(resistance))

    def _factor(self, length: float, of: int = 0) -> float:
        """What the inductance of so many metres takes from the output (0) or the primary (1) current."""
        return 1.0 + self.inductive[of] * LEAD_INDUCTANCE_PER_LENGTH * length

    def most(self, resistance: float, length: float = 0.0, *, step: int = 1) -> float:
        """Largest output current at any dial [A], at one of the mains voltages."""
        return float(self._over(self.largest[step])(resistance)) * self._factor(length)

    def dial_for(self, wanted: float, resistance: float, *, length: float = 0.0) -> float | None:
        """The least dial that gives the wanted output current; None where none does."""
        outputs = self._over(self.current)(resistance) * self._factor(length)
        dials = np.array([math.nan if dial is None else dial for dial in self.dials])
        if outputs.max() < wanted or len(dials) < 2:
            return None
        top = int(np.argmax(outputs >= wanted))
        if top == 0:
            return float(dials[0])
        rising = self._along(dials[: top + 1], outputs[: top + 1])
        return _bisected(lambda dial: float(rising(dial)) - wanted, float(dials[top - 1]), float(dials[top]))

    def volts_lost(self, wanted: float, resistance: float, *, length: float = 0.0) -> float:
        """How far the output voltage at the wanted amps falls below what the load asks for, at the reference dial [V].

        Along the supply's own slope, since the wire feed sets the amps and the volts must be there.
        """
        assert self.slope is not None
        missing = wanted - self.output(resistance, length)
        return float(self._over(self.slope)(resistance)) * missing

    def _over(self, values: np.ndarray) -> Callable[[float], np.ndarray]:
        return self._along(self.resistances, values)

    @cached_property
    def _kept(self) -> dict[tuple[object, ...], Callable[[float], np.ndarray]]:
        return {}

    def _along(self, places: np.ndarray, values: np.ndarray) -> Callable[[float], np.ndarray]:
        """A curve through points that overshoots nowhere."""
        from scipy.interpolate import PchipInterpolator  # a quarter of a second to load

        key = places.tobytes(), values.tobytes(), values.shape  # one dial alone has the bytes of a single curve
        if key not in self._kept:
            self._kept[key] = PchipInterpolator(places, values, extrapolate=True)
        return self._kept[key]


def _bisected(error: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising error passes zero."""
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if error(middle) < 0.0 else (low, middle)
    return high


def resistances_up_to(most: float) -> np.ndarray:
    """The resistances to simulate, closer where the lead is short."""
    return most * (np.arange(NODES) / (NODES - 1)) ** 1.5


@dataclass(frozen=True)
class LeadJob:
    """One lead: which dials it is asked at, and which of them is the reference."""

    scenario: Scenario
    dials: tuple[float, ...]
    reference: float | None


@dataclass(frozen=True)
class OnLead:
    """What one lead leaves: every dial, the best of them at the other mains voltages, the slope at the reference."""

    column: list[Figures]
    others: list[list[Figures]]
    slope: float | None


def on_lead(job: LeadJob) -> OnLead:
    """Simulate one lead."""
    column = [one.bare() for one in sweep(job.scenario, job.dials)]
    top = _top(column, job.reference)
    others = [[one.bare() for one in sweep(job.scenario, top, mains_factor=step)] for step in OTHER_MAINS]
    return OnLead(column, others, _slope(job.scenario, _at(column, job.reference)))


def mapped(  # noqa: PLR0913 (all by keyword)
    scenario: Scenario,
    *,
    dials: Sequence[float],
    reference: float | None,
    most: float,
    longest: float,
    crew: Crew,
    progress: Progress,
) -> LeadMap:
    """Simulate the leads of a map; dials that misfire on any of them are left out."""
    resistances = resistances_up_to(most)
    wanted = tuple(sorted({*dials, reference})) if reference is not None else (0.0,)
    jobs = [LeadJob(with_lead(scenario, resistance), wanted, reference) for resistance in resistances]
    leads = crew.all_done(on_lead, jobs, progress=progress, what="leads")
    columns, slopes = [lead.column for lead in leads], [lead.slope for lead in leads]
    missing = [any(column[k].missed for column in columns) for k in range(len(columns[0]))]
    good = [k for k, one in enumerate(columns[0]) if one.dial == reference or not missing[k]]
    kept = [[column[k] for k in good] for column in columns]
    place = next(k for k, one in enumerate(kept[0]) if one.dial == reference)
    own = [column[place] for column in kept]
    three = [(lead.others[0], column, lead.others[1]) for lead, column in zip(leads, kept, strict=True)]
    return LeadMap(
        resistances,
        tuple(one.dial for one in kept[0]),
        place,
        np.array([[one.current for one in column] for column in kept]),
        np.array([one.voltage for one in own]),
        np.array([[_at(one, reference).primary for one in node] for node in three]).T,
        np.array([one["plug.voltage.rms"] for one in own]),
        np.array([[max(one.current for one in settings) for settings in node] for node in three]).T,
        None if None in slopes else np.array(slopes),
        _inductive(scenario, resistances, own, longest=longest),
    )


def _top(column: Sequence[Figures], reference: float | None) -> list[float]:
    """The reference dial, and those that give most without misfiring."""
    if reference is None:
        return [0.0]
    best = sorted(sound(column), key=lambda one: -one.current)[:TOP_DIALS]
    return sorted({reference, *(one.dial for one in best if one.dial is not None)})


def _at(column: Sequence[Figures], dial: float | None) -> Figures:
    return next(one for one in column if one.dial == dial)


def _inductive(
    scenario: Scenario, resistances: np.ndarray, own: Sequence[Figures], *, longest: float
) -> tuple[float, float]:
    """Relative change of output and primary current per henry of lead, measured in the middle of the map [1/H]."""
    plain = own[len(resistances) // 2]
    inductance = LEAD_INDUCTANCE_PER_LENGTH * longest
    other = operate(with_lead(scenario, resistances[len(resistances) // 2], inductance), dial=plain.dial)
    pairs = ((other.current, plain.current), (other.primary, plain.primary))
    output, primary = ((with_it / without - 1.0) / inductance if without else 0.0 for with_it, without in pairs)
    return output, primary


def _slope(scenario: Scenario, one: Figures) -> float | None:
    """Volts that the supply loses per ampere on its lead: from the load's line and one two volts below it [ohm]."""
    load = scenario.load
    if load is None or load.kind not in LINES:
        return None
    level, slope = _line_at(load, one.current)
    lower = {"load.kind": "arc line", "load.voltage": level - LOWERED, "load.slope": slope}
    other = operate(with_load(scenario, lower), dial=one.dial)
    if other.current <= one.current:
        raise QuestionError(
            f"at this setting more load gives no more current ({one.current:.4g} A): there is no slope to go by",
            place="dial",
            advice="choose a setting that fires well; `preview` tells",
        )
    # on the load's own line the volts fall with the amps too: what is missing is the sum of both slopes
    return (one.voltage - other.voltage) / (other.current - one.current) + slope


def _line_at(load: Load, current: float) -> tuple[float, float]:
    """Volts at no current and slope of the straight piece of the load's line that a current lies on [V, ohm]."""
    if load.kind == "arc line":
        return arc_voltage(load), load.slope
    level, slope, ceiling = load_line(load.process)
    return (level, slope) if level + slope * current < ceiling else (ceiling, 0.0)
