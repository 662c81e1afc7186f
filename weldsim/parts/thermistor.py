"""The thermistor of a soft start: its resistance falls as it warms, and it is warm still when the trigger comes again.

    i^2 R(T) ---> body (heat capacity C) ---> air (heat per kelvin D above ambient)

One temperature stands for the whole body; 0 degC is 273.15 K.
"""

import math

from weldsim.errors import ScenarioError
from weldsim.frozen import dataclass
from weldsim.parts.soft_start import SoftStart

RATED_TO = 200.0  # [degC] such parts bear at most (data-sheet practice, no published source)
KELVIN, REFERENCE = 273.15, 298.15  # [K] 0 degC; 25 degC, where the resistance is given
_STEP = 0.1  # of the quickest time constant, for the classical fourth-order step


@dataclass(frozen=True)
class Warming:
    """What a current does to the thermistor: its temperature after it [degC], and the heat that went in [J]."""

    temperature: float
    energy: float


@dataclass(frozen=True)
class _Body:
    cold: float  # [ohm] at 25 degC
    beta: float  # [K]
    dissipation: float  # [W/K]
    capacity: float  # [J/K]
    ambient: float  # [degC]

    def resistance(self, temperature: float) -> float:
        return self.cold * math.exp(self.beta * (1.0 / (temperature + KELVIN) - 1.0 / REFERENCE))


def _body(soft_start: SoftStart) -> _Body:
    """The numbers of a thermistor; a complaint where the table describes none."""
    cold, beta, dissipation = soft_start.resistance, soft_start.beta, soft_start.dissipation
    capacity = soft_start.heat_capacity
    if capacity is None and soft_start.cooling_time is not None and dissipation is not None:
        capacity = dissipation * soft_start.cooling_time
    if soft_start.kind != "ntc" or cold is None or beta is None or dissipation is None or capacity is None:
        raise ScenarioError(
            "this soft start is no thermistor, or its data are not complete",
            place="soft_start.kind",
            advice='give kind = "ntc" with resistance, beta, dissipation and heat_capacity or cooling_time',
        )
    return _Body(cold, beta, dissipation, capacity, soft_start.ambient)


def thermistor_resistance(soft_start: SoftStart, *, temperature: float) -> float:
    """Resistance at a temperature: R25 exp(B (1/T - 1/298.15 K)).

    Parameters
    ----------
    soft_start : SoftStart
        Of kind "ntc" [-].
    temperature : float
        Of its body [degC].

    Returns
    -------
    float
        Resistance [ohm].

    Notes
    -----
    B itself rises by some percent from 25 to 150 degC, and new parts scatter by 20 % at 25 degC: hot resistances are
    good to about a third (data-sheet practice).

    Examples
    --------
    >>> limiter = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
    >>> [round(thermistor_resistance(limiter, temperature=warm), 2) for warm in (0.0, 25.0, 100.0, 170.0)]
    [25.12, 10.0, 1.32, 0.37]

    References
    ----------
    IEC 60539-1, B value (from memory, 90 %).
    """
    return _body(soft_start).resistance(temperature)


def thermistor_temperature(soft_start: SoftStart, *, resistance: float) -> float:
    """Temperature at a resistance: 1/T = 1/298.15 K + ln(R / R25) / B.

    Parameters
    ----------
    soft_start : SoftStart
        Of kind "ntc" [-].
    resistance : float
        Resistance, above zero [ohm].

    Returns
    -------
    float
        Temperature [degC].

    Notes
    -----
    The inverse of ``thermistor_resistance``.

    Examples
    --------
    >>> limiter = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
    >>> round(thermistor_temperature(limiter, resistance=1.0), 1)
    113.5

    References
    ----------
    IEC 60539-1, B value (from memory, 90 %).
    """
    body = _body(soft_start)
    return 1.0 / (1.0 / REFERENCE + math.log(resistance / body.cold) / body.beta) - KELVIN


def thermistor_cooled(soft_start: SoftStart, temperature: float, *, pause: float) -> float:
    """Temperature after a pause without current: ambient + (T - ambient) exp(-t D / C).

    Parameters
    ----------
    soft_start : SoftStart
        Of kind "ntc" [-].
    temperature : float
        At the beginning of the pause [degC].
    pause : float
        How long [s].

    Returns
    -------
    float
        Temperature [degC].

    Notes
    -----
    Data sheets measure C / D in still air; it takes a minute or two, so presses seconds apart find the part hot.

    Examples
    --------
    >>> limiter = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
    >>> round(thermistor_cooled(limiter, 150.0, pause=5.0), 1)
    143.2

    References
    ----------
    First-order cooling; derived here.
    """
    body = _body(soft_start)
    return body.ambient + (temperature - body.ambient) * math.exp(-pause * body.dissipation / body.capacity)


def thermistor_warmed(soft_start: SoftStart, temperature: float, *, i2t: float, duration: float) -> Warming:
    """Temperature after a current, and the heat that it left in the part: C dT/dt = i^2 R(T) - D (T - ambient).

    Parameters
    ----------
    soft_start : SoftStart
        Of kind "ntc" [-].
    temperature : float
        Before it [degC].
    i2t : float
        Integral of the current squared, spread evenly over the duration [A2 s].
    duration : float
        How long, above zero [s].

    Returns
    -------
    Warming
        Temperature [degC] and heat taken in [J].

    Notes
    -----
    Within a pulse much shorter than C / D only i2t counts, not its course. The numerical error is below 1e-5 of the
    rise. That the current itself rises as the resistance falls is for the circuit: hand over short pieces.

    Examples
    --------
    A cold limiter in a half cycle of 20 A peak, 2 A2s, and in the next one:

    >>> limiter = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
    >>> first = thermistor_warmed(limiter, 25.0, i2t=2.0, duration=10e-3)
    >>> round(first.temperature, 1), round(first.energy, 1)
    (35.9, 16.6)
    >>> round(thermistor_warmed(limiter, first.temperature, i2t=2.0, duration=10e-3).temperature, 1)
    43.9

    References
    ----------
    Heat balance of one body; derived here.
    """
    if not duration > 0.0:
        raise ScenarioError("a current needs time to flow", place="duration", advice="give a duration above zero")
    body, square = _body(soft_start), i2t / duration
    now, left, given_off = temperature, duration, 0.0
    while left > 0.0:
        step = min(left, _STEP / _quickest_rate(body, square, now))
        risen, mean = _rise(body, square, now, step)
        given_off += body.dissipation * (mean - body.ambient) * step
        now, left = now + risen, left - step
    return Warming(now, body.capacity * (now - temperature) + given_off)


def _slope(body: _Body, square: float, temperature: float) -> float:
    """dT/dt [K/s] at a mean square current [A2]."""
    heat = square * body.resistance(temperature) - body.dissipation * (temperature - body.ambient)
    return heat / body.capacity


def _quickest_rate(body: _Body, square: float, temperature: float) -> float:
    """How fast a small difference of temperature dies down [1/s]."""
    falls = square * body.resistance(temperature) * body.beta / (temperature + KELVIN) ** 2
    return (falls + body.dissipation) / body.capacity


def _rise(body: _Body, square: float, temperature: float, step: float) -> tuple[float, float]:
    """Rise of temperature in one classical fourth-order step [K], and the mean temperature in it [degC]."""
    first = _slope(body, square, temperature)
    second = _slope(body, square, temperature + 0.5 * step * first)
    third = _slope(body, square, temperature + 0.5 * step * second)
    fourth = _slope(body, square, temperature + step * third)
    mean = temperature + step * (first + second + third) / 6.0
    return step * (first + 2.0 * second + 2.0 * third + fourth) / 6.0, mean


def thermistor_settled(soft_start: SoftStart, *, current: float) -> float:
    """Temperature at which a steady current keeps the part: i^2 R(T) = D (T - ambient).

    Parameters
    ----------
    soft_start : SoftStart
        Of kind "ntc" [-].
    current : float
        Steady current, rms [A].

    Returns
    -------
    float
        Temperature [degC].

    Notes
    -----
    One solution always: heat falls, and what is given off rises with the temperature. Above 170 to 200 degC the part is
    outside its data sheet; a bypass relay keeps it cold between presses.

    Examples
    --------
    >>> limiter = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
    >>> round(thermistor_settled(limiter, current=3.0), 1)
    184.3

    References
    ----------
    Heat balance; derived here.
    """
    body = _body(soft_start)
    low = body.ambient
    high = low + current**2 * body.resistance(low) / body.dissipation
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _slope(body, current**2, middle) > 0.0 else (low, middle)
    return 0.5 * (low + high)


def resistance_ladder(soft_start: SoftStart, *, hottest: float, count: int) -> tuple[float, ...]:
    """Resistances in even ratios from the part at ambient down to a hot one: steps for a circuit of straight pieces.

    Parameters
    ----------
    soft_start : SoftStart
        Of kind "ntc" [-].
    hottest : float
        Temperature of the last step, above ambient [degC].
    count : int
        How many steps, 2 or more [1].

    Returns
    -------
    tuple of float
        Resistances, the coldest first [ohm].

    Notes
    -----
    Taking the nearest step (by ratio) errs by at most half a ratio: 12 steps from 10 ohm to 0.4 ohm, 16 %.

    Examples
    --------
    >>> limiter = SoftStart(kind="ntc", resistance=10.0, beta=3000.0, dissipation=17e-3, cooling_time=90.0)
    >>> [round(value, 2) for value in resistance_ladder(limiter, hottest=170.0, count=4)]
    [10.0, 3.34, 1.11, 0.37]

    References
    ----------
    Derived here.
    """
    body = _body(soft_start)
    cold, hot = body.resistance(body.ambient), body.resistance(hottest)
    return tuple(cold * (hot / cold) ** (k / (count - 1)) for k in range(count))
