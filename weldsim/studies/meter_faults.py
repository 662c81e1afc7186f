"""What the meters of a workshop show of the same supply with one thing broken, and which of them tells it."""

from collections.abc import Callable, Sequence
from typing import Any

from weldsim.analysis.meters import average_responding
from weldsim.frozen import dataclass
from weldsim.runs.magnitude import mean_magnitude
from weldsim.runs.run import Run
from weldsim.scenario.document import Scenario
from weldsim.scenario.vary import vary
from weldsim.studies.answer import Number, Verdict
from weldsim.studies.operating import FIGURES, Setting, operate

HEALTHY = "nothing broken"
DRY_SHARE, DRY_RESISTANCE = 0.3, 5.0  # of the bank's capacitance that is left, and times its resistance
BAD_CLAMP = 15e-3  # [ohm] more
SHORT_PULSE = 60e-6  # [s]
OFFSET = 1.0  # [V] of direct voltage on the mains
FLOOR = 0.02  # of the largest healthy reading of its kind: what differs by less nobody sees
LEAST = 1e-6  # [A, V, W] what no meter shows, such as rounding at the output of a supply that never fires
ALIKE = 0.05  # between two readings that nobody would call different
WORDS = {
    "output_current": "output amperes",
    "output_voltage": "output volts",
    "alternating": "volts on the alternating range",
    "primary_rms": "primary true rms",
    "primary_average": "primary clamp",
    "direct": "primary direct current",
    "power": "plug-in watts",
}
UNITS = {"output_voltage": "V", "alternating": "V", "power": "W"}  # the others are amperes
Change = Callable[[Scenario], dict[str, object]]


@dataclass(frozen=True)
class Broken:
    """One fault: what it changes, and whether this supply can have it; ``delay`` where it fires by itself."""

    name: str
    change: Change
    possible: Callable[[Scenario], bool]
    delay: float | None = None


def _gated(scenario: Scenario) -> bool:
    return scenario.phase_control is not None and scenario.phase_control.dial_kind != "rc-diac"


def _long_pulse(scenario: Scenario) -> bool:
    """Whether a short pulse would be a fault: not where the set's own single pulse is as short."""
    control = scenario.phase_control
    return _gated(scenario) and not (
        control is not None and control.pulse_kind == "single" and control.pulse_width <= SHORT_PULSE
    )


def _dry(scenario: Scenario) -> dict[str, object]:
    bank = scenario.bank
    assert bank is not None
    return {"bank.capacitance": DRY_SHARE * bank.capacitance, "bank.resistance": DRY_RESISTANCE * bank.resistance}


def _clamp(scenario: Scenario) -> dict[str, object]:
    leads = scenario.weld_leads
    assert leads is not None
    return {"weld_leads.contact_resistance": leads.contact_resistance + BAD_CLAMP}


FAULTS = (
    Broken("one diode open", lambda _: {"rectifier.fault": "one diode open"}, lambda one: one.rectifier is not None),
    Broken(
        "one diode shorted", lambda _: {"rectifier.fault": "one diode shorted"}, lambda one: one.rectifier is not None
    ),
    Broken(
        "gate of one half wave lost",
        lambda _: {"phase_control.pulse_kind": "held", "phase_control.asymmetry": 180.0},
        _gated,
    ),
    Broken(
        "phase control shorted",
        lambda _: {"phase_control.pulse_kind": "held", "phase_control.asymmetry": 0.0},
        lambda one: one.phase_control is not None,
        delay=0.0,
    ),
    Broken(
        f"gate pulse of {1e6 * SHORT_PULSE:.0f} us",
        lambda _: {"phase_control.pulse_kind": "single", "phase_control.pulse_width": SHORT_PULSE},
        _long_pulse,
    ),
    Broken("bank dried out", _dry, lambda one: one.bank is not None),
    Broken("bank gone", lambda _: {"bank": "absent"}, lambda one: one.bank is not None),
    Broken(
        "choke bridged",
        lambda _: {"choke": "absent"},
        lambda one: one.choke is not None and (one.boost is None or one.boost.kind == "winding"),
    ),
    Broken(f"clamp with {1e3 * BAD_CLAMP:.0f} mohm more", _clamp, lambda one: one.weld_leads is not None),
    Broken(
        f"{OFFSET:g} V of direct voltage on the mains",
        lambda one: {"mains.dc_offset": one.mains.dc_offset + OFFSET},
        lambda one: one.core is not None,
    ),
)


@dataclass(frozen=True)
class Compared:
    """What is told of faults; nothing where none are asked for."""

    numbers: dict[str, Number]
    verdicts: list[Verdict]
    rows: list[dict[str, Any]]
    assumptions: list[str]
    runs: dict[str, Run]


def compare(
    loaded: Scenario, three: Sequence[Setting], *, dial: float | None, delay: float | None, asked: bool
) -> Compared:
    """Readings of each fault beside those of the healthy supply, which ``three`` is at mains -10, 0 and +10 %."""
    if not asked:
        return Compared({}, [], [], [], {})
    healthy = [shown(one) for one in three]
    rows = [{"kind": "fault", "fault": HEALTHY, **healthy[1], "missed": three[1].missed, "telltale": ""}]
    runs = {HEALTHY: three[1].recording.run}
    for fault in (one for one in FAULTS if one.possible(loaded)):
        broken = vary(loaded, fault.change(loaded))
        at = {"dial": None, "delay": fault.delay} if fault.delay is not None else {"dial": dial, "delay": delay}
        setting = operate(broken, dial=at["dial"], delay=at["delay"], signals=FIGURES)
        seen = shown(setting)
        rows.append(
            {
                "kind": "fault",
                "fault": fault.name,
                **seen,
                "missed": setting.missed,
                "telltale": telltale(seen, healthy),
            }
        )
        runs[fault.name] = setting.recording.run
    told = [row["fault"] for row in rows[1:] if row["telltale"]]
    numbers = {"faults.count": Number(float(len(rows) - 1), "1"), "faults.told": Number(float(len(told)), "1")}
    return Compared(numbers, [_verdict(rows)], rows, _assumptions(), runs)


def shown(setting: Setting) -> dict[str, float]:
    """Readings of one setting by their columns: means of the output (moving coil), or rms where it alternates."""
    begin, end = setting.recording.window
    mean = setting["output.voltage.mean"]
    rectified = mean_magnitude(setting.recording.trace, "primary.current", begin=begin, end=end)
    return {
        "output_current": setting.current,
        "output_voltage": setting.voltage,
        "alternating": max(setting["output.voltage.rms"] ** 2 - mean**2, 0.0) ** 0.5,
        "primary_rms": setting.primary,
        "primary_average": average_responding(rectified).value,
        "direct": abs(setting["primary.current.mean"]),
        "power": setting["plug.power.mean"],
    }


def telltale(seen: dict[str, float], healthy: Sequence[dict[str, float]]) -> str:
    """Readings that no healthy supply shows between mains -10 and +10 %, the most telling two; "" where there are none.

    >>> low, rated, high = ({"output_current": amps, "primary_rms": 0.2 * amps} for amps in (97.0, 121.0, 144.0))
    >>> telltale({"output_current": 64.0, "primary_rms": 21.0}, [low, rated, high])
    'output amperes 0.53 times'
    """
    found = []
    for name, value in seen.items():
        band = [one[name] for one in healthy]
        least, most, own = min(band), max(band), healthy[1][name]
        seen_from = max(FLOOR * _scale(name, healthy[1]), LEAST)
        if max(value - most, least - value) > seen_from:
            ratio = max(value, seen_from) / max(own, seen_from)
            told = f"{WORDS[name]} {_ratio(value, own, seen_from, UNITS.get(name, 'A'))}"
            found.append((max(ratio, 1.0 / ratio), told))
    return ", ".join(text for _, text in sorted(found, key=lambda one: -one[0])[:2])


def _ratio(value: float, own: float, seen: float, unit: str) -> str:
    """How many times the healthy reading; where either is too small to be ``seen``, the reading itself."""
    if value <= seen:
        return "none"
    return f"{value:.3g} {unit}" if own <= seen else f"{value / own:.2g} times"


def _scale(name: str, healthy: dict[str, float]) -> float:
    """The reading beside which a difference of this one is seen: volts beside the output's, amperes of their side."""
    beside = {"alternating": "output_voltage", "direct": "primary_rms"}.get(name, name)
    return healthy[beside]


def _alike(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether no meter tells two cases apart."""
    for name in WORDS:
        scale = max(one[name], other[name], FLOOR * max(_scale(name, one), _scale(name, other)))
        if abs(one[name] - other[name]) > ALIKE * scale and abs(one[name] - other[name]) > FLOOR * _scale(name, one):
            return False
    return True


def _verdict(rows: Sequence[dict[str, Any]]) -> Verdict:
    """Which faults the meters tell, which only beside the volts at the plug, and which not at all."""
    own, broken = rows[0], rows[1:]
    told = [f"{row['fault']}: {row['telltale']}" for row in broken if row["telltale"]]
    unseen = [row["fault"] for row in broken if _alike(own, row)]
    masked = [row["fault"] for row in broken if not row["telltale"] and row["fault"] not in unseen]
    twins = [
        f"{one['fault']} and {other['fault']}"
        for number, one in enumerate(broken)
        for other in broken[number + 1 :]
        if one["telltale"] and _alike(one, other)
    ]
    parts = []
    if told:
        parts.append(f"Beyond what a healthy supply shows between mains -10 and +10 %: {'; '.join(told)}.")
    if masked:
        parts.append(f"Like a healthy supply on other mains, so measure the plug's volts too: {', '.join(masked)}.")
    if unseen:
        parts.append(f"Told by none of these meters at this setting: {', '.join(unseen)}.")
    if twins:
        parts.append(f"Not told apart from each other: {'; '.join(twins)}.")
    parts.append("Assumed: one thing broken, settled, all else as written; times are of the healthy reading.")
    return Verdict("faults", "note", " ".join(parts))


def _assumptions() -> list[str]:
    """What the table of faults stands on."""
    return [
        "Direct current in the primary is read with a clamp with Hall sensor.",
        f"Faults: a dry bank has {100.0 * DRY_SHARE:.0f} % of its capacitance and {DRY_RESISTANCE:g} times its "
        "resistance; a shorted phase control fires by itself at every zero crossing; whether breaker or fuse lets "
        "it run so long is not asked. Left out: shorted turns, loose contacts that come and go, the feed motor.",
        "Never look for such a fault with the case open and the mains on unless licensed to: with a shorted diode or "
        "phase control the currents told are those of a supply about to trip or burn.",
    ]
