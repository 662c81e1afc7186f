"""Proofs of parts can fail: a small fault in the circuit that a group writes takes values beyond their tolerance."""

import pytest

from weldsim.studies import prove
from weldsim.studies.proofs import (
    boosted,
    breakers,
    burn_back,
    feeder,
    fusing,
    gapped,
    mains_side,
    measured,
    on_generator,
    open_arc,
    pair,
    primary,
    rectifiers,
    sharing,
    taps,
    timed,
)

# What is changed in which text of a group: module, name of the text, what stood there, the fault, the group, and how
# many of its values at least must notice.
FAULTS = {
    "armature half a per cent warmer": (feeder, "MOTOR", '"1.2 ohm"', '"1.206 ohm"', feeder.feed_motor, 30),
    "gear of 71 %": (feeder, "MOTOR", '"70 %"', '"71 %"', feeder.feed_motor, 20),
    "emf a millivolt per volt high": (on_generator, "MAINS", '"230 V"', '"230.23 V"', on_generator.generator, 15),
    "boost diodes of 20 mohm": (boosted, "BOOST", '"1 uohm"', '"20 mohm"', boosted.winding, 20),
    "ballast choke's diodes of 1 mohm": (boosted, "BOOST", '"1 uohm"', '"1 mohm"', boosted.winding_with_choke, 15),
    "second winding's diodes of 20 mohm": (boosted, "COUPLED", '"1 uohm"', '"20 mohm"', boosted.second_winding, 20),
    "varistor of 9.01 ohm": (primary, "ON_THE_MAINS", '"9 ohm"', '"9.01 ohm"', primary.varistor, 10),
    "varistor of 431 V": (primary, "CUT_OFF", '"430 V"', '"431 V"', primary.varistor, 5),
    "thermistor of 3100 K": (primary, "WARMING", '"3000 K"', '"3100 K"', primary.thermistor, 7),
    "iron path of a metre": (gapped, "CORE", '"{path!r} m"', '"1 m"', gapped.gapped_core, 10),
    "no holding current": (pair, "HELD", '"50 mA"', '"0 mA"', pair.thyristor_pair, 5),
    "alpha a third of a per cent high": (open_arc, "CIRCUIT", '"0.3 mm/', '"0.301 mm/', open_arc.open_arc, 10),
    "three metres more of lead": (mains_side, "LEAD", '"50 m"', '"53 m"', mains_side.supply_lead, 3),
    "breaker of 16.5 A": (mains_side, "BREAKER", '"16 A"', '"16.5 A"', mains_side.magnetic, 6),
    "winding of 0.502 ohm": (mains_side, "WINDING", '"0.5 ohm"', '"0.502 ohm"', mains_side.warm_winding, 5),
    "taps with 0.51 ohm": (taps, "TAPPED", '"0.5 ohm"', '"0.51 ohm"', taps.against_dial, 20),
    "pair with primaries of 1.21 ohm": (sharing, "PAIR", '"1.2 ohm"', '"1.21 ohm"', sharing.two_transformers, 25),
    "bench of 231 V": (measured, "BENCH", '"{U0!r} V"', '"231 V"', measured.identified, 8),
    "load of 21 ohm": (measured, "CHOPPED", '"{resistance!r} ohm"', '"21 ohm"', measured.compared, 6),
    "breaker that sees 231 V": (breakers, "CARRIED", '"230 V"', '"231 V"', breakers.cycles, 20),
    "a wire melted by 45.2 V": (fusing, "CIRCUIT", '"45 V"', '"45.2 V"', fusing.fusing, 11),
    "power of 44.9 V while it burns back": (burn_back, "SUPPLY", '"45 V"', '"44.9 V"', burn_back.wire_ends, 15),
    "diode of 0.1 mohm beside one that is open": (
        rectifiers,
        "BRIDGE",
        '"{slope} ohm"',
        '"0.2 mohm"',
        rectifiers.one_diode_open,
        4,
    ),
    "ramp from 169 degrees": (timed, "RAMP", '"170 deg"', '"169 deg"', timed.ramp, 5),
    "power ten milliseconds too long": (timed, "TRIGGER", '"0 s"', '"10 ms"', timed.spot_timer, 12),
}


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS)
def test_a_wrong_part_is_found(fault, monkeypatch):
    """A part a little off is noticed by the values that depend on it, as many as are named."""
    module, name, right, wrong, group, least = FAULTS[fault]
    text = getattr(module, name)
    assert right in text
    monkeypatch.setattr(module, name, text.replace(right, wrong))
    for kept in (primary._warming, open_arc._burnt, timed._energies):
        kept.cache_clear()
    try:
        noticed = sum(map(prove.beyond, group()))
    finally:
        for kept in (primary._warming, open_arc._burnt, timed._energies):
            kept.cache_clear()
    assert noticed >= least
