"""A soft start in the circuit: where it stands, which steps it has, and what leads from one to the other."""

import pytest

from weldsim.network.wiring import wire
from weldsim.network.wiring_soft_start import BYPASSED, STEPS
from weldsim.parts.soft_start import SoftStart
from weldsim.scenario.reading import read
from weldsim.scenario.vary import vary

RESISTOR = SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1, contact_resistance=2e-3)
DISC = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=0.02, cooling_time=90.0)


def element_of(soft_start):
    """The shed's system with a soft start, and its element there; None where there is none."""
    system = wire(vary(read("toroid_shed"), {"soft_start": soft_start}))
    return system, next((element for element in system.elements if element.name == "soft_start"), None)


@pytest.mark.parametrize(
    "rule",
    [SoftStart(kind="ramp", half_cycles=10), SoftStart(kind="first fire", first_delay=90.0)],
    ids=lambda rule: rule.kind,
)
def test_rules_of_firing_draw_nothing(rule):
    """A ramp and a first firing are told by the gate alone: the circuit is that without a soft start."""
    system, element = element_of(rule)
    assert element is None
    assert system.signals == wire(read("toroid_shed")).signals


@pytest.mark.parametrize(("soft_start", "steps"), [(RESISTOR, 1), (DISC, STEPS)], ids=["resistor", "thermistor"])
def test_steps_and_contact(soft_start, steps):
    """A resistor has one step, a thermistor many, each with the contact beside them, and an event that leads there."""
    system, element = element_of(soft_start)
    assert len(element.segments) == steps + 1
    place = system.elements.index(element)
    for event in (event for event in system.events if event.element == place):
        target = BYPASSED if event.name == "soft start bypass" else event.name
        assert {element.segments[segment] for segment in event.targets} == {target}


def test_voltage_per_current_in_each_step():
    """Volts over amps of the branch are its 22 ohm, and with the contact closed 22 ohm beside 2 mohm (Ohm's law)."""
    system, element = element_of(RESISTOR)
    names = [signal.name for signal in system.signals]
    for segment, resistance in ((0, 22.0), (1, 22.0 * 2e-3 / 22.002)):
        signature = [0] * len(system.elements)
        signature[system.elements.index(element)] = segment
        outputs = system.assemble(tuple(signature)).outputs
        volts, amps = (outputs[names.index(f"soft_start.{what}")] for what in ("voltage", "current"))
        assert volts == pytest.approx(resistance * amps, rel=1e-9, abs=1e-12)
