"""What tables ask of each other."""

import pytest

from weldsim.parts.boost import Boost
from weldsim.parts.choke import Choke
from weldsim.parts.iron import Core
from weldsim.parts.load import Load
from weldsim.parts.phase_control import PhaseControl
from weldsim.parts.rectifier import Rectifier
from weldsim.parts.soft_start import SoftStart
from weldsim.parts.start import Start
from weldsim.parts.transformer import Transformer
from weldsim.scenario.consistency import contradictions, primary_turns
from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read, read_text

MAINS = read_text('[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n').mains
RATIO_ONLY, WOUND = Transformer(ratio=7.0), Transformer(primary_turns=140, secondary_turns=20)
RAMP = SoftStart(kind="ramp", half_cycles=10)
RC_DIAL = PhaseControl(dial_kind="rc-diac", timing_resistance_at_0=400e3, timing_resistance_at_100=20e3)


def timed(most):
    """A dial that counts a time, up to so many seconds."""
    return PhaseControl(dial_kind="timed", delay_time_at_0=most, delay_time_at_100=1e-3)


WINDING, ON_CHOKE = Boost(kind="winding", turns=27), Boost(kind="choke", choke_turns=60)


@pytest.mark.parametrize(
    ("parts", "place"),
    [
        ({"core": Core(magnetising_inductance=4.0)}, "core"),
        (
            {"core": Core(section=50e-4, path_length=0.5, steel="unknown"), "transformer": RATIO_ONLY},
            "transformer.primary_turns",
        ),
        ({"core": Core(section=50e-4, steel="unknown"), "transformer": WOUND}, "core.path_length"),
        ({"choke": Choke(resistance=1e-3)}, "choke"),
        ({"rectifier": Rectifier(kind="centre-tap")}, "rectifier.kind"),
        ({"boost": WINDING, "rectifier": Rectifier()}, "boost.kind"),
        ({"boost": WINDING, "rectifier": Rectifier(), "transformer": RATIO_ONLY}, "boost.turns"),
        ({"boost": WINDING, "transformer": WOUND}, "boost"),
        (
            {"boost": Boost(kind="winding", turns=27, feeds="bank"), "rectifier": Rectifier(), "transformer": WOUND},
            "boost.feeds",
        ),
        ({"boost": ON_CHOKE, "rectifier": Rectifier()}, "boost.kind"),
        ({"boost": ON_CHOKE, "rectifier": Rectifier(), "choke": Choke(inductance=1e-3)}, "boost.choke_turns"),
        ({"start": Start(bank_voltage=10.0)}, "start.bank_voltage"),
        ({"start": Start(flux_linkage=0.8)}, "start.flux_linkage"),
        ({"start": Start(remanence=0.8)}, "start.remanence"),
        (
            {"start": Start(remanence=0.8), "core": Core(magnetising_inductance=4.0), "transformer": RATIO_ONLY},
            "start.remanence",
        ),
        ({"load": Load(kind="wire")}, "load.kind"),
        ({"soft_start": RAMP}, "soft_start.kind"),
        ({"soft_start": SoftStart(kind="first fire", first_delay=90.0)}, "soft_start.kind"),
        ({"soft_start": RAMP, "phase_control": RC_DIAL}, "soft_start.kind"),
        ({"phase_control": timed(10.1e-3)}, "phase_control.delay_time_at_0"),
    ],
)
def test_contradictions(parts, place):
    """Each is found, named at the field that should change, and found alone."""
    found = contradictions(Scenario(mains=MAINS, **parts))
    assert [complaint.place.startswith(place) for complaint in found] == [True], found


def test_bundled_scenario_has_none():
    """A sound scenario is not complained about."""
    assert contradictions(read("toroid_shed_boost")) == []


@pytest.mark.parametrize(
    "parts",
    [
        {"soft_start": RAMP, "phase_control": PhaseControl()},
        {"soft_start": SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1)},
    ],
    ids=["ramp of a control with a delay", "resistor before a contactor"],
)
def test_soft_starts_that_fit(parts):
    """A ramp where something fires by a delay, a resistor anywhere."""
    assert contradictions(Scenario(mains=MAINS, **parts)) == []


def test_a_timed_dial_may_use_the_whole_half_cycle():
    """10 ms at 50 Hz are 180 degrees, which a dial in degrees may ask for too; 10.1 ms are the next half cycle's."""
    assert not contradictions(Scenario(mains=MAINS, phase_control=timed(10e-3)))


def test_primary_turns():
    """Known from the table, from the ratio, or not at all."""
    assert primary_turns(Scenario(mains=MAINS, transformer=WOUND)) == 140
    assert primary_turns(Scenario(mains=MAINS, transformer=Transformer(secondary_turns=20, ratio=7.0))) == 140
    assert primary_turns(Scenario(mains=MAINS, transformer=RATIO_ONLY)) is None
    assert primary_turns(Scenario(mains=MAINS)) is None
