"""Other words of the trade for tables and keys: a builder's first guess leads to the right name, not to a dead end."""

from collections.abc import Sequence

from weldsim.units import nearest

# What people call a part -> its table.  Plurals are found too.
_TABLES = {
    "phase_control": "triac thyristor scr dimmer dial gate gating snubber controller firing",
    "rectifier": "bridge diode diode_bridge bridge_rectifier",
    "bank": "capacitor cap condenser capacitor_bank filter smoothing",
    "choke": "inductor reactor output_choke coil",
    "supply_lead": "extension extension_lead extension_cord power_cord cord mains_lead mains_cable cable_reel",
    "weld_leads": "cable lead torch return_lead ground_lead ground_clamp clamp weld_cable welding_cable welding_lead",
    "breaker": "fuse circuit_breaker mcb",
    "mains": "grid supply socket line_voltage net outlet",
    "core": "iron lamination",
    "boost": "pilot boost_winding booster auxiliary_winding",
    "load": "arc battery output workpiece",
    "wire": "electrode gas",
    "feed_motor": "motor feeder wire_feeder wire_feed feed",
    "cooling": "thermal heat heatsink heat_sink fan duty",
    "soft_start": "ntc thermistor inrush_limiter",
    "varistor": "mov surge_arrester",
    "trigger": "timer sequence spot",
    "transformer": "winding primary secondary",
    "second_transformer": "other_transformer transformer_2 transformer2 pair",
    "second_core": "other_core core_2 core2",
}
# What people call a value -> key of the same table, or of another one.
_KEYS = {
    "area": "section core.section",
    "core_area": "core.section section",
    "cross_section": "section core.section",
    "csa": "section",
    "weight": "core.mass mass",
    "mass": "core.mass",
    "power": "rating",
    "va": "rating",
    "kva": "rating",
    "l": "inductance",
    "henry": "inductance",
    "c": "capacitance",
    "farad": "capacitance",
    "value": "capacitance inductance resistance",
    "esr": "resistance",
    "r": "resistance",
    "impedance": "resistance",
    "ohms": "resistance",
    "core": "section",
    "bleeder": "bleed_resistance",
    "bleed": "bleed_resistance",
    "bleed_resistor": "bleed_resistance",
    "stickout": "extension",
    "stick_out": "extension",
    "ctwd": "extension",
    "speed": "feed",
    "pulse": "pulse_width",
    "amps": "current rated_current",
    "volts": "voltage rated_voltage",
    "current": "rated_current",
    "voltage": "rated_voltage",
    "hz": "frequency",
    "breaker": "breaker.curve",
    "fuse": "breaker.curve",
    "temperature": "winding_temperature",
    "air_gap": "gap",
    "angle": "dial",
    "torch": "length",
}
_CALLED = {word: table for table, words in _TABLES.items() for word in words.split()}


def _plain(word: str) -> str:
    """A guessed word in the spelling of keys: small letters, underscores."""
    return word.strip().lower().replace("-", "_").replace(" ", "_")


def meant_table(word: str, known: Sequence[str]) -> str:
    """A hint which table was meant, by what else the trade calls it or by its spelling; nothing where neither tells.

    >>> meant_table("triac", ["phase_control", "bank"]), meant_table("Capacitors", ["phase_control", "bank"])
    ("; that is table 'phase_control' here", "; that is table 'bank' here")
    >>> meant_table("bnk", ["phase_control", "bank"]), meant_table("antenna", ["phase_control", "bank"])
    ("; did you mean 'bank'?", '')
    """
    plain = _plain(word)
    table = _CALLED.get(plain) or _CALLED.get(plain.removesuffix("s"))
    same = [name for name in known if name == plain]
    if table in known and not same:
        return f"; that is table '{table}' here"
    return nearest(word, known)


def meant_key(word: str, fields: Sequence[str]) -> str:
    """A hint which key was meant, of this table or of another one.

    >>> meant_key("stickout", ["extension", "feed"]), meant_key("weight", ["rating", "layout"])
    ("; did you mean 'extension'?", "; that is 'core.mass' here")
    >>> meant_key("feeed", ["extension", "feed"]), meant_key("colour", ["extension", "feed"])
    ("; did you mean 'feed'?", '')
    """
    candidates = _KEYS.get(_plain(word), "").split()
    own = next((name for name in candidates if name in fields), None)
    other = next((name for name in candidates if "." in name), None)
    if own is not None:
        return f"; did you mean '{own}'?"
    return nearest(word, fields) or (f"; that is '{other}' here" if other is not None else "")
