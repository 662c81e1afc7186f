"""Initial state of a supply: flux with the friction that goes with it, bank charge, everything else at rest."""

import difflib
from collections.abc import Callable

import numpy as np

from weldsim.errors import WiringError
from weldsim.network.branches import Friction, SaturatingInductor
from weldsim.network.layout import Layout
from weldsim.network.pieces import current_at, piece_at
from weldsim.network.system import Signature
from weldsim.scenario.document import Scenario
from weldsim.scenario.pair import second_flux_factor, start_fluxes


def starter(scenario: Scenario, layout: Layout) -> Callable[..., tuple[np.ndarray, Signature]]:
    """The start function: keywords are ``flux_linkage``, ``bank_voltage``, and names of states and inputs.

    A flux linkage given for the first core alone is that of a pair magnetised alike (``second_flux_factor``);
    ``second_flux_linkage`` tells the second core's apart.
    Values not given come from the scenario's [start] table, or are zero; names with dots are passed as
    ``**{"core.flux_linkage": 0.5}``.  Friction elements not given get the values of a core that was magnetised once
    from nothing and let go, so that no current is needed to hold the flux.
    """
    defaults = initial_values(scenario)
    aliases = {
        "flux_linkage": "core.flux_linkage",
        "second_flux_linkage": "second_core.flux_linkage",
        "bank_voltage": "bank.voltage",
    }
    beside_it = second_flux_factor(scenario)
    names = [state.name for state in layout.states]
    inputs = [f"{name}{suffix}" for name in layout.circuit.inputs for suffix in ("", ".slope")]
    places = {name: k for k, name in enumerate((*names, *inputs))}

    def start(**values: float) -> tuple[np.ndarray, Signature]:
        x = np.zeros(len(places))
        if "flux_linkage" in values and "second_flux_linkage" in defaults:
            values = {"second_flux_linkage": values["flux_linkage"] * beside_it} | values
        given = {aliases.get(name, name): value for name, value in (defaults | values).items()}
        for name, value in given.items():
            if name not in places:
                near = difflib.get_close_matches(name, [*aliases, *places], n=3)
                raise WiringError(
                    f"'{name}' is no state of this supply",
                    place="start",
                    advice=f"it knows {', '.join(near or places)}",
                )
            x[places[name]] = value
        _let_go(layout, x, set(given))
        return x, _rest(layout, x)

    return start


def initial_values(scenario: Scenario) -> dict[str, float]:
    """Values of the [start] table for the parts that are there."""
    found = dict(zip(("flux_linkage", "second_flux_linkage"), start_fluxes(scenario), strict=False))
    if scenario.bank is not None:
        found["bank_voltage"] = scenario.start.bank_voltage
    return found


def _let_go(layout: Layout, x: np.ndarray, given: set[str]) -> None:
    """Set the friction elements of every core for a flux that stays by itself."""
    for core in (e for e in layout.elements if isinstance(e, SaturatingInductor)):
        mine = f"{core.name}.friction_"
        frictions = [e for e in layout.elements if isinstance(e, Friction) and e.name.startswith(mine)]
        if not frictions or any(f"{friction.name}.friction_current" in given for friction in frictions):
            continue
        flux = float(x[layout.state_index[core.name]])
        for friction, value in zip(frictions, resting_frictions(core, frictions, flux), strict=True):
            x[layout.state_index[friction.name]] = value


def resting_frictions(core: SaturatingInductor, frictions: list[Friction], flux: float) -> list[float]:
    """Friction currents after the flux has risen from zero to a tip and come back to ``flux``, where no current flows.

    What flows at the end falls with the tip, in straight pieces: the tip lies where one of them meets zero.  Beyond the
    largest remanence the elements hold back all they can.
    """
    sign, size = (1.0 if flux >= 0.0 else -1.0), abs(flux)
    curve = sign * current_at(core, flux)

    def at_tip(tip: float) -> list[float]:
        return [
            max(min(friction.stiffness * tip, friction.limit) - friction.stiffness * (tip - size), -friction.limit)
            for friction in frictions
        ]

    reaches = [friction.limit / friction.stiffness for friction in frictions]
    tips = sorted({size, *(max(size, reach) for reach in reaches), *(size + 2.0 * reach for reach in reaches)})
    nets = [curve + sum(at_tip(tip)) for tip in tips]
    if nets[0] <= 0.0 or nets[-1] > 0.0:
        tip = tips[0] if nets[0] <= 0.0 else tips[-1]
    else:
        k = next(k for k, net in enumerate(nets) if net <= 0.0)
        tip = tips[k - 1] + (tips[k] - tips[k - 1]) * nets[k - 1] / (nets[k - 1] - nets[k])
    return [sign * value for value in at_tip(tip)]


def _rest(layout: Layout, x: np.ndarray) -> Signature:
    """First segment of every element; iron in the piece that holds its flux."""
    return tuple(
        piece_at(element, float(x[layout.state_index[element.name]])) if isinstance(element, SaturatingInductor) else 0
        for element in layout.elements
    )
