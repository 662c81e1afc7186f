"""Limits of IEC 60974-1 for the no-load voltage, by place of use.

Every row says where it stands and how it is known.  Clause numbers are from memory; look at the printed standard before
quoting them.  A tool cannot certify a machine: the limits serve to see early that a design will not pass.
"""

from weldsim.errors import QuestionError
from weldsim.frozen import dataclass
from weldsim.units import nearest

SEEN, MEMORY = "seen in makers' manuals", "from memory"


@dataclass(frozen=True)
class NoLoadLimit:
    """One limit of the no-load voltage: for a current ("dc" or "ac") and a quantity ("peak" or "rms") [V]."""

    current: str
    quantity: str
    volts: float
    clause: str
    status: str


@dataclass(frozen=True)
class LimitCheck:
    """One limit beside what the supply does [V]."""

    limit: NoLoadLimit
    volts: float

    @property
    def kept(self) -> bool:
        """Whether the limit is kept."""
        return self.volts <= self.limit.volts


# Place of use -> limits.
NO_LOAD: dict[str, tuple[NoLoadLimit, ...]] = {
    "increased hazard": (
        NoLoadLimit("dc", "peak", 113.0, "IEC 60974-1, 11.1.1", SEEN),
        NoLoadLimit("ac", "peak", 68.0, "IEC 60974-1, 11.1.1", MEMORY),
        NoLoadLimit("ac", "rms", 48.0, "IEC 60974-1, 11.1.1", SEEN),
    ),
    "no increased hazard": (
        NoLoadLimit("dc", "peak", 113.0, "IEC 60974-1, 11.1.2", MEMORY),
        NoLoadLimit("ac", "peak", 113.0, "IEC 60974-1, 11.1.2", MEMORY),
        NoLoadLimit("ac", "rms", 80.0, "IEC 60974-1, 11.1.2", MEMORY),
    ),
    "mechanically held torch": (
        NoLoadLimit("dc", "peak", 141.0, "IEC 60974-1, 11.1.3", MEMORY),
        NoLoadLimit("ac", "peak", 141.0, "IEC 60974-1, 11.1.3", MEMORY),
        NoLoadLimit("ac", "rms", 100.0, "IEC 60974-1, 11.1.3", MEMORY),
    ),
}


def no_load_checks(*, peak: float, rms: float, current: str, place: str = "no increased hazard") -> list[LimitCheck]:
    """The no-load voltage of a supply beside each limit of its place of use.

    Parameters
    ----------
    peak : float
        Largest magnitude of the no-load voltage, at the highest mains [V].
    rms : float
        Its root mean square [V].
    current : str
        What the output is: "dc" or "ac" [name].
    place : str
        "increased hazard", "no increased hazard" or "mechanically held torch" [name].

    Returns
    -------
    list[LimitCheck]
        One check per limit that applies [V].

    Notes
    -----
    The standard measures with a set resistor across the terminals and at the rated mains; a voltage limiter (hazard
    reducing device) is outside.  Machines for laymen fall under IEC 60974-6 instead.

    Examples
    --------
    A stick supply with 78 V ac and a crest of 110 V:

    >>> [check.kept for check in no_load_checks(peak=110.0, rms=78.0, current="ac")]
    [True, True]
    >>> [check.kept for check in no_load_checks(peak=110.0, rms=78.0, current="ac", place="increased hazard")]
    [False, False]

    References
    ----------
    IEC 60974-1, 11.1; status of each row in ``NO_LOAD``.
    """
    rows = NO_LOAD[_known(place, tuple(NO_LOAD))]
    wanted = [limit for limit in rows if limit.current == _known(current, ("dc", "ac"))]
    return [LimitCheck(limit, peak if limit.quantity == "peak" else rms) for limit in wanted]


def _known(word: str, words: tuple[str, ...]) -> str:
    """The word, if it is one of those that mean something here."""
    if word not in words:
        raise QuestionError(f"'{word}' is not one of {', '.join(words)}{nearest(word, words)}", place="limits")
    return word
