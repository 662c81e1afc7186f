"""What a preview says of iron: a choke that saturates at the crest of its current, a core that never does."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from weldsim.parts.flux import saturation_flux_linkage
from weldsim.scenario.pair import transformers
from weldsim.studies.answer import Verdict
from weldsim.studies.choke_words import given_way
from weldsim.studies.preview_ratings import spread_text

if TYPE_CHECKING:
    from weldsim.studies.preview import Preview


def choke(preview: "Preview") -> Iterator[Verdict]:
    """What is left of the choke's inductance at the crest of its current."""
    part, name = preview.scenario.choke, "choke.current.max"
    table = preview.recording.run.table
    if part is None or name not in table:
        return
    crest = table[name][0]
    told = given_way(part, crest)
    if not told:
        return
    yield Verdict(
        "choke",
        "note",
        f"{told}, the crest of its current{spread_text(preview, name, 'A')}, so that it smooths least where the "
        "current is largest. "
        "Cause: the flux of its turns at that current; a larger gap or fewer turns hold out longer, at less "
        "inductance, a larger core at the same. `choke` tells what would hold in a short.",
    )


def core(preview: "Preview") -> Iterator[Verdict]:
    """That a core without saturation hides what the mains feel of the iron."""
    endless = [
        one
        for one in transformers(preview.scenario)
        if one.core is not None and math.isinf(saturation_flux_linkage(one.core, one.primary_turns))
    ]
    if not endless:
        return
    peak = preview.numbers["switch_on.current.peak"].value
    yield Verdict(
        "core",
        "note",
        f"The {endless[0].word}core is given without saturation: the {peak:.4g} A after "
        "switch-on, the idle current and what a flux bias draws are told too low, `inrush` cannot be asked. Give "
        "core.saturation_flux_linkage and core.saturated_inductance, or its iron (section, path_length, steel and "
        "transformer.primary_turns).",
    )
