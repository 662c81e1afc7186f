"""Arrays that Python and the compiled code share: copies do not know where the first ones stood."""

import copy
import pickle

import numpy as np
import pytest

from weldsim.engine.doors import door
from weldsim.engine.layout import Log


@pytest.mark.parametrize("copied", [copy.copy, copy.deepcopy, lambda log: pickle.loads(pickle.dumps(log)), Log._make])
def test_a_copy_is_handed_over_anew(copied):
    """A piece written to a copy stands there: no address of the first log goes along."""
    write, control = door("kernel", "write_log"), np.zeros(24, np.int64)
    log = Log(*(np.zeros(4, np.int64) for _ in range(3)), np.zeros((4, 4)))
    write(log, control, 7, np.ones(4))
    other = copied(log)
    for name in ("time", "mode", "cause", "state"):
        assert "taken apart" not in getattr(other, "__dict__", {})
        assert np.array_equal(getattr(other, name), getattr(log, name))
    write(other, control, 8, np.full(4, 2.0))
    assert other.cause.tolist()[:2] == [7, 8]
    assert other.state[1].tolist() == [2.0] * 4
    assert log.cause[1] == (8 if copied in (copy.copy, Log._make) else 0)
