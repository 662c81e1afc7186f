"""A varistor in a supply: idle in normal work, clamping what the switch breaks off, its heat and its ratings."""

import math

import pytest
from scipy.integrate import quad

import weldsim
from weldsim.scenario.checks import findings

HENRIES, HOLDING = 4.0, 0.05
DISC = {"clamp_voltage": 430.0, "slope": 5.6}  # 275 V ac, 14 mm: figures from memory
UNLOADED = f"""
[mains]
voltage = "230 V"
frequency = "50 Hz"
[phase_control]
holding_current = "{HOLDING} A"
latching_current = "60 mA"
threshold = "0 V"
off_resistance = "1000 Mohm"
[varistor]
clamp_voltage = "430 V"
slope = "5.6 ohm"
leakage_resistance = "1000 Mohm"
[transformer]
ratio = "230:50"
[core]
magnetising_inductance = "{HENRIES} H"
"""
ON_THE_MAINS = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "1 ohm"
[varistor]
clamp_voltage = "300 V"
slope = "9 ohm"
leakage_resistance = "1000 Mohm"
"""


def verdict_of(answer):
    """The verdict about the varistor."""
    return next(one for one in answer.verdicts if one.name == "varistor")


def test_it_takes_what_the_holding_current_breaks_off():
    """An unloaded transformer is cut off at 50 mA: the disc takes L I^2 / 2 of its iron and holds 430 V + 5.6 ohm I.

    Source: energy of an inductance.  Tolerance: 1e-4, for leakage of 430 V / 1000 Mohm and the corner's own energy.
    """
    answer = weldsim.preview(weldsim.read_text(UNLOADED), delay=120.0)
    numbers = {name: number.value for name, number in answer.numbers.items()}

    assert numbers["varistor.current.peak"] == pytest.approx(HOLDING, rel=1e-4)
    assert numbers["varistor.voltage.peak"] == pytest.approx(430.0 + 5.6 * HOLDING, rel=1e-4)
    assert numbers["varistor.energy.max"] == pytest.approx(HENRIES * HOLDING**2 / 2.0, rel=1e-4)
    assert numbers["switch_on.varistor.energy.max"] == pytest.approx(HENRIES * HOLDING**2 / 2.0, rel=1e-4)
    assert numbers["varistor.power.mean"] == pytest.approx(100.0 * HENRIES * HOLDING**2 / 2.0, rel=1e-4)
    assert verdict_of(answer).level == "note"  # it clamps, and nothing says what it bears


def test_without_it_the_voltage_has_no_bound():
    """The same iron without the disc has nowhere to go but the leakage of the blocked switch: kilovolts."""
    run = weldsim.perform(weldsim.read_text(UNLOADED.replace('off_resistance = "1000 Mohm"', "")), delay=120.0)
    bare = weldsim.perform(weldsim.vary(run.scenario, {"varistor": "absent"}), delay=120.0)

    assert max(map(abs, run["phase_control.voltage"])) < 430.0 + 5.6 * HOLDING + math.sqrt(2.0) * 230.0
    assert max(map(abs, bare["phase_control.voltage"])) > 2000.0  # 50 mA in 200 kohm: 10 kV at its first instant


def test_the_ledger_holds_its_heat():
    """The varistor's line of the ledger is its mean heat times the window, and the account closes to 1e-9."""
    answer = weldsim.preview(weldsim.read_text(UNLOADED), delay=120.0)
    ledger, window = answer.runs["window"].ledger, answer.runs["window"].window
    heat = ledger["varistor"]["loss"]

    assert heat == pytest.approx(answer.numbers["varistor.power.mean"].value * (window[1] - window[0]))
    assert abs(ledger["residual"]) < 1e-9 * heat


@pytest.mark.parametrize("clamp", [300.0, 100.0])
def test_heat_of_one_that_lies_too_low(clamp):
    """300 V with 9 ohm behind 1 ohm: a crest heats by the integral of (300 V + 9 ohm i) i, i = (v - 300 V)/10 ohm.

    The integral is by quadrature; at 100 V it lasts for most of a half cycle.  Tolerance: 1e-5, for the leakage.
    """
    answer = weldsim.preview(weldsim.vary(weldsim.read_text(ON_THE_MAINS), {"varistor.clamp_voltage": clamp}))
    crest, speed = math.sqrt(2.0) * 230.0, 100.0 * math.pi
    begin = math.asin(clamp / crest) / speed

    def heat(time):
        current = (crest * math.sin(speed * time) - clamp) / 10.0
        return (clamp + 9.0 * current) * current

    expected, _ = quad(heat, begin, 0.01 - begin)
    assert answer.numbers["varistor.energy.max"].value == pytest.approx(expected, rel=1e-5)
    assert answer.numbers["varistor.power.mean"].value == pytest.approx(100.0 * expected, rel=1e-5)


@pytest.mark.parametrize(
    ("ratings", "level"),
    [
        ({"rated_energy": 6.0, "rated_power": 600.0}, "good"),
        ({"rated_energy": 1.0, "rated_power": 600.0}, "fault"),
        ({"rated_energy": 6.0, "rated_power": 0.6}, "fault"),
        ({"rated_energy": 4.0, "rated_power": 600.0}, "fault"),
        ({"rated_energy": 6.0}, "note"),
    ],
    ids=["within both", "energy", "power", "energy at mains +10 % only", "power unknown"],
)
def test_ratings_are_judged_with_the_mains(ratings, level):
    """1.4 J a half cycle and 140 W, 4.8 J and 480 W at mains +10 % (the integral above) against ratings."""
    supply = weldsim.vary(weldsim.read_text(ON_THE_MAINS), {f"varistor.{key}": value for key, value in ratings.items()})
    verdict = verdict_of(weldsim.preview(supply))

    assert verdict.level == level
    assert ("below the crest" in verdict.text) == (level == "fault")


def test_it_is_idle_in_normal_work():
    """On a supply with a bank a 430 V disc never clamps, takes only its leakage's heat and changes no current.

    230 V on 10 Mohm are 5.3 mW at most; tolerance of the output: 1e-6, for that leakage.
    """
    shed = weldsim.read("toroid_shed")
    plain, guarded = (weldsim.preview(one, dial=0.6) for one in (shed, weldsim.vary(shed, {"varistor": DISC})))
    current = "output.current.mean"

    assert guarded.numbers["varistor.voltage.peak"].value < 430.0
    assert guarded.numbers["varistor.power.mean"].value < 5.3e-3
    assert guarded.numbers[current].value == pytest.approx(plain.numbers[current].value, rel=1e-6)
    assert verdict_of(guarded).level == "good"
    assert not [one for one in plain.verdicts if one.name == "varistor"]


@pytest.mark.parametrize(("clamp", "level"), [(430.0, "good"), (380.0, "note"), (350.0, "fault")])
def test_clamp_voltage_against_the_crest(clamp, level):
    """253 V peak at 357.8 V: a clamp below it is a fault, one within 10 % above it a note (usual spread of discs)."""
    supply = weldsim.vary(weldsim.read("toroid_shed"), {"varistor": DISC | {"clamp_voltage": clamp}})

    assert [one.level for one in findings(supply) if one.name == "varistor.clamp_voltage"] == [level]
