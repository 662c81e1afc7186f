"""What every welder knows must come out of circuit and rules by itself: each effect with its direction, and its size
where a source gives one.  Nothing in the wire's constants was fitted to a row that is checked here.
"""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

import weldsim
from weldsim.analysis.dips import ARC, NOTHING, SHORT
from weldsim.runs.weld_runs import Weld, weld_parts
from weldsim.runs.wire_runs import TICK_BITS, WireSupply, delay_of
from weldsim.scenario.vary import vary
from weldsim.studies.weld_measure import KINDS, WeldJob, dip_rate, irregularities, measure

SETTINGS = Path(weldsim.__file__).parent / "data" / "reference" / "short_arc_settings.csv"
TAPPED = """
title = "A plain set with taps: transformer, bridge, bank, choke"
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "0.3 ohm"
inductance = "0.4 mH"
[transformer]
ratio = "230:18"
primary_resistance = "0.3 ohm"
secondary_resistance = "4 mohm"
secondary_leakage_inductance = "15 uH"
[rectifier]
kind = "bridge"
[bank]
capacitance = "60 mF"
resistance = "3 mohm"
[choke]
inductance = "0.35 mH"
resistance = "4 mohm"
[weld_leads]
length = "6 m"
section = "25 mm2"
contact_resistance = "4 mohm"
[wire]
gas = "argon mix"
diameter = "0.8 mm"
"""


@pytest.fixture(scope="module")
def tapped():
    """A plain set with taps: its secondary volts are the knob."""
    return weldsim.read_text(TAPPED)


@pytest.fixture(scope="module")
def shed():
    """The shed, at its own dial and feed."""
    return weldsim.read("toroid_shed")


def welded(scenario, changes=None, *, feed=None, dial=None, seconds=2.0):
    """The dips of a weld of the changed scenario."""
    other = vary(scenario, changes or {})
    return measure(WeldJob(other, dial=dial, feed=None if feed is None else feed / 60.0, seconds=seconds))


# --- against published settings ---------------------------------------------------------------------------------------


def published(diameter, current):
    """Union of the published volts for a wire [mm], of the rows within 10 A of a current [V]."""
    found = []
    for row in csv.DictReader(SETTINGS.read_text(encoding="utf-8").splitlines()):
        wires = [float(text) for text in row["wire_mm"].split("-")]
        amperes = float(row["I_min_A"]), float(row["I_max_A"])
        if wires[0] <= diameter <= wires[-1] and amperes[0] - 10.0 <= current <= amperes[1] + 10.0:
            found.append((float(row["U_min_V"]), float(row["U_max_V"])))
    return (min(low for low, _ in found), max(high for _, high in found)) if found else None


@pytest.mark.parametrize(
    ("diameter", "feed", "tap"),
    [
        (0.8, 2.5, 14.0),
        (0.8, 3.0, 14.5),
        (0.8, 5.0, 17.0),
        (0.8, 6.0, 18.0),
        (0.8, 7.0, 19.0),
        (0.9, 6.0, 20.0),
        (0.9, 7.0, 21.0),
    ],
)
def test_mean_voltage_lies_among_the_published_settings(tapped, diameter, feed, tap):
    """Taps at which it dips 25 to 60 times a second, 55 to 170 A: mean volts at the arc circuit within the union of the
    published rows for that wire, +-1 V (two makers' manuals, short arc in argon mix); shorts of 1 to 10 ms.
    """
    changes = {"transformer.ratio": f"230:{tap:g}", "wire.diameter": f"{diameter:g} mm"}
    meter = welded(tapped, changes, feed=feed)
    assert irregularities(meter) == {}
    assert 25.0 <= dip_rate(meter) <= 60.0
    assert 55.0 <= meter.mean_current() <= 170.0
    low, high = published(diameter, meter.mean_current())
    assert low - 1.0 <= meter.mean_voltage() <= high + 1.0
    assert 1e-3 <= meter.duration.mean <= 10e-3


def test_a_measured_weld_of_180_amperes_is_plausible(tapped):
    """1.2 mm wire in argon with 20 % CO2 was measured at 180 A and 18.7 V, 4.5 V in its dips (published record).

    Here a tap gives 180 A +-10 % at 18.7 V +-10 %, and 4.5 V +-50 % in the dips.  The dip rate of that inverter, some
    180 a second with shorts of 1 ms, is not reached by a tapped set: 20 to 200 are asked for.
    """
    changes = {"transformer.ratio": "230:23.2", "wire.diameter": "1.2 mm", "choke.inductance": "0.2 mH"}
    meter = welded(tapped, changes, feed=4.0)
    assert meter.mean_current() == pytest.approx(180.0, rel=0.1)
    assert meter.mean_voltage() == pytest.approx(18.7, rel=0.1)
    assert meter.mean_voltage(SHORT) == pytest.approx(4.5, rel=0.5)
    assert 20.0 <= dip_rate(meter) <= 200.0


# --- effects ----------------------------------------------------------------------------------------------------------


def test_longer_extension_lowers_the_current(shed):
    """10 to 15 mm at the same feed: 10 to 20 % less current (from memory: 10 to 15 %)."""
    short, long = (welded(shed, {"wire.extension": f"{mm} mm"}).mean_current() for mm in (10, 15))
    assert 0.80 < long / short < 0.90


def test_more_feed_means_more_current_and_more_dips(tapped):
    """Feed sets the amperes, and at one tap the dips rise with it."""
    slow, fast = (welded(tapped, feed=feed) for feed in (5.5, 7.0))
    assert fast.mean_current() > 1.1 * slow.mean_current()
    assert dip_rate(fast) > 1.5 * dip_rate(slow)
    assert fast.mean_voltage() < slow.mean_voltage()


def test_more_choke_lowers_the_rise_and_then_stubs(shed):
    """0.3, 0.8 and 8 mH: the rise falls as 1/L within 25 % of the first step, peaks fall; with 8 mH it stubs."""
    meters = [
        welded(shed, {"choke.inductance": f"{mh} mH", "choke.saturation_current": "5 kA"}, dial=0.45, seconds=3.0)
        for mh in (0.3, 0.8, 8.0)
    ]
    rises = [meter.rise.mean for meter in meters]
    assert rises[0] / rises[1] == pytest.approx(0.8 / 0.3, rel=0.25)
    assert rises[2] < 0.3 * rises[1]
    assert meters[0].peak.mean > meters[1].peak.mean > meters[2].peak.mean
    assert "stubbing" in irregularities(meters[2])
    assert "stubbing" not in irregularities(meters[1])


def test_a_faster_wire_stubs_at_less_choke(tapped):
    """At 5 m/min 3 mH never stub on the plain set, at 8 m/min they do, where 0.5 mH do not.

    A bridge of 150 A drains in 4 ms and by surface tension alone in 10 ms; a wire of 8 m/min runs through 1 mm in 7.5.
    """
    stubs = [
        welded(
            tapped, {"choke.inductance": f"{mh} mH", "transformer.ratio": f"230:{tap}"}, feed=feed, seconds=6.0
        ).stubs
        for mh, tap, feed in ((3.0, 17, 5.0), (3.0, 18, 8.0), (0.5, 18, 8.0))
    ]
    assert stubs[0] == stubs[2] == 0
    assert stubs[1] >= 3


@pytest.mark.parametrize(
    "changes",
    [
        {"choke.inductance": "0.1 mH", "choke.saturation_current": "5 kA"},
        {"choke.inductance": "0.3 mH", "choke.saturation_current": "100 A"},
    ],
    ids=["too little", "saturated"],
)
def test_too_little_or_saturated_choke_raises_the_peak_at_rupture(shed, changes):
    """Against 0.3 mH that holds, the current at rupture is at least a quarter higher."""
    good = welded(shed, {"choke.saturation_current": "5 kA"}, dial=0.475)
    assert welded(shed, changes, dial=0.475).rupture.mean > 1.25 * good.rupture.mean


def arc_minimum(scenario, changes):
    """Least current of the last second of a long arc [A], and the share of it without arc."""
    other = vary(scenario, {**changes, "choke.saturation_current": "5 kA"})
    weld = Weld(WireSupply(other), delay=delay_of(other, 0.6, None), feed=5.0 / 60.0)
    part = list(weld.parts(2.0))[-1]
    kinds = KINDS[part.condition]
    return part.signals["output.current"].min(), float((kinds == NOTHING).mean())


def test_bank_and_choke_in_step_with_the_ripple_bring_the_current_to_zero(shed):
    """8.5 mF with 0.30 mH swing at 99.7 Hz, with 2 mH at 39 Hz: the first touches zero and goes out, the second never.

    The same bank both times, so that it is the resonance and not the smaller bank.
    """
    in_step, out = arc_minimum(shed, {"bank.capacitance": "8.5 mF", "choke.inductance": "0.30 mH"})
    off_step, never = arc_minimum(shed, {"bank.capacitance": "8.5 mF", "choke.inductance": "2 mH"})
    assert 1.0 / (2.0 * math.pi * math.sqrt(8.5e-3 * 0.3e-3)) == pytest.approx(2 * 50.0, rel=0.01)
    assert in_step < 1.0
    assert out > 0.1
    assert off_step > 30.0
    assert never == 0.0


def test_leads_and_contacts_cost_volts(tapped):
    """Between terminals and arc circuit lies the mean current times the resistance of leads and contacts.

    Within 2 %: over a second the inductance of the leads takes next to nothing on average.
    """
    for milliohm in (4.0, 14.0):
        scenario = vary(tapped, {"weld_leads.contact_resistance": f"{milliohm} mohm"})
        names = ("output.current", "output.voltage", "terminal.voltage")
        weld = Weld(WireSupply(scenario), delay=None, feed=0.1, signals=names)
        means = {name: wave.mean() for name, wave in list(weld.parts(3.0))[-1].signals.items()}
        copper = 6.0 * 0.780e-3  # [ohm] class 5, plain wires, 25 mm2, of IEC 60228
        lost = means["terminal.voltage"] - means["output.voltage"]
        assert lost / means["output.current"] == pytest.approx(milliohm * 1e-3 + copper, rel=0.02)
    dirty = welded(tapped, {"weld_leads.contact_resistance": "14 mohm"}, feed=6.0)
    clean = welded(tapped, feed=6.0)
    assert dirty.mean_voltage() < clean.mean_voltage() - 0.5


def test_long_mains_leads_lower_the_crest(shed):
    """60 m in place of 8 m: under a long arc the bank's crests fall, in dip transfer the mean volts do."""
    crests = []
    for length in (8, 60):
        scenario = vary(shed, {"supply_lead.length": f"{length} m"})
        part = list(weld_parts(scenario, seconds=2.0, dial=0.6, feed=5.0 / 60.0))[-1]
        assert np.all(KINDS[part.condition] == ARC)
        crests.append(part.signals["bank.voltage"].max())
    assert crests[1] < crests[0] - 0.5
    near, far = (welded(shed, {"supply_lead.length": f"{length} m"}).mean_voltage() for length in (8, 60))
    assert far < near - 1.0


def test_low_dial_flutters(shed):
    """At dial 35 % the arc is out a good part of the time, at 50 % next to never; its dips have no rhythm."""
    low, own = welded(shed, dial=0.35), welded(shed, dial=0.5)
    assert low.share(NOTHING) > 0.1
    assert own.share(NOTHING) < 0.01
    assert "flutter" in irregularities(low)


def test_self_regulation_after_a_step_of_the_torch(tapped):
    """The gap comes back with the linearised time constant, within 20 % (ripple, the heat memory of the extension).

    With volts linear in gap and current, R the slope of supply, arc and extension together:
    di/dl = -(E - rho i / A) / R, and 1/tau = -(alpha + 2 beta L i) di/dl + beta i^2 (derived here from the melting
    rate and the arc line).  The supply's own slope comes from two feeds.
    """
    scenario = vary(tapped, {"transformer.ratio": "230:24"})

    def settled(feed):
        weld = Weld(WireSupply(scenario), delay=None, feed=feed)
        list(weld.parts(2.0))
        part = weld.part(weld.ticks)
        assert np.all(KINDS[part.condition] == ARC)  # a long arc, no dips
        return weld, part.signals["output.current"].mean(), part.signals["output.voltage"].mean(), part.gap.mean()

    (_, i_low, u_low, _), (_, i_high, u_high, _) = settled(5.9 / 60.0), settled(6.1 / 60.0)
    weld, current, _, gap = settled(6.0 / 60.0)
    wire = weld.supply.constants
    extension, per_length = wire.height - gap, wire.resistivity_hot / wire.section
    slope = -(u_high - u_low) / (i_high - i_low) + wire.arc_resistance + per_length * extension
    fall = (wire.arc_gradient - per_length * current) / slope
    rate = (wire.melt_alpha + 2.0 * wire.melt_beta * extension * current) * fall + wire.melt_beta * current**2
    weld.set_torch_height(wire.height + 0.4e-3)
    after = np.concatenate([weld.part(weld.ticks).gap for _ in range(2)])
    ripple = round(0.01 / weld.supply.tick)
    smooth = np.convolve(after, np.full(ripple, 1.0 / ripple), "valid")
    end = smooth[-1000:].mean()
    left = (smooth - end) / (smooth[0] - end)
    assert int(np.argmax(left < math.exp(-1.0))) * weld.supply.tick == pytest.approx(1.0 / rate, rel=0.2)


# --- the arithmetic ---------------------------------------------------------------------------------------------------


def test_the_tick_does_not_decide(tapped):
    """Half and double the tick: current and volts within 2 %, dips within 15 %: 4 s of a chaotic weld."""
    found = []
    for bits in (TICK_BITS - 1, TICK_BITS, TICK_BITS + 1):
        supply = WireSupply(tapped, tick_bits=bits)
        weld = Weld(supply, delay=None, feed=6.0 / 60.0)
        list(weld.parts(0.5))
        begun, current, volts, time = int(weld.run.count[14]), 0.0, 0.0, 4.0
        for part in weld.parts(time):
            current += part.signals["output.current"].sum() * supply.tick / time
            volts += part.signals["output.voltage"].sum() * supply.tick / time
        found.append((current, volts, (int(weld.run.count[14]) - begun) / time))
    for place, tolerance in ((0, 0.02), (1, 0.02), (2, 0.15)):
        middle = found[1][place]
        assert [one[place] for one in found] == pytest.approx([middle] * 3, rel=tolerance)


def test_memory_does_not_grow_with_the_weld(tapped):
    """After ten seconds another twenty keep less than 2 MB of what Python allocates."""
    import tracemalloc

    parts = weld_parts(tapped, seconds=30.0, feed=0.1)
    for _ in range(10):
        next(parts)
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for _ in range(19):
        next(parts)
    grown = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert grown < 2e6
