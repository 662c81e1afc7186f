"""Supplies drawn at random: parts left out, extreme values, both boosts, all loads, faults, both devices, start states.

One description serves two kinds of dice: plain ones thrown from a seed, for campaigns, and hypothesis' own, for tests
that shrink what they find.  Values are SI, as ``vary`` takes them.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from hypothesis import strategies as st

from weldsim.errors import ScenarioError
from weldsim.parts.iron import Core, magnetising_branch
from weldsim.scenario.document import TABLES, Scenario
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary
from weldsim.units import Quantity, rule_of

EXTREME = 0.1  # chance of a value from anywhere within the range that a key allows
SHORTEST = 1e-9  # [H] a millimetre of wire; less dies away within one quantum of time
IMPEDANCES = tuple(
    f"{side}_{what}" for side in ("primary", "secondary") for what in ("resistance", "leakage_inductance")
)
MAINS_ALONE = '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n'


class Dice(Protocol):
    """Where chance comes from."""

    def flag(self, chance: float) -> bool:
        """True with this chance."""

    def pick(self, options: Any) -> Any:
        """One of several."""

    def between(self, low: float, high: float) -> float:
        """A number between two bounds."""


class SeededDice:
    """Dice thrown from a seed."""

    def __init__(self, seed: int) -> None:
        self.source = random.Random(seed)

    def flag(self, chance: float) -> bool:
        """True with this chance."""
        return self.source.random() < chance

    def pick(self, options: Any) -> Any:
        """One of several."""
        return self.source.choice(options)

    def between(self, low: float, high: float) -> float:
        """A number between two bounds."""
        return self.source.uniform(low, high)


class DrawnDice:
    """Dice of hypothesis: the plainest throw comes first, so that what fails shrinks towards it."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw

    def flag(self, chance: float) -> bool:
        """True with about this chance."""
        return self.draw(st.integers(0, 99)) >= 100 - round(100 * chance)

    def pick(self, options: Any) -> Any:
        """One of several."""
        return self.draw(st.sampled_from(list(options)))

    def between(self, low: float, high: float) -> float:
        """A number between two bounds."""
        return self.draw(st.floats(low, high))


@dataclass(frozen=True)
class Drawn:
    """A supply as tables, and the run asked of it: delay [deg] and length [mains periods]."""

    tables: dict[str, dict[str, Any]]
    delay: float | None
    periods: int

    def scenario(self) -> Scenario:
        """The scenario, judged by the same rules as a file."""
        return vary(read_text(MAINS_ALONE), {"mains": self.tables["mains"]} | self.tables)


@st.composite
def drawn_supplies(draw: Any) -> Drawn:
    """Supplies for hypothesis."""
    return throw(DrawnDice(draw))


def seeded_supply(seed: int) -> Drawn:
    """The supply of a seed."""
    return throw(SeededDice(seed))


def throw(dice: Dice) -> Drawn:
    """Draw a supply part by part, from the wall to the work; tables fit each other."""
    thrower = _Thrower(dice)
    isolated, direct, controlled = dice.flag(0.85), dice.flag(0.85), dice.flag(0.85)
    tables: dict[str, dict[str, Any]] = {"mains": thrower.mains()}

    def add(name: str, there: bool, draw: Callable[[], dict[str, Any]]) -> None:
        if there:
            tables[name] = draw()

    add("supply_lead", dice.flag(0.25), thrower.supply_lead)
    add("phase_control", controlled, thrower.phase_control)
    add("transformer", isolated, thrower.transformer)
    add("core", isolated and dice.flag(0.75), lambda: thrower.core(tables["transformer"], tables["mains"]))
    add("rectifier", direct, lambda: thrower.rectifier(centre_tap=isolated))
    add("bank", direct and dice.flag(0.7), thrower.bank)
    add("choke", dice.flag(0.7), thrower.choke)
    carrier = isolated or "choke" in tables
    add("boost", direct and carrier and dice.flag(0.45), lambda: thrower.boost(tables))
    add("weld_leads", dice.flag(0.6), thrower.weld_leads)
    add("load", dice.flag(0.9), lambda: thrower.load(tables))
    tables["start"] = thrower.start(tables)
    delay = dice.between(0.0, 180.0) if controlled else None
    periods = dice.pick((2, 3, 4, 5))
    add("varistor", dice.flag(0.15), thrower.varistor)  # last, so that seeds keep what they drew before it
    if isolated and dice.flag(0.15):
        tables["second_transformer"] = thrower.second_transformer(tables)
        if "core" in tables and dice.flag(0.5):
            tables["second_core"] = thrower.second_core(tables["core"])
        if "core" in tables and dice.flag(0.3):
            tables["start"]["second_flux_linkage"] = thrower.flux(tables["mains"])
    return Drawn({name: table for name, table in tables.items() if table}, delay, periods)


def _has_eddy_loss(core: Core, primary_turns: int) -> bool:
    """Whether a core has a loss resistance, which tells how it shares the mains with another one in series."""
    try:
        return magnetising_branch(core, primary_turns).loss_resistance is not None
    except ScenarioError:
        return False


class _Thrower:
    """Draws tables; a value is usual most of the time, and anything that its key allows some of the time."""

    def __init__(self, dice: Dice) -> None:
        self.dice = dice

    def value(self, key: str, low: float, high: float) -> float:
        """A value of a key: log-uniform between usual bounds, or from its whole range, zero included."""
        table, name = key.split(".")
        rule = rule_of(TABLES[table].__dataclass_fields__[name])
        assert isinstance(rule, Quantity)
        if self.dice.flag(EXTREME):
            least = rule.low if rule.low is not None else 0.0
            most = rule.high if rule.high is not None else 1e6
            if least <= 0.0:
                if self.dice.flag(0.3):
                    return 0.0
                least = max(1e-6 * min(low, most), SHORTEST if rule.kind == "inductance" else 0.0)
            low, high = least, most
        return self.rounded(math.exp(self.dice.between(math.log(low), math.log(high))))

    @staticmethod
    def rounded(value: float) -> float:
        """Four digits, as people write them."""
        return float(f"{value:.4g}")

    def angle(self, low: float, high: float) -> float:
        """An angle [deg], at its bounds some of the time."""
        if self.dice.flag(EXTREME):
            return self.dice.pick((low, high))
        return self.rounded(self.dice.between(low, high))

    def mains(self) -> dict[str, Any]:
        """Voltage, frequency, impedance, other people's harmonics, direct voltage."""
        dice = self.dice
        table: dict[str, Any] = {
            "voltage": dice.pick((230.0, 120.0, 400.0)) if dice.flag(0.8) else self.value("mains.voltage", 20.0, 500.0),
            "frequency": dice.pick((50.0, 60.0)) if dice.flag(0.9) else self.rounded(dice.between(16.0, 400.0)),
        }
        if dice.flag(0.85):
            table["resistance"] = self.value("mains.resistance", 0.05, 1.0)
        if dice.flag(0.8):
            table["inductance"] = self.value("mains.inductance", 5e-5, 2e-3)
        if dice.flag(0.15):
            table["background"] = dice.pick(("measured evening", "flat top", "at the limits"))
        elif dice.flag(0.1):
            orders = sorted({dice.pick(range(2, 14)) for _ in range(2)})
            table["background"] = [
                {"order": n, "fraction": self.rounded(dice.between(0.001, 0.1)), "phase": self.angle(-180.0, 180.0)}
                for n in orders
            ]
        if dice.flag(0.15):
            table["dc_offset"] = self.rounded(dice.between(-5.0, 5.0))
        return table

    def supply_lead(self) -> dict[str, Any]:
        """A lead by its resistance, or by its length and section."""
        if self.dice.flag(0.5):
            return {
                "length": self.value("supply_lead.length", 1.0, 50.0),
                "section": self.value("supply_lead.section", 1e-6, 6e-6),
                "coiled": self.dice.flag(0.3),
            }
        return {
            "resistance": self.value("supply_lead.resistance", 0.01, 1.0),
            "inductance": self.value("supply_lead.inductance", 1e-6, 1e-4),
        }

    def phase_control(self) -> dict[str, Any]:
        """Either device, all pulse kinds, snubber, RC dial, asymmetry, false firing."""
        dice = self.dice
        table: dict[str, Any] = {
            "device": dice.pick(("triac", "thyristor pair")),
            "pulse_kind": dice.pick(("single", "train", "held")),
            "threshold": self.value("phase_control.threshold", 0.5, 2.0),
            "slope": self.value("phase_control.slope", 1e-3, 0.05),
        }
        if table["pulse_kind"] == "train":
            table["pulse_width"] = self.value("phase_control.pulse_width", 1e-5, 1e-4)
            table["pulse_spacing"] = max(table["pulse_width"], self.value("phase_control.pulse_spacing", 1e-4, 1e-3))
            table["pulse_width"] = min(table["pulse_width"], 1e-3)
            table["pulse_spacing"] = min(max(table["pulse_spacing"], 2e-5), 1e-2)
            table["pulse_width"] = min(table["pulse_width"], table["pulse_spacing"])
        else:
            table["pulse_width"] = self.value("phase_control.pulse_width", 2e-5, 4e-3)
        if dice.flag(0.7):
            latching = self.value("phase_control.latching_current", 0.01, 0.3)
            table |= {"latching_current": latching, "holding_current": self.rounded(latching * dice.between(0.0, 1.0))}
        if dice.flag(0.3):
            table["off_resistance"] = self.value("phase_control.off_resistance", 1e4, 1e7)
        if dice.flag(0.6):
            table["snubber_resistance"] = self.value("phase_control.snubber_resistance", 20.0, 500.0)
            table["snubber_capacitance"] = self.value("phase_control.snubber_capacitance", 1e-8, 5e-7)
        if dice.flag(0.25):
            table["asymmetry"] = self.rounded(dice.between(-8.0, 8.0))
        if dice.flag(0.12):
            table |= {"false_firing": True, "critical_dvdt": self.value("phase_control.critical_dvdt", 1e5, 1e8)}
        if dice.flag(0.12):
            table |= self._diac_dial()
        return table

    def _diac_dial(self) -> dict[str, Any]:
        return {
            "dial_kind": "rc-diac",
            "dial": self.rounded(self.dice.between(0.0, 1.0)),
            "timing_resistance_at_0": self.value("phase_control.timing_resistance_at_0", 1e5, 6e5),
            "timing_resistance_at_100": self.value("phase_control.timing_resistance_at_100", 2e3, 3e4),
            "timing_capacitance": self.value("phase_control.timing_capacitance", 3e-8, 3e-7),
            "diac_asymmetry": self.rounded(self.dice.between(-2.0, 2.0)),
            "diac_breakback": self.rounded(self.dice.between(0.0, 15.0)),
        }

    def varistor(self) -> dict[str, Any]:
        """A disc, whose clamp voltage may lie below the crest of the mains."""
        return {
            "clamp_voltage": self.value("varistor.clamp_voltage", 100.0, 800.0),
            "slope": self.value("varistor.slope", 0.5, 20.0),
            "leakage_resistance": self.value("varistor.leakage_resistance", 1e5, 1e8),
        }

    def transformer(self) -> dict[str, Any]:
        """Ratio or turns, resistances and leakages, zero too."""
        dice = self.dice
        secondary = dice.pick(range(8, 60)) if dice.flag(0.9) else dice.pick((1, 2, 500))
        primary = dice.pick(range(60, 400))
        table: dict[str, Any] = {"primary_turns": primary, "secondary_turns": secondary}
        if dice.flag(0.3):
            table = {"ratio": self.rounded(primary / secondary), "primary_turns": primary}
        if dice.flag(0.9):
            table["primary_resistance"] = self.value("transformer.primary_resistance", 0.05, 2.0)
            table["secondary_resistance"] = self.value("transformer.secondary_resistance", 1e-3, 0.05)
        if dice.flag(0.85):
            table["primary_leakage_inductance"] = self.value("transformer.primary_leakage_inductance", 5e-5, 5e-3)
            table["secondary_leakage_inductance"] = self.value("transformer.secondary_leakage_inductance", 1e-6, 1e-4)
        return table

    def core(self, transformer: dict[str, Any], mains: dict[str, Any]) -> dict[str, Any]:
        """A core by its inductances, about as large as the mains asks, or by its iron with hysteresis."""
        dice = self.dice
        flux = math.sqrt(2.0) * max(mains["voltage"], 1.0) / (2.0 * math.pi * mains["frequency"])
        if dice.flag(0.55):
            table: dict[str, Any] = {"magnetising_inductance": self.value("core.magnetising_inductance", 0.3, 10.0)}
            if dice.flag(0.85):
                table["saturation_flux_linkage"] = self.rounded(flux * dice.between(0.5, 2.0))
                highest = min(0.5 * table["magnetising_inductance"], 0.1)
                table["saturated_inductance"] = self.rounded(highest * 10.0 ** -dice.between(0.0, 2.0))
            if dice.flag(0.7):
                table["loss_resistance"] = self.value("core.loss_resistance", 300.0, 5e3)
            return table
        turns = transformer["primary_turns"]
        table = {
            "section": self.rounded(flux / turns / dice.between(1.0, 2.0)),
            "path_length": self.value("core.path_length", 0.2, 1.5),
            "steel": dice.pick(("grain-oriented", "non-oriented", "unknown")),
        }
        if dice.flag(0.6):
            table["mass"] = self.value("core.mass", 3.0, 40.0)
        if dice.flag(0.2):
            table["gap"] = self.value("core.gap", 1e-5, 1e-3)
        if dice.flag(0.2):
            table["coercive_field"] = self.value("core.coercive_field", 3.0, 100.0)
        return table

    def second_transformer(self, tables: dict[str, dict[str, Any]]) -> dict[str, Any]:
        """Joined in any way that its neighbours allow, a little unlike the first, or much; the wrong way round too."""
        dice, first = self.dice, tables["transformer"]
        lossy = "core" in tables and _has_eddy_loss(Core(**tables["core"]), first["primary_turns"])
        tapped = tables.get("rectifier", {}).get("kind") == "centre-tap"
        table: dict[str, Any] = {"secondaries": "series" if tapped else dice.pick(("series", "parallel"))}
        if not tapped and tables.get("boost", {}).get("kind") != "winding" and dice.flag(0.4):
            table["primaries"] = "series"
            if not lossy:
                table["secondaries"] = "parallel"
        if dice.flag(0.15):
            table["reversed"] = True
        if dice.flag(0.6):
            turns = round(
                first["primary_turns"] / (first.get("ratio") or first["primary_turns"] / first["secondary_turns"])
            )
            table["secondary_turns"] = max(turns + dice.pick((-2, -1, 1, 2)), 1)
        for name in ("primary_resistance", "secondary_resistance", "secondary_leakage_inductance"):
            if name in first and first[name] > 0.0 and dice.flag(0.5):
                table[name] = self.rounded(first[name] * dice.between(0.7, 1.4))
        if "primaries" not in table and table["secondaries"] == "parallel" and not any(map(first.get, IMPEDANCES)):
            table["secondary_resistance"] = self.value("transformer.secondary_resistance", 1e-3, 0.05) or 1e-3
        return table

    def second_core(self, core: dict[str, Any]) -> dict[str, Any]:
        """A little more or less of whatever the first core is told by."""
        name = "section" if "section" in core else "magnetising_inductance"
        return {name: self.rounded(core[name] * self.dice.between(0.8, 1.25))}

    def rectifier(self, *, centre_tap: bool) -> dict[str, Any]:
        """Bridge or centre-tap, whole or broken."""
        dice = self.dice
        table: dict[str, Any] = {"kind": "centre-tap" if centre_tap and dice.flag(0.3) else "bridge"}
        if dice.flag(0.5):
            table["threshold"] = self.value("rectifier.threshold", 0.3, 1.2)
            table["slope"] = self.value("rectifier.slope", 2e-4, 1e-2)
        if dice.flag(0.3):
            table["leakage_resistance"] = self.value("rectifier.leakage_resistance", 1e3, 1e6)
        if dice.flag(0.12):
            table["fault"] = dice.pick(("one diode shorted", "one diode open"))
        return table

    def bank(self) -> dict[str, Any]:
        """Capacitance, its series resistance, a bleed resistor or none."""
        table = {"capacitance": self.value("bank.capacitance", 1e-3, 0.2)}
        if self.dice.flag(0.85):
            table["resistance"] = self.value("bank.resistance", 1e-3, 0.05)
        if self.dice.flag(0.6):
            table["bleed_resistance"] = self.value("bank.bleed_resistance", 30.0, 2e3)
        return table

    def choke(self) -> dict[str, Any]:
        """Straight or saturating, with turns now and then."""
        dice = self.dice
        table: dict[str, Any] = {"inductance": self.value("choke.inductance", 2e-5, 5e-3)}
        if dice.flag(0.85):
            table["resistance"] = self.value("choke.resistance", 1e-3, 0.05)
        if dice.flag(0.35):
            table["saturation_current"] = self.value("choke.saturation_current", 20.0, 400.0)
            if dice.flag(0.5):
                share = 10.0 ** -dice.between(0.4, 2.0)
                table["saturated_inductance"] = self.rounded(max(share * table["inductance"], 1e-9))
        if dice.flag(0.2):
            table["turns"] = dice.pick(range(8, 60))
        return table

    def boost(self, tables: dict[str, dict[str, Any]]) -> dict[str, Any]:
        """Either kind, with or without blocking diode and ballast."""
        dice, choke = self.dice, tables.get("choke")
        kinds = (["winding"] if "transformer" in tables else []) + (["choke"] if choke else [])
        table: dict[str, Any] = {"kind": dice.pick(kinds)}
        on_choke = table["kind"] == "choke"
        if not on_choke:
            table |= self._boost_winding(tables)
            on_choke = table.get("ballast_on_choke", False)
        if on_choke:
            assert choke is not None
            if "turns" in choke and dice.flag(0.5):
                table["choke_turns"] = dice.pick(range(4, 120))
            else:
                table["choke_ratio"] = self.rounded(10.0 ** dice.between(-0.5, 1.0))
        if dice.flag(0.7):
            table["resistance"] = self.value("boost.resistance", 0.01, 1.0)
        if dice.flag(0.7):
            table.setdefault("leakage_inductance", self.value("boost.leakage_inductance", 1e-6, 2e-4))
        if dice.flag(0.7):
            table["ballast_resistance"] = self.value("boost.ballast_resistance", 0.5, 100.0)
        if dice.flag(0.2) and not table.get("ballast_on_choke"):
            table["ballast_inductance"] = self.value("boost.ballast_inductance", 1e-4, 1e-2)
        table["blocking_diode"] = dice.flag(0.5)
        return table

    def _boost_winding(self, tables: dict[str, dict[str, Any]]) -> dict[str, Any]:
        """Voltage or turns, where it leads to, leakage of its own and shared."""
        dice = self.dice
        table: dict[str, Any] = {"voltage": self.value("boost.voltage", 20.0, 90.0)}
        table["feeds"] = "bank" if "bank" in tables and dice.flag(0.25) else "output"
        if dice.flag(0.2) and "ratio" not in tables["transformer"]:
            table["turns"] = dice.pick(range(10, 80))
            del table["voltage"]
        if dice.flag(0.2):
            own = self.value("boost.leakage_inductance", 1e-5, 2e-4)
            main = tables["transformer"].get("secondary_leakage_inductance", 0.0)
            table["leakage_inductance"] = own
            shared = self.rounded(dice.between(0.0, 0.65) * math.sqrt(own * main))
            if shared > 0.0:
                table["shared_leakage_inductance"] = min(shared, 1.0)
        if "choke" in tables and dice.flag(0.2):
            table["ballast_on_choke"] = True
        return table

    def weld_leads(self) -> dict[str, Any]:
        """Leads by resistance and inductance, or by length and section."""
        if self.dice.flag(0.4):
            return {
                "length": self.value("weld_leads.length", 2.0, 30.0),
                "section": self.value("weld_leads.section", 1e-5, 7e-5),
                "contact_resistance": self.value("weld_leads.contact_resistance", 1e-4, 1e-2),
            }
        return {
            "resistance": self.value("weld_leads.resistance", 1e-3, 0.05),
            "inductance": self.value("weld_leads.inductance", 2e-6, 1e-4),
        }

    def load(self, tables: dict[str, dict[str, Any]]) -> dict[str, Any]:
        """Every kind of load but the wire, which needs a process to burn."""
        dice = self.dice
        kind = dice.pick(("arc line", "resistor", "load line", "shorted arc", "battery", "short"))
        table: dict[str, Any] = {"kind": kind}
        if kind == "resistor":
            table["resistance"] = self.value("load.resistance", 0.03, 20.0)
            if dice.flag(0.4):
                table["inductance"] = self.value("load.inductance", 1e-6, 1e-2)
        elif kind == "load line":
            table["process"] = dice.pick(("MMA", "TIG", "MIG"))
        elif kind == "battery":
            table["voltage"] = self.value("load.voltage", 6.0, 60.0)
            table["resistance"] = self.value("load.resistance", 5e-3, 0.2)
        elif kind == "short":
            if dice.flag(0.5):
                table["resistance"] = self.value("load.resistance", 1e-4, 1e-2)
        else:
            table |= self._arc(kind, fall=dice.flag(0.3) and "weld_leads" in tables)
        return table

    def _arc(self, kind: str, *, fall: bool) -> dict[str, Any]:
        dice = self.dice
        table: dict[str, Any] = {}
        if dice.flag(0.5):
            table |= {"voltage": self.rounded(dice.between(10.0, 25.0)), "slope": self.value("load.slope", 0.01, 0.1)}
        if dice.flag(0.3):
            table["knee_resistance"] = self.value("load.knee_resistance", 20.0, 1e4)
        if fall:
            current = self.rounded(dice.between(2.0, 30.0))
            level = table.get("voltage", 14.0) + table.get("slope", 0.05) * current
            table |= {
                "falling_current": current,
                "falling_voltage": self.rounded(min(level * dice.between(1.1, 2.5), 1e3)),
            }
            if dice.flag(0.5):
                table["reignition_voltage"] = self.rounded(table["falling_voltage"] * dice.between(1.0, 2.0))
        if kind == "shorted arc":
            period = self.rounded(dice.between(4e-3, 2e-2))
            table |= {
                "short_period": period,
                "short_duration": self.rounded(period * dice.between(0.05, 0.6)),
                "short_start": self.rounded(dice.between(0.0, 0.03)),
            }
            if dice.flag(0.5):
                table["short_resistance"] = self.value("load.short_resistance", 1e-4, 0.02)
        return table

    def start(self, tables: dict[str, dict[str, Any]]) -> dict[str, Any]:
        """A magnetised core, a charged bank, any phase of the mains."""
        dice, mains, table = self.dice, tables["mains"], {}
        if "core" in tables and dice.flag(0.4):
            table["flux_linkage"] = self.flux(mains)
        if "bank" in tables and dice.flag(0.3):
            table["bank_voltage"] = self.rounded(dice.between(0.0, 60.0))
        if dice.flag(0.4):
            table["mains_phase"] = self.angle(-180.0, 360.0)
        return table

    def flux(self, mains: dict[str, Any]) -> float:
        """Flux linkage of a core, up to half as much again as the mains swing it to."""
        crest = math.sqrt(2.0) * max(mains["voltage"], 1.0) / (2.0 * math.pi * mains["frequency"])
        return self.rounded(crest * self.dice.between(-1.5, 1.5))
