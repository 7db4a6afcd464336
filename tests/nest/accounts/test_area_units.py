"""Unit factors of leather area, from the definition of the foot."""

from fractions import Fraction

import pytest

from nest.units import MM2_PER_AREA_UNIT, MM2_PER_FT2, MM_PER_LENGTH_UNIT, dm2, ft2, m2, metres

FOOT_MM = Fraction("304.8")
"""1 ft = 0.3048 m exactly (international yard and pound agreement, 1959)."""


def test_square_foot_is_exact():
    """1 ft² = 9.290304 dm², a quarter 2.322576 dm² (recomputed from the definition of the foot)."""
    assert float(FOOT_MM**2 / 10_000) == 9.290304
    assert dm2(MM2_PER_FT2) == pytest.approx(9.290304, rel=1e-15)
    assert dm2(MM2_PER_FT2 / 4) == pytest.approx(2.322576, rel=1e-15)
    assert MM2_PER_AREA_UNIT["ft2"] == pytest.approx(float(FOOT_MM**2), rel=1e-15)


def test_square_metre_in_feet():
    """1 m² = 10.7639104 ft² (recomputed), 100 dm²."""
    assert ft2(1e6) == pytest.approx(10.7639104, abs=5e-8)
    assert dm2(1e6) == 100.0 and m2(1e6) == 1.0


def test_lengths():
    """Metres, and inches of a twelfth of a foot."""
    assert metres(1500.0) == 1.5
    assert MM_PER_LENGTH_UNIT["in"] * 12 == pytest.approx(float(FOOT_MM), rel=1e-15)
