"""Arcs of a welding wire: the settings that makers print, fed by the trade's rule, feeds that were measured, the rule.

The supply is a direct source with 30 mohm and a choke of 0.3 mH, set so that it gives the printed volts at the printed
amperes; what then flows, and how often the wire touches, is up to the wire.  Nothing is fitted to these settings.
"""

import csv
import re
from collections.abc import Iterator
from functools import cache

import numpy as np

from weldsim.runs.weld_runs import Weld
from weldsim.runs.wire_runs import CONDITIONS, WireSupply
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import PLACE, Reading, Reference, Row, bands, numbers_in, references, side_by_side

SECONDS, RUN_UP = 2.0, 0.5  # [s] of a weld, the first part of which is left out
RESISTANCE = 0.03  # [ohm] of the source
EXTENSION = 10.0  # [mm] where a source does not say it
# Mid-range currents [A] of the makers that print the rule; there it burns openly, with some 10 mm of wire before it.
MID_RANGE = {0.61: 60.0, 0.76: 92.5, 0.89: 115.0, 1.14: 162.5}
OPEN_VOLTAGE, OPEN_EXTENSION = 24.0, 15.0  # [V], [mm] contact tube to work
RULE_BAND = 0.25  # the trade rule's own
POINT_BAND = 0.25  # single readings of a panel meter on one machine
SHORTED = [CONDITIONS.index(name) for name in ("touching", "bridged")]
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
"""


@cache
def _welded(voltage: float, current: float, diameter: float, feed: float, extension: float) -> tuple[float, float]:
    """Mean current [A] and shorts per second of a weld with this feed [m/min]."""
    text = SOURCE.format(
        direct=voltage + RESISTANCE * current, resistance=RESISTANCE, diameter=diameter, extension=extension
    )
    weld = Weld(WireSupply(read_text(text, source="proof")), delay=None, feed=feed / 60.0)
    parts = list(weld.parts(SECONDS))
    late = np.concatenate([part.time for part in parts]) >= RUN_UP
    amperes = np.concatenate([part.signals["output.current"] for part in parts])[late]
    shorted = np.isin(np.concatenate([part.condition for part in parts])[late], SHORTED)
    return float(amperes.mean()), float(np.sum(shorted[1:] & ~shorted[:-1]) / (SECONDS - RUN_UP))


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
        current, _ = _welded(OPEN_VOLTAGE, MID_RANGE[diameter], diameter, feed, OPEN_EXTENSION)
        return {"feed per ampere (trade rule)": Reading(feed / current, RULE_BAND)}

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


def settings() -> list[Row]:
    """Mean current at printed settings, and shorts per second of wires for which a range is known."""
    settings, (dips,) = _settings(), [band for band in bands() if band.check == "dips"]
    rows = []
    for condition, (line, diameter) in settings.items():
        source = re.sub(r" \(.*\)$", "", line["source"])
        rows.append(
            Reference(
                "settings",
                condition,
                "mean current",
                _middle(line, "I_min_A", "I_max_A"),
                "A",
                source,
                "printed",
                "published",
            )
        )
        if 0.76 <= diameter <= 1.1:
            quantity = f"{dips.quantity} (from {dips.low:g} to {dips.high:g})"
            middle = 0.5 * (dips.low + dips.high)
            rows.append(Reference("dips", condition, quantity, middle, dips.unit, dips.source, "", dips.status))

    def measure(condition: str) -> dict[str, Reading]:
        line, diameter = settings[condition]
        current, half = _middle(line, "I_min_A", "I_max_A"), 0.5 * (float(line["I_max_A"]) - float(line["I_min_A"]))
        feed = _rules()[diameter] * current
        flows, shorts = _welded(_middle(line, "U_min_V", "U_max_V"), current, diameter, feed, EXTENSION)
        width = (dips.high - dips.low) / (dips.high + dips.low)
        return {
            "mean current": Reading(flows, RULE_BAND + half / current),
            f"{dips.quantity} (from {dips.low:g} to {dips.high:g})": Reading(shorts, width),
        }

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
        flows, _ = _welded(voltage, current, diameter, feed, extension)
        return {"mean current": Reading(flows, POINT_BAND + half / current)}

    return side_by_side("wire feed", rows, measure)


def _told(line: dict[str, str]) -> tuple[float, float]:
    """Middle and half width of the current told [A]."""
    least, most = float(line["least_A"]), float(line["most_A"])
    return 0.5 * (least + most), 0.5 * (most - least)
