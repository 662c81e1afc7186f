"""Values without effect: each is found, and each one found changes no waveform."""

import numpy as np
import pytest

from tests.network.supplies import BENCHMARK, BOOST, CHOKE_BOOST
from weldsim.runs.perform import perform
from weldsim.scenario.idle import idle_values
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary
from weldsim.studies.preview import ask

GAPPED = {"turns": 20, "section": 20e-4, "path_length": 0.4, "gap": 2e-3}
CURVE = [{"current": 0.0, "inductance": 3e-4}, {"current": 300.0, "inductance": 5e-5}]
IRON = {
    "transformer.ratio": "absent",
    "transformer.primary_turns": 230,
    "transformer.secondary_turns": 31,
    "core": {"section": 30e-4, "path_length": 0.5, "steel": "grain-oriented", "mass": 12.0},
}
DIAC = {
    "phase_control.dial_kind": "rc-diac",
    "phase_control.timing_resistance_at_0": 4e5,
    "phase_control.timing_resistance_at_100": 1e4,
}
COPPER = {"transformer.primary_turns": 230, "transformer.secondary_turns": 31, "transformer.ratio": "absent"}

# what the supply is like, the key that is set, and whether that is in vain
CASES = [
    ({"choke": GAPPED}, "choke.inductance", 1e-4, True),
    ({"choke": GAPPED}, "choke.saturation_current", 100.0, True),
    ({"choke.inductance_curve": CURVE}, "choke.inductance", 5e-4, True),
    ({"choke": GAPPED}, "choke.gap", 4e-3, False),
    ({}, "choke.gap", 3e-3, True),
    ({}, "choke.saturated_inductance", 1e-5, True),
    ({"choke.saturation_current": 100.0}, "choke.saturated_inductance", 1e-5, False),
    (IRON, "core.saturation_flux_linkage", 0.5, True),
    (IRON, "core.saturated_inductance", 0.05, None),
    ({}, "core.gap", 1e-3, True),
    ({}, "core.steel", "grain-oriented", True),
    ({}, "core.remanence", 1.0, True),
    ({}, "core.loss_per_mass", 2.0, True),
    (COPPER, "transformer.primary_wire_section", 1e-6, True),
    (COPPER, "transformer.primary_turn_length", 3.0, True),
    ({}, "transformer.layout", "side by side", True),
    ({}, "weld_leads.section", 1e-6, True),
    ({}, "weld_leads.temperature", 100.0, True),
    ({}, "phase_control.delay_time_at_0", 9e-3, True),
    ({}, "phase_control.diac_voltage", 20.0, True),
    ({}, "phase_control.pulse_spacing", 1e-3, True),
    ({}, "phase_control.train_end", 100.0, True),
    ({"phase_control.pulse_kind": "train"}, "phase_control.train_end", 95.0, None),
    (DIAC, "phase_control.delay_at_0", 120.0, True),
    (DIAC, "phase_control.diac_voltage", 20.0, False),
    ({"boost": BOOST}, "boost.choke_ratio", 3.0, True),
    ({"boost": BOOST | {"blocking_diode": False}}, "boost.blocking_slope", 0.01, True),
    ({"boost": BOOST}, "boost.blocking_slope", 0.01, False),
    ({"boost": CHOKE_BOOST}, "boost.voltage", 100.0, True),
]


@pytest.mark.parametrize(("like", "key", "value", "vain"), CASES, ids=[f"{case[1]} {case[3]}" for case in CASES])
def test_what_is_in_vain_changes_nothing(like, key, value, vain):
    """The key is told where, and only where, the waveforms with it are those without it, to the last digit.

    A key with ``None`` counts, but may show on a stronger magnetisation only; that it is not told is enough.
    """
    before = vary(read_text(BENCHMARK), like)
    after = vary(before, {key: value})
    told = key in [idle.key for idle in idle_values(after)]
    assert told == bool(vain)
    if vain is None:
        return
    dial = None if "rc-diac" in str(like) else 0.5
    waves = [
        perform(one, dial=dial, duration=0.03, signals=["output.current", "primary.current"]) for one in (before, after)
    ]
    same = all(np.array_equal(waves[0][name], waves[1][name]) for name in ("output.current", "primary.current"))
    assert same == vain


def test_an_answer_tells_it_too():
    """Who sets the inductance of a choke given by core, gap and turns learns why nothing has changed."""
    scenario = vary(read_text(BENCHMARK), {"choke": GAPPED | {"inductance": 1e-4}})
    answer = ask(scenario, dial=0.5, start="rest", duration=0.04, window=0.02)
    told = [verdict.text for verdict in answer.verdicts if verdict.name == "idle_value"]
    assert told == ["choke.inductance: given, but without effect beside choke.turns, section, path_length and gap."]
    kind = ask(vary(read_text(BENCHMARK), {"load.kind": "short"}), dial=0.5, start="rest", duration=0.04, window=0.02)
    assert not [verdict for verdict in kind.verdicts if verdict.name == "idle_value"]
