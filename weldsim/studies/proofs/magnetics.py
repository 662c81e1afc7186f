"""Iron and rectifier behind the phase control: dc side of a bridge, EMF of a winding, magnetising current, inrush.

Vm is the crest of the source and w its angular frequency: units in which the references count, not results.
"""

import math
import re

from scipy.optimize import brentq, minimize_scalar

from weldsim.runs.perform import Recording
from weldsim.studies.proofs.bench import (
    HARMONIC,
    Reading,
    Row,
    amplitudes,
    angle,
    from_rest,
    numbers_in,
    references,
    settled,
    side_by_side,
)

TABLE = "magnetics"
VOLTAGE, FREQUENCY = 230.0, 50.0  # where a condition leaves them free
PIECES = 120  # straight pieces for a power law, each side of zero
BELOW_SATURATION = 1e4  # [H] least current below the corner that can be written: 0.1 mA here

MAINS = """
[mains]
voltage = "{voltage} V"
frequency = "{frequency} Hz"
"""
SWITCH = """
[phase_control]
threshold = "0 V"
slope = "0 ohm"
latching_current = "0 A"
holding_current = "0 A"
off_resistance = "1000 Mohm"
"""
HALF_WAVES = SWITCH + 'asymmetry = "180 deg"\n'  # the negative gate comes with the next positive half cycle
BRIDGE = """
[transformer]
ratio = "1:1"
[rectifier]
threshold = "0 V"
slope = "1 uohm"
leakage_resistance = "1000 Mohm"
"""
# On 0.1 ohm it leaves 0.02 % of ripple.
LARGE_CHOKE = """
[choke]
inductance = "20 H"
"""
RESISTOR = """
[load]
kind = "resistor"
resistance = "{resistance!r} ohm"
inductance = "{inductance!r} H"
"""


def supply(*parts: str, **values: object) -> str:
    """Text of a scenario: the mains and the parts, with the values that are given."""
    usual: dict[str, object] = {"voltage": VOLTAGE, "frequency": FREQUENCY, "resistance": 10.0, "inductance": 0.0}
    return "".join((MAINS, *parts)).format(**(usual | values))


def crest(voltage: float = VOLTAGE) -> float:
    """Vm [V]."""
    return math.sqrt(2.0) * voltage


# --- 3: phase-controlled rectifiers -----------------------------------------------------------------------------------


def controlled_rectifier() -> list[Row]:
    """Half wave and bridge behind the phase control on a resistor, and line current of a bridge with a large choke."""
    rows = references(TABLE, "phase_controlled_rectifier")
    return side_by_side("phase-controlled rectifier", rows, _measure_rectifier)


def _measure_rectifier(condition: str) -> dict[str, Reading]:
    """The bridge with its switch in the primary freewheels like a half-controlled one."""
    delay = numbers_in(condition)["alpha"]
    half = settled(supply(HALF_WAVES, RESISTOR), delay=delay)
    bridge = settled(supply(SWITCH, BRIDGE, RESISTOR), delay=delay)
    smooth = settled(supply(SWITCH, BRIDGE, LARGE_CHOKE, RESISTOR, resistance=0.1), delay=delay)
    wave, bridged, smoothed = (each.integrals for each in (half, bridge, smooth))
    direct = smoothed.mean("output.current")
    fundamental = abs(amplitudes(smooth, "primary.current", [1])[0]) / math.sqrt(2.0)
    return {
        "half wave, R: Vdc/Vm": Reading(wave.mean("output.voltage") / crest()),
        "half wave, R: Vrms/Vm": Reading(wave.rms("output.voltage") / crest()),
        "half-controlled bridge (any load) or full bridge on R: Vdc/Vm": Reading(
            bridged.mean("output.voltage") / crest()
        ),
        "half-controlled bridge, constant Id: I1 rms/Id": Reading(fundamental / direct),
        "half-controlled bridge, constant Id: I rms/Id": Reading(smoothed.rms("primary.current") / direct),
    }


# --- 4.1: EMF equation, no-load current, efficiency -------------------------------------------------------------------

WOUND = """
[transformer]
primary_turns = {primary_turns}
secondary_turns = {secondary_turns}
[core]
section = "{section} cm2"
magnetising_inductance = "10000 H"
"""
NO_LOAD = """
[transformer]
ratio = "1:1"
[core]
magnetising_inductance = "{inductance!r} H"
loss_resistance = "{loss_resistance!r} ohm"
[start]
mains_phase = "90 deg"
"""
LOSSY = """
[transformer]
ratio = "1:1"
secondary_resistance = "{copper!r} ohm"
[core]
loss_resistance = "{loss_resistance!r} ohm"
"""


def emf() -> list[Row]:
    """Flux density from turns and section, no-load current, and efficiency of transformers of textbook problems."""
    return side_by_side("transformer", references(TABLE, "transformer_emf"), _measure_transformer)


def _measure_transformer(condition: str) -> dict[str, Reading]:
    if "20.7" in condition:
        return _no_load(voltage=240.0, current=0.8, power=72.0)
    if "20.17" in condition:
        return {"efficiency": Reading(_efficiency(100.0, 200e3, copper=1.5e3, iron=1e3, factor=0.85)[0])}
    if "20.19" in condition:
        return _best_load(500e3, copper=4e3, iron=2.5e3, factor=0.75)
    if "20.8" in condition:
        return _fed_from_low_side()
    turns, section = (220, 32.0) if "32 cm2" in condition else (130, 55.0)
    text = supply(WOUND, primary_turns=turns, secondary_turns=20, section=section)
    recording = from_rest(text + '[start]\nmains_phase = "90 deg"\n', 1.0 / FREQUENCY)
    ((least, largest),) = recording.trace.extremes(["core.flux_density"], *recording.window)[0]
    peak = 0.5 * (largest - least)
    induced = recording.integrals.rms("secondary.voltage")
    return {"B": Reading(peak), "E_rms/(f N phi_m)": Reading(induced / (FREQUENCY * 20 * peak * section * 1e-4))}


def _fed_from_low_side() -> dict[str, Reading]:
    """100 kVA, 4000/200 V: fed at 200 V, since mains above 1 kV cannot be written; 160 ohm take 100 kVA at 4000 V."""
    text = supply(
        WOUND, RESISTOR, voltage=200.0, primary_turns=100, secondary_turns=2000, section=60.0, resistance=160.0
    )
    recording = from_rest(text + '[start]\nmains_phase = "90 deg"\n', 1.0 / FREQUENCY)
    ((least, largest),) = recording.trace.extremes(["core.flux_linkage"], *recording.window)[0]
    whole = recording.integrals
    return {
        "phi_max (exact)": Reading(0.5 * (largest - least) / 100),
        "I1": Reading(whole.rms("output.current")),
        "I2": Reading(whole.rms("primary.current")),
    }


def _no_load(*, voltage: float, current: float, power: float) -> dict[str, Reading]:
    """The magnetising inductance is looked for at which the no-load current is what the problem says."""
    loss_resistance = voltage * voltage / power

    def run(inductance: float) -> Recording:
        text = supply(NO_LOAD, voltage=voltage, inductance=inductance, loss_resistance=loss_resistance)
        return from_rest(text, 1.0 / FREQUENCY)

    def excess(inductance: float) -> float:
        recording = run(inductance)
        return recording.integrals.rms("primary.current") - current

    recording = run(brentq(excess, 0.3, 3.0, xtol=1e-9))
    whole = recording.integrals
    taken = whole.product("mains.voltage", "primary.current") / whole.length
    apparent = whole.rms("mains.voltage") * whole.rms("primary.current")
    in_phase = (1j * amplitudes(recording, "primary.current", [1])[0]).real / math.sqrt(2.0)
    return {
        "core-loss current": Reading(in_phase),
        "no-load power factor": Reading(taken / apparent),
        "magnetising current": Reading(whole.rms("core.magnetising_current")),
    }


def _efficiency(current: float, rating: float, *, copper: float, iron: float, factor: float) -> tuple[float, float]:
    """Power out over power in, and apparent power behind the core, at 1 kV.

    The load is as large as draws ``current``.
    """
    voltage = 1e3
    winding = copper / (rating / voltage) ** 2
    resistance = factor * voltage / current
    reactance = math.sqrt((voltage / current) ** 2 - (resistance + winding) ** 2)
    text = supply(
        LOSSY,
        RESISTOR,
        voltage=voltage,
        copper=winding,
        loss_resistance=voltage**2 / iron,
        resistance=resistance,
        inductance=reactance / (2.0 * math.pi * FREQUENCY),
    )
    recording = settled(text)
    whole = recording.integrals
    out = whole.product("output.voltage", "output.current")
    return out / whole.product("mains.voltage", "primary.current"), voltage * whole.rms("secondary.current")


def _best_load(rating: float, *, copper: float, iron: float, factor: float) -> dict[str, Reading]:
    """The load of greatest efficiency, searched for over runs."""

    def lost(current: float) -> float:
        return -_efficiency(float(current), rating, copper=copper, iron=iron, factor=factor)[0]

    best = minimize_scalar(lost, bracket=(200.0, 350.0, 480.0), options={"xtol": 1e-6})
    efficiency, apparent = _efficiency(float(best.x), rating, copper=copper, iron=iron, factor=factor)
    return {"kVA at maximum efficiency": Reading(apparent / 1e3), "maximum efficiency": Reading(efficiency)}


# --- 4.2: magnetising current of a power law --------------------------------------------------------------------------

IRON = """
[transformer]
primary_turns = 220
secondary_turns = 20
[core]
section = "32 cm2"
path_length = "0.5 m"
magnetising_curve = [{{field = "0 A/m", flux_density = "0 T"}}{points}]
[start]
mains_phase = "90 deg"
"""


def magnetising_harmonics() -> list[Row]:
    """Harmonics of i = lambda^k: a magnetising curve in straight pieces on sinusoidal flux."""
    rows = references(TABLE, "magnetising_current_harmonics")
    return side_by_side("magnetising current", rows, _measure_magnetising)


def _power_law(power: int) -> str:
    """Corners on 1000 A/m times the power of the density in 1.5 T, where chords over the law cost least on average."""
    densities = [1.5 * (j / PIECES) ** (3.0 / (power + 1)) for j in range(1, PIECES + 1)]
    return "".join(f', {{field = "{1e3 * (b / 1.5) ** power!r} A/m", flux_density = "{b!r} T"}}' for b in densities)


def _measure_magnetising(condition: str) -> dict[str, Reading]:
    """One period from the voltage's crest on, where the flux is zero.

    Settled from the start, and 1.47 T at its peak.
    """
    power = int(condition.split("^")[1].split(",")[0])
    recording = from_rest(supply(IRON, points=_power_law(power)), 1.0 / FREQUENCY)
    ((least, largest),) = recording.trace.extremes(["primary.current"], *recording.window)[0]
    peak = 0.5 * (largest - least)
    orders = range(1, 12, 2)
    # the flux is a sine that begins a quarter of a period after the mains voltage
    sines = {
        order: (1j * value * 1j**order).real / peak
        for order, value in zip(orders, amplitudes(recording, "primary.current", orders), strict=True)
    }
    rms = recording.integrals.rms("primary.current")
    found = {f"harmonic {order} amplitude": Reading(value, HARMONIC, sines[1]) for order, value in sines.items()}
    return found | {"I_rms": Reading(rms / peak)}


# --- 4.3: inrush ------------------------------------------------------------------------------------------------------

INRUSH = """
resistance = "{resistance!r} ohm"
[transformer]
ratio = "1:1"
[core]
magnetising_inductance = "{below!r} H"
saturation_flux_linkage = "{corner!r} V.s"
saturated_inductance = "{beyond!r} H"
[start]
flux_linkage = "{remanent!r} V.s"
mains_phase = "{closing!r} deg"
"""
CASE = re.compile(
    r"case (\w): ([\d.]+) V ([\d.]+) Hz, R=([\d.]+) ohm, Lair=([\d.]+) mH, lambda_s/lambda_m=([\d.]+), "
    r"lambda_r/lambda_m=([\d.]+), closing angle ([\d.]+) deg"
)


def inrush() -> list[Row]:
    """Switching an unloaded transformer on: peaks and their decay, I2t and angles of the first pulse, seven cases.

    1e-3 on the first peak and 1e-2 on the tenth would be fair; with the same two slopes in the core ten times less is
    asked.
    """
    return side_by_side("inrush", references(TABLE, "inrush"), _measure_inrush)


def _switch_on(condition: str, periods: int, *, resistance: float | None = None, series: float = 0.0) -> Recording:
    """The case as a run; the units of flux are lambda_m = Vm/w."""
    match = CASE.fullmatch(condition)
    assert match is not None
    voltage, frequency, given, air, corner, remanent, closing = map(float, match.groups()[1:])
    unit = crest(voltage) / (2.0 * math.pi * frequency)
    parts = (INRUSH, SOFT_START) if series else (INRUSH,)
    text = supply(
        *parts,
        voltage=voltage,
        frequency=frequency,
        series=series,
        resistance=(given if resistance is None else resistance) - series,
        below=BELOW_SATURATION,
        beyond=air * 1e-3,
        corner=corner * unit,
        remanent=remanent * unit,
        closing=closing,
    )
    return from_rest(text, (periods - closing / 360.0) / frequency)


SOFT_START = """
[soft_start]
kind = "resistor"
resistance = "{series!r} ohm"
bypass_delay = "10 s"
"""


def soft_started() -> list[Row]:
    """The same with most of the resistance in a soft start that is not bypassed: the same peaks must come out."""
    rows = [
        row for row in references(TABLE, "inrush") if " R=0.8 ohm" in row.condition and "peak, R" not in row.quantity
    ]
    return side_by_side("soft start", rows, lambda condition: _peaks(_switch_on(condition, 10, series=0.6)))


def _measure_inrush(condition: str) -> dict[str, Reading]:
    first = _switch_on(condition, 1, resistance=0.0).trace.extremes(["primary.current"])[0][0, 1]
    return {"peak, R neglected": Reading(float(first))} | _peaks(_switch_on(condition, 10))


def _peaks(recording: Recording) -> dict[str, Reading]:
    """Ten peaks, and the angles and heat of the first pulse."""
    period = recording.supply.period
    found: dict[str, Reading] = {}
    for k in range(10):
        begin = max(k * period, recording.window[0])
        values, instants = recording.trace.extremes(["primary.current"], begin, (k + 1) * period)
        found[f"peak {k + 1}"] = Reading(float(values[0, 1]))
        if k == 0:
            found["angle of first peak"] = angle(360.0 * float(instants[0, 1]) / period)
    return found | _first_pulse(recording)


def _first_pulse(recording: Recording) -> dict[str, Reading]:
    """From the corner of the core to the corner again."""
    instants = [at for at, name, *_ in recording.trace.changes() if name == "core"]
    into, out = instants[:2]
    heat = recording.trace.integrals(into, out).product("primary.current", "primary.current")
    degrees = 360.0 / recording.supply.period
    return {
        "saturation angle": angle(degrees * into),
        "extinction angle of first pulse": angle(degrees * out),
        "I2t of first pulse": Reading(heat),
        "I2t of one pulse": Reading(heat),
    }
