"""Records with the look of a supply's waveforms, made from plain formulas: pictures need samples, not physics."""

import numpy as np

from weldsim.runs.run import Run
from weldsim.scenario.document import Scenario
from weldsim.scenario.reading import read_text

UNITS = {"voltage": "V", "current": "A", "flux_linkage": "V.s"}
TEXT = 'title = "A made-up supply"\n[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n'


def scenario(title: str = "A made-up supply") -> Scenario:
    """A scenario that holds mains and a title: all that a picture asks of it."""
    return read_text(TEXT.replace("A made-up supply", title), "made_up.toml")


def waveforms(time: np.ndarray, *, delay: float = 90.0, settle: float = 0.0) -> dict[str, np.ndarray]:
    """Signals of a chopped sine behind a bridge: pulses of primary current, a bank with ripple, an output above it."""
    angle = 360.0 * 50.0 * time % 180.0
    sign = np.where(360.0 * 50.0 * time % 360.0 < 180.0, 1.0, -1.0)
    rise = 1.0 - np.exp(-time / settle) if settle else np.ones_like(time)
    mains = 325.0 * np.sin(2 * np.pi * 50.0 * time)
    conducting = (angle > delay) & (angle < 172.0)
    pulse = np.where(conducting, np.sin(np.pi * (angle - delay) / (172.0 - delay)), 0.0)
    bank = rise * (22.0 + 9.0 * np.sin(np.radians(2.0 * (angle - 150.0))))
    current = rise * (125.0 + 35.0 * np.sin(np.radians(2.0 * (angle - 175.0))))
    return {
        "output.voltage": rise * 14.0 + 0.05 * current,
        "bank.voltage": bank,
        "output.current": current,
        "primary.current": sign * (70.0 + 30.0 * np.exp(-time / 0.03) * (settle > 0)) * pulse,
        "phase_control.voltage": np.where(conducting, sign * 1.4, mains),
        "core.flux_linkage": 0.75 * np.cos(2 * np.pi * 50.0 * time + 2.2) + 0.2 * np.exp(-time / 0.1) * (settle > 0),
    }


def run(end: float, *, leave_out: tuple[str, ...] = (), settle: float = 0.0, title: str = "A made-up supply") -> Run:
    """A record from 0 to ``end`` [s], one sample each 50 us."""
    time = np.arange(0.0, end + 25e-6, 50e-6)
    signals = {name: values for name, values in waveforms(time, settle=settle).items() if name not in leave_out}
    return Run(
        scenario=scenario(title),
        time=time,
        signals=signals,
        window=(max(0.0, end - 0.2), end),
        units={name: UNITS[name.split(".")[1]] for name in signals},
        table={"output.current.mean": (125.0, "A"), "output.voltage.mean": (20.25, "V")},
    )
