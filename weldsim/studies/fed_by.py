"""What a study must say of a generator that stands in place of the mains: what of it acts in the figures."""

from typing import Any

from weldsim.parts.mains import Mains
from weldsim.scenario.document import Scenario
from weldsim.scenario.finding import source_of

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


def _impedance(source: Mains) -> str:
    return f"{source.resistance:.3g} ohm and {1e3 * source.inductance:.3g} mH"
