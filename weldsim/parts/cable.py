"""Cables: the lead between plug and supply, and the weld leads with their contacts.

Both are a resistance and an inductance in series: two cores of the supply lead, torch plus return of the weld leads.
"""

from weldsim import units
from weldsim.frozen import dataclass

# Effective resistivity at 20 degC of flexible copper cable: IEC 60228 class 5 at 25 mm2, 0.780 ohm/km (1.5 mm2 is 2.3 %
# above it, 70 mm2 2.4 % below).  Aluminium: the same allowance on 1/36 ohm mm2/m (common practice).
_CABLE_RESISTIVITY = {"copper": 1.95e-8, "aluminium": 3.1e-8}
# Winding wire at 20 degC: IEC 60028 annealed copper 1/58 ohm mm2/m; aluminium wire 1/35.4 ohm mm2/m (from memory, 2 %).
_WIRE_RESISTIVITY = {"copper": 1.0 / 58.0e6, "aluminium": 1.0 / 35.4e6}
# Change per kelvin, referred to 20 degC: copper IEC 60028; aluminium from memory, 2 %.
_TEMPERATURE_COEFFICIENT = {"copper": 0.00393, "aluminium": 0.00403}
CONDUCTORS = ("copper", "aluminium")
LEAD_INDUCTANCE_PER_LENGTH = 0.6e-6  # [H/m] of a two-core lead (common practice, no published source)
WELD_INDUCTANCE_PER_LENGTH = 1.0e-6  # [H/m] of weld cable laid apart (common practice, no published source)
COILED_TEMPERATURE = 85.0  # [degC] inside a full reel under load (common practice, no published source)


@dataclass(frozen=True, kw_only=True)
class SupplyLead:
    """Table [supply_lead]: the extension lead or the wiring from plug to supply."""

    length: float | None = units.quantity(
        "length", doc='of the lead, one way; "8 m of 4 mm2" says the section too', low=0.0, high="1 km", default=None
    )
    section: float | None = units.quantity(
        "area", doc="cross section of one core", low="0.1 mm2", high="1000 mm2", default=None
    )
    conductor: str = units.choice(CONDUCTORS, doc="metal of the cores", default="copper")
    temperature: float | None = units.quantity(
        "temperature",
        doc="temperature of the cores; 20 degC, or 85 degC on a reel",
        low=-50.0,
        high=250.0,
        default=None,
    )
    coiled: bool = units.flag(doc="left on its reel, so that it heats up", default=False)
    resistance: float | None = units.quantity(
        "resistance", doc="of both cores together, instead of length and section", low=0.0, high="100 ohm", default=None
    )
    inductance: float | None = units.quantity(
        "inductance", doc="of the pair; 0.6 uH/m unless given", low=0.0, high="100 mH", default=None
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that are missing for what others ask."""
        return _cable_faults(self)


@dataclass(frozen=True, kw_only=True)
class WeldLeads:
    """Table [weld_leads]: torch and return cable with clamp and tip."""

    length: float | None = units.quantity(
        "length", doc='torch plus return; "6 m of 25 mm2" says the section too', low=0.0, high="1 km", default=None
    )
    section: float | None = units.quantity("area", doc="cross section", low="0.1 mm2", high="1000 mm2", default=None)
    conductor: str = units.choice(CONDUCTORS, doc="metal of the cable", default="copper")
    temperature: float = units.quantity(
        "temperature", doc="temperature of the cable", low=-50.0, high=250.0, default=20.0
    )
    resistance: float | None = units.quantity(
        "resistance", doc="of the cable, instead of length and section", low=0.0, high="10 ohm", default=None
    )
    inductance: float | None = units.quantity(
        "inductance", doc="of the loop; 1 uH/m unless given", low=0.0, high="10 mH", default=None
    )
    contact_resistance: float = units.quantity(
        "resistance", doc="clamp, plugs and contact tube together", low=0.0, high="1 ohm", default=0.0
    )

    def faults(self) -> list[tuple[str, str]]:
        """Fields that are missing for what others ask."""
        return _cable_faults(self)


def _cable_faults(cable: SupplyLead | WeldLeads) -> list[tuple[str, str]]:
    """A cable needs length and section, or its resistance."""
    if cable.resistance is None and (cable.length is None or cable.section is None):
        missing = "section" if cable.length is not None else "length"
        return [(missing, "missing: give length and section, or resistance")]
    return []


def cable_resistance(length: float, section: float, *, conductor: str = "copper", temperature: float = 20.0) -> float:
    """Resistance of one conductor of flexible cable.

    Parameters
    ----------
    length : float
        Length of the conductor [m].
    section : float
        Nominal cross section [m2].
    conductor : str
        "copper" or "aluminium" [-].
    temperature : float
        Temperature of the metal [degC].

    Returns
    -------
    float
        Direct-current resistance [ohm].

    Notes
    -----
    ``R = resistivity (1 + coefficient (T - 20)) length / section`` with an effective resistivity that holds the lay of
    the strands.  Within 2.5 % of IEC 60228 class 5 from 1.5 to 70 mm2; skin effect at mains frequency is left out.

    Examples
    --------
    >>> round(cable_resistance(1000.0, 25e-6), 3)
    0.78

    References
    ----------
    IEC 60228 class 5 (0.780 ohm/km at 25 mm2), IEC 60028 (0.00393 per kelvin).
    """
    return _CABLE_RESISTIVITY[conductor] * warm_factor(temperature, conductor=conductor) * length / section


def wire_resistance(length: float, section: float, *, conductor: str = "copper", temperature: float = 20.0) -> float:
    """Resistance of solid winding wire.

    Parameters
    ----------
    length : float
        Length of the wire [m].
    section : float
        Metal cross section [m2].
    conductor : str
        "copper" or "aluminium" [-].
    temperature : float
        Temperature of the metal [degC].

    Returns
    -------
    float
        Direct-current resistance [ohm].

    Notes
    -----
    Skin and proximity effects are left out: below 1 % at 50 Hz up to wires of about 8 mm.

    Examples
    --------
    >>> round(wire_resistance(130 * 0.38, 3.3e-6), 4)
    0.2581

    References
    ----------
    IEC 60028 (annealed copper, 58 MS/m at 20 degC).
    """
    return _WIRE_RESISTIVITY[conductor] * warm_factor(temperature, conductor=conductor) * length / section


def warm_factor(temperature: float, *, conductor: str = "copper") -> float:
    """Resistance over that at 20 degC.

    Parameters
    ----------
    temperature : float
        Temperature of the metal [degC].
    conductor : str
        "copper" or "aluminium" [-].

    Returns
    -------
    float
        Factor [1].

    Examples
    --------
    >>> round(warm_factor(100.0), 4)
    1.3144
    """
    return 1.0 + _TEMPERATURE_COEFFICIENT[conductor] * (temperature - 20.0)


def supply_lead_resistance(lead: SupplyLead) -> float:
    """Resistance of both cores of the supply lead.

    Parameters
    ----------
    lead : SupplyLead
        The table; a written ``resistance`` is taken as it stands [-].

    Returns
    -------
    float
        Loop resistance [ohm].

    Examples
    --------
    >>> round(supply_lead_resistance(SupplyLead(length=32.0, section=1.5e-6)), 3)
    0.832
    >>> round(supply_lead_resistance(SupplyLead(length=32.0, section=1.5e-6, coiled=True)), 3)
    1.045
    """
    if lead.resistance is not None:
        return lead.resistance
    temperature = lead.temperature if lead.temperature is not None else (COILED_TEMPERATURE if lead.coiled else 20.0)
    one_core = cable_resistance(
        lead.length or 0.0, lead.section or 1.0, conductor=lead.conductor, temperature=temperature
    )
    return 2.0 * one_core


def supply_lead_inductance(lead: SupplyLead) -> float:
    """Inductance of the pair of cores.

    Parameters
    ----------
    lead : SupplyLead
        The table [-].

    Returns
    -------
    float
        Loop inductance [H].

    Notes
    -----
    0.6 uH per metre of pair unless given (common practice).  Coiling does not change it: the two currents cancel.

    Examples
    --------
    >>> round(1e6 * supply_lead_inductance(SupplyLead(length=32.0, section=1.5e-6)), 3)
    19.2
    """
    return lead.inductance if lead.inductance is not None else LEAD_INDUCTANCE_PER_LENGTH * (lead.length or 0.0)


def weld_leads_resistance(leads: WeldLeads) -> float:
    """Resistance of torch, return, clamp and tip in series.

    Parameters
    ----------
    leads : WeldLeads
        The table; a written ``resistance`` is taken as it stands, contacts are added [-].

    Returns
    -------
    float
        Loop resistance [ohm].

    Examples
    --------
    >>> round(1e3 * weld_leads_resistance(WeldLeads(length=6.0, section=25e-6, contact_resistance=4.3e-3)), 2)
    8.98
    """
    cable = leads.resistance
    if cable is None:
        cable = cable_resistance(
            leads.length or 0.0, leads.section or 1.0, conductor=leads.conductor, temperature=leads.temperature
        )
    return cable + leads.contact_resistance


def weld_leads_inductance(leads: WeldLeads) -> float:
    """Inductance of the weld loop.

    Parameters
    ----------
    leads : WeldLeads
        The table [-].

    Returns
    -------
    float
        Loop inductance [H].

    Notes
    -----
    1 uH per metre of torch plus return unless given (common practice, 0.5 to 1 laid apart; cable in coils has more).

    Examples
    --------
    >>> round(1e6 * weld_leads_inductance(WeldLeads(length=6.0, section=25e-6)), 3)
    6.0
    """
    return leads.inductance if leads.inductance is not None else WELD_INDUCTANCE_PER_LENGTH * (leads.length or 0.0)
