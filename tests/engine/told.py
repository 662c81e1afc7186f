"""What the documented rules tell of a wire, from its constants: the other side of the comparisons with the kernel."""

from weldsim.parts import arc_rules
from weldsim.parts.wire import WireConstants


def reignition_voltage(wire: WireConstants, *, gap: float, time: float) -> float:
    """Voltage that brings back an arc [V] lost a time [s] ago, across a gap [m]."""
    factor = arc_rules.reignition_factor(
        time,
        dead_time=wire.dead_time,
        first=wire.reignite_first,
        later=wire.reignite_later,
        later_time=wire.reignite_time,
        lost_time=wire.reignite_lost,
    )
    return arc_rules.reignition_voltage(
        gap, factor, offset=wire.arc_voltage, gradient=wire.arc_gradient, rise=wire.falling_voltage
    )
