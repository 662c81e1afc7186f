"""Around the proofs of phase control and rectifiers: pulse widths, latching, circuits that are wrong or ideal."""

import math

import pytest

from weldsim.errors import WiringError
from weldsim.studies.proofs import controller, rectifiers
from weldsim.studies.proofs.bench import changes_of, numbers_in, references, settled


def conducting(phi: float, delay: float, *, width: float) -> set[str]:
    """Polarities that conduct in the settled state, for a load angle, a delay and a pulse width [deg]."""
    inductance = controller.reactance(phi) / (2.0 * math.pi * controller.FREQUENCY)
    pulse = width / (360.0 * controller.FREQUENCY)
    recording = settled(controller.circuit(inductance=inductance, pulse_width=f"{pulse} s"), delay=delay, periods=2)
    entered = [entered for _, _, entered in changes_of(recording, "phase_control")]
    return {way for way in ("plus", "minus") if any(way in one for one in entered)}


@pytest.mark.parametrize(
    "row",
    [row for row in references("controller", "half_waving") if "width" in row.quantity],
    ids=lambda row: row.condition[13:33],
)
def test_pulse_width_decides_on_half_waving(row):
    """A pulse a twentieth of a degree short of the closed form leaves one polarity dead; as much longer, both conduct.

    The width itself is held to 0.02 deg, the rest is room for the settling to choose.
    """
    given = numbers_in(row.condition)
    phi, delay = given["phi"], given["alpha"]

    assert len(conducting(phi, delay, width=row.value - 0.05)) == 1
    assert conducting(phi, delay, width=row.value + 0.05) == {"plus", "minus"}


def latching_time(given: dict[str, float]) -> float:
    """First instant after firing at which i = (Vm/Z)[sin(t-phi) - sin(a-phi) exp(-(t-a)/tan phi)] is at latching [s].

    Closed form of the R-L circuit (Rashid, AC voltage controllers), by halving between no time and the current's crest.
    """
    omega, resistance, inductance = 2.0 * math.pi * given["f"], given["R"], given["L"]
    impedance, phi = math.hypot(resistance, omega * inductance), math.atan2(omega * inductance, resistance)
    begin, size = math.radians(given["alpha"]), math.sqrt(2.0) * given["V"] / impedance

    def current(time: float) -> float:
        decayed = math.exp(-time * resistance / inductance)
        return size * (math.sin(omega * time + begin - phi) - math.sin(begin - phi) * decayed)

    low, high = 0.0, 0.0
    while current(high) < given["latching"]:
        low, high = high, high + 1e-6
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if current(middle) < given["latching"] else (low, middle)
    return high


@pytest.mark.parametrize("row", references("controller", "gate_pulse"), ids=lambda row: row.condition[:60])
def test_gate_references_solve_the_closed_form(row):
    """The table of gate pulses, made with thirty digits, follows from the closed form (1e-10: double precision)."""
    assert row.value == pytest.approx(latching_time(numbers_in(row.condition)), rel=1e-10)


def test_rashids_gate_pulse() -> None:
    """The table's row for Rashid's example 10.11 is the 59.53 us that its circuit gives (to the digits stated)."""
    row = next(row for row in references("controller", "gate_pulse") if row.condition.startswith("Rashid"))
    assert round(1e6 * row.value, 2) == 59.53


def test_a_wrong_circuit_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """Half a per cent more choke is beyond tolerance in every ripple of the bridge on choke and resistor."""
    monkeypatch.setattr(rectifiers, "OMEGA", rectifiers.OMEGA / 1.005)
    rows = [row for row in rectifiers.bridge_and_choke() if row["quantity"] == "current ripple rms/Idc"]
    assert len(rows) == 5
    assert all(row["deviation"] > row["tolerance"] for row in rows)


LOSSLESS = """
[mains]
voltage = "100 V"
frequency = "50 Hz"
[phase_control]
threshold = "0 V"
slope = "0 ohm"
[rectifier]
threshold = "0 V"
slope = "{slope} ohm"
[choke]
inductance = "0.1 H"
[load]
kind = "resistor"
resistance = "1 ohm"
"""


def test_a_gate_is_not_taken_back_where_ideal_parts_meet() -> None:
    """Switch and bridge without an ohm: the source is shorted while current freewheels, which is said, not run around.

    A microohm is enough, as the message says; the mean is then (Vm/pi)(1 + cos 60 deg), half-controlled bridge (1e-4:
    the
    leaks of 50 and 200 kohm).
    """
    with pytest.raises(WiringError, match=r"at least 1 uohm for mains\.resistance"):
        settled(LOSSLESS.format(slope=0), delay=60.0)
    recording = settled(LOSSLESS.format(slope=1e-6), delay=60.0)
    mean = recording.trace.integrals(*recording.window).mean("output.voltage")
    assert mean == pytest.approx(math.sqrt(2.0) * 100.0 / math.pi * 1.5, rel=1e-4)
