"""All groups of proofs, and for each subsystem why its tolerances are what they are."""

from collections.abc import Callable

from weldsim.studies.proofs import (
    arc,
    controller,
    dial,
    magnetics,
    rectifiers,
    rectifiers_choke,
    transients,
)
from weldsim.studies.proofs.bench import Row

GROUPS: tuple[Callable[[], list[Row]], ...] = (
    controller.on_resistor,
    controller.on_resistor_and_choke,
    controller.half_waving,
    controller.on_choke,
    controller.on_unloaded_transformer,
    controller.gate_pulse,
    dial.rc_diac,
    rectifiers.standard_figures,
    rectifiers.bridge_and_choke,
    rectifiers_choke.critical_inductance,
    rectifiers.capacitor_input,
    rectifiers_choke.stiff_dc,
    rectifiers_choke.stiff_dc_choke_behind,
    rectifiers_choke.overlap,
    magnetics.controlled_rectifier,
    magnetics.emf,
    magnetics.magnetising_harmonics,
    magnetics.inrush,
    transients.device_loss,
    transients.snubber_step,
    transients.capacitor_bank,
    transients.discharge,
    transients.short_circuit_rise,
    transients.load_line,
    transients.meters,
    arc.dynamic_arc,
    arc.feed_rule,
)

_EXACT = "1e-4 (harmonics: of the fundamental), 0.02 deg: ideal elements, exact read-out"
REASONS: dict[str, str] = {
    "phase control on a resistor": _EXACT,
    "phase control on a resistor with choke": _EXACT,
    "phase control with short pulses": _EXACT,
    "phase control on a choke": _EXACT,
    "phase control on an unloaded transformer": _EXACT,
    "gate pulse against latching": "1e-4: the pulse is bracketed to 1 ns",
    "dial with diac": "0.05 deg and 0.2 % of a resistance: at the crest an angle goes with the root of the resistance",
    "rectifier, standard figures": _EXACT,
    "rectifier, choke and resistor": _EXACT,
    "rectifier, capacitor input": "1e-4, 1e-3 on ripple and peak; without source resistance 0.2 % of rms, 2 % of peak "
    "and 0.03 deg: diodes of 1 uohm stand for none",
    "rectifier, choke before it, battery": _EXACT,
    "rectifier, choke behind it, battery": _EXACT,
    "rectifier, overlap": f"{_EXACT}; a choke of 20 H stands for constant current",
    "phase-controlled rectifier": _EXACT,
    "transformer": "1e-4: ideal elements; half the last printed digit where a book rounds",
    "magnetising current": "1e-4 of the fundamental: 120 straight pieces for a power law",
    "inrush": "1e-4, 0.02 deg: the core has the reference's two slopes",
    "device": "1e-4: 1 kV behind an inductance stands for a sine of current",
    "snubber": _EXACT,
    "bank": _EXACT,
    "discharge": _EXACT,
    "short circuit": _EXACT,
    "load line": _EXACT,
    "meters": "1e-4: ideal elements, or the digits printed",
    "dynamic arc": "1e-5: ticks of 2 us are exact but for the bend of a sine",
    "wire feed": "25 %: the trade's rule is that wide, makers round to half inches per minute; nothing is fitted",
}
