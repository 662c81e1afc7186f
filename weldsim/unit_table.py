"""The closed table of units: which units each kind of quantity takes, and how a unit may be spelt."""

import math
import re
from dataclasses import replace
from decimal import Decimal

from weldsim.frozen import dataclass

_PREFIXES = {"p": "1e-12", "n": "1e-9", "u": "1e-6", "m": "1e-3", "": "1", "k": "1e3", "M": "1e6"}


@dataclass(frozen=True)
class Kind:
    """One kind of quantity: how it is called, its units with their factors to SI, and those it is printed in."""

    spoken: str
    factors: dict[str, Decimal]
    shown: tuple[str, ...]  # from the largest to the smallest
    gauged: bool = False  # whether a wire gauge is understood too, as "4 AWG"
    marks: str = ""  # letters of the parts' marking code that are understood too, as in "4k7"

    @property
    def takes(self) -> str:
        """The units of a kind for a message: "a voltage takes V, mV, kV"."""
        also = ", or a gauge: 4 AWG" if self.gauged else f", or a marking: 4{self.marks[1]}7" if self.marks else ""
        return f"{article(self.spoken)} takes {', '.join(self.factors)}{also}"

    @property
    def base(self) -> str:
        """The unit whose factor is one, that is the unit of the plain float; "1" for fractions."""
        return next((unit for unit, factor in self.factors.items() if factor == 1), "1")


def _prefixed(spoken: str, stem: str, prefixes: str, **others: str) -> Kind:
    """A kind whose units are one stem with the prefixes that make sense ("1" stands for none), then other units."""
    names = ["" if prefix == "1" else prefix for prefix in prefixes.split()]
    factors = {name + stem: Decimal(_PREFIXES[name]) for name in names}
    shown = sorted(factors, key=lambda unit: factors[unit], reverse=True)
    return Kind(spoken, factors | {unit: Decimal(factor) for unit, factor in others.items()}, tuple(shown))


def _listed(spoken: str, shown: str, **factors: str) -> Kind:
    """A kind whose units are written out one by one; ``shown`` are those used for printing, largest first."""
    return Kind(spoken, {unit: Decimal(factor) for unit, factor in factors.items()}, tuple(shown.split()))


_PER_SIXTY = str(Decimal(1) / 60)
KINDS: dict[str, Kind] = {
    "voltage": _prefixed("voltage", "V", "1 m k u"),
    "current": _prefixed("current", "A", "1 m k u"),
    "resistance": replace(_prefixed("resistance", "ohm", "1 m k M u"), marks="RkKM"),
    "inductance": _prefixed("inductance", "H", "1 m u n"),
    "capacitance": replace(_prefixed("capacitance", "F", "1 m u n p"), marks="pnu"),
    "charge": _prefixed("charge", "C", "1 m u"),
    "flux_linkage": _prefixed("flux linkage", "V.s", "1 m u n", Wb="1", mWb="1e-3"),
    "flux_density": _prefixed("flux density", "T", "1 m u"),
    "field": _prefixed("magnetic field", "A/m", "1 k", **{"A/cm": "100"}),
    "time": _listed("time", "s ms us ns", s="1", ms="1e-3", us="1e-6", ns="1e-9", min="60", h="3600"),
    "frequency": _prefixed("frequency", "Hz", "1 k"),
    "length": _listed(
        "length", "m mm", m="1", cm="1e-2", mm="1e-3", um="1e-6", km="1e3", ft="0.3048", **{"in": "0.0254"}
    ),
    "area": replace(_listed("cross section", "cm2 mm2", mm2="1e-6", cm2="1e-4", m2="1", in2="6.4516e-4"), gauged=True),
    "mass": _listed("mass", "kg g", kg="1", g="1e-3", lb="0.45359237"),
    "temperature": _listed("temperature", "degC", degC="1", C="1"),
    "angle": _listed("angle", "deg", deg="1", rad=repr(math.degrees(1.0))),
    "fraction": _listed("fraction", "%", **{"%": "1e-2"}),
    "power": _prefixed("power", "W", "1 k m"),
    "apparent_power": _prefixed("apparent power", "VA", "1 k"),
    "energy": _prefixed("energy", "J", "1 k m"),
    "voltage_rate": _listed("rate of voltage", "V/us V/ms V/s", **{"V/us": "1e6", "V/ms": "1e3", "V/s": "1"}),
    "current_rate": _listed("rate of current", "A/us A/ms A/s", **{"A/us": "1e6", "A/ms": "1e3", "A/s": "1"}),
    "i2t": _listed("I2t value", "A2.s", **{"A2.s": "1", "kA2.s": "1e6"}),
    "speed": _listed(
        "speed",
        "m/min m/s",
        **{"m/min": _PER_SIXTY, "m/s": "1", "mm/s": "1e-3", "cm/s": "1e-2", "cm/min": str(Decimal(1) / 6000)},
        **{"in/min": str(Decimal("0.0254") / 60)},
    ),
    "loss_per_mass": _listed("loss per mass", "W/kg", **{"W/kg": "1", "mW/kg": "1e-3", "kW/kg": "1e3"}),
    "inductance_per_length": _listed("inductance per length", "uH/m", **{"uH/m": "1e-6", "H/m": "1", "mH/m": "1e-3"}),
    "resistance_per_length": _listed(
        "resistance per length", "mohm/m", **{"mohm/m": "1e-3", "ohm/m": "1", "ohm/km": "1e-3"}
    ),
    "resistivity": _listed("resistivity", "uohm.m", **{"uohm.m": "1e-6", "ohm.m": "1"}),
    "voltage_gradient": _listed("voltage gradient", "V/mm", **{"V/mm": "1e3", "V/m": "1", "V/cm": "1e2"}),
    "melting_per_current": _listed("melting speed per current", "mm/(A.s)", **{"mm/(A.s)": "1e-3", "m/(A.s)": "1"}),
    "melting_per_heat": _listed(
        "melting speed per extension and current squared", "um/(mm.A2.s)", **{"um/(mm.A2.s)": "1e-3", "1/(A2.s)": "1"}
    ),
    "action": _listed("action integral", "A2.s/mm4", **{"A2.s/mm4": "1e12", "A2.s/m4": "1"}),
    "thermal_resistance": _listed("thermal resistance", "K/W", **{"K/W": "1"}),
    "heat_capacity": _prefixed("heat capacity", "J/K", "1 k"),
    "heat_per_kelvin": _prefixed("dissipation per kelvin", "W/K", "1 m"),
    "torque": _prefixed("torque", "N.m", "1 m"),
    "force": _prefixed("force", "N", "1 k"),
    "inertia": _listed("moment of inertia", "kg.m2 g.cm2", **{"kg.m2": "1", "g.cm2": "1e-7", "kg.cm2": "1e-4"}),
    "rotation": _listed(
        "speed of rotation",
        "rev/min rad/s",
        **{"rev/min": repr(math.pi / 30.0), "rad/s": "1", "rpm": repr(math.pi / 30.0)},
    ),
    "temperature_step": _listed("temperature difference", "K", K="1"),
}
_SPELLINGS = (
    ("\N{MICRO SIGN}", "u"),
    ("\N{GREEK SMALL LETTER MU}", "u"),
    ("\N{OHM SIGN}", "ohm"),
    ("\N{GREEK CAPITAL LETTER OMEGA}", "ohm"),
    ("Ohms", "ohm"),
    ("Ohm", "ohm"),
    ("ohms", "ohm"),
    ("\N{SUPERSCRIPT TWO}", "2"),
    ("^", ""),
    ("\N{MIDDLE DOT}", "."),
    ("\N{DOT OPERATOR}", "."),
    ("*", "."),
    ("\N{DEGREE CELSIUS}", "degC"),
    ("\N{DEGREE SIGN}", "deg"),
    ("percent", "%"),
    ("degrees", "deg"),
)
_ALIASES = {
    "Vs": "V.s",
    "mVs": "mV.s",
    "uVs": "uV.s",
    "A2s": "A2.s",
    "kA2s": "kA2.s",
    "degree": "deg",
    "sec": "s",
    "volt": "V",
    "volts": "V",
    "amp": "A",
    "amps": "A",
    "inch": "in",
    "inches": "in",
    "foot": "ft",
    "feet": "ft",
    "ipm": "in/min",
    "sq.in": "in2",
    "sq.mm": "mm2",
    "uohmm": "uohm.m",
    "ohmm": "ohm.m",
}


def article(words: str) -> str:
    """The words with "a" or "an" in front."""
    return f"{'an' if words[:1].lower() in 'aeiou' else 'a'} {words}"


def wire_gauge(text: str) -> float | None:
    """Section [m2] of a solid wire given as "4 AWG" or "2/0 AWG"; None where that is not what the text says.

    The diameter is 0.127 mm * 92^((36 - n) / 39), where n is 0 to -3 for 1/0 to 4/0 (ASTM B 258, from memory).

    >>> round(1e6 * wire_gauge("8 AWG"), 4), wire_gauge("8 mm2")
    (8.3656, None)
    """
    match = re.fullmatch(r"\s*#?\s*(?:(0{1,4})|([1-4])\s*/\s*0|(\d{1,2}))\s*awg\s*", text, re.IGNORECASE | re.ASCII)
    if not match:
        return None
    zeros, times, plain = match.groups()
    number = int(plain) if plain else 1 - (len(zeros) if zeros else int(times))
    diameter = 0.127e-3 * 92.0 ** ((36 - number) / 39.0)
    return math.pi * diameter**2 / 4.0


def marked(text: str, kind: Kind) -> float | None:
    """Value of a text in the marking code of parts, whose letter stands for the decimal point (IEC 60062).

    A length is no capacitance: "44m" and "1 k", with a space, are not of it.

    >>> marked("4k7", KINDS["resistance"]), marked("0R18", KINDS["resistance"]), marked("100n", KINDS["capacitance"])
    (4700.0, 0.18, 1e-07)
    """
    match = re.fullmatch(r"\s*(\d*)(?:\.(\d+))?([A-Za-z])(\d*)\s*", plain_unit(text), re.ASCII)
    if not match or match[3] not in kind.marks or not (match[1] or match[4]) or (match[2] and match[4]):
        return None
    factor = _PREFIXES[match[3].replace("R", "").replace("K", "k")]
    return float(Decimal(f"{match[1] or 0}.{match[2] or match[4] or 0}") * Decimal(factor))


def plain_unit(text: str) -> str:
    """One spelling for each unit: micro signs, ohm signs, powers and products as plain letters."""
    for written, plain in _SPELLINGS:
        text = text.replace(written, plain)
    text = re.sub(r"\s*([./])\s*", r"\1", text.strip())
    text = re.sub(r"\s+", ".", text)
    return _ALIASES.get(text, text)


# What people call a choice -> its name here.
OTHER_WORDS = {
    "thermistor": "ntc",
    "stick": "MMA",
    "mag": "MIG",
    "flux cored": "self-shielded",
    "flux-cored": "self-shielded",
    "cored": "self-shielded",
    "solid": "solid steel",
    "scr": "thyristor pair",
    "scrs": "thyristor pair",
}
