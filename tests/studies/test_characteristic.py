"""Output characteristic: points that obey their load, crossings on the load line, misfires told and not hidden."""

import itertools

import numpy as np
import pytest

import weldsim
from weldsim.errors import QuestionError
from weldsim.studies import characteristic
from weldsim.studies.characteristic_points import RESISTANCES, met
from weldsim.studies.load_lines import conventional, own_line
from weldsim.studies.operating import HUNTING_PERIODS, with_load

DIALS = (0.4, 0.6, 1.0)


@pytest.fixture(scope="module")
def answer():
    """Three dials of the benchmark supply; at 100 % it fires at 10 degrees and misses half cycles."""
    return characteristic.ask(weldsim.read("benchmark_b"), dials=DIALS)


def points(answer, kind, dial):
    """The rows of one kind and dial."""
    return [row for row in answer.rows if row["kind"] == kind and row.get("dial") == dial]


def test_every_dial_has_a_line_from_short_to_open(answer):
    """Each dial has one point a resistor, and along them the load only rises."""
    for dial in DIALS:
        loads = [row["resistance"] for row in points(answer, "line", dial)]
        assert loads == sorted(RESISTANCES)
        assert loads[0] < 0.01  # nearly a short: a few hundredths of what 100 A x 20 V would need
        assert loads[-1] > 5.0  # nearly open


def test_points_obey_ohms_law(answer):
    """On a resistor mean volts over mean amps is its resistance, to rounding of two exact integrals (1e-9)."""
    for row in (row for dial in DIALS for row in points(answer, "line", dial)):
        assert row["voltage"] == pytest.approx(row["resistance"] * row["current"], rel=1e-9)


def test_crossings_lie_on_the_conventional_load_line(answer):
    """Where the current never falls to zero, the means lie on 14 V + 0.05 ohm x I (IEC 60974-1), exactly (1e-9)."""
    row = points(answer, "crossing", 0.6)[0]
    assert row["voltage"] == pytest.approx(14.0 + 0.05 * row["current"], rel=1e-9)
    assert answer.numbers["crossing.dial_60.current"].value == row["current"]


def test_a_current_in_pulses_is_not_said_to_lie_on_the_line():
    """Without bank and choke the current rests, the load takes no volts meanwhile, and the means lie below the line.

    At 20 % of the charger's dial (measured: 4.3 V where the line asks for 14.3 V); what lies on the line says nothing.
    """
    found = characteristic.ask(weldsim.read("charger"), dials=(0.2,))
    row = points(found, "crossing", 0.2)[0]
    assert row["voltage"] < 0.5 * (14.0 + 0.05 * row["current"])
    assert row["on_line"] is False
    assert "meets the load line" not in found.verdicts[0].text
    assert "comes in pulses" in found.verdicts[0].text
    smooth = characteristic.ask(weldsim.read("benchmark_b"), dials=(0.6,))
    assert points(smooth, "crossing", 0.6)[0]["on_line"] is True
    assert "comes in pulses" not in smooth.verdicts[0].text


def test_dials_that_differ_little_keep_their_numbers_apart():
    """33.3 and 33.4 % are two settings with figures of their own; the same setting twice is one."""
    found = characteristic.ask(weldsim.read("benchmark_b"), dials=(0.333, 0.334, 0.333))
    first, second = (found.numbers[f"crossing.dial_33_{k}.current"].value for k in (3, 4))
    assert 0.0 < second - first < 1.0  # [A] a thousandth of the dial, 0.16 degrees
    assert len(found.verdicts) == 2
    assert {verdict.name for verdict in found.verdicts} == {"crossing_dial_33_3", "crossing_dial_33_4"}


def test_lines_and_crossings_agree(answer):
    """The crossing lies between the two points of its line whose loads lie on either side of its own volts per amp."""
    for dial in (0.4, 0.6):
        crossing = points(answer, "crossing", dial)[0]
        load = crossing["voltage"] / crossing["current"]
        pairs = itertools.pairwise(points(answer, "line", dial))
        low, high = next((a, b) for a, b in pairs if a["resistance"] <= load <= b["resistance"])
        assert high["current"] < crossing["current"] < low["current"]
        assert low["voltage"] < crossing["voltage"] < high["voltage"]


def test_more_dial_gives_more(answer):
    """On every load 60 % gives more than 40 %; nothing is missed there."""
    for less, more in zip(points(answer, "line", 0.4), points(answer, "line", 0.6), strict=True):
        assert more["current"] > less["current"]
        assert less["missed"] == more["missed"] == 0.0


def test_missed_half_cycles_are_those_without_current(answer):
    """At 100 % on 10 ohm the share missed is that of half cycles whose samples never reach latching with their sign."""
    row = points(answer, "line", 1.0)[-1]
    loaded = with_load(weldsim.read("benchmark_b"), {"load.kind": "resistor", "load.resistance": 10.0})
    run = weldsim.perform(loaded, dial=1.0, start="steady", duration=0.2, sample_interval=5e-5)
    signs = np.where(np.arange(20) % 2 == 0, 1.0, -1.0)
    largest = (run["primary.current"][:4000].reshape(20, 200) * signs[:, None]).max(axis=1)
    # 0.08 A: the latching current; leakage and snubber of a blocked triac carry less than a tenth of it.
    assert row["missed"] == np.mean(largest < 0.08) == 0.5


def test_misfiring_is_a_verdict(answer):
    """The dial that misses half cycles on the load line is a fault with its share; one that fires well is a note."""
    levels = {verdict.name: verdict for verdict in answer.verdicts}
    assert levels["crossing_dial_60"].level == "note"
    assert "misses" not in levels["crossing_dial_60"].text
    assert levels["crossing_dial_100"].level == "fault"
    assert "misses 50 of 100 half cycles there" in levels["crossing_dial_100"].text  # it half-waves


def test_a_supply_that_never_repeats_is_told():
    """The toroid at 80 % hunts on light loads; the page says that those points are means over many periods."""
    found = characteristic.ask(weldsim.read("toroid_shed"), dials=(0.8,))
    hunting = [line for line in found.assumptions if "no mains period repeats" in line]
    assert len(hunting) == 1
    assert f"{HUNTING_PERIODS:.0f} periods" in hunting[0]
    assert found.rows[-3]["kind"] == "crossing"
    assert found.rows[-4]["missed"] > 0.0  # the lightest load


def test_spread_brackets_the_crossing(answer):
    """Less mains gives less, more gives more; the sentence states all three."""
    text = {verdict.name: verdict.text for verdict in answer.verdicts}["crossing_dial_60"]
    low, middle, high = (float(word) for word in text.split("+10 %: ")[1].split(" A)")[0].split(", "))
    assert low < middle < high


def test_without_phase_control_there_is_one_line():
    """A supply straight on the mains has one line, no dial and nothing to miss; asking for dials is refused."""
    scenario = weldsim.vary(weldsim.read("benchmark_b"), {"phase_control": "absent"})
    found = characteristic.ask(scenario)
    assert {row.get("dial") for row in found.rows} == {None}
    assert {row["missed"] for row in found.rows if row["kind"] != "load line"} == {None}
    assert set(found.numbers) == {"crossing.current", "crossing.voltage", "crossing.slope"}
    with pytest.raises(QuestionError, match="cannot be set by --dial"):
        characteristic.ask(scenario, dials=(0.5,))


def test_alternating_output_is_told_in_rms():
    """Without a rectifier the points are rms values: they too obey the resistor (1e-9), and are not near zero."""
    scenario = weldsim.read_text(
        '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n[transformer]\nratio = 7.0\nprimary_resistance = "0.3 ohm"\n'
        'secondary_resistance = "8 mohm"\nprimary_leakage_inductance = "1.5 mH"\n[load]\nkind = "resistor"\n'
        'resistance = "0.2 ohm"\n'
    )
    found = characteristic.ask(scenario)
    assert any("rms values of voltage and current" in line for line in found.assumptions)
    for row in found.rows:
        if row["kind"] == "line":
            assert row["voltage"] == pytest.approx(row["resistance"] * row["current"], rel=1e-9)
            assert row["current"] > 3.0


@pytest.mark.slow
def test_an_rc_diac_dial_has_one_line_or_one_for_each_dial():
    """A dial whose circuit makes the delay has one line as written; with --dial one for each."""
    scenario = weldsim.vary(
        weldsim.read("benchmark_b"),
        {
            "phase_control.dial_kind": "rc-diac",
            "phase_control.timing_resistance_at_0": "220 kohm",
            "phase_control.timing_resistance_at_100": "10 kohm",
            "phase_control.timing_capacitance": "100 nF",
        },
    )
    both = characteristic.ask(scenario, dials=(0.5, 0.8)).numbers
    assert both["crossing.dial_80.current"].value > 1.1 * both["crossing.dial_50.current"].value
    found = characteristic.ask(scenario)
    lines = [row for row in found.rows if row["kind"] == "line"]
    assert len(lines) == len(RESISTANCES)
    assert {(row["dial"], row["delay"]) for row in lines} == {(None, None)}
    assert set(found.numbers) == {"crossing.current", "crossing.voltage", "crossing.slope"}


def test_rows_come_dial_by_dial_and_the_load_line_last(answer):
    """Along each line the current falls and the voltage rises, then comes its crossing; the load line ends the list."""
    count = len(RESISTANCES)
    kinds = [row["kind"] for row in answer.rows]
    assert kinds[: len(DIALS) * (count + 1)] == (["line"] * count + ["crossing"]) * len(DIALS)
    assert set(kinds[len(DIALS) * (count + 1) :]) == {"load line"}
    for dial in (0.4, 0.6):  # at 100 % lost half cycles leave no order
        volts, amps = ([row[what] for row in points(answer, "line", dial)] for what in ("voltage", "current"))
        assert volts == sorted(volts)
        assert amps == sorted(amps, reverse=True)
    ends = [(row["current"], row["voltage"]) for row in answer.rows if row["kind"] == "load line"]
    assert ends == sorted(ends)
    assert ends[0] == (0.0, 14.0)  # IEC 60974-1: 14 V + 0.05 ohm x I for MIG/MAG
    assert ends[-1][0] == max(row["current"] for row in answer.rows)


def test_the_slope_of_a_divider():
    """60 V behind 40 mohm and leads of 10 mohm fall by 5 V per 100 A (Ohm's law), 1 V of it in the leads."""
    plain = weldsim.read_text(
        """
        [mains]
        voltage = "60 V"
        frequency = "50 Hz"
        resistance = "40 mohm"
        [weld_leads]
        resistance = "10 mohm"
        inductance = "0 H"
        """
    )
    answer = characteristic.ask(plain)
    assert answer.numbers["crossing.slope"].value == pytest.approx(0.05, rel=1e-9)  # exact integrals, to rounding
    assert "fall by 5 V per 100 A between" in answer.verdicts[0].text
    assert "1 V of it in the weld leads" in answer.verdicts[0].text


ALTERNATING = {"rectifier": "absent", "bank": "absent", "phase_control": "absent"}


def test_an_alternating_output_crosses_the_line_by_its_rms():
    """The crossing is that of a resistor, whose rms values lie on the line; the line itself takes one half wave only.

    A preview of that resistor is asked by itself.
    """
    scenario = weldsim.vary(weldsim.read("benchmark_b"), ALTERNATING)
    found = characteristic.ask(scenario)
    (row,) = points(found, "crossing", None)
    assert row["on_line"] is True
    assert row["voltage"] == pytest.approx(14.0 + 0.05 * row["current"], rel=2e-4)
    load = {"kind": "resistor", "resistance": row["voltage"] / row["current"]}
    numbers = weldsim.preview(weldsim.vary(scenario, {"load": load})).numbers
    assert numbers["output.current.rms"].value == pytest.approx(row["current"], rel=1e-6)
    assert abs(numbers["output.current.mean"].value) < 1e-6 * row["current"]


@pytest.mark.parametrize("changes", [ALTERNATING, {}])
def test_a_line_that_is_not_reached_is_told(changes):
    """A winding of 6 V never reaches the 14 V at which the line begins: that, not pulses, is why no current flows."""
    weak = weldsim.vary(weldsim.read("benchmark_b"), {**changes, "transformer.ratio": 230.0 / 6.0})
    (told,) = characteristic.ask(weak, dials=() if changes else (0.5,)).verdicts
    assert "does not reach the load line, which begins at 14 V" in told.text
    assert "pulses" not in told.text


@pytest.mark.slow
def test_what_is_no_arc_is_crossed_with_its_own_load():
    """A spot welder of two volts: crossings are what the scenario's own resistor takes, as `preview` of it says.

    So they are for a battery that a small charger fills; not where there is a wire, an arc or an inductance.
    """
    spot = weldsim.read("resistance_spot")
    answer = characteristic.ask(spot, dials=(0.8,), turns=(2,), currents=(500.0,))
    seen = weldsim.preview(spot, dial=0.8).numbers
    for what in ("current", "voltage"):
        number = answer.numbers[f"crossing.dial_80.{what}"].value
        assert number == pytest.approx(seen[f"output.{what}.rms"].value, rel=1e-6)  # both settled to 1e-9
    told = " ".join([one.text for one in answer.verdicts] + answer.assumptions)
    assert "to the scenario's own load, 1.2 mohm" in told
    assert "load line, which begins" not in told
    assert "Conventional load line" not in told
    line = [row for row in answer.rows if row["kind"] == "load line"]
    assert all(row["voltage"] == pytest.approx(1.2e-3 * row["current"]) for row in line)
    assert answer.numbers["turns_2.crossing.current"].value == pytest.approx(seen["output.current.rms"].value, rel=1e-6)
    lead = {"kind": "battery", "voltage": 6.0, "resistance": 20e-3}
    weak = weldsim.vary(weldsim.read("charger"), {"transformer.secondary_turns": 10, "load": lead})
    (crossing,) = [row for row in characteristic.ask(weak, dials=(0.6,)).rows if row["kind"] == "crossing"]
    assert crossing["current"] > 10.0
    assert crossing["on_line"]
    assert crossing["voltage"] == pytest.approx(6.0 + 20e-3 * crossing["current"], rel=1e-6)  # its straight line
    assert own_line(weldsim.vary(spot, {"load.inductance": 1e-6})) is None
    assert own_line(weldsim.read("benchmark_b")) is None


@pytest.mark.parametrize(("inner", "more"), [(0.001, 3), (0.05, 0), (50.0, 4)])
def test_tiny_and_huge_supplies_reach_open_and_short(inner, more):
    """23 V behind 1 mohm, 50 mohm and 50 ohm (voltage divider): each line ends nearly open and nearly short.

    Below a fifth of its volts and a twentieth of its short-circuit current, by further resistors where it takes them.
    """
    supply = weldsim.read_text(
        f"""
        [mains]
        voltage = "230 V"
        frequency = "50 Hz"
        [transformer]
        ratio = 10
        secondary_resistance = "{inner} ohm"
        """
    )
    line = [row for row in characteristic.ask(supply).rows if row["kind"] == "line"]
    assert len(line) == len(RESISTANCES) + more
    for row in line:
        assert row["voltage"] == pytest.approx(23.0 * row["resistance"] / (row["resistance"] + inner), rel=1e-6)
    assert [row["resistance"] for row in line] == sorted(row["resistance"] for row in line)
    assert line[0]["voltage"] < 0.2 * line[-1]["voltage"]
    assert line[-1]["current"] < 0.05 * line[0]["current"]


def test_the_spread_of_an_alternating_output_compares_like_with_like():
    """At 122 degrees the volts on an open output pass 14 V at mains +10 % only: the spread keeps to one load.

    31 V rms of the winding give 13 V there (closed form of a resistor behind a phase control, by hand), so that
    only the higher mains have a crossing on a resistor: more volts must give more amps all the same.
    """
    welder = weldsim.read_text("""
[mains]
voltage = "230 V"
frequency = "50 Hz"
resistance = "0.3 ohm"
inductance = "0.4 mH"
[phase_control]
[transformer]
ratio = "230:31"
primary_resistance = "0.4 ohm"
primary_leakage_inductance = "0.5 mH"
secondary_resistance = "7 mohm"
secondary_leakage_inductance = "9 uH"
[load]
kind = "resistor"
resistance = "0.3 ohm"
""")
    low, rated, high = (one.current for one in met(welder, conventional(welder), 0.3).values())
    assert 1.1 < rated / low < 1.4
    assert 1.1 < high / rated < 1.4
