"""Where the power goes: a divider by hand, and a whole supply whose shares add up to what its source gives."""

import json

import pytest

import weldsim
from weldsim.cli.main import main

DIVIDER = """
[mains]
voltage = "200 V"
frequency = "50 Hz"
resistance = "2 ohm"
[load]
kind = "resistor"
resistance = "18 ohm"
"""


def powers(answer):
    """Power [W] by part and role."""
    return {(row["part"], row["role"]): row["power"] for row in answer.rows}


def test_a_divider_by_hand():
    """200 V on 2 and 18 ohm: 10 A, 2000 W from the source, 1800 W at the load, 200 W in the mains (Ohm's law)."""
    answer = weldsim.preview(weldsim.read_text(DIVIDER))
    found = powers(answer)
    assert found["mains", "source"] == pytest.approx(2000.0, rel=1e-9)  # exact integrals, to rounding
    assert found["load", "load"] == pytest.approx(1800.0, rel=1e-9)
    assert found["mains impedance", "loss"] == pytest.approx(200.0, rel=1e-9)
    text = next(one.text for one in answer.verdicts if one.name == "power")
    assert text.startswith("Of 2000 W from the source 90 % arrive at the load; most of the rest is lost in: mains")


@pytest.mark.parametrize("name", ["toroid_shed_boost", "garage_60hz", "charger"])
def test_what_the_source_gives_goes_somewhere(name):
    """Settled, loads and losses add up to the source's power (1e-5: what is below 1e-6 of it has no row)."""
    answer = weldsim.preview(weldsim.read(name))
    given = sum(row["power"] for row in answer.rows if row["role"] == "source")
    assert given == pytest.approx(answer.numbers["primary.power.mean"].value, rel=1e-9)
    assert sum(row["power"] for row in answer.rows if row["role"] != "source") == pytest.approx(given, rel=1e-5)
    assert sum(row["share"] for row in answer.rows) == pytest.approx(2.0, rel=1e-5)  # the source's own, and the rest


def test_without_load(capsys):
    """An unloaded supply tells what its idling costs; the rows are part of its JSON."""
    assert main(["preview", "toroid_shed", "--set", "load=absent", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    text = next(one["text"] for one in told["verdicts"] if one["name"] == "power")
    assert text.startswith("Without load 27.")
    assert {row["kind"] for row in told["rows"]} == {"part"}
    assert {row["role"] for row in told["rows"]} == {"source", "loss"}


def test_a_half_waving_supply_is_no_good_news():
    """Fired at 26 deg the shed half-waves: the core takes nearly all, little arrives, and the cause is named."""
    answer = weldsim.preview(weldsim.read("toroid_shed"), dial=0.9)
    told = {one.name: one for one in answer.verdicts}
    assert told["power"].level == "note"
    assert "while the other half cycle's current still flows" in told["half_waving"].text
