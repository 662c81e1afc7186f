"""Mean of the magnitude of a waveform, which a rectifier in front of a moving coil forms."""

import itertools

import numpy as np

from weldsim.engine.trace import Trace

SAMPLES = 1000  # per mains period: a sign kept for less than 20 us at 50 Hz may be overlooked
ROUNDING = 1e-9  # of the largest value: signs below it are not looked at


def mean_magnitude(trace: Trace, name: str, *, begin: float, end: float) -> float:
    """Mean of the magnitude of a signal over a span [its unit]: exact integrals from one change of sign to the next.

    Changes are looked for between even samples.  Where a piece begins between two samples of different sign the signal
    jumps there; else it runs nearly straight through zero.
    """
    count = max(2, round((end - begin) / (trace.period * trace.quantum) * SAMPLES))
    spacing = (end - begin) / count
    values = trace.sample([name], begin, spacing=spacing, count=count + 1)[0]
    felt = np.flatnonzero(np.abs(values) > ROUNDING * np.abs(values).max())
    after = felt[1:][np.diff(np.sign(values[felt])) != 0.0]
    low, high = values[after - 1], values[after]
    crossings = begin + spacing * (after - 1 + np.clip(low / (low - high), 0.0, 1.0))
    starts = trace.time * trace.quantum
    piece = starts[np.maximum(np.searchsorted(starts, begin + spacing * after, side="right") - 1, 0)]
    # (np.unique would load masked arrays first, which takes longer than all of this)
    edges = sorted({begin, end, *np.where(piece > begin + spacing * (after - 1), piece, crossings).tolist()})
    parts = [trace.integrals(first, last).integral(name) for first, last in itertools.pairwise(edges)]
    return float(np.abs(parts).sum()) / (end - begin)
