"""Units at the edge: inside, lengths are mm, areas mm², times seconds, angles degrees."""

MM2_PER_DM2 = 1e4
MM2_PER_M2 = 1e6
MM_PER_FT = 304.8
"""Exact: 1 ft = 0.3048 m (international yard and pound agreement, 1959)."""
MM2_PER_FT2 = MM_PER_FT**2

MM2_PER_AREA_UNIT = {"dm2": MM2_PER_DM2, "m2": MM2_PER_M2, "ft2": MM2_PER_FT2}
"""Area units a price or a measured area may be given in."""

MM_PER_LENGTH_UNIT = {"mm": 1.0, "cm": 10.0, "dm": 100.0, "m": 1000.0, "in": 25.4, "ft": MM_PER_FT}

TABLE_UNITS = ("mm", "cm", "in")
"""Units of length that drawings for a cutting table are written in."""


def dm2(area_mm2: float) -> float:
    """Area in dm²."""
    return area_mm2 / MM2_PER_DM2


def ft2(area_mm2: float) -> float:
    """Area in square feet."""
    return area_mm2 / MM2_PER_FT2


def m2(area_mm2: float) -> float:
    """Area in m²."""
    return area_mm2 / MM2_PER_M2


def metres(length_mm: float) -> float:
    """Length in m."""
    return length_mm / 1000.0
