"""From the wall to the transformer: mains, supply lead, phase control with snubber and RC-and-diac dial, varistor.

mains --- impedance --- plug --- supply lead --- supply --- phase control --- primary --- transformer
                                                          +--- snubber ---+      |
                                                                              varistor
                                                                                 |
                                                                              return
"""

from weldsim.network.branches import Capacitor, Event, Guard, Jump, Move, Resistor, Segment, Source, Watcher
from weldsim.network.circuit import Probe
from weldsim.network.devices import Gating, Line, Scale, controlled, gate_events, two_sided
from weldsim.network.draft import REFERENCE, Draft, Inductance, Resistance
from weldsim.network.pieces import BAND
from weldsim.parts.cable import supply_lead_inductance, supply_lead_resistance
from weldsim.parts.mains import source_terms
from weldsim.parts.phase_control import PhaseControl, diac_voltages, timing_resistance
from weldsim.scenario.finding import source_of

DEVICE = "phase_control"
LET_GO = "let_go"


def draw_mains(draft: Draft) -> str:
    """Ideal source, its impedance and the supply lead; the supply's first node."""
    mains, lead, circuit = source_of(draft.scenario), draft.scenario.supply_lead, draft.circuit
    place = "mains" if draft.scenario.generator is None else "generator"
    impedance: list[Resistance | Inductance] = [
        Resistance("mains.resistance", mains.resistance, f"{place}.resistance"),
        Inductance("mains.inductance", mains.inductance, f"{place}.inductance"),
    ]
    source = Source("mains", "line", REFERENCE, mains.dc_offset, tuple(source_terms(mains)))
    circuit.add(source, "mains", role="source", key="mains.resistance")
    draft.voltage("mains.voltage", "mains voltage (ideal source)", plus="line", minus=REFERENCE)
    draft.current("primary.current", "primary current", "mains", factor=-1.0)
    circuit.sources.append(("mains", "mains.voltage", "primary.current"))
    plug = draft.series("mains impedance", "line", impedance)
    draft.voltage("plug.voltage", "voltage at the plug", plus=plug, minus=REFERENCE)
    if lead is None:
        return plug
    return draft.series(
        "supply lead",
        plug,
        [
            Resistance("supply_lead.resistance", supply_lead_resistance(lead), "supply_lead.resistance"),
            Inductance("supply_lead.inductance", supply_lead_inductance(lead), "supply_lead.inductance"),
        ],
    )


def draw_phase_control(draft: Draft, supply: str) -> str:
    """The switch with its snubber; the node behind it, which is ``supply`` itself where there is none."""
    control, circuit = draft.scenario.phase_control, draft.circuit
    if control is None:
        return supply
    behind = "primary"
    gating = Gating(
        control.latching_current,
        control.holding_current,
        paired=control.device == "thyristor pair",
        critical_rate=control.critical_dvdt if control.false_firing else None,
        train=control.pulse_kind == "train" and control.dial_kind != "rc-diac",
    )
    line = Line(control.threshold, control.slope, control.off_resistance)
    device = controlled(DEVICE, (supply, behind), line=line, gating=gating, scale=draft.primary)
    circuit.add(device, "phase control", key="phase_control.slope")
    circuit.events += gate_events(device, gating)
    circuit.read(f"{DEVICE}.voltage", "V", "voltage across the phase control", Probe("voltage", DEVICE))
    draft.current(f"{DEVICE}.current", "current of the phase control device", DEVICE)
    if control.false_firing:
        circuit.notes.append(
            "The blocked switch fires by itself where the solution's rate of voltage exceeds critical_dvdt, at once "
            "and without spread; the jump by which its own drop comes and goes does not count."
        )
    _draw_snubber(draft, control, (supply, behind))
    if control.dial_kind == "rc-diac":
        _draw_dial(draft, control, (supply, behind))
    return behind


def draw_varistor(draft: Draft, node: str) -> str:
    """The varistor from the node behind the phase control to the return; the same node, with or without one."""
    varistor = draft.scenario.varistor
    if varistor is None:
        return node
    line = Line(varistor.clamp_voltage, varistor.slope, varistor.leakage_resistance)
    scale = Scale(max(draft.primary.voltage, varistor.clamp_voltage), draft.primary.current)
    branch = two_sided("varistor", (node, REFERENCE), line=line, scale=scale)
    draft.circuit.add(branch, "varistor", key="varistor.slope")
    draft.circuit.read("varistor.voltage", "V", "voltage across the varistor", Probe("voltage", "varistor"))
    draft.current("varistor.current", "current of the varistor", "varistor")
    return node


def _draw_snubber(draft: Draft, control: PhaseControl, ends: tuple[str, str]) -> None:
    if control.snubber_capacitance is None:
        return
    key = "phase_control.snubber_resistance"
    resistance = Resistance("snubber.resistance", control.snubber_resistance or 0.0, key)
    middle = draft.series("snubber", ends[0], [resistance])
    draft.circuit.add(Capacitor("snubber", middle, ends[1], control.snubber_capacitance), "snubber", key=key)
    draft.current("snubber.current", "snubber current", "snubber")


def _draw_dial(draft: Draft, control: PhaseControl, ends: tuple[str, str]) -> None:
    """Timing resistor and capacitor across the device, and the diac that fires the gate and takes charge away.

    At breakover the capacitor's voltage falls by the diac's break-back at once and the gate is on for the pulse width.
    Left out: the diac's negative slope and its resistance, what the gate draws beyond that charge, a second RC stage,
    temperature; a second breakover within one pulse width has its gate ended by the first one's.
    """
    circuit = draft.circuit
    circuit.add(
        Resistor("dial.resistance", ends[0], "dial", timing_resistance(control)),
        "dial",
        key="phase_control.timing_resistance_at_100",
    )
    circuit.add(
        Capacitor("dial.capacitor", "dial", ends[1], control.timing_capacitance),
        "dial",
        key="phase_control.timing_resistance_at_100",
    )
    circuit.read("dial.capacitor.voltage", "V", "voltage of the timing capacitor", Probe("state", "dial.capacitor"))
    diac = _diac(control)
    circuit.add(diac, "dial")
    circuit.events += _trigger_events(diac)
    circuit.notes.append(
        "The diac is an ideal breakover: at its voltage the timing capacitor falls by the break-back "
        "and the gate is on for the pulse width; its negative slope and the gate's own current are "
        "left out."
    )


def _diac(control: PhaseControl) -> Watcher:
    """Waiting until breakover in either direction; then waiting until the capacitor is below it again.

    While the trigger is open its contact has the diac disconnected.
    """
    high, low = diac_voltages(control)
    pair = control.device == "thyristor pair"
    band = BAND * control.diac_voltage
    firing, rearming = [], []
    for way, limit, name in ((1, high, "plus"), (-1, low, "minus")):
        gate = f"gate {name}" if pair else "gate"
        jump = Jump(
            "dial.capacitor", 1.0, -way * control.diac_breakback, f"{gate} on", f"{gate} off", control.pulse_width
        )
        firing.append(Guard("state", -way, way * limit, f"fired_{name}", band, of="dial.capacitor", jump=jump))
        rearming.append(
            Segment(f"fired_{name}", None, (Guard("state", way, way * limit, "waiting", band, of="dial.capacitor"),))
        )
    return Watcher("diac", (Segment("waiting", None, tuple(firing)), *rearming, Segment(LET_GO, None)))


def _trigger_events(diac: Watcher) -> tuple[Event, ...]:
    """The contact of the trigger in the diac's line."""
    others = [segment.name for segment in diac.segments if segment.name != LET_GO]
    return (
        Event("trigger on", diac.name, (Move(LET_GO, "waiting"),)),
        Event("trigger off", diac.name, tuple(Move(name, LET_GO) for name in others)),
    )
