"""What the supply works on: a resistor, a conventional load line, an arc line, a battery, a short, or a welding wire.

An arc line is ``u = min(knee_resistance i, voltage + slope i)``; below ``falling_current`` it may rise again towards
``falling_voltage`` at no current, go out, and come back when ``reignition_voltage`` is reached.
"""

from weldsim import units
from weldsim.frozen import dataclass

# IEC 60974-1, conventional load voltage: offset [V], slope [ohm], cap [V] (MIG seen; rest from memory, 93 %).
_LOAD_LINES = {"MMA": (20.0, 0.04, 44.0), "TIG": (10.0, 0.04, 34.0), "MIG": (14.0, 0.05, 44.0)}
KINDS = ("resistor", "load line", "arc line", "shorted arc", "battery", "short", "wire")
LINE_KNEE = 1000.0  # [ohm] start of load lines: no current at no voltage (a choice of this project)
# Which fields say something for which kind; others are read, and a finding tells that they are idle.
USED = {
    "resistor": ("resistance", "inductance"),
    "load line": ("process",),
    "arc line": (
        "voltage",
        "slope",
        "knee_resistance",
        "falling_voltage",
        "falling_current",
        "reignition_voltage",
        "hold_current",
    ),
    "battery": ("voltage", "resistance"),
    "short": ("resistance",),
    "wire": (),
}
USED["shorted arc"] = (*USED["arc line"], "short_resistance", "short_duration", "short_period", "short_start")


@dataclass(frozen=True, kw_only=True)
class Load:
    """Table [load]: kind and the values that this kind needs."""

    kind: str = units.choice(KINDS, doc="what is connected")
    resistance: float | None = units.quantity(
        "resistance",
        doc="of a resistor, battery or short (a short has 1 mohm where none is given)",
        low=0.0,
        high="100 Mohm",
        default=None,
    )
    inductance: float = units.quantity(
        "inductance", doc="in series with a resistor", low=0.0, high="100 H", default=0.0
    )
    process: str = units.choice(tuple(_LOAD_LINES), doc="whose load line; MMA is stick", default="MIG")
    voltage: float | None = units.quantity(
        "voltage", doc="of an arc line at no current (14 V), or of a battery", low=0.0, high="1 kV", default=None
    )
    slope: float = units.quantity("resistance", doc="slope of an arc line", low=0.0, high="10 ohm", default=0.05)
    knee_resistance: float = units.quantity(
        "resistance", doc="of an arc line near no current", low="0.1 ohm", high="1 Mohm", default=LINE_KNEE
    )
    falling_voltage: float | None = units.quantity(
        "voltage", doc="what a dying arc asks for at no current", low=0.0, high="1 kV", default=None
    )
    falling_current: float | None = units.quantity(
        "current", doc="where the falling part ends", low="1 mA", high="1 kA", default=None
    )
    reignition_voltage: float | None = units.quantity(
        "voltage", doc="that brings a lost arc back", low=0.0, high="10 kV", default=None
    )
    hold_current: float | None = units.quantity(
        "current", doc="below which the arc goes out", low=0.0, high="1 kA", default=None
    )
    short_resistance: float = units.quantity(
        "resistance", doc="of a programmed short", low=0.0, high="10 ohm", default=2e-3
    )
    short_duration: float = units.quantity(
        "time", doc="length of a programmed short", low="1 us", high="100 s", default="3 ms"
    )
    short_period: float = units.quantity("time", doc="from short to short", low="10 us", high="1000 s", default="12 ms")
    short_start: float = units.quantity("time", doc="first programmed short", low=0.0, high="1000 s", default="0.2 s")

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other or are missing for the kind."""
        needed = {"resistor": ("resistance",), "battery": ("voltage", "resistance")}.get(self.kind, ())
        found = [(name, f'missing: kind = "{self.kind}" needs it') for name in needed if getattr(self, name) is None]
        if self.kind == "shorted arc" and self.short_duration >= self.short_period:
            found.append(("short_duration", "not shorter than short_period: the arc would never burn"))
        if (self.falling_voltage is None) != (self.falling_current is None):
            lacking = "falling_voltage" if self.falling_voltage is None else "falling_current"
            found.append((lacking, "missing: a falling part has falling_voltage and falling_current"))
        elif self.falling_voltage is not None and self.falling_current is not None:
            level = arc_voltage(self) + self.slope * self.falling_current
            if self.falling_voltage <= level:
                found.append(("falling_voltage", f"not above the line at falling_current ({level:.4g} V): no fall"))
        return found


def load_line(process: str) -> tuple[float, float, float]:
    """Conventional load voltage of a process: ``min(offset + slope i, cap)``.

    Parameters
    ----------
    process : str
        "MIG", "MMA" or "TIG" [-].

    Returns
    -------
    tuple of float
        Offset [V], slope [ohm], cap [V].

    Notes
    -----
    The line on which supplies are rated, not a prediction: real short arcs at 50 to 170 A lie 1 to 5 V below it.

    Examples
    --------
    >>> load_line("MIG")
    (14.0, 0.05, 44.0)

    References
    ----------
    IEC 60974-1, conventional load voltages.
    """
    return _LOAD_LINES[process]


def arc_voltage(load: Load) -> float:
    """Offset of the arc line of a load.

    Parameters
    ----------
    load : Load
        The table, of a kind with an arc line [-].

    Returns
    -------
    float
        Voltage; 14 V unless given [V].

    Examples
    --------
    >>> arc_voltage(Load(kind="arc line"))
    14.0
    """
    return 14.0 if load.voltage is None else load.voltage


def short_resistance(load: Load) -> float:
    """Resistance of a load of kind "short".

    Parameters
    ----------
    load : Load
        The table [-].

    Returns
    -------
    float
        Resistance; 1 mohm unless given [ohm].

    Examples
    --------
    >>> short_resistance(Load(kind="short"))
    0.001
    """
    return 1e-3 if load.resistance is None else load.resistance
