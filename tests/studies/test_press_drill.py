"""The press drill: what is carried from press to press, magnetic and thermal trips, refusals."""

import math

import numpy as np
import pytest
from scipy.integrate import trapezoid

import weldsim
from weldsim.cli.main import main
from weldsim.errors import QuestionError
from weldsim.parts.soft_start import SoftStart
from weldsim.scenario.vary import vary
from weldsim.studies import press_drill

PRESSES = 8


@pytest.fixture(scope="module")
def shed():
    """The toroid shed with its C16 breaker."""
    return weldsim.read("toroid_shed")


@pytest.fixture(scope="module")
def answer(shed):
    """Its drill of eight presses."""
    return press_drill.ask(shed, presses=PRESSES)


def heat_of(rows, rating, *, trip, latest):
    """Heat of a breaker at the end of each press, integrated in small steps (Euler), over its trip heat."""
    tau = latest / math.log(2.55**2 / (2.55**2 - trip))
    heat, now, found = 0.0, rows[0]["begin"], []
    for row in rows:
        for multiple, duration in ((0.0, row["begin"] - now), (row["rms"] / rating, row["end"] - row["begin"])):
            for _ in range(2000):
                heat += duration / 2000 * (multiple**2 - heat) / tau
        found.append(heat / trip)
        now = row["end"]
    return found


def test_heat_is_carried_through(answer):
    """Heat by small steps of dh/dt = (m^2 - h) / tau agrees with the drill's; 1e-3 for the steps.

    Middle edge: geometric means of 1.13 and 1.45 In and of 1 and 60 s at 2.55 In.
    """
    rows = answer.rows
    expected = heat_of(rows, 16.0, trip=1.13 * 1.45, latest=math.sqrt(60.0))
    assert [row["breaker_heat"] for row in rows] == pytest.approx(expected, rel=1e-3)
    assert answer.numbers["breaker.heat.max"].value == max(row["breaker_heat"] for row in rows)


def test_thermal_trips_apart_from_magnetic_ones(shed):
    """A middle D6 breaker is not tripped at once, some are (84.9 A peak); heat trips the fastest, no slowest."""
    answer = press_drill.ask(vary(shed, {"breaker.curve": "D", "breaker.current": "6 A"}), presses=PRESSES)
    numbers = {name: number.value for name, number in answer.numbers.items()}
    assert numbers["presses.tripped"] == 0
    middle, fastest, slowest = (
        numbers[f"presses.tripped.thermal{name}"] for name in ("", ".low_threshold", ".high_threshold")
    )
    assert fastest > middle > slowest == 0
    told = {one.name: one for one in answer.verdicts}
    assert (told["drill"].level, told["thermal"].level) == ("note", "fault")
    assert "protects the cable" in told["thermal"].text


def test_one_press_or_long_pauses_do_not_trip(shed):
    """With pauses of half a minute each press finds the breaker cold again (to 1/3: exp(-30/27)), and none trips."""
    rare = vary(shed, {"breaker.curve": "D", "breaker.current": "10 A"})
    often = press_drill.ask(rare, presses=10, on=0.8, off=0.1)
    seldom = press_drill.ask(rare, presses=10, on=0.8, off=30.0)
    assert often.numbers["presses.tripped.thermal"].value > 0
    assert seldom.numbers["presses.tripped.thermal"].value == 0
    assert seldom.numbers["primary.current.rms"].value < 0.3 * often.numbers["primary.current.rms"].value


def test_train_rms(answer):
    """The rms over the train is that of its presses thinned by 0.8 of 1.5 s; 2 % for the random moments."""
    rms = math.sqrt(np.mean([row["rms"] ** 2 for row in answer.rows]) * 0.8 / 1.5)
    assert answer.numbers["primary.current.rms"].value == pytest.approx(rms, rel=0.02)


def test_later_presses_start_from_what_was_left(answer):
    """The first press finds an empty bank and little flux, the next ones a charged bank: their peaks are lower."""
    rows = answer.rows
    assert abs(rows[0]["bank_voltage"]) < 0.1
    assert all(row["bank_voltage"] > 5.0 for row in rows[1:])
    assert rows[0]["peak"] == max(row["peak"] for row in rows)
    assert answer.numbers["press_5.peak"].value == rows[4]["peak"]


def test_letting_go_ends_a_pulse_under_way():
    """Wherever a press ends, no current flows in the pause: every bank is down to the arc's 14 V.

    A gate left on would go on to charge the bank; the load line's knee ends at 14 V (IEC 60974-1), less 0.7 s of bleed.
    """
    rows = press_drill.ask(weldsim.read("quarter_kiloamp"), presses=12).rows
    assert all(row["bank_voltage"] < 14.0 for row in rows[1:])
    assert np.ptp([row["bank_voltage"] for row in rows[1:]]) < 0.5


def test_heat_of_the_soft_start_against_its_rating(shed):
    """A resistor's heat is that of its ohms (i2 R from samples) until the relay closes; above its rating: a fault."""
    table = SoftStart(kind="resistor", resistance=22.0, bypass_delay=0.1, rated_energy=10.0)
    soft = vary(shed, {"soft_start": table})
    answer = press_drill.ask(soft, presses=2)
    run = weldsim.perform(soft, duration=0.1)
    heat = 22.0 * trapezoid(run["primary.current"] ** 2, run.time)
    # 10 %: the drill begins 24 deg later in the mains, and its contact's heat counts too
    assert answer.rows[0]["soft_start_heat"] == pytest.approx(heat, rel=0.1)
    verdict = next(one for one in answer.verdicts if one.name == "soft_start")
    assert (verdict.level, "beyond the 10 J" in verdict.text) == ("fault", True)


def test_fifth_press_is_told(answer):
    """From five presses on a verdict compares the fifth with the first: bank, flux, phase, and the breaker's heat."""
    text = next(one.text for one in answer.verdicts if one.name == "fifth")
    assert all(word in text for word in ("Press 5", "on the bank", "in the core", "deg of the mains", "of the heat"))


def test_bleeding_over_a_longer_pause(shed):
    """The bank falls by exp(-t / RC) over 3 s more of pause: 60 mF, 100 ohm of bleed, 1 kohm of the load below 14 V.

    0.5 % for the leakage of the rectifier; the same seed shifts both moments alike.
    """
    short, long = (press_drill.ask(shed, presses=2, off=off).rows[1] for off in (0.7, 3.7))
    assert long["bank_voltage"] / short["bank_voltage"] == pytest.approx(
        math.exp(-3.0 / (0.06 / (1 / 100 + 1 / 1000))), rel=5e-3
    )


def test_same_seed_same_numbers(shed, answer):
    """The same seed gives the same train, another seed another."""
    assert press_drill.ask(shed, presses=PRESSES).rows == answer.rows
    assert press_drill.ask(shed, presses=PRESSES, seed=2).rows != answer.rows


def test_fuse_in_a_drill(shed):
    """A gG fuse is judged by the I2t of each press: 2 A melts (from memory: 23 A2s at most), 16 A does not."""
    for current, melted in (("2 A", PRESSES), ("16 A", 0)):
        answer = press_drill.ask(vary(shed, {"breaker.curve": "gG", "breaker.current": current}), presses=PRESSES)
        assert answer.numbers["presses.tripped"].value == melted
        assert "presses.tripped.thermal" not in answer.numbers
        assert "fuse" in answer.verdicts[0].text


def test_without_breaker(shed):
    """Without a breaker nothing trips, and the assumptions say so."""
    answer = press_drill.ask(vary(shed, {"breaker": "absent"}), presses=2)
    assert not any(name.startswith("presses.tripped") for name in answer.numbers)
    assert any("No breaker" in line for line in answer.assumptions)


def test_what_cannot_be_answered(shed):
    """No presses, no time on, no core: errors with place and advice."""
    with pytest.raises(QuestionError, match="0 presses say nothing"):
        press_drill.ask(shed, presses=0)
    with pytest.raises(QuestionError, match="make no train; give times above zero"):
        press_drill.ask(shed, on=0.0)
    with pytest.raises(QuestionError, match="no core that could be magnetised"):
        press_drill.ask(vary(shed, {"core": "absent"}))


def test_page_has_the_caution(tmp_path, monkeypatch, capsys):
    """The printed page tells never to answer a trip with a bigger breaker."""
    monkeypatch.chdir(tmp_path)
    assert main(["drill", "toroid_shed", "--presses", "2"]) == 0
    assert "Never answer a trip with a bigger breaker" in capsys.readouterr().out


def test_without_a_bank_none_is_told(shed):
    """A supply without a bank tells flux and phase of its presses, and of a bank nothing: null in the rows."""
    answer = press_drill.ask(vary(shed, {"bank": "absent"}), presses=5)
    told = " ".join(one.text for one in answer.verdicts)
    assert "V.s left in the core." in told
    assert "on the bank" not in told
    assert all(math.isnan(row["bank_voltage"]) for row in answer.rows)
