"""Figures of what a supply does to the mains, from its lines: by public names, and by order and limit as rows."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from weldsim.analysis.emission import (
    Scope,
    against_iec_61000_3_2,
    against_iec_61000_3_12,
    against_ieee_519,
    emission_scope,
    ratio_needed,
    short_circuit_ratio,
)
from weldsim.analysis.grouping import (
    demand_distortion,
    harmonic_groups,
    harmonic_subgroups,
    interharmonic_subgroups,
    partial_weighted_current,
    smoothed,
    total_harmonic_current,
)
from weldsim.analysis.limit_tables import LimitVerdict
from weldsim.analysis.spectrum import displacement_factor
from weldsim.analysis.voltage_limits import against_en_50160, against_ieee_519_voltage
from weldsim.frozen import dataclass
from weldsim.parts.mains import short_circuit_current
from weldsim.runs.mains_looks import Look
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of
from weldsim.studies.answer import Number

ORDERS = 40
SIXTY, LOW_VOLTAGE = 55.0, 220.0  # [Hz], [V] beyond which a mains is North American or the like
OF_THE_VOLTAGE = ("EN 50160", "IEEE 519 (voltage)")  # standards whose limits are those of the voltage


def is_without_arc(scenario: Scenario) -> bool:
    """Whether it charges a battery, or heats a resistor by alternating current and has no wire: no arc welder."""
    if scenario.load is None:
        return False
    by_resistance = scenario.load.kind == "resistor" and scenario.rectifier is None and scenario.wire is None
    return scenario.load.kind == "battery" or by_resistance


@dataclass(frozen=True, eq=False)
class Emission:
    """A look with what is compared with limits: rms of groups 1 to 40, mean and largest over the smoothed windows."""

    look: Look
    scenario: Scenario
    demand: float  # [A] maximum demand load current
    groups: np.ndarray
    largest: np.ndarray
    subgroups: np.ndarray
    between: np.ndarray  # interharmonic subgroups, the first below order 1

    @property
    def orders(self) -> np.ndarray:
        """Rms of the lines of orders 1 to 40 [A]."""
        return self.look.orders("current", ORDERS)

    @property
    def scope(self) -> Scope:
        """Which limits apply."""
        if self.scenario.generator is not None:
            return Scope("", "", "a generator is no public mains: IEC 61000-3-2 and IEC 61000-3-12 are for those")
        arc = not is_without_arc(self.scenario)
        return emission_scope(voltage=self.scenario.mains.voltage, current=self.look.rms, welds=arc)

    @property
    def told_kind(self) -> list[str]:
        """Which kind of equipment the limits take it for, where the load does not say so."""
        load = self.scenario.load
        kind = "nothing" if load is None else f"a {load.kind}"
        if self.scope.table != "iec_61000_3_2" or kind not in ("nothing", "a resistor", "a short"):
            return []
        if self.scope.condition == "class A":
            return [
                "A resistor without rectifier or wire counts as a resistance welder: class A of IEC 61000-3-2, no arc."
            ]
        if self.scenario.wire is not None:
            return []
        return [
            f"Counts as arc welding equipment, though its load is {kind} here: what heats or welds without an arc "
            "falls under class A of IEC 61000-3-2, whose limits are two thirds of these."
        ]

    @property
    def ratio(self) -> float:
        """Short-circuit ratio of the given mains at this current, by the loop's impedance."""
        impedance = self.scenario.mains.voltage / short_circuit_current(source_of(self.scenario))
        return short_circuit_ratio(voltage=self.scenario.mains.voltage, impedance=impedance, current=self.look.rms)

    @property
    def american(self) -> bool:
        """Whether it is a mains of 60 Hz, or one below 220 V."""
        return self.scenario.mains.frequency >= SIXTY or self.scenario.mains.voltage < LOW_VOLTAGE

    @property
    def told_supply(self) -> str:
        """Why limits of the voltage that a European supplier delivers stand here for comparison only, where they do."""
        if self.scenario.generator is not None:
            return "for comparison only: a generator is no public mains"
        return "for comparison only: a European standard" if self.american else ""

    def verdicts(self) -> list[LimitVerdict]:
        """Each limit of harmonic current that applies, orders first."""
        if not self.groups[0] > 0.0:
            return []
        if self.scope.table == "iec_61000_3_2":
            return against_iec_61000_3_2(self.groups, condition=self.scope.condition, total=self.look.rms)
        if self.scope.table == "iec_61000_3_12":
            return against_iec_61000_3_12(self.groups, ratio=self.ratio)
        return []

    def demand_verdicts(self) -> list[LimitVerdict]:
        """Each limit of IEEE 519, where it is usual: at 60 Hz, and below 220 V."""
        mains = source_of(self.scenario)
        if self.scenario.generator is not None or not self.american:
            return []
        ratio = short_circuit_current(mains) / self.demand
        return against_ieee_519(self.look.orders("current"), demand=self.demand, ratio=ratio)

    def supply_verdicts(self) -> list[LimitVerdict]:
        """Harmonics of the voltage at the plug beside EN 50160, and before it IEEE 519 where that is usual."""
        orders = self.look.orders("plug", ORDERS)
        american = against_ieee_519_voltage(orders) if self.american and self.scenario.generator is None else []
        return [*american, *against_en_50160(orders)]


def emission_of(look: Look, scenario: Scenario, *, demand: float | None = None) -> Emission:
    """Groups and subgroups of a look; lines alone where it repeats with the mains."""
    lines = look.orders("current", ORDERS)
    if look.periods == 1:
        groups = largest = subgroups = lines
        between = np.zeros(ORDERS + 1)
    else:
        rows = smoothed(harmonic_groups(look.current, periods=look.periods))
        groups, largest = rows.mean(axis=0), rows.max(axis=0)
        subgroups = _root_mean(harmonic_subgroups(look.current, periods=look.periods))
        between = _root_mean(interharmonic_subgroups(look.current, periods=look.periods))
    breaker = scenario.breaker
    wanted = demand or (breaker.current if breaker is not None else 0.0) or float(lines[0])
    return Emission(look, scenario, wanted, groups, largest, subgroups, between)


def numbers_of(emission: Emission) -> dict[str, Number]:
    """Figures by public names."""
    look, rms = emission.look, emission.orders
    first, total = float(rms[0]), total_harmonic_current(rms)
    even = float(np.linalg.norm(rms[1::2]))
    plug, source = look.orders("plug", ORDERS), look.orders("source", ORDERS)
    numbers = {f"primary.current.harmonic_{n}": Number(float(rms[n - 1]), "A") for n in range(1, ORDERS + 1)}
    numbers |= {
        "primary.current.rms": Number(look.rms, "A"),
        "primary.current.peak": Number(look.peak, "A"),
        "primary.current.mean": Number(look.mean, "A"),
        "primary.current.thd": _share(total, first),
        "primary.current.tdd": Number(demand_distortion(rms, demand=emission.demand), "1"),
        "primary.current.even": _share(even, first),
        "primary.current.weighted": Number(partial_weighted_current(rms), "A"),
        "primary.current.thd_groups": _share(total_harmonic_current(emission.groups), float(emission.groups[0])),
        "primary.current.thd_subgroups": _share(
            total_harmonic_current(emission.subgroups), float(emission.subgroups[0])
        ),
        "primary.current.interharmonics": Number(float(np.linalg.norm(emission.between)), "A"),
        "primary.current.crest_factor": _share(look.peak, look.rms),
        "primary.power.mean": Number(look.source_power, "W"),
        "primary.power_factor": _share(look.source_power, look.rms * look.source_rms),
        "primary.displacement_factor": Number(_displacement(look, "source"), "1"),
        "primary.distortion_factor": _share(first, look.rms),
        "plug.power_factor": _share(look.plug_power, look.rms * look.plug_rms),
        "plug.displacement_factor": Number(_displacement(look, "plug"), "1"),
        "plug.voltage.rms": Number(look.plug_rms, "V"),
        "plug.voltage.thd": _share(total_harmonic_current(plug), float(plug[0])),
        "mains.voltage.thd": _share(total_harmonic_current(source), float(source[0])),
        "short_circuit_ratio": Number(emission.ratio, "1"),
    }
    if first > 0.0:
        numbers["short_circuit_ratio.needed"] = Number(ratio_needed(emission.groups), "1")
    return numbers


def reference_numbers(look: Look) -> dict[str, Number]:
    """What a supply settled behind the reference impedance does there, by public names."""
    current, plug = look.orders("current", ORDERS), look.orders("plug", ORDERS)
    return {
        "reference.plug.voltage.thd": _share(total_harmonic_current(plug), float(plug[0])),
        "reference.plug.voltage.rms": Number(look.plug_rms, "V"),
        "reference.primary.current.thd": _share(total_harmonic_current(current), float(current[0])),
    }


def order_rows(emission: Emission, reference: np.ndarray | None) -> list[dict[str, Any]]:
    """One row for each order: line, group, subgroup, what lies above it, and the voltage it leaves at the plug."""
    plug = emission.look.orders("plug", ORDERS)
    return [
        {
            "kind": "order",
            "order": n,
            "current": float(emission.orders[n - 1]),
            "group": float(emission.groups[n - 1]),
            "group_largest": float(emission.largest[n - 1]),
            "subgroup": float(emission.subgroups[n - 1]),
            "interharmonic_above": float(emission.between[n]),
            "plug_voltage": float(plug[n - 1]),
            "reference_voltage": None if reference is None else float(reference[n - 1]),
        }
        for n in range(1, ORDERS + 1)
    ]


def limit_rows_of(verdicts: Sequence[LimitVerdict]) -> list[dict[str, Any]]:
    """Limits with what was found, in the limit's unit."""
    return [
        {
            "kind": "limit",
            "standard": one.limit.standard,
            "clause": one.limit.clause,
            "condition": one.limit.condition,
            "quantity": one.quantity,
            "found": one.found,
            "most": one.most,
            "unit": one.limit.unit,
            "margin": one.margin,
            "kept": one.kept,
            "disregarded": one.disregarded,
            "status": one.limit.status,
        }
        for one in verdicts
    ]


def notches(look: Look, *, frequency: float, crest: float) -> tuple[float, float]:
    """Deepest dent of the plug's voltage over the crest [1], and the largest area of one [V s], from 4000 samples.

    A dent is an unbroken span in which the plug stands below the source in magnitude, as while a load takes over; its
    depth is kept for 10 us or more, since stray capacitance, left out here, fills anything shorter.
    """
    trace = look.trace
    if trace is None:
        return math.nan, math.nan
    period = 1.0 / frequency
    values = trace.sample(["mains.voltage", "plug.voltage"], trace.span[0], spacing=period / 4000, count=4000)
    dent = np.sign(values[0]) * (values[0] - values[1])
    dent = np.roll(np.clip(np.nan_to_num(dent), 0.0, None), -int(np.argmin(np.abs(values[0]))))
    lasting = np.minimum(np.minimum(dent, np.roll(dent, 1)), np.roll(dent, 2))
    sums, running = [0.0], 0.0
    for size in dent:
        running = running + float(size) * period / 4000 if size > 0.0 else 0.0
        sums.append(running)
    return float(lasting.max()) / crest, max(sums)


def _displacement(look: Look, place: str) -> float:
    """Cosine between the fundamentals of a voltage and the current, of all windows together."""
    n = look.periods
    powers = getattr(look, place)[:, n] * look.current[:, n].conjugate()
    return displacement_factor(complex(powers.sum()), 1.0 + 0.0j)


def _root_mean(rows: np.ndarray) -> np.ndarray:
    return np.sqrt(np.mean(rows**2, axis=0))


def _share(part: float, whole: float) -> Number:
    return Number(part / whole if whole > 0.0 else math.nan, "1")
