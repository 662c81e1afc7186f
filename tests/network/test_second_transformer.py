"""Two transformers of one supply: one of the same iron, closed forms, plain equations for scipy, the energy."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from weldsim.errors import ScenarioError
from weldsim.network.start import initial_values
from weldsim.runs.perform import perform, record
from weldsim.runs.steady import settle
from weldsim.runs.supply import supply_of
from weldsim.scenario.reading import read_text
from weldsim.scenario.vary import vary

VOLTS, FREQUENCY, MAINS = 230.0, 50.0, 0.5  # V, Hz, ohm
CREST, OMEGA = math.sqrt(2.0) * VOLTS, 2.0 * math.pi * FREQUENCY
BARE = f"""
[mains]
voltage = "{VOLTS} V"
frequency = "{FREQUENCY} Hz"
resistance = "{MAINS} ohm"
[transformer]
primary_turns = 240
secondary_turns = 20
primary_resistance = "1.2 ohm"
secondary_resistance = "8 mohm"
primary_leakage_inductance = "3 mH"
secondary_leakage_inductance = "25 uH"
[load]
kind = "resistor"
resistance = "0.3 ohm"
"""
SUPPLY = """
[phase_control]
dial = "60 %"
snubber_resistance = "100 ohm"
snubber_capacitance = "100 nF"
[rectifier]
[bank]
capacitance = "20 mF"
resistance = "5 mohm"
bleed_resistance = "300 ohm"
"""
IRON = {"section": 24e-4, "path_length": 0.3, "steel": "non-oriented", "gap": 4e-5}
ALIKE = {  # key -> factor of the one transformer that stands for two with everything in series, or in parallel
    "series": {"resistance": 2.0, "leakage": 2.0, "section": 2.0, "path_length": 1.0, "gap": 1.0},
    "parallel": {"resistance": 0.5, "leakage": 0.5, "section": 1.0, "path_length": 2.0, "gap": 2.0},
}


def bare(changes=None):
    """Stiff mains behind a resistance, a transformer without a core, a resistor; with changes."""
    return vary(read_text(BARE), changes or {})


@pytest.mark.parametrize("join", ["series", "parallel"])
@pytest.mark.parametrize("supply", ["", SUPPLY], ids=["on a resistor", "behind a triac, with a bank"])
def test_two_alike_are_one_of_twice_the_iron(join, supply):
    """Everything in series: one transformer of twice the section and impedance; in parallel: of twice the path, half
    the impedance.

    Ampere's law and the EMF equation: with as many turns each, twice the section has twice the flux at the same
    current, twice the path twice the current at the same flux.  1e-8 of each waveform's largest value: two drawings.
    """
    factors = ALIKE[join]
    single = vary(read_text(BARE + supply), {"core": IRON})
    first = single.transformer
    assert first is not None
    changes = {f"core.{name}": IRON[name] * factors[name] for name in ("section", "path_length", "gap")}
    for side in ("primary", "secondary"):
        changes[f"transformer.{side}_resistance"] = getattr(first, f"{side}_resistance") * factors["resistance"]
        leakage = f"{side}_leakage_inductance"
        changes[f"transformer.{leakage}"] = getattr(first, leakage) * factors["leakage"]
    one = perform(vary(single, changes), duration=0.1)
    two = perform(vary(single, {"second_transformer": {"primaries": join, "secondaries": join}}), duration=0.1)
    each = 2.0 if join == "series" else 1.0  # of the flux; of the currents the other way round
    pairs = [(name, name, 1.0) for name in ("primary.current", "output.current", "output.voltage")]
    for place in ("", "second_"):
        pairs += [
            ("core.flux_linkage", f"{place}core.flux_linkage", each),
            ("core.magnetising_current", f"{place}core.magnetising_current", 2.0 / each),
            ("secondary.current", f"{place}secondary.current", 2.0 / each),
            ("secondary.voltage", f"{place}secondary.voltage", each),
            ("primary.current", f"{place or 'first_'}primary.current", 2.0 / each),
        ]
    for whole, half, factor in pairs:
        assert np.max(np.abs(one[whole])) > 0.0
        assert two[half] * factor == pytest.approx(one[whole], abs=1e-8 * np.max(np.abs(one[whole]))), half


def looped(scenario, name):
    """Rms of a signal over ten periods long after switch-on."""
    recording = record(scenario, duration=1.5, window=0.2, signals=[name], figures=[name])
    return recording.run.table[f"{name}.rms"][0]


def impedance(turns, *, resistance=8e-3):
    """Of one of the two, seen from its secondary [ohm]."""
    square = (240 / turns) ** 2
    return resistance + 1.2 / square + 1j * OMEGA * (25e-6 + 3e-3 / square)


def test_circulating_current_by_its_closed_form():
    """Without core and load, on stiff mains: the difference of the volts over both impedances.

    Textbook form of transformers in parallel: I = (E1 - E2) / (Z1 + Z2).  1e-9: ideal elements, exact figures.
    """
    pair = {"secondaries": "parallel", "secondary_turns": 19}
    scenario = bare({"second_transformer": pair, "load": "absent", "mains.resistance": 0.0})
    expected = VOLTS * (20 - 19) / 240 / abs(impedance(20) + impedance(19))
    assert looped(scenario, "secondary.current") == pytest.approx(expected, rel=1e-9)
    assert looped(scenario, "second_secondary.current") == pytest.approx(expected, rel=1e-9)
    mean_of_both = abs((20 * impedance(19) + 19 * impedance(20)) / (impedance(19) + impedance(20))) * VOLTS / 240
    assert looped(scenario, "output.voltage") == pytest.approx(mean_of_both, rel=1e-9)


def test_parallel_currents_go_with_the_other_impedance():
    """Equal volts in parallel share a load by the rule of dividers: I1 / I = Z2 / (Z1 + Z2)."""
    pair = {"secondaries": "parallel", "secondary_resistance": 20e-3}
    scenario = bare({"second_transformer": pair, "mains.resistance": 0.0})
    first, second = impedance(20), impedance(20, resistance=20e-3)
    load = 0.3 + first * second / (first + second)
    current = VOLTS / 12.0 / abs(load)
    for name, other in (("secondary", second), ("second_secondary", first)):
        expected = current * abs(other / (first + second))
        assert looped(scenario, f"{name}.current") == pytest.approx(expected, rel=1e-9)


def test_series_primaries_with_parallel_secondaries_share_the_mains_by_their_turns():
    """Two unlike secondaries in parallel force equal volts: without load and core each primary takes what the other's
    turns say, and nothing circulates."""
    pair = {"primaries": "series", "secondaries": "parallel", "secondary_turns": 16}
    scenario = bare({"second_transformer": pair, "load": "absent"})
    assert looped(scenario, "first_primary.voltage") == pytest.approx(VOLTS * 16 / 36, rel=1e-9)
    assert looped(scenario, "second_primary.voltage") == pytest.approx(VOLTS * 20 / 36, rel=1e-9)
    assert looped(scenario, "output.voltage") == pytest.approx(VOLTS / 240 * 20 * 16 / 36, rel=1e-9)
    assert looped(scenario, "second_secondary.current") == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("wrong", "turns"), [(False, 37), (True, 3)])
def test_a_reversed_secondary_in_series_leaves_the_difference(wrong, turns):
    """20 and 17 turns in series give the volts of 37, or, the wrong way round, of 3."""
    pair = {"secondary_turns": 17, "reversed": wrong}
    scenario = bare({"second_transformer": pair, "load": "absent"})
    assert looped(scenario, "output.voltage") == pytest.approx(VOLTS * turns / 240, rel=1e-9)


def test_a_reversed_secondary_in_parallel_is_a_short_circuit():
    """Two alike the wrong way round: the sum of both volts over both impedances runs round the loop."""
    pair = {"secondaries": "parallel", "reversed": True}
    scenario = bare({"second_transformer": pair, "load": "absent", "mains.resistance": 0.0})
    assert looped(scenario, "secondary.current") == pytest.approx(VOLTS / 12.0 / abs(impedance(20)), rel=1e-9)


# --- a twin of unlike pairs, written as plain equations -------------------------------------------------------------

MAGNETISING, CORNER, SATURATED = (2.0, 1.6), (0.85, 0.8), (0.02, 0.03)  # H, V s, H of the first and the second core
LOSS, PRIMARY, LEAKAGE = (400.0, 500.0), (1.2, 1.5), (3e-3, 4e-3)  # ohm, ohm, H
RATIO, SECONDARY, STRAY = (12.0, 13.0), (8e-3, 10e-3), (25e-6, 30e-6)  # 1, ohm, H
LOAD = 0.3  # ohm


def unlike(**join):
    """The same two as a scenario."""
    tables = [
        (
            {
                "ratio": RATIO[k],
                "primary_resistance": PRIMARY[k],
                "secondary_resistance": SECONDARY[k],
                "primary_leakage_inductance": LEAKAGE[k],
                "secondary_leakage_inductance": STRAY[k],
            },
            {
                "magnetising_inductance": MAGNETISING[k],
                "saturation_flux_linkage": CORNER[k],
                "saturated_inductance": SATURATED[k],
                "loss_resistance": LOSS[k],
            },
        )
        for k in (0, 1)
    ]
    return bare(
        {
            "transformer": tables[0][0],
            "core": tables[0][1],
            "second_transformer": tables[1][0] | join,
            "second_core": tables[1][1],
        }
    )


def magnetising(k, flux):
    """Current of a core at a flux linkage: two straight pieces."""
    beyond = max(abs(flux) - CORNER[k], 0.0)
    return math.copysign(min(abs(flux), CORNER[k]) / MAGNETISING[k] + beyond / SATURATED[k], flux)


def all_parallel(t, x):
    """Rates of both primary currents, fluxes and secondary currents."""
    primary, flux, secondary = x[0:2], x[2:4], x[4:6]
    source = CREST * math.sin(OMEGA * t) - MAINS * sum(primary)
    output = LOAD * sum(secondary)
    volts = [LOSS[k] * (primary[k] - magnetising(k, flux[k]) - secondary[k] / RATIO[k]) for k in (0, 1)]
    return [
        *((source - PRIMARY[k] * primary[k] - volts[k]) / LEAKAGE[k] for k in (0, 1)),
        *volts,
        *((volts[k] / RATIO[k] - SECONDARY[k] * secondary[k] - output) / STRAY[k] for k in (0, 1)),
    ]


def all_series(t, x, way=1.0):
    """Rates of the primary current, both fluxes and the secondary current; ``way`` -1 with the second reversed."""
    primary, flux, secondary = x[0], x[1:3], x[3]
    ways = (1.0, way)
    volts = [LOSS[k] * (primary - magnetising(k, flux[k]) - ways[k] * secondary / RATIO[k]) for k in (0, 1)]
    source = CREST * math.sin(OMEGA * t) - (MAINS + sum(PRIMARY)) * primary
    driven = sum(ways[k] * volts[k] / RATIO[k] for k in (0, 1))
    return [
        (source - sum(volts)) / sum(LEAKAGE),
        *volts,
        (driven - (sum(SECONDARY) + LOAD) * secondary) / sum(STRAY),
    ]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("join", "rates", "size", "places"),
    [
        (
            {"secondaries": "parallel"},
            all_parallel,
            6,
            {"first_primary.current": 0, "second_primary.current": 1, "core.flux_linkage": 2}
            | {"second_core.flux_linkage": 3, "secondary.current": 4, "second_secondary.current": 5},
        ),
        (
            {"primaries": "series"},
            all_series,
            4,
            {"primary.current": 0, "core.flux_linkage": 1, "second_core.flux_linkage": 2, "secondary.current": 3},
        ),
        (
            {"primaries": "series", "reversed": True},
            lambda t, x: all_series(t, x, -1.0),
            4,
            {"primary.current": 0, "core.flux_linkage": 1, "second_core.flux_linkage": 2, "secondary.current": 3},
        ),
    ],
    ids=["all in parallel", "all in series", "all in series, reversed"],
)
def test_unlike_pairs_follow_plain_equations(join, rates, size, places):
    """Two unlike, saturating transformers switched on at rest, against Kirchhoff's equations under scipy's Radau.

    1e-8 of each waveform's largest value: what Radau reaches at rtol 1e-9 with corners it is not told of.
    """
    run = perform(unlike(**join), duration=0.06)
    moments = np.minimum(run.time, 0.06)
    found = solve_ivp(
        rates, (0.0, 0.06), [0.0] * size, method="Radau", rtol=1e-9, atol=1e-9, t_eval=moments, max_step=5e-5
    )
    assert found.success
    for name, place in places.items():
        expected = found.y[place]
        assert np.max(np.abs(expected)) > 1e-3
        assert run[name] == pytest.approx(expected, abs=1e-8 * np.max(np.abs(expected))), name
    for core, corner in zip(("core", "second_core"), CORNER, strict=True):
        assert np.max(np.abs(run[f"{core}.flux_linkage"])) > corner  # both saturate when switched on


JOINS = [(primaries, secondaries) for primaries in ("parallel", "series") for secondaries in ("series", "parallel")]


@pytest.mark.parametrize(("primaries", "secondaries"), JOINS)
def test_the_energy_of_both_closes(primaries, secondaries):
    """Two cores with hysteresis behind a triac: the ledger closes to 1e-9 of what the mains give, and no loss of the
    second is missing."""
    scenario = vary(
        read_text(BARE + SUPPLY),
        {
            "core": IRON,
            "second_transformer": {"primaries": primaries, "secondaries": secondaries, "secondary_turns": 18},
            "second_core": {"section": 22e-4},
        },
    )
    run = perform(scenario, duration=0.2, window=0.1)
    given = run.ledger["mains"]["source"]
    assert abs(run.ledger["residual"]) < 1e-9 * given
    for part in ("transformer primary winding", "transformer secondary winding", "core loss", "core hysteresis"):
        assert run.ledger[f"second {part}"]["loss"] > 0.0


# --- what both start with -------------------------------------------------------------------------------------------


def test_both_cores_start_alike():
    """A remanence is that of both irons, each with its own linkage (N A B, EMF equation); a linkage typed in is told
    of the first, and the second's is of the same density.  Nothing flows where both keep it."""
    iron = {"core": IRON, "second_transformer": {"primary_turns": 200}, "second_core": {"section": 20e-4}}
    started = initial_values(bare(iron | {"start.remanence": 0.05}))
    assert started["flux_linkage"] == pytest.approx(0.05 * 240 * 24e-4)
    assert started["second_flux_linkage"] == pytest.approx(0.05 * 200 * 20e-4)
    typed = initial_values(bare(iron | {"start.flux_linkage": 0.1}))
    assert typed["second_flux_linkage"] / typed["flux_linkage"] == pytest.approx(200 * 20e-4 / (240 * 24e-4))
    system = supply_of(bare(iron | {"core.gap": 0.0, "mains.voltage": 0.0})).system
    state, _ = system.start(flux_linkage=0.3)
    assert state[system.states.index("second_core.flux_linkage")] == pytest.approx(0.3 * 200 * 20 / (240 * 24))
    own, _ = system.start(flux_linkage=0.3, second_flux_linkage=-0.1)
    assert own[system.states.index("second_core.flux_linkage")] == -0.1
    run = perform(bare(iron | {"core.gap": 0.0, "mains.voltage": 0.0, "start.remanence": 0.3}), duration=0.02)
    for core in ("core", "second_core"):
        assert np.ptp(run[f"{core}.flux_linkage"]) == pytest.approx(0.0, abs=1e-12)
        assert run[f"{core}.magnetising_current"] == pytest.approx(0.0, abs=1e-12)


def test_what_a_run_leaves_is_of_each_core():
    """Settled and left, the cores keep fluxes of their own: two states, not one copied."""
    iron = {"core": IRON, "second_transformer": {}, "second_core": {"section": 20e-4, "steel": "grain-oriented"}}
    supply = supply_of(bare(iron))
    settled = settle(supply, delay=None)
    places = [supply.system.states.index(f"{core}.flux_linkage") for core in ("core", "second_core")]
    first, second = (settled.state[place] for place in places)
    assert abs(first - second) > 1e-3 * abs(first)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"second_transformer": {}, "transformer": "absent"}, r"no \[transformer\] beside it"),
        ({"second_core": {"section": 1e-3}}, r"no \[second_transformer\]"),
        ({"second_transformer": {}, "second_core": {"section": 1e-3}}, r"no \[core\]"),
        ({"second_transformer": {"primaries": "series"}}, "only the iron tells how they share"),
        (
            {"second_transformer": {"primaries": "series"}, "core": {"magnetising_inductance": 4.0}},
            "only the iron tells how they share",
        ),
        (
            {"second_transformer": {"secondaries": "parallel"}, "rectifier.kind": "centre-tap"},
            "needs them in series, each one half",
        ),
        (
            {"second_transformer": {"primaries": "series", "secondaries": "series"}, "rectifier.kind": "centre-tap"},
            "the other's primary in series holds up",
        ),
        (
            {
                "second_transformer": {"primaries": "series", "secondaries": "parallel"},
                "rectifier": {},
                "boost": {"kind": "winding", "voltage": 40.0},
            },
            "needs the whole mains on its primary",
        ),
        (
            {
                "transformer": {"ratio": 10.0},
                "second_transformer": {"secondaries": "parallel"},
            },
            "nothing limits the current",
        ),
        ({"second_transformer": {"primary_wire_section": 1e-6}}, "follows from wire section and mean turn length"),
        ({"second_transformer": {}, "core": IRON, "second_core": {"magnetising_curve": [{"field": 1.0}]}}, "."),
    ],
)
def test_what_cannot_be_joined_is_refused(changes, told):
    """One clear fault each, in words."""
    with pytest.raises(ScenarioError, match=told):
        bare(changes)
