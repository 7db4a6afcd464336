"""The compiled thinning keeps its steps within the band, as GEOS judges it."""

import numpy as np
import pytest
import shapely

from geometry.polygon import polygon
from geometry.precision import as_ring
from geometry.thinning import thin_outwards


@pytest.mark.parametrize("seed", range(12))
def test_what_is_thinned_lies_within_the_band_by_the_predicate_of_geos(seed):
    """Jagged rings with hollows: GEOS, which draws no line of ours, finds the thinned outline covered by the band."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.random(400)) * 2.0 * np.pi
    out = 60.0 + 12.0 * np.sin(5.0 * turn) + rng.normal(0.0, 0.15, len(turn))
    ring = as_ring(np.column_stack((out * np.cos(turn), out * np.sin(turn))))
    for tolerance in (0.05, 0.4, 2.0):
        thinned = thin_outwards(ring, tolerance)
        band = polygon(ring).buffer(tolerance * (1.0 + 1e-9), quad_segs=32)
        assert band.covers(shapely.LinearRing(thinned))
        assert len(thinned) < len(ring)
