"""The picture of leads: its key names what its maps show, and nothing else."""

import pytest

import weldsim
from weldsim.figures import lead
from weldsim.studies.answer import Answer, Number

LENGTHS, SECTIONS = (0.0, 30.0, 60.0), (1e-6, 2.5e-6, 6e-6)


def answer(*, reach: float, lost_per_ohm: float) -> Answer:
    """Leads whose volts grow with their resistance, of which dials make good those up to ``reach`` [m]."""
    rows = []
    for state in ("cold", "coiled"):
        for section in SECTIONS:
            for length in LENGTHS:
                resistance = 2.0 * 1.72e-8 * length / section
                lead_of = {"length": length, "section": section, "resistance": resistance, "state": state}
                rows.append(
                    lead_of
                    | {"kind": "lead", "dial_needed": 0.6 + 0.05 * resistance, "heat_per_length": 5.0}
                    | {"output_current": 120.0 - 10.0 * resistance, "volts_lost": lost_per_ohm * resistance}
                )
            rows.append({"kind": "longest", "state": state, "section": section, "reach": reach})
            weld = {"kind": "weld_lead", "section": section, "volts_in_leads": 1.0, "heat_per_length": 5.0}
            rows += [weld | {"length": length} for length in LENGTHS]
    return Answer("lead", weldsim.read("toroid_shed"), {"wanted.output.current": Number(120.0, "A")}, rows=rows)


@pytest.mark.parametrize(
    ("reach", "lost_per_ohm", "told"),
    [
        (40.0, 1.5, {"no dial gives it", "same dial: end of the good window (1 V short)", "the scenario's lead"}),
        (60.0, 1.5, {"same dial: end of the good window (1 V short)", "the scenario's lead"}),
        (60.0, 0.01, {"the scenario's lead"}),
        (59.9, 1.5, {"same dial: end of the good window (1 V short)", "the scenario's lead"}),  # in a corner unseen
        (60.0, 0.4849, {"the scenario's lead"}),
    ],
)
def test_key_names_what_the_maps_show(reach, lost_per_ohm, told):
    """No grey is explained where every lead can be made good, no line where no lead leaves the window; nor what lies in
    a corner that cannot be seen.
    """
    figure = lead.draw(answer(reach=reach, lost_per_ohm=lost_per_ohm))

    assert {text.get_text() for text in figure.legends[0].get_texts()} == told
