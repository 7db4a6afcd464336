"""The stretch test: direction, ratio and uncertainty from readings."""

from math import cos, isinf, radians, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nest.stretch.doubt import doubt_about
from nest.stretch.fit import Reading, fit_stretch


def readings_of(most, least, direction_deg, angles, noise=None):
    """What a material with these principal extensions reads at some angles."""
    noise = np.zeros(len(angles)) if noise is None else noise
    return [
        Reading(a, 0.5 * (most + least) + 0.5 * (most - least) * cos(radians(2 * (a - direction_deg))) + float(n))
        for a, n in zip(angles, noise, strict=True)
    ]


def test_sixty_degree_rosette_of_the_textbook():
    """Readings 60, 135, 264 at 0, 60, 120 degrees: εx 60, εy 246, γ −149; principal 272 and 33.8, the lesser at 19.3°.

    Source: R. C. Hibbeler, Mechanics of Materials, example of the 60° strain rosette (from memory).
    """
    found = fit_stretch([Reading(0, 60), Reading(60, 135), Reading(120, 264)])
    assert found.x_percent == pytest.approx(60, abs=0.5)
    assert found.y_percent == pytest.approx(246, abs=0.5)
    assert found.shear_percent == pytest.approx(-149, abs=0.5)
    assert found.most_percent == pytest.approx(272, abs=0.5)
    assert found.least_percent == pytest.approx(33.8, abs=0.1)
    assert found.direction_deg - 90.0 == pytest.approx(19.3, abs=0.05)
    assert isinf(found.direction_within_deg) and found.residual_percent == 0.0


@pytest.mark.parametrize("values", [(2.1, 3.2, 4.5), (4.0, 2.0, 1.0), (1.0, 3.0, 1.5)])
def test_forty_five_degree_rosette_in_closed_form(values):
    """At 0, 45, 90 degrees: tan 2θ = (2 ε45 − ε0 − ε90) / (ε0 − ε90), as in any mechanics-of-materials text."""
    e0, e45, e90 = values
    found = fit_stretch([Reading(0, e0), Reading(45, e45), Reading(90, e90)])
    assert tan(radians(2 * found.direction_deg)) == pytest.approx((2 * e45 - e0 - e90) / (e0 - e90))
    assert found.most_percent + found.least_percent == pytest.approx(e0 + e90)


@given(st.floats(0, 179), st.floats(1.0, 20.0), st.floats(1.1, 5.0), st.floats(-90, 90))
def test_a_turned_material_turns_the_direction_and_nothing_else(direction, least, ratio, turn):
    """Readings without noise give the material back, whatever the angles are counted from."""
    angles = [turn + a for a in (0, 30, 75, 110, 150)]
    found = fit_stretch(readings_of(least * ratio, least, direction + turn, angles))
    off = (found.direction_deg - direction - turn) % 180.0
    assert min(off, 180.0 - off) < 1e-6
    assert found.ratio == pytest.approx(ratio)
    assert found.residual_percent < 1e-6


def test_intervals_cover_the_truth_as_often_as_they_say():
    """Over 2000 drawn tests the 95 % intervals of direction and ratio hold the truth in 95 % of them (± 2)."""
    rng = np.random.default_rng(5)
    angles = [0, 0, 45, 45, 90, 90, 135, 135]
    held = np.zeros(2)
    for _ in range(2000):
        found = fit_stretch(readings_of(4.4, 2.1, 70.0, angles, rng.normal(0.0, 0.1, len(angles))))
        held += (abs(found.direction_deg - 70.0) <= found.direction_within_deg,
                 abs(found.ratio - 4.4 / 2.1) <= found.ratio_within)
    assert held / 2000 == pytest.approx(0.95, abs=0.02)


def test_uncertainty_agrees_with_a_bootstrap():
    """The delta method's standard error of the direction is that of redrawn readings within 10 %."""
    rng = np.random.default_rng(8)
    angles, error = [0, 30, 60, 90, 120, 150], 0.12
    truth = readings_of(5.0, 3.0, 20.0, angles)
    stated = fit_stretch(truth, reading_error_percent=error)
    drawn = []
    for _ in range(2000):
        redrawn = [Reading(one.angle_deg, one.extension_percent + rng.normal(0, error)) for one in truth]
        drawn.append(fit_stretch(redrawn).direction_deg)
    spread = np.std([(d + 90.0) % 180.0 for d in drawn])
    assert stated.direction_within_deg / 1.959964 == pytest.approx(spread, rel=0.1)


def test_repeats_on_one_strip_do_not_count_as_strips():
    """The same strip read five times says no more about other strips than its mean does."""
    once = [Reading(a, e, f"s{a}") for a, e in ((0, 2.0), (45, 3.1), (90, 4.2), (135, 3.2))]
    often = [Reading(one.angle_deg, one.extension_percent + d, one.strip) for one in once for d in (-0.1, 0.0, 0.1)]
    assert fit_stretch(often).direction_within_deg == pytest.approx(fit_stretch(once).direction_within_deg)
    assert fit_stretch(often).readings == 4


@pytest.mark.parametrize("angles", [(0, 90), (0, 180, 90), (10, 10, 10, 190), (0, 0.01, 0.02)])
def test_too_few_directions_are_refused(angles):
    """Two directions, counted modulo a half turn, or directions all but equal cannot tell three unknowns."""
    with pytest.raises(ValueError, match="expected"):
        fit_stretch([Reading(a, 2.0) for a in angles])


def test_doubt():
    """A clear material is not in doubt; one that stretches alike all ways, or one with three readings alone, is."""
    angles = [0, 0, 45, 45, 90, 90]
    noise = np.array([0.05, -0.05, 0.04, -0.04, 0.05, -0.05])
    clear = fit_stretch(readings_of(4.5, 2.0, 88.0, angles, noise))
    assert not doubt_about(clear, 10.0)
    alike = fit_stretch(readings_of(2.2, 2.15, 40.0, angles, noise))
    assert alike.isotropic
    reasons = doubt_about(alike, 10.0).reasons
    assert len(reasons) == 3 and "bias_leave" in doubt_about(alike, 10.0).advised
    three = fit_stretch(readings_of(4.5, 2.0, 88.0, [0, 45, 90]))
    assert "three readings" in doubt_about(three, 10.0).reasons[0]
    assert not doubt_about(fit_stretch(readings_of(4.5, 2.0, 88.0, [0, 45, 90]), 0.05), 10.0)
    assert doubt_about(clear, 0.5 * clear.direction_within_deg)


def test_equal_readings_have_no_direction():
    """Exactly equal readings: ratio 1, in doubt, and no division by zero."""
    found = fit_stretch([Reading(a, 3.0) for a in (0, 45, 90, 135)])
    assert found.ratio == pytest.approx(1.0)
    assert doubt_about(found, 10.0)
    assert 0.0 <= found.direction_deg < 180.0
