"""The wire's constants in the order in which the compiled process takes them."""

import math

import numpy as np

from weldsim.engine import wire_layout
from weldsim.parts.wire import WireConstants

STRUCK_SPAN, STRUCK_BAD, TRIAL_LENGTH = 0.3, 0.02, 1.5  # [s] definition of struck (contract of the strike study)
# Names of the constants in the order of wire_kernel; those of the trial itself come last.
PLACES = (
    "diameter",
    "section",
    "feed",
    "run_in",
    "motor_tau",
    "height",
    "arc_voltage",
    "arc_gradient",
    "arc_resistance",
    "falling_voltage",
    "falling_current",
    "melt_alpha",
    "melt_beta",
    "resistivity_hot",
    "contact_tube",
    "contact_tube_spread",
    "cold_contact_low",
    "cold_contact_high",
    "spot_low",
    "spot_high",
    "action",
    "spot_tau",
    "bridge_resistance",
    "drain_base",
    "drain_current",
    "gap_bridge_low",
    "gap_bridge_high",
    "gap_spot_low",
    "gap_spot_high",
    "gap_long_low",
    "gap_long_high",
    "reach_base",
    "reach_growth",
    "reach_spread",
    "reignite_first",
    "reignite_later",
    "reignite_time",
    "reignite_lost",
    "dead_time",
    "least_current",
    "stub_length",
    "first_gap_low",
    "first_gap_high",
    "heat_tau",
    "drop_limit",
    "gap_rise_time",
    "resistivity_cold",
    "arc_memory",
    "arc_tau",
    "arc_power",
)


def arc_level(wire: WireConstants) -> float:
    """Resistance [ohm] of the element's straight piece while an arc burns: arc, tube and the whole hot extension."""
    return wire.arc_resistance + wire.contact_tube + wire.resistivity_hot * wire.height / wire.section


def constant_array(wire: WireConstants) -> np.ndarray:
    """The constants of a wire in the order of the kernel; trigger pressed for ever, feed without delay."""
    array = np.zeros(wire_layout.CONSTANTS)
    array[: len(PLACES)] = [getattr(wire, name) for name in PLACES]
    array[wire_layout.RESISTIVITY_COLD] = min(wire.resistivity_cold, wire.resistivity_hot)
    array[wire_layout.ARC_LEVEL] = arc_level(wire)
    array[wire_layout.STRUCK_SPAN :][:3] = STRUCK_SPAN, STRUCK_BAD, TRIAL_LENGTH
    array[wire_layout.RELEASE] = math.inf
    return array
