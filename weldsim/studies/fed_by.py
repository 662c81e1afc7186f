"""What any study must say of what stands beside the usual: a generator in place of the mains, a second transformer."""

from typing import Any

from weldsim.parts.mains import Mains
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of
from weldsim.scenario.pair import joined

BEGINS = ("drill", "spot", "preview")  # studies that may begin with the flux of [start]
LEFT = {  # what a study says of the flux left in both cores
    "inrush": "A press finds in each core what its own hysteresis leaves, unless a flux is set. Then both are "
    "magnetised alike, to the same flux density (or, without section and turns, flux linkage): one typed in as it is, "
    "in the map the second no higher than it keeps by itself.",
    "drill": "Each core goes on with what the press before has left in it.",
}
SETTLE_NOTHING = ("inrush", "drill", "strike", "weld", "sequence", "spot", "choke", "feed")


def told_generator(study: str, scenario: Any) -> list[str]:
    """The assumption of a study on a generator; none on the mains, nor in the question about the generator itself."""
    if not isinstance(scenario, Scenario) or scenario.generator is None or study == "generator":
        return []
    generator, volts = scenario.generator, f"{scenario.mains.voltage:g} V"
    left_out = f"a sag of {100.0 * generator.sag:.3g} % at its rating within a tenth of a second"
    if generator.regulator != "none":
        left_out += f" and a regulator of {generator.regulator_time:.2g} s"
    head = f"Source: a generator of {generator.rating / 1e3:g} kVA, {_impedance(source_of(scenario))}, not the mains"
    if study in SETTLE_NOTHING:
        return [
            f"{head}. Its emf stays at {volts}: {left_out} are left out here, so the truth is weaker at first; "
            "`weldsim generator` follows a step of load period by period."
        ]
    holds = f"its regulator holds {volts} at the terminals as far as its ceiling of {generator.ceiling:g} goes"
    if generator.regulator == "none":
        holds = "its emf, without a regulator, has sagged under the load"
    return [
        f"{head}. Settled, {holds} (mains -10 and +10 % stand for the volts it is set to). What does not settle (runs "
        f"from rest, presses, dip transfer) has an emf of {volts}, {left_out} left out."
    ]


def told_pair(study: str, scenario: Any) -> list[str]:
    """The assumption of a study on two transformers: how their cores begin, and what speaks of the first alone."""
    if not isinstance(scenario, Scenario) or scenario.second_transformer is None or study == "share":
        return []
    lines = [
        f"Two transformers, {joined(scenario.second_transformer)}, both in the circuit with their own core; `weldsim "
        "share` tells how they share."
    ]
    if scenario.core is not None:
        lines += [LEFT[study]] if study in LEFT else []
        start = scenario.start
        told = start.second_flux_linkage is not None or start.second_remanence is not None
        if study in BEGINS and start.magnetised and not told:
            lines.append(
                "The flux of [start] is the first core's; the second is magnetised alike, to the same flux density "
                "(or, without section and turns, flux linkage). start.second_flux_linkage tells another."
            )
    if study == "compare":
        lines.append("What the second transformer takes from the first moves along with a cause in the first.")
    if study == "identify":
        lines.append("The readings are those of the first transformer alone.")
    return lines


def _impedance(source: Mains) -> str:
    return f"{source.resistance:.3g} ohm and {1e3 * source.inductance:.3g} mH"
