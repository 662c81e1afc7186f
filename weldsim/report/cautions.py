"""The few cautions that belong beside an answer: each appears only where the supply or the question calls for it."""

from collections.abc import Callable
from typing import Any

_ALWAYS = "Estimates for study and planning: they certify nothing. Local codes and licensed persons have the last word."


def _has(table: str) -> Callable[[Any, str], bool]:
    """Whether the scenario has a table."""
    return lambda scenario, study: getattr(scenario, table, None) is not None


def _live_output(scenario: Any, study: str) -> bool:
    if not hasattr(scenario, "mains") or scenario.transformer is not None:
        return False
    return scenario.readings is None or scenario.load is not None  # else there is no circuit yet


def _battery(scenario: Any, study: str) -> bool:
    load = getattr(scenario, "load", None)
    return load is not None and load.kind == "battery"


def _about_breakers(scenario: Any, study: str) -> bool:
    return study in ("inrush", "drill", "mains", "breaker", "taps") and getattr(scenario, "breaker", None) is not None


def _about_generators(scenario: Any, study: str) -> bool:
    return study == "generator" or getattr(scenario, "generator", None) is not None


def _about_leads(scenario: Any, study: str) -> bool:
    return study in ("breaker", "lead", "generator")


def _about_settings(scenario: Any, study: str) -> bool:
    return study == "setting"


def _about_readings(scenario: Any, study: str) -> bool:
    return study == "identify"


def _about_heat(scenario: Any, study: str) -> bool:
    return study == "duty"


def _about_probes(scenario: Any, study: str) -> bool:
    return study == "compare"


def _about_emission(scenario: Any, study: str) -> bool:
    return study == "mains" and getattr(scenario, "phase_control", None) is not None


def _about_welding(scenario: Any, study: str) -> bool:
    return study in ("strike", "weld", "choke", "sequence") or study == "spot" and _has("wire")(scenario, study)


def _about_electrodes(scenario: Any, study: str) -> bool:
    return study == "spot" and not _has("wire")(scenario, study)


def _about_the_feeder(scenario: Any, study: str) -> bool:
    return study in ("feed", "sequence") or study == "spot" and _has("wire")(scenario, study)


_WHERE_IT_MATTERS: tuple[tuple[Callable[[Any, str], bool], str], ...] = (
    (_live_output, "There is no transformer: all behind the switch is live mains and must never feed an electrode."),
    (
        _has("phase_control"),
        "What the triac switches is live even with the triac off, and a triac that has failed gives full "
        "output: a switch that isolates both poles must be there.",
    ),
    (
        _has("bank"),
        "The bank stays charged after switch-off: let the bleed resistor empty it and measure before "
        "touching; never short it.",
    ),
    (
        _has("varistor"),
        "A varistor wears with every surge and ends as a short that may burn: a fuse before it, nothing that burns "
        "beside it. It stays on live mains.",
    ),
    (_has("boost"), "The boost raises the open-circuit voltage: check the limit at the highest mains too."),
    (_battery, "A battery drives the circuit from behind, also with the mains off: fuse it at its terminals."),
    (
        _about_welding,
        "Arc light burns eyes and skin, fumes and gas harm the lungs, the wire is hot and live as long as the trigger "
        "is held, and the open-circuit voltage has a limit: protection, training and local rules come first.",
    ),
    (
        _about_electrodes,
        "Electrodes crush fingers and throw molten metal, and hundreds of amperes make a field that pacemakers feel: "
        "protection, training and local rules come first.",
    ),
    (
        _about_the_feeder,
        "Rolls and gear pull in fingers and hair, and wire and reel stand at the weld voltage while power is on.",
    ),
    (
        _has("second_transformer"),
        "Two secondaries in series add up to an open-circuit voltage that may be dangerous, and one joined the wrong "
        "way round is a short circuit in parallel; primaries and their fuses belong to a licensed person. A voltmeter "
        "across the open join comes before the bolt, and the windings and the capacitor of an oven are lethal as they "
        "are.",
    ),
    (_about_breakers, "Never answer a trip with a bigger breaker: it protects the cable."),
    (
        _about_generators,
        "A generator's exhaust kills indoors. It never feeds the wiring of a house without a change-over switch, and "
        "its earthing and residual-current protection are for a licensed person to decide.",
    ),
    (
        _about_leads,
        "A lead that is too thin, or left on its drum, burns before any breaker trips: unwind it all. A plug that is "
        "hot to the hand has a bad contact: stop and replace it.",
    ),
    (
        _about_settings,
        "A setting that gives the wanted output says nothing of how long it may run: windings, rectifier, lead, plug "
        "and breaker have limits of their own.",
    ),
    (
        _about_readings,
        "A primary on the bench is live, and a wrong secondary may be: isolating transformer, fuse and lamp in series "
        "first, one hand, nobody alone; readings at mains voltage are for somebody who may take them.",
    ),
    (
        _about_heat,
        "Insulation that has been too hot fails later, and then the case or the wire may be live: a thermal cut-out in "
        "the coil circuit belongs in every set, whatever these minutes say.",
    ),
    (
        _about_probes,
        "A trace of the primary is taken from live mains: by licensed persons only, with an isolated or differential "
        "probe rated for it or a closed clamp. A scope's earth clip never goes there, and no scope runs with its earth "
        "cut off.",
    ),
    (
        _about_emission,
        "Chopped current on public mains falls under emission rules; unequal half waves are in general not allowed.",
    ),
)


def cautions(scenario: Any, *, study: str) -> list[str]:
    """The cautions for one answer, the general one last."""
    return [text for applies, text in _WHERE_IT_MATTERS if applies(scenario, study)] + [_ALWAYS]
