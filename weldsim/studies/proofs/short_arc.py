"""Arcs of a welding wire: the settings that makers print, fed by the trade's rule, feeds that were measured, the rule.

The supply is a direct source with 30 mohm and a choke of 0.3 mH, set so that it gives the printed volts at the printed
amperes; what then flows, and how often the wire touches, is up to the wire.  Nothing is fitted to these settings.
"""

import csv
import math
import re
from collections.abc import Iterator
from functools import cache

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.weld_runs import Weld
from weldsim.runs.wire_runs import CONDITIONS, WireSupply
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import (
    PLACE,
    Band,
    Reading,
    Reference,
    Row,
    bands,
    numbers_in,
    references,
    side_by_side,
)

SECONDS, RUN_UP = 2.0, 0.5  # [s] of a weld, the first part of which is left out
RESISTANCE = 0.03  # [ohm] of the source
EXTENSION = 10.0  # [mm] where a source does not say it
# Mid-range currents [A] of the makers that print the rule; there it burns openly, with some 10 mm of wire before it.
MID_RANGE = {0.61: 60.0, 0.76: 92.5, 0.89: 115.0, 1.14: 162.5}
SETTINGS_GAS = "argon mix"  # of both makers who print settings: argon with CO2
OPEN_VOLTAGE, OPEN_EXTENSION = 24.0, 15.0  # [V], [mm] contact tube to work
RULE_BAND = 0.25  # the trade rule's own
VOLTS_BAND = 1.0  # [V] around what is printed
POINT_BAND = 0.25  # single readings of a panel meter on one machine
SHORTED = [CONDITIONS.index(name) for name in ("touching", "bridged")]
RECORD = "published record of a weld, 10 kHz, 12 June 2017"
POINTS = "message board of a maker, feeds and currents told by its technician"

SOURCE = """
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "{direct!r} V"
resistance = "{resistance} ohm"
[choke]
inductance = "0.3 mH"
[wire]
diameter = "{diameter} mm"
extension = "{extension} mm"
gas = "{gas}"
"""


@dataclass(frozen=True)
class Welded:
    """Means of a weld: current [A], volts at the wire, those while it is shorted, shorts per second, their length."""

    current: float
    voltage: float
    shorted_voltage: float
    shorts: float
    duration: float  # [ms]


@cache
def _welded(
    voltage: float, current: float, diameter: float, *, feed: float, extension: float = EXTENSION, gas: str = "CO2"
) -> Welded:
    """A weld with this feed [m/min] on a source that gives these volts at these amperes."""
    text = SOURCE.format(
        direct=voltage + RESISTANCE * current, resistance=RESISTANCE, diameter=diameter, extension=extension, gas=gas
    )
    weld = Weld(WireSupply(read_text(text, source="proof")), delay=None, feed=feed / 60.0)
    parts = list(weld.parts(SECONDS))
    late = np.concatenate([part.time for part in parts]) >= RUN_UP
    amperes, volts = (
        np.concatenate([part.signals[f"output.{name}"] for part in parts])[late] for name in ("current", "voltage")
    )
    shorted = np.isin(np.concatenate([part.during for part in parts])[late], SHORTED)
    count = int(np.sum(shorted[1:] & ~shorted[:-1]))
    seconds = SECONDS - RUN_UP
    return Welded(
        float(amperes.mean()),
        float(volts.mean()),
        float(volts[shorted].mean()) if count else math.nan,
        count / seconds,
        1e3 * float(shorted.mean()) * seconds / count if count else math.nan,
    )


def _rules() -> dict[float, float]:
    """Feed per ampere [m/min/A] by wire diameter [mm], of the trade's rule."""
    return {
        numbers_in(row.condition)["d"]: row.value for row in references("arc", "feed_rule") if row.unit == "m/min/A"
    }


def feed_rule() -> list[Row]:
    """Feed per ampere of an arc that burns openly, the wire being fed by the rule; nothing is fitted to it."""
    rows = [row for row in references("arc", "feed_rule") if row.unit == "m/min/A"]

    def measure(condition: str) -> dict[str, Reading]:
        diameter = numbers_in(condition)["d"]
        feed = _rules()[diameter] * MID_RANGE[diameter]
        found = _welded(OPEN_VOLTAGE, MID_RANGE[diameter], diameter, feed=feed, extension=OPEN_EXTENSION)
        return {"feed per ampere (trade rule)": Reading(feed / found.current, RULE_BAND)}

    return side_by_side("wire feed", rows, measure)


def _lines(name: str) -> Iterator[dict[str, str]]:
    with (PLACE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def _settings() -> dict[str, tuple[dict[str, str], float]]:
    """Condition -> printed setting and the thinnest of its wires for which the rule tells a feed [mm]."""
    found = {}
    for line in _lines("short_arc_settings"):
        thin, _, thick = line["wire_mm"].partition("-")
        fitting = [one for one in sorted(_rules()) if float(thin) - 0.02 <= one <= float(thick or thin) + 0.02]
        if fitting:
            maker = line["source"].split()[0]
            condition = (
                f"{maker}, plate {line['plate_mm']} mm, wire {fitting[0]} mm, "
                f"{line['I_min_A']} to {line['I_max_A']} A, {line['U_min_V']} to {line['U_max_V']} V, feed by rule"
            )
            found[condition] = (line, fitting[0])
    return found


def _middle(line: dict[str, str], least: str, most: str) -> float:
    return 0.5 * (float(line[least]) + float(line[most]))


def _of_band(band: Band, condition: str) -> Reference:
    """The middle of a band, for one weld."""
    quantity = f"{band.quantity} (from {band.low:g} to {band.high:g})"
    return Reference("band", condition, quantity, 0.5 * (band.low + band.high), band.unit, band.source, "", band.status)


def settings() -> list[Row]:
    """Mean current and volts at printed settings, shorts per second and their length of wires with a known range."""
    settings = _settings()
    dips, durations = (next(band for band in bands() if band.check == check) for check in ("dips", "dip_duration"))
    rows = []
    for condition, (line, diameter) in settings.items():
        source = re.sub(r" \(.*\)$", "", line["source"])
        for quantity, letter in (("mean current", "I"), ("mean voltage", "U")):
            unit = {"I": "A", "U": "V"}[letter]
            middle = _middle(line, f"{letter}_min_{unit}", f"{letter}_max_{unit}")
            rows.append(Reference("settings", condition, quantity, middle, unit, source, "printed", "published"))
        if 0.76 <= diameter <= 1.1:
            rows += [_of_band(dips, condition), _of_band(durations, condition)]

    def measure(condition: str) -> dict[str, Reading]:
        line, diameter = settings[condition]
        current, voltage = _middle(line, "I_min_A", "I_max_A"), _middle(line, "U_min_V", "U_max_V")
        found = _welded(voltage, current, diameter, feed=_rules()[diameter] * current, gas=SETTINGS_GAS)
        amperes, volts = (
            0.5 * (float(line[f"{one}_max_{unit}"]) - float(line[f"{one}_min_{unit}"]))
            for one, unit in (("I", "A"), ("U", "V"))
        )
        return {
            "mean current": Reading(found.current, RULE_BAND + amperes / current),
            "mean voltage": Reading(found.voltage, (VOLTS_BAND + volts) / voltage),
            **{
                f"{band.quantity} (from {band.low:g} to {band.high:g})": Reading(
                    value, (band.high - band.low) / (band.high + band.low)
                )
                for band, value in ((dips, found.shorts), (durations, found.duration))
            },
        }

    return side_by_side("short arc", rows, measure)


def recorded_weld() -> list[Row]:
    """A weld whose record is published: fed by the rule for its section, on its mean volts at its mean amperes."""

    def measure(condition: str) -> dict[str, Reading]:
        feed = _rules()[1.14] * (1.14 / 1.2) ** 2 * 180.0
        found = _welded(18.7, 180.0, 1.2, feed=feed, extension=OPEN_EXTENSION, gas="argon mix")
        return {
            "mean current": Reading(found.current, RULE_BAND),
            "mean voltage": Reading(found.voltage, VOLTS_BAND / 18.7),
            "voltage during a short": Reading(found.shorted_voltage, 2.0 / 4.5),
        }

    place = "1.2 mm steel in argon with CO2, feed by rule"
    values = (("mean current", 180.0, "A"), ("mean voltage", 18.7, "V"), ("voltage during a short", 4.5, "V"))
    rows = [
        Reference("record", place, quantity, value, unit, RECORD, "10 kHz record", "published")
        for quantity, value, unit in values
    ]
    return side_by_side("short arc", rows, measure)


def measured_feeds() -> list[Row]:
    """Currents that a technician told for feeds and voltages of three wires."""
    lines = {}
    for line in _lines("wire_feed_points"):
        extension = line["extension_mm"] or f"{EXTENSION:g}"
        set_to = f"wire {line['wire_mm']} mm, {line['voltage_V']} V, {line['feed_m_per_min']} m/min"
        condition = f"{set_to}, extension {extension} mm"
        lines[condition] = line | {"extension_mm": extension}
    rows = [
        Reference("feeds", condition, "mean current", _told(line)[0], "A", POINTS, line["remark"], "practice")
        for condition, line in lines.items()
    ]

    def measure(condition: str) -> dict[str, Reading]:
        line = lines[condition]
        current, half = _told(line)
        voltage, diameter, feed, extension = (
            float(line[key]) for key in ("voltage_V", "wire_mm", "feed_m_per_min", "extension_mm")
        )
        found = _welded(voltage, current, diameter, feed=feed, extension=extension)
        return {"mean current": Reading(found.current, POINT_BAND + half / current)}

    return side_by_side("wire feed", rows, measure)


def _told(line: dict[str, str]) -> tuple[float, float]:
    """Middle and half width of the current told [A]."""
    least, most = float(line["least_A"]), float(line["most_A"])
    return 0.5 * (least + most), 0.5 * (most - least)
