"""A sweep over a drawn supply gives the same rows, to the bit, whoever computes them."""

import json

import pytest

from tests.laws.supplies_at_random import seeded_supply
from weldsim.studies.sweep import ask

SEEDS = (3000, 3003, 3006, 3010)  # with a phase control; both devices, bridge and centre-tap, boosts


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_rows_do_not_depend_on_the_number_of_workers(seed):
    """One process, in which a case finds the modes of those before it, and two give equal rows in every digit.

    So how modes are numbered, and whether one was there or had to be assembled, must not show.
    """
    asked = {"over": {"dial": [0.3, 0.5, 0.7]}, "study": "preview", "start": "rest", "duration": 0.06, "window": 0.02}
    alone, together = (ask(seeded_supply(seed).scenario(), workers=count, **asked).rows for count in (1, 2))

    assert [row["error"] for row in alone] == [None] * 3
    assert json.dumps(alone, default=repr) == json.dumps(together, default=repr)
