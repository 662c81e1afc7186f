"""From the mains to the first winding: what a standard allows the current, what is on the voltage, what a lead takes,
what trips a breaker at once, and what warmth does to copper.
"""

from weldsim.runs.press_batches import press_many
from weldsim.runs.presses import Setting
from weldsim.scenario.reading import read_text
from weldsim.studies import mains
from weldsim.studies.press_trips import count_trips
from weldsim.studies.proofs.bench import (
    HARMONIC,
    Reading,
    Row,
    amplitudes,
    numbers_in,
    references,
    settled,
    side_by_side,
)
from weldsim.studies.proofs.conductors import ONE_RESISTIVITY
from weldsim.studies.proofs.controller import circuit
from weldsim.studies.proofs.rectifiers import extremes

TABLE = "mains"
PRESSES = 4
WARMTH = 1e-3  # 0.00393 per kelvin from 20 degC, against 1/(235 + 20)
ORDERS = range(1, 16)

BACKGROUND = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
background = {preset}
[load]
kind = "resistor"
resistance = "10 ohm"
"""
LEAD = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[supply_lead]
length = "50 m"
section = "{section!r} mm2"
inductance = "0 H"
[load]
kind = "resistor"
resistance = "20 ohm"
"""

BREAKER = """
[breaker]
curve = "{curve}"
current = "16 A"
[transformer]
ratio = "1:1"
[core]
magnetising_inductance = "10000 H"
saturation_flux_linkage = "100 V.s"
saturated_inductance = "1000 H"
"""
WINDING = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[transformer]
ratio = "1:1"
secondary_resistance = "0.5 ohm"
winding_temperature = "{temperature!r} degC"
[load]
kind = "resistor"
resistance = "10 ohm"
"""
WELDS = """
[wire]
diameter = "0.8 mm"
"""  # without one a resistor counts as no arc welding equipment


def limits() -> list[Row]:
    """Limits for harmonics of a welding supply, and how near a phase-controlled resistor comes to them."""
    return side_by_side("emission limits", references(TABLE, "limits"), _measure_limits)


def _measure_limits(condition: str) -> dict[str, Reading]:
    delay = numbers_in(condition)["alpha"]
    text = circuit(resistance=20.0).replace("1000 Mohm", "3 Mohm")  # whose leak counts for nothing here either
    scenario = read_text(text + WELDS, source="proof")
    answer = mains.ask(scenario, delays=[delay])
    rows = [row for row in answer.rows or [] if row["kind"] == "limit" and row["condition"] == "class B"]
    allowed = {f"limit of order {row['quantity']}": Reading(row["most"]) for row in rows}
    return allowed | {f"order {row['quantity']} over its limit": Reading(row["found"] / row["most"]) for row in rows}


def demand() -> list[Row]:
    """Distortion over the fundamental and over the current that a customer asks for."""
    return side_by_side("demand distortion", references(TABLE, "demand"), _measure_demand)


def _measure_demand(condition: str) -> dict[str, Reading]:
    said = numbers_in(condition)
    scenario = read_text(circuit(resistance=said["R"]), source="proof")
    numbers = mains.ask(scenario, delays=[said["alpha"]], demand=said["demand"]).numbers
    return {"THD": Reading(numbers["primary.current.thd"].value), "TDD": Reading(numbers["primary.current.tdd"].value)}


def background() -> list[Row]:
    """Orders of two presets in the voltage at a load, with their distortion and crest."""
    return side_by_side("mains background", references(TABLE, "background"), _measure_background)


def _measure_background(condition: str) -> dict[str, Reading]:
    recording = settled(BACKGROUND.format(preset=condition.removeprefix("background ")))
    first, *others = (abs(line) for line in amplitudes(recording, "output.voltage", ORDERS))
    rms = recording.integrals.rms("output.voltage")
    least, largest = extremes(recording, "output.voltage")
    return {f"order {order}": Reading(line / first, HARMONIC, 1.0) for order, line in enumerate(others, start=2)} | {
        "THD": Reading(sum(line**2 for line in others) ** 0.5 / first, HARMONIC, 1.0),
        "crest factor": Reading(max(largest, -least) / rms),
    }


def supply_lead() -> list[Row]:
    """Drop along both cores of a lead, per 10 A."""
    return side_by_side("supply lead", references(TABLE, "supply_lead"), _measure_lead)


def _measure_lead(condition: str) -> dict[str, Reading]:
    whole = settled(LEAD.format(section=numbers_in(condition)["section"])).integrals
    drop = (whole.rms("plug.voltage") - whole.rms("output.voltage")) / whole.rms("output.current")
    return {"drop": Reading(10.0 * drop, ONE_RESISTIVITY)}


def magnetic() -> list[Row]:
    """Presses onto a plain resistor that draws a hundredth less and more than the edges of a breaker's band."""
    return side_by_side("breaker, instantaneous", references(TABLE, "magnetic"), _measure_magnetic)


def _measure_magnetic(condition: str) -> dict[str, Reading]:
    text = circuit(resistance=230.0 / (16.0 * numbers_in(condition)["multiple"])) + BREAKER.format(curve=condition[0])
    scenario = read_text(text, source="proof")
    batches = press_many(scenario, count=PRESSES, seed=1, setting=Setting(delay=10.0), workers=1)
    trips = count_trips(scenario.breaker, [press.half_cycles for batch in batches for press in batch])
    assert trips is not None
    counts = {"lower": trips.above_low, "upper": trips.above_high}
    return {f"share above the {name} edge": Reading(count / PRESSES, 0.0, 1.0) for name, count in counts.items()}


def warm_winding() -> list[Row]:
    """Resistance of a winding, told at 20 degC, that is warmer or colder."""
    return side_by_side("winding, warm", references(TABLE, "warm_winding"), _measure_winding)


def _measure_winding(condition: str) -> dict[str, Reading]:
    whole = settled(WINDING.format(temperature=numbers_in(condition)["t"])).integrals
    drop = whole.rms("mains.voltage") - whole.rms("output.voltage")
    return {"resistance": Reading(drop / whole.rms("output.current"), WARMTH)}
