"""The map of an inrush.

First peak over the phase of the trigger and the remanence of the core, bank empty or charged.
"""

import numpy as np

from weldsim.frozen import dataclass
from weldsim.runs.crew import ALONE, Crew
from weldsim.runs.flux_left import most_remanence, second_beside
from weldsim.runs.press_batches import presser_of
from weldsim.runs.presses import Presser, Setting
from weldsim.scenario.document import Scenario

PHASES = 24
REMANENCES = 9
LOOKED_AT = 0.04  # [s]


@dataclass(frozen=True)
class Row:
    """A job: all phases at one remanence [V s] and one charge of the bank [V]."""

    scenario: Scenario
    setting: Setting
    bank: str
    volts: float
    remanence: float


def map_rows(presser: Presser, crew: Crew = ALONE) -> list[dict]:
    """Rows of kind "map": bank, phase [deg], remanence [V s, T], first peak [A], half-cycle rms [A] and I2t [A2 s].

    The core rests with the flux typed in (friction elements as a core that was let go there), up to what it can keep
    without a current; a second core is as dense, up to what it keeps itself.  The last conduction had the polarity of
    that flux.  With a bank there are two maps, of an empty one and of one that is as charged as in settled running,
    where the core's own inrush shows.  A soft start is cold and not bypassed.
    """
    charged, most = presser.charged(), most_remanence(presser.scenario)
    banks = [("empty", 0.0), *([("charged", charged)] if charged else [])]
    jobs = [
        Row(presser.asked, presser.setting, bank, volts, float(remanence))
        for bank, volts in banks
        for remanence in np.linspace(-most, most, REMANENCES)
    ]
    return [row for rows in crew.each(phases, jobs) for row in rows]


def phases(job: Row) -> list[dict]:
    """One row of the map."""
    presser, rows = presser_of(job.scenario, job.setting), []
    second = second_beside(presser.scenario, job.remanence)
    for k in range(PHASES):
        rest = presser.resting_at(k / PHASES, flux_linkage=job.remanence, bank_voltage=job.volts, **second)
        press, _ = presser.press_from(rest, presser.rule, length=LOOKED_AT)
        i2t = max((half.i2t for half in press.half_cycles), default=0.0)
        rows.append(
            {
                "kind": "map",
                "bank": job.bank,
                "phase": 360.0 * k / PHASES,
                "remanence": job.remanence,
                "flux_density": press.flux_density,
                "first_peak": press.first_peak(presser.period),
                "i2t": i2t,
                "half_cycle_rms": float(np.sqrt(i2t / (0.5 * presser.period))),
            }
        )
    return rows
