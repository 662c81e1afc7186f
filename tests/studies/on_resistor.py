"""A resistor straight on the mains behind a breaker: what it draws is known by hand."""

import weldsim

RESISTOR = """
[mains]
voltage = "230 V"
frequency = "50 Hz"
[breaker]
curve = "B"
current = "16 A"
[load]
kind = "resistor"
resistance = "{ohms} ohm"
"""


def on_resistor(multiple, **changes):
    """A resistor straight on the mains that draws so many times 16 A."""
    return weldsim.vary(weldsim.read_text(RESISTOR.format(ohms=230.0 / (16.0 * multiple))), **changes)
