"""The start: flux is given once."""

from weldsim.parts.start import Start


def test_flux_is_given_in_one_way():
    """Flux linkage and remanence together contradict each other; either alone is fine."""
    assert Start(flux_linkage=0.8, remanence=1.0).faults()[0][0] == "remanence"
    assert Start(remanence=1.0).faults() == []
    assert Start(flux_linkage=0.8).faults() == []
