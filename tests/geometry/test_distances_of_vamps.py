"""Distances and sides by table against shapely, from the outlines alone; `tests/bench/overlap.py` does it at length."""

import numpy as np
from displacements import contact_spots, random_spots, vamp_pair


def test_distances_of_vamps_are_shapelys():
    """The distance of two outlines is that of the displacement from the no-fit polygon (Minkowski difference)."""
    rng = np.random.default_rng(22)
    parted = 0
    for _ in range(10):
        pair = vamp_pair(rng)
        for make in (random_spots, contact_spots):
            spots = pair.boxed(make(pair, 50, rng))
            true = pair.apart(spots)
            np.testing.assert_allclose(pair.gaps(spots), true, rtol=0.0, atol=1e-6)
            parted += int((true > 1.0).sum())
    assert parted > 30


def test_sides_of_the_no_fit_polygon_are_shapelys():
    """Displacements off its edge lie inside by table exactly when shapely contains them."""
    rng = np.random.default_rng(23)
    seen = np.zeros(2, dtype=int)
    for _ in range(10):
        pair = vamp_pair(rng)
        for make in (random_spots, contact_spots):
            told, true = pair.told_inside(make(pair, 50, rng))
            np.testing.assert_array_equal(told, true)
            seen += (int(true.sum()), int((~true).sum()))
    assert (seen > 100).all()
