"""What a comparison of strikes may say: chance, too weak a boost, how a start failed, where the wire ended."""

import dataclasses

import pytest
from scipy.stats import binomtest

import weldsim
from weldsim.report.wording import page
from weldsim.runs.wire_runs import Trial, WireSupply, strike_trial
from weldsim.scenario.vary import vary
from weldsim.studies import strike, strike_boost
from weldsim.studies.strike_jobs import Setting

FEED = 5.0 / 60.0
SOURCE = """
title = "A direct source behind a resistance and a choke"
[mains]
voltage = "0 V"
frequency = "50 Hz"
dc_offset = "{volts} V"
resistance = "60 mohm"
[choke]
inductance = "0.3 mH"
[wire]
diameter = "0.8 mm"
"""


@pytest.fixture(scope="module")
def boosted():
    """The shed with its boost winding."""
    return weldsim.read("toroid_shed_boost")


@pytest.fixture(scope="module")
def plain():
    """The shed without a boost, its run-in left to the program."""
    shed = weldsim.read("toroid_shed")
    assert shed.wire is not None
    return dataclasses.replace(shed, wire=dataclasses.replace(shed.wire, run_in_feed=None))


@pytest.mark.parametrize("count", [10, 30, 100])
def test_a_difference_that_chance_makes_decides_nothing(count):
    """No judgement over a tenth of the trials goes against the exact binomial test of scipy at 5 % (computed)."""
    for better in range(0, count + 1, 2):
        for worse in range(0, count + 1 - better, 3):
            said = strike_boost.judged(better, worse, count=count)
            rare = better + worse > 0 and binomtest(better, better + worse).pvalue <= strike_boost.CHANCE
            wide = abs(better - worse) > 0.1 * count
            assert (said in (strike_boost.DECIDES, strike_boost.HARMS)) == (wide and rare)
            assert (said == strike_boost.BY_CHANCE) == (wide and not rare)


@pytest.mark.slow
def test_a_boost_of_tenths_of_an_ampere_holds_no_arc(boosted):
    """Behind 220 ohm it gives at most 66 V / 220 ohm = 0.3 A, less than an arc of iron needs; behind 10 ohm, amperes.

    Where the arc goes out in the valleys of the ripple, 104 degrees, the one strikes rarely and the other often.
    """
    struck = []
    for ballast in ("220 ohm", "10 ohm"):
        answer = strike.ask(vary(boosted, {"boost.ballast_resistance": ballast}), delay=104.0, feed=FEED, trials=20)
        struck.append(answer.numbers["struck"].value)
    assert struck[0] <= 8
    assert struck[1] >= 14


@pytest.mark.slow
def test_how_soon_it_strikes_stands_beside_how_often(boosted):
    """Where both strike, the boost of the bundled supply is told by the time it saves."""
    answer = strike.ask(boosted, delay=90.0, feed=FEED, trials=5, compare="boost")
    found = next(one for one in answer.verdicts if one.name == "boost")
    assert answer.numbers["boost.current.max"].value > 1.0  # 47.8 V rms behind 22 ohm: some 2 A
    assert "half have their stable arc within" in found.text


def test_a_wire_that_comes_too_late_does_not_stub():
    """4.3 mm at 0.2 m/min take 1.29 s: the arc that follows burns on, but its 0.3 s do not fit into 1.5 s (by hand)."""
    gap = {"wire.first_gap_low": "4.3 mm", "wire.first_gap_high": "4.3 mm", "wire.run_in_feed": "0.2 m/min"}
    supply = WireSupply(vary(weldsim.read_text(SOURCE.format(volts=24)), gap))
    done = [strike_trial(supply, seed=1, trial=k, delay=None, feed=FEED) for k in range(6)]
    assert all(trial.touches and not trial.losses and not trial.stubs and not trial.struck for trial in done)
    assert {trial.reason for trial in done} == {"touched too late"}


def test_run_in_follows_the_feed_that_is_asked_for(plain):
    """A feed by option and the same feed in the file are one question: 60 % of it before the first arc either way."""
    written = vary(plain, {"wire.feed": "3 m/min"})
    asked, in_file = (
        strike_trial(WireSupply(one), seed=2, trial=1, delay=60.0, feed=feed)
        for one, feed in ((plain, 3.0 / 60.0), (written, None))
    )
    assert asked == in_file


def test_a_run_in_that_is_written_stays(boosted):
    """The boosted shed writes 3 m/min: no other feed changes it."""
    assert WireSupply(boosted).fed(9.0 / 60.0).run_in == pytest.approx(3.0 / 60.0)


def test_a_feeder_that_cannot_bring_the_feed_does_not_by_option_either(plain):
    """8 V rms, 11.3 V of crest less 1.6 V and 2.5 V leave 7.2 V to a motor that takes 15 V at 10 m/min (by hand).

    Back-EMF at 222 rad/s x 66.8 mV s is 14.9 V.
    """
    weak = vary(plain, {"feed_motor.rated_voltage": "24 V", "feed_supply.voltage": "8 V"})
    asked, written = WireSupply(weak).fed(10.0 / 60.0), WireSupply(vary(weak, {"wire.feed": "10 m/min"})).constants
    assert asked == written
    assert asked.feed < 5.0 / 60.0


def test_an_arc_in_the_contact_tube_is_told():
    """45 V less 60 mohm x 123 A are 37 V; an arc of 12 mm takes 15 V + 12 V + 22 mohm x 123 A = 30 V (by hand).

    At 5 m/min and without any extension 83 mm/s over 0.675 mm/(A s) are 123 A.
    """
    answer = strike.ask(weldsim.read_text(SOURCE.format(volts=45)), trials=4)
    assert answer.numbers["struck"].value == 4
    assert answer.numbers["burnt_back.count"].value == 4
    (found,) = answer.verdicts
    assert found.level == "fault"
    assert "burnt back into the contact tube" in found.text


def test_constants_at_the_end_of_their_range_are_halved_all_the_same(boosted):
    """1.5 V of falling part and 60 ms are legal; half and twice of them are tried though no file may say so."""
    edge = vary(boosted, {"wire.falling_voltage": "1.5 V", "wire.reignite_lost": "60 ms"})
    jobs = strike_boost.robust_jobs(edge, Setting(98.0, FEED, 1), 2)
    wires = [job.scenario.wire for job in jobs]
    assert [wire.falling_voltage for wire in wires if wire is not None] == pytest.approx([0.75, 0.75, 3.0, 3.0])
    assert [wire.reignite_lost for wire in wires if wire is not None] == pytest.approx([0.03, 0.03, 0.12, 0.12])


def test_a_kick_without_a_snubber_is_named():
    """Most of the open-circuit voltage that a snubber would take is told as such; nothing is said behind a snubber."""
    volts = {"with_boost": {"output": 126.0}, "without_boost": {"output": 50.0}, "snubbed": {"output": 94.0}}
    assert "it is 94 V" in strike_boost._of_a_kick(126.0, volts)
    assert strike_boost._of_a_kick(95.0, volts) == ""
    assert "snubbed" not in strike_boost.no_load_cases(weldsim.read("toroid_shed_boost"))


@pytest.mark.parametrize(("with_boost", "level"), [(4, "fault"), (25, "note"), (40, "note")])
def test_boost_and_diode_that_do_harm_together_are_a_fault(boosted, with_boost, level):
    """27 of 40 strike without both; 4 with both is worse than nothing built, 25 or 40 is not (sign test)."""

    def trials(struck):
        return [Trial(k, k < struck, 0.1, 1, 0, 0, 0, 0, 100.0, 1e5, "") for k in range(40)]

    found = {"with_boost": trials(with_boost), "without_boost": trials(3), strike_boost.BARE: trials(27)}
    (said,) = strike_boost.blocking_diode(boosted, found).verdicts
    assert said.level == level
    assert f"{with_boost} strikes against 27" in said.text


def test_trials_over_the_dial_are_counted(plain):
    """Without a comparison the page tells at each setting how many of its trials struck, not hundreds of percent."""
    answer = strike.ask(dataclasses.replace(plain, phase_control=None), trials=2, over_dial=True)
    rows = [row for row in answer.rows or [] if row["kind"] == "setting"]
    assert [row["trials_struck"] for row in rows] == [2, 2, 2]
    text = page(answer)
    assert "200 %" not in text[text.index("Over dial and feed") :]


@pytest.mark.parametrize(("doubled", "level"), [(30, "good"), (7, "note")])
def test_a_boost_that_hardly_strikes_with_other_constants_is_not_called_robust(doubled, level):
    """The boost decides in all three cases, but with constants doubled the supply itself strikes in 7 of 30 only."""
    values = {item.name: 0 for item in dataclasses.fields(Trial)}

    def trials(struck):
        return [Trial(**(values | {"trial": k, "struck": k < struck})) for k in range(30)]

    found = {"with_boost": trials(30), "without_boost": trials(0)}
    part = strike_boost.robustness(found, [trials(30), trials(0), trials(doubled), trials(0)])
    (said,) = part.verdicts
    assert said.level == level
    assert ("doubled it does so in 7 of 30" in said.text) == (level == "note")
