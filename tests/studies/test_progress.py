"""Studies whose counts may be large tell how far they are, up to the last one."""

import pytest

import weldsim

CASES = {
    "presses of a drill": ("drill", "toroid_shed", {"presses": 3}, ("presses", 3)),
    "presses of taps and of a dial": ("taps", "toroid_shed", {"dial": 0.4, "presses": 3}, ("presses", 6)),
    "spots": ("spot", "school_spot", {"dial": 0.7, "spots": 2}, ("spots", None)),
    "presses": ("inrush", "toroid_shed", {"presses": 3, "remedies": False}, ("presses", 3)),
    "strikes": ("strike", "toroid_shed_boost", {"dial": 0.4, "trials": 2}, ("strikes", None)),
}
LONG = {"presses of taps and of a dial", "spots"}


@pytest.mark.parametrize(
    "case", [pytest.param(case, marks=pytest.mark.slow) if case in LONG else case for case in CASES]
)
def test_told_to_the_end(case):
    """Counts never fall, never pass the whole, and end with it; the whole is what was asked for, where that is one."""
    question, name, options, (what, whole) = CASES[case]
    heard = []
    getattr(weldsim, question)(
        weldsim.read(name), **options, progress=lambda done, of, word: heard.append((word, done, of))
    )
    counts = [(done, of) for word, done, of in heard if word == what]
    assert counts, {word for word, _, _ in heard}
    assert counts == sorted(counts)
    assert counts[-1][0] == counts[-1][1] == (whole or counts[-1][1])
