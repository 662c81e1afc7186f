"""What any study must say of what stands beside the usual: a generator in place of the mains, a second transformer."""

from typing import Any

from weldsim.parts.mains import Mains
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of
from weldsim.scenario.pair import joined

FLUX_SET = ("inrush", "drill", "spot", "taps", "preview")  # studies that start from a flux they are given
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
    """The assumption of a study on two transformers: which of its figures speak of the first alone."""
    if not isinstance(scenario, Scenario) or scenario.second_transformer is None or study == "share":
        return []
    lines = [
        f"Two transformers, {joined(scenario.second_transformer)}, both in the circuit with their own core. What is "
        "told of the core, its flux, its remanence and of turns is of the first where it does not say second; `weldsim "
        "share` tells both."
    ]
    if study in FLUX_SET and scenario.core is not None:
        lines.append(
            "What a run leaves in the two cores goes on in each by itself; where a flux is set (a map, a remanence "
            "typed in, [start]), both cores have the same flux density, or where section or turns are not known the "
            "same flux linkage, of the same sign."
        )
    if study == "compare":
        lines.append("Causes are looked for in the first transformer; what the second takes from it moves along.")
    if study == "identify":
        lines.append("The readings are those of the first transformer alone.")
    return lines


def _impedance(source: Mains) -> str:
    return f"{source.resistance:.3g} ohm and {1e3 * source.inductance:.3g} mH"
