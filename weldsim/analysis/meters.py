"""What the instruments of a workshop show of a waveform, from its mean, mean magnitude, rms and peak.

Each instrument answers to one number of the waveform and is scaled for a waveform it was made for.  On a
phase-controlled current they differ by tens of percent, and all of them are right in their own way.
"""

import math

from weldsim.frozen import dataclass

SINE_FORM_FACTOR = math.pi / (2 * math.sqrt(2))  # rms over mean magnitude of a sine, 1.1107: the scale of the meter
METER_VOLTS = 264.0  # [V] that such a meter bears at most: 240 V and a tenth, common practice, no published source
METER_RATING = 16.0  # [A] of plug-in energy meters, common practice, no published source
CREST_LIMIT = 3.0  # usual at full scale of true-rms meters, common practice, no published source


@dataclass(frozen=True)
class Reading:
    """What an instrument shows, in the unit of the waveform, and whether its maker would stand by it."""

    value: float
    trusted: bool = True
    reason: str = ""


def moving_coil(mean: float) -> Reading:
    """What a moving-coil instrument shows: the mean.

    Parameters
    ----------
    mean : float
        Mean of the waveform [A or V].

    Returns
    -------
    Reading
        Reading [unit of the waveform].

    Notes
    -----
    Right for charge, wire burn-off and electroplating, low for heat.  Holds where the pointer cannot follow the ripple
    (above some 10 Hz); on alternating current it shows nothing.

    Examples
    --------
    Full-wave phase control at 90 degrees shows 0.318 of the crest:

    >>> moving_coil(0.31831 * 180.0).value
    57.3

    References
    ----------
    Common instrument practice: moving coil reads the mean, moving iron the rms.
    """
    return Reading(mean)


def average_responding(mean_absolute: float) -> Reading:
    """What a rectifier instrument shows on its alternating range: 1.1107 times the mean magnitude.

    Parameters
    ----------
    mean_absolute : float
        Mean of the magnitude of the waveform [A or V].

    Returns
    -------
    Reading
        Reading [unit of the waveform].

    Notes
    -----
    Right for a sine only; 11 % high on a square wave, 16, 29, 43 and 61 % low on phase control at 60, 90, 120 and 150
    degrees.  Frequency limits and the loss in its diodes are left out.

    Examples
    --------
    A sine of 230 V, mean magnitude 207.07 V, and a square wave of 10 A:

    >>> round(average_responding(207.07).value, 1), round(average_responding(10.0).value, 2)
    (230.0, 11.11)

    References
    ----------
    pi / (2 sqrt 2), the form factor of a sine; derived here.
    """
    return Reading(SINE_FORM_FACTOR * mean_absolute)


def true_rms(rms: float, *, peak: float, crest_limit: float = CREST_LIMIT) -> Reading:
    """What a true-rms instrument shows: the rms, to be trusted up to its crest-factor limit.

    Parameters
    ----------
    rms : float
        Root mean square of the waveform [A or V].
    peak : float
        Largest magnitude of the waveform [A or V].
    crest_limit : float
        Largest crest factor the instrument is specified for [1].

    Returns
    -------
    Reading
        Reading [unit of the waveform]; not trusted where peak / rms is above the limit.

    Notes
    -----
    Above the limit the instrument clips the peaks and shows less; how much less is not promised by any maker, so the
    rms is given and marked.  Taken as coupled to direct current; many handhelds are not on their alternating range.

    Examples
    --------
    Phase control at 150 degrees has a crest factor of 4.16:

    >>> true_rms(10.0, peak=41.6).trusted, true_rms(10.0, peak=20.0).trusted
    (False, True)

    References
    ----------
    A limit of 3 is common practice, no published source.
    """
    if peak <= crest_limit * rms:
        return Reading(rms)
    crest = peak / rms if rms else math.inf
    return Reading(rms, trusted=False, reason=f"crest factor {crest:.1f} is above the instrument's {crest_limit:g}")


def moving_iron(rms: float) -> Reading:
    """What a moving-iron instrument shows: the rms.

    Parameters
    ----------
    rms : float
        Root mean square of the waveform [A or V].

    Returns
    -------
    Reading
        Reading [unit of the waveform].

    Notes
    -----
    Its coil is an inductance: on volts it reads harmonics some percent low, which is left out.

    Examples
    --------
    >>> moving_iron(27.4).value
    27.4

    References
    ----------
    Common instrument practice: moving iron reads the rms.
    """
    return Reading(rms)


def plug_in_meter(
    power: float, *, rms: float, peak: float, volts: float = 230.0, rating: float = METER_RATING
) -> Reading:
    """What a plug-in energy meter shows in watts: the true power, to be trusted within its rating.

    Parameters
    ----------
    power : float
        Mean of voltage times current at the plug [W].
    rms : float
        Current, rms [A].
    peak : float
        Largest magnitude of the current [A].
    volts : float
        Of the mains, rms [V].
    rating : float
        Rated current of the meter [A].

    Returns
    -------
    Reading
        Power [W]; not trusted above the rating, on mains that such meters are not made for, or where the peak is
        beyond what its converter can hold.

    Notes
    -----
    Such meters multiply samples, so a chopped current does not mislead them, unless its peak is cut off: taken as at 3
    times the rating (common practice, no published source).  They refresh once a second and see no start.

    Examples
    --------
    >>> plug_in_meter(1200.0, rms=9.0, peak=30.0).trusted, plug_in_meter(3950.0, rms=27.4, peak=75.0).reason
    (True, '27.4 A is above its 16 A')

    References
    ----------
    Common practice, no published source.
    """
    if volts > METER_VOLTS:
        return Reading(power, trusted=False, reason=f"{volts:g} V is above the {METER_VOLTS:g} V that it bears")
    if rms > rating:
        return Reading(power, trusted=False, reason=f"{rms:.3g} A is above its {rating:g} A")
    if peak > CREST_LIMIT * rating:
        reason = f"peaks of {peak:.3g} A are above the {CREST_LIMIT * rating:g} A that it can take in"
        return Reading(power, trusted=False, reason=reason)
    return Reading(power)


def clamp_energy_display(mean_absolute: float, *, nominal_voltage: float) -> Reading:
    """What an energy display that knows the current only shows in watts: average-responding amps times nominal volts.

    Parameters
    ----------
    mean_absolute : float
        Mean of the magnitude of the current [A].
    nominal_voltage : float
        Voltage that it takes for granted [V].

    Returns
    -------
    Reading
        Power as shown; not trusted: it takes the current for a sine in phase [W].

    Examples
    --------
    >>> round(clamp_energy_display(18.0, nominal_voltage=230.0).value)
    4598

    References
    ----------
    Derived here from the law of the instrument.
    """
    shown = average_responding(mean_absolute).value * nominal_voltage
    return Reading(shown, trusted=False, reason="it takes the current for a sine in phase")


def readings(*, mean: float, mean_absolute: float, rms: float, peak: float) -> dict[str, Reading]:
    """What each kind of instrument shows of one waveform.

    Parameters
    ----------
    mean : float
        Mean of the waveform [A or V].
    mean_absolute : float
        Mean of the magnitude [A or V].
    rms : float
        Root mean square [A or V].
    peak : float
        Largest magnitude [A or V].

    Returns
    -------
    dict[str, Reading]
        Readings by the name of the instrument [unit of the waveform].

    Notes
    -----
    See each instrument.

    Examples
    --------
    A welding current of 128 A mean that swings up to 185 A:

    >>> shown = readings(mean=127.65, mean_absolute=127.65, rms=132.416, peak=185.0)
    >>> {name: round(reading.value, 1) for name, reading in shown.items()}
    {'moving coil': 127.7, 'moving iron': 132.4, 'average-responding': 141.8, 'true rms': 132.4}

    References
    ----------
    Derived here.
    """
    return {
        "moving coil": moving_coil(mean),
        "moving iron": moving_iron(rms),
        "average-responding": average_responding(mean_absolute),
        "true rms": true_rms(rms, peak=peak),
    }
