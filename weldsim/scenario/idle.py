"""Values that were written down but say nothing beside others: another way to give the same part counts before them.

What a study leaves out is not looked at here: a value is idle when no run of the supply depends on it.
"""

from collections.abc import Callable, Iterator

from weldsim.frozen import dataclass
from weldsim.parts.iron import Core, is_iron
from weldsim.parts.load import USED as USED_BY_LOAD
from weldsim.parts.soft_start import USED as USED_BY_SOFT_START
from weldsim.scenario.document import Scenario, given_fields
from weldsim.scenario.pair import transformers

OF_THE_KIND = "its kind"


@dataclass(frozen=True)
class Idle:
    """A key without effect, and what counts in its place or would have to be there."""

    key: str
    beside: str

    @property
    def told(self) -> str:
        """One sentence of it."""
        return f"{self.key}: given, but without effect beside {self.beside}."


Found = Iterator[Idle]


def idle_values(scenario: Scenario, *, kinds: bool = True) -> list[Idle]:
    """Every idle value; with ``kinds`` false those left over from another kind of load or soft start do not count."""
    found = [idle for question in _QUESTIONS for idle in question(scenario)]
    return found if kinds else [idle for idle in found if idle.beside != OF_THE_KIND]


def _among(table: str, part: object, names: tuple[str, ...], beside: str) -> Found:
    """Those of the names that the table gives."""
    given = given_fields(part)
    yield from (Idle(f"{table}.{name}", beside) for name in names if name in given)


def _cables(scenario: Scenario) -> Found:
    for table in ("supply_lead", "weld_leads"):
        cable = getattr(scenario, table)
        if cable is not None and cable.resistance is not None:
            yield from _among(table, cable, ("section", "conductor", "temperature"), f"{table}.resistance")


def _transformer(scenario: Scenario) -> Found:
    for one, given in zip(transformers(scenario), (scenario.transformer, scenario.second_transformer), strict=False):
        table, transformer = f"{one.prefix}transformer", one.transformer
        for side in ("primary", "secondary"):
            resistance = f"{side}_resistance"
            if getattr(transformer, resistance) is not None:
                names = (f"{side}_wire_section", f"{side}_turn_length")
                yield from _among(table, given, names, f"{table}.{resistance}")
        if transformer.primary_leakage_inductance is not None or transformer.secondary_leakage_inductance is not None:
            yield from _among(table, given, ("layout",), "the leakage inductance")


def _cores(scenario: Scenario) -> Found:
    for one, given in zip(transformers(scenario), (scenario.core, scenario.second_core), strict=False):
        if one.core is not None and given is not None:
            yield from _core(f"{one.prefix}core", one.core, given)


def _core(table: str, core: Core, given: Core) -> Found:
    if is_iron(core):
        curve = f"{table}.magnetising_curve" if core.magnetising_curve is not None else f"{table}.steel"
        yield from _among(table, given, ("saturation_flux_linkage",), curve)
    elif core.magnetising_curve is not None and core.magnetising_inductance is None:
        names = ("saturation_flux_linkage", "steel", "gap", "remanence")
        yield from _among(table, given, names, f"a {table}.magnetising_curve of the winding")
    elif core.magnetising_inductance is not None:
        names = ("steel", "magnetising_curve", "gap", "remanence")
        yield from _among(table, given, names, f"{table}.magnetising_inductance")
        if core.saturation_flux_linkage is None:
            yield from _among(table, given, ("saturated_inductance",), "a core without saturation_flux_linkage")
    if core.hysteresis is not None:
        yield from _among(table, given, ("coercive_field",), f"{table}.hysteresis")
    if core.loss_resistance is not None:
        yield from _among(table, given, ("loss_per_mass", "eddy_share", "mass"), f"{table}.loss_resistance")


def _choke(scenario: Scenario) -> Found:
    choke = scenario.choke
    if choke is None:
        return
    electrical = ("inductance", "saturation_current", "saturated_inductance")
    if choke.inductance_curve is not None:
        yield from _among("choke", choke, (*electrical, "gap"), "choke.inductance_curve")
    elif choke.turns is not None and choke.section is not None or choke.inductance is None:
        yield from _among("choke", choke, electrical, "choke.turns, section, path_length and gap")
    else:
        yield from _among("choke", choke, ("gap",), "choke.inductance")
        if choke.saturation_current is None:
            yield from _among("choke", choke, ("saturated_inductance",), "a choke without saturation_current")


def _phase_control(scenario: Scenario) -> Found:
    control = scenario.phase_control
    if control is None:
        return
    of_a_dial = {
        "linear": ("delay_at_0", "delay_at_100"),
        "timed": ("delay_time_at_0", "delay_time_at_100"),
        "rc-diac": (
            "diac_voltage",
            "diac_asymmetry",
            "diac_breakback",
            "timing_capacitance",
            "timing_resistance_at_0",
            "timing_resistance_at_100",
        ),
    }
    kind = f'phase_control.dial_kind = "{control.dial_kind}"'
    for other, names in of_a_dial.items():
        if other != control.dial_kind:
            yield from _among("phase_control", control, names, kind)
    if control.dial_kind == "rc-diac":
        yield from _among("phase_control", control, ("pulse_kind", "pulse_spacing", "train_end", "asymmetry"), kind)
        return
    pulses = f'phase_control.pulse_kind = "{control.pulse_kind}"'
    of_pulses = {"single": ("pulse_spacing", "train_end"), "held": ("pulse_spacing",), "train": ()}
    yield from _among("phase_control", control, of_pulses[control.pulse_kind], pulses)


def _boost(scenario: Scenario) -> Found:
    boost = scenario.boost
    if boost is None:
        return
    if boost.kind == "choke":
        names = ("turns", "voltage", "shared_leakage_inductance", "ballast_on_choke")
        yield from _among("boost", boost, names, 'boost.kind = "choke"')
    elif not boost.ballast_on_choke:
        yield from _among("boost", boost, ("choke_turns", "choke_ratio"), "a ballast that is not on the choke")
    if not boost.blocking_diode:
        names = ("blocking_threshold", "blocking_slope", "blocking_leakage_resistance", "blocking_rated_voltage")
        yield from _among("boost", boost, names, "boost.blocking_diode = false")


def _kinds(scenario: Scenario) -> Found:
    for table, used in (("load", USED_BY_LOAD), ("soft_start", USED_BY_SOFT_START)):
        part = getattr(scenario, table)
        if part is not None:
            left = tuple(name for name in given_fields(part) if name not in ("kind", *used[part.kind]))
            yield from _among(table, part, left, OF_THE_KIND)


_QUESTIONS: tuple[Callable[[Scenario], Found], ...] = (
    _cables,
    _transformer,
    _cores,
    _choke,
    _phase_control,
    _boost,
    _kinds,
)
