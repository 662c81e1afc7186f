"""What a run starts from: flux in the core, charge in the bank, and the moment in the mains cycle.

Nothing is computed here; the meaning of the three values was derived here, from the states of the network.
"""

from weldsim import units
from weldsim.frozen import dataclass


@dataclass(frozen=True, kw_only=True)
class Start:
    """Table [start]: initial values; all zero unless given."""

    flux_linkage: float = units.quantity(
        "flux_linkage", doc="of the primary at the start", low="-100 V.s", high="100 V.s", default=0.0
    )
    bank_voltage: float = units.quantity(
        "voltage", doc="of the bank at the start", low="-1 kV", high="1 kV", default=0.0
    )
    mains_phase: float = units.quantity(
        "angle", doc="where in the mains cycle the run starts", low=-360.0, high=360.0, default=0.0
    )
    remanence: float | None = units.quantity(
        "flux_density", doc="flux density left in the core", low="-3 T", high="3 T", default=None
    )

    second_flux_linkage: float | None = units.quantity(
        "flux_linkage",
        doc="of the second transformer's primary at the start (as the first: of the same flux density)",
        low="-100 V.s",
        high="100 V.s",
        default=None,
    )
    second_remanence: float | None = units.quantity(
        "flux_density", doc="flux density left in the second core, likewise", low="-3 T", high="3 T", default=None
    )

    @property
    def magnetised(self) -> bool:
        """Whether any core starts with a flux."""
        return bool(self.flux_linkage or self.remanence or self.second_flux_linkage or self.second_remanence)

    def faults(self) -> list[tuple[str, str]]:
        """Fields that contradict each other."""
        found = []
        if self.remanence is not None and self.flux_linkage:
            found.append(("remanence", "give the flux as flux_linkage or as remanence, not both"))
        if self.second_remanence is not None and self.second_flux_linkage is not None:
            fact = "give the flux as second_flux_linkage or as second_remanence, not both"
            found.append(("second_remanence", fact))
        return found
