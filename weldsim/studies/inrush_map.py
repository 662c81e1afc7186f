"""The map of an inrush.

First peak over the phase of the trigger and the remanence of the core, bank empty or charged.
"""

import numpy as np

from weldsim.runs.presses import Presser

PHASES = 24
REMANENCES = 9
LOOKED_AT = 0.04  # [s]


def map_rows(presser: Presser) -> list[dict]:
    """Rows of kind "map": bank, phase [deg], remanence [V s, T], first peak [A], half-cycle rms [A] and I2t [A2 s].

    The core rests with the flux typed in (friction elements as a core that was let go there), up to what it can keep
    without a current; its last conduction had the polarity of that flux.  With a bank there are two maps, of an empty
    one and of one that is as charged as in settled running, where the core's own inrush shows.  A soft start is cold
    and not bypassed.
    """
    charged = presser.charged()
    rows = _rows(presser, "empty", 0.0)
    return rows + _rows(presser, "charged", charged) if charged else rows


def _rows(presser: Presser, bank: str, volts: float) -> list[dict]:
    """The map with one charge of the bank [V]."""
    most = presser.most_remanence()
    rows = []
    for remanence in np.linspace(-most, most, REMANENCES):
        for k in range(PHASES):
            rest = presser.resting_at(k / PHASES, flux_linkage=float(remanence), bank_voltage=volts)
            press, _ = presser.press_from(rest, presser.rule, looked_at=LOOKED_AT)
            i2t = max((half.i2t for half in press.half_cycles), default=0.0)
            rows.append(
                {
                    "kind": "map",
                    "bank": bank,
                    "phase": 360.0 * k / PHASES,
                    "remanence": float(remanence),
                    "flux_density": press.flux_density,
                    "first_peak": press.first_peak(presser.period),
                    "i2t": i2t,
                    "half_cycle_rms": float(np.sqrt(i2t / (0.5 * presser.period))),
                }
            )
    return rows
