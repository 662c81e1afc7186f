"""The feed motor on a stiff supply of its own: steady, starting, stopping, under liner and reel, with its controls.

The transformer gives far more than the stage lets through and the capacitor is large, so that the motor sees the
voltage that its knob is set to and nothing of the mains.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from weldsim.parts.feed_supply import Setting
from weldsim.runs.feeder import COLUMNS, Feeder, feeder_of, knob_for
from weldsim.scenario.reading import read_text
from weldsim.studies.proofs.bench import Reading, Row, numbers_in, references, side_by_side

NEAR = 1e-6  # steady: nothing but rounding
SAG = 2e-3  # of the capacitor under its load
STEPPED = 1e-3  # a start is stepped in tenths of a millisecond
SETTLED, LATE = 0.4, 0.1  # [s] after which it is steady, and the last part of which means are taken

MOTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[feed_motor]
rated_voltage = "24 V"
rated_current = "2.5 A"
rated_speed = "3000 rev/min"
armature_resistance = "1.2 ohm"
armature_inductance = "{henries!r} H"
no_load_current = "{friction!r} A"
inertia = "350 g.cm2"
gear = {gear!r}
gear_efficiency = "70 %"
roll_diameter = "30 mm"
roll_grip = "2 kN"
{brake}
reel_mass = "15 kg"
reel_outer_diameter = "200 mm"
reel_inner_diameter = "100 mm"
reel_fill = "{fill:.0%}"
reel_brake = "0 N.m"
hub_friction = "0 %"
tube_force = "{force!r} N"
liner_bend = "{bend!r} deg"
liner_friction = "{mu:.0%}"
[feed_supply]
voltage = "400 V"
resistance = "10 mohm"
diode_drop = "0 V"
smoothing_capacitance = "1 F"
dropout = "0 V"
current_limit = "200 A"
control = "{control}"
compensation = "{compensation:.0%}"
[load]
kind = "resistor"
resistance = "1 ohm"
"""


def _feeder(**values: object) -> Feeder:
    """A feeder at rest, with the values that are given; the reel is empty, the liner straight."""
    usual: dict[str, object] = {
        "henries": 1.5e-3,
        "friction": 0.4,
        "gear": 20.0,
        "brake": "",
        "fill": 0.0,
        "force": 0.0,
        "bend": 0.0,
        "mu": 0.2,
        "control": "stabilised voltage",
        "compensation": 0.0,
    }
    return feeder_of(read_text(MOTOR.format(**(usual | values)), source="proof"))


def feed_motor() -> list[Row]:
    """Speed, current, feed, wire after a stop and heat, beside the books' equations of the motor."""
    return side_by_side("feed motor", references("feeder", "feed_motor"), _measure)


def _measure(condition: str) -> dict[str, Reading]:
    kind = next(kind for kind in KINDS if condition.startswith(kind))
    said = numbers_in(condition)
    if condition.startswith("start without friction"):
        said["friction"] = 0.0
    return KINDS[kind](condition, said)


def _run(feeder: Feeder, setting: Setting, length: float) -> np.ndarray:
    """Rows of a run from standstill, columns as in ``COLUMNS``."""
    feeder.setting = setting
    rows: list[tuple[float, ...]] = []
    feeder.advance(length, rows=rows)
    return np.array(rows)


def _late(table: np.ndarray, name: str) -> float:
    """Mean of a column over the last part of a run."""
    late = table[:, 0] > table[-1, 0] - LATE
    return float(table[late, COLUMNS.index(name)].mean())


def _steady(_: str, said: dict[str, float]) -> dict[str, Reading]:
    feeder = _feeder(force=said.get("F", 0.0))
    table = _run(feeder, Setting(voltage=said["V"]), SETTLED)
    return {
        "speed of the armature": Reading(feeder.speed, NEAR),
        "armature current": Reading(_late(table, "current"), NEAR),
        "heat in the stage": Reading(_late(table, "heat"), SAG),
    }


def _blocked(_: str, said: dict[str, float]) -> dict[str, Reading]:
    """The wire is held by 1500 N."""
    feeder = _feeder(force=500.0, bend=315.0)
    table = _run(feeder, Setting(voltage=said["V"]), 0.5)
    return {"armature current": Reading(_late(table, "current"), NEAR)} if feeder.speed == 0.0 else {}


def _bent(_: str, said: dict[str, float]) -> dict[str, Reading]:
    table = _run(_feeder(force=5.0, bend=said["bend"], mu=said["mu"]), Setting(voltage=said["V"]), SETTLED)
    return {"armature current": Reading(_late(table, "current"), NEAR)}


def _start(_: str, said: dict[str, float]) -> dict[str, Reading]:
    values: dict[str, object] = {"friction": said.get("friction", 0.4), "force": said.get("F", 0.0)}
    values["henries"] = 1e-3 * said.get("L", 1.5)
    values |= {name: said[name] for name in ("fill", "gear") if name in said}
    feeder = _feeder(**values)
    table = _run(feeder, Setting(voltage=said["V"]), 1e-3 * said.get("t", 200.0))
    speed = table[:, COLUMNS.index("feed")] / table[-1, COLUMNS.index("feed")] * feeder.speed
    current = table[:, COLUMNS.index("current")]
    return {
        "speed of the armature": Reading(feeder.speed, STEPPED),
        "largest speed": Reading(float(speed.max()), STEPPED),
        "time of the largest speed": Reading(_first_at_most(table[:, 0], speed), 5e-3),
        "largest current": Reading(float(current.max()), STEPPED),
    }


def _first_at_most(time: np.ndarray, speed: np.ndarray) -> float:
    """When the speed first comes to its largest value; it stays there, since the stage takes no current back [s]."""
    return float(time[np.argmax(speed >= speed.max() * (1.0 - 1e-7))])


def _stop(_: str, said: dict[str, float]) -> dict[str, Reading]:
    brake = f'brake_resistance = "{said["brake"]!r} ohm"' if "brake" in said else ""
    feeder = _feeder(brake=brake)
    _run(feeder, Setting(voltage=said["V"]), SETTLED)
    feeder.setting, wire = Setting(), 0.0
    while feeder.speed > 0.0:
        wire += feeder.advance(0.01)
    return {"wire that still comes": Reading(wire, STEPPED)}


def _held(_: str, said: dict[str, float]) -> dict[str, Reading]:
    """The knob is turned under the light load and left there."""
    light = _feeder(force=5.0, control="speed", compensation=said["compensation"])
    knob = knob_for(light.motor, light.supply, frequency=50.0, feed=5.0 / 60.0)
    heavy = _feeder(force=said["F"], control="speed", compensation=said["compensation"])
    return {"feed": Reading(60.0 * _late(_run(heavy, replace(knob), SETTLED), "feed"), NEAR)}


KINDS: dict[str, Callable[[str, dict[str, float]], dict[str, Reading]]] = {
    "steady": _steady,
    "linear stage": _steady,
    "blocked": _blocked,
    "liner": _bent,
    "start": _start,
    "stop": _stop,
    "speed control": _held,
}
