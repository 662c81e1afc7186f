"""The dial of a resistor, a capacitor and a diac: every study turns the resistor of that circuit."""

import pytest

import weldsim

DIALS = (0.3, 0.7)  # 172 and 76 kohm on 100 nF: a longer and a shorter time constant


@pytest.fixture(scope="module")
def supply():
    """Benchmark B with such a dial, a breaker and no load of its own."""
    return weldsim.vary(
        weldsim.read("benchmark_b"),
        {
            "breaker.curve": "C",
            "breaker.current": "16 A",
            "load": "absent",
            "phase_control.dial_kind": "rc-diac",
            "phase_control.timing_resistance_at_0": "220 kohm",
            "phase_control.timing_resistance_at_100": "10 kohm",
        },
    )


@pytest.mark.parametrize(
    ("study", "name", "options"),
    [
        ("preview", "output.current.mean", {}),
        ("meters", "output.current.mean", {}),
    ],
)
def test_a_higher_dial_gives_more(supply, study, name, options):
    """Less resistance fires sooner in the half cycle, so more comes out: direction only, with a tenth to be sure."""
    loaded = weldsim.vary(supply, {"load.kind": "load line", "load.process": "MIG"})
    low, high = (getattr(weldsim, study)(loaded, dial=dial, **options).numbers[name].value for dial in DIALS)
    assert high > 1.1 * low


def test_a_press_feels_the_dial(supply):
    """The first peak after a press moves by more than a tenth with the dial, up or down: it depends on where the flux
    and the empty bank are met."""
    loaded = weldsim.vary(supply, {"load.kind": "load line", "load.process": "MIG"})
    low, high = (weldsim.drill(loaded, dial=dial, presses=1).numbers["first_peak.worst"].value for dial in DIALS)
    assert abs(high - low) > 0.1 * low
