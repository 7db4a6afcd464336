"""The rigid fit against a closed form by complex numbers, and its error against theory."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nest.registration.fit import error_at, rigid_fit

SIDE = np.array(((-1200.0, 80.0), (1150.0, -60.0), (300.0, 620.0), (-250.0, -540.0)))


def by_complex_numbers(drawn, measured):
    """Turn (deg), scale and residuals of the least-squares motion w = e^{it} z + c, by one sum of products.

    With both sets about their means the best t is the argument of sum(conj(z) w), and the best scale is its size by
    sum(|z|^2): from setting the derivatives of sum |w - s e^{it} z|^2 to nil.
    """
    z, w = (np.asarray(points) @ (1.0, 1.0j) for points in (drawn, measured))
    z, w = z - z.mean(), w - w.mean()
    product = (z.conj() * w).sum()
    turn = np.angle(product)
    return np.degrees(turn), abs(product) / (abs(z) ** 2).sum(), abs(w - np.exp(1j * turn) * z)


def moved(points, turn_deg, at):
    """Points turned about the origin, then moved."""
    z = np.asarray(points) @ (1.0, 1.0j) * np.exp(1j * np.radians(turn_deg)) + complex(*at)
    return np.column_stack((z.real, z.imag))


@given(st.floats(-179, 179), st.floats(-3000, 3000), st.floats(-3000, 3000), st.integers(2, 4))
def test_an_exact_motion_is_found(turn, x, y, count):
    """Whatever the motion: found to a billionth, residual 0, scale 1."""
    fit = rigid_fit(SIDE[:count], moved(SIDE[:count], turn, (x, y)))
    assert fit.turn_deg == pytest.approx(turn, abs=1e-9) and fit.moved_mm == pytest.approx((x, y), abs=1e-6)
    assert fit.residuals_mm.max() < 1e-9 * 5000 and fit.scale == pytest.approx(1.0, abs=1e-12)
    assert fit.apply(SIDE) == pytest.approx(moved(SIDE, turn, (x, y)), abs=1e-6)


@settings(max_examples=60)
@given(st.integers(2, 4), st.integers(0, 2**32 - 1), st.floats(0.0, 60.0))
def test_noisy_points_give_what_the_closed_form_gives(count, seed, noise):
    """Turn, scale and residuals by another derivation, with errors up to 60 mm."""
    pick = np.random.default_rng(seed)
    measured = moved(SIDE[:count], pick.uniform(-180, 180), (70, 9)) + pick.normal(0.0, noise, (count, 2))
    fit = rigid_fit(SIDE[:count], measured)
    turn, scale, residuals = by_complex_numbers(SIDE[:count], measured)
    assert (fit.turn_deg - turn + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-8)
    assert fit.scale == pytest.approx(scale, rel=1e-9) and fit.residuals_mm == pytest.approx(residuals, abs=1e-6)


def test_the_mirrored_fit_is_that_of_the_mirrored_drawing():
    """A drawing turned over fits exactly when mirrored, and its residuals as it is are those of the closed form."""
    over = moved(SIDE * (-1.0, 1.0), 33.0, (5, 6))
    fit = rigid_fit(SIDE, over)
    assert fit.if_mirrored_mm.max() < 1e-6
    assert fit.residuals_mm == pytest.approx(by_complex_numbers(SIDE, over)[2], abs=1e-6)
    assert rigid_fit(SIDE * (-1.0, 1.0), over).residuals_mm.max() < 1e-6


def test_lengths_that_differ_show_in_the_scale():
    """A hide 1 % longer has scale 1.01 by any number of points; two points leave the scale to be checked alone."""
    for count in (2, 3, 4):
        fit = rigid_fit(SIDE[:count], 1.01 * moved(SIDE[:count], 11.0, (0, 0)))
        assert fit.scale == pytest.approx(1.01) and fit.turn_deg == pytest.approx(11.0)
        off = 0.01 * np.hypot(*(SIDE[:count] - SIDE[:count].mean(axis=0)).T)
        assert fit.residuals_mm == pytest.approx(off)


@pytest.mark.parametrize("count", [2, 3, 4])
def test_errors_are_those_of_theory(count):
    """3000 noisy readings: places are wrong by the standard error told, to 5 % (a 4 sigma band of the sample)."""
    pick = np.random.default_rng(count)
    points, at = SIDE[:count], np.array((900.0, 500.0))
    true = moved([at], 20.0, (40, -10))[0]
    clean = moved(points, 20.0, (40, -10))
    off = [rigid_fit(points, clean + pick.normal(0.0, 0.8, points.shape)).apply([at])[0] - true for _ in range(3000)]
    found = np.sqrt((np.array(off) ** 2).sum(axis=1).mean())
    assert found == pytest.approx(error_at(points, at, 0.8), rel=0.05)


def test_what_cannot_be_fitted_is_refused():
    """One point, or points in one place, tell no direction."""
    with pytest.raises(ValueError, match="at least two"):
        rigid_fit(SIDE[:1], SIDE[:1])
    with pytest.raises(ValueError, match="in one place"):
        rigid_fit(SIDE[:2], SIDE[[0, 0]])
