"""Colours are told apart by everybody: contrast, and distances as the red-green blind see them.

Relative luminance and contrast: WCAG 2.1, definitions; 3 : 1 for what is drawn, criterion 1.4.11. Colour blindness:
G. M. Machado, M. M. Oliveira, L. A. F. Fernandes (2009), IEEE Transactions on Visualization and Computer Graphics 15,
1291-1298, doi:10.1109/TVCG.2009.113, severity 1.0 (matrices from memory). Distances: CIE 1976 L*a*b* (ISO/CIE
11664-4), white point D65; some 2.3 is the least that is noticed (common practice, no source).
"""

from itertools import combinations, product

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from nest.report import palette

SIZES = [str(size) for size in range(34, 47)]
SEEN = {
    "all": np.eye(3),
    "no red": np.array(((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
                        (-0.003882, -0.048116, 1.051998))),
    "no green": np.array(((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
                          (-0.011820, 0.042940, 0.968881))),
}


def linear(colour) -> np.ndarray:
    """Linear red, green and blue (IEC 61966-2-1)."""
    parts = np.array(to_rgb(colour))
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def luminance(colour) -> float:
    """Relative luminance."""
    return float(linear(colour) @ (0.2126, 0.7152, 0.0722))


def contrast(one, other) -> float:
    """Contrast ratio, 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def lab(colour, seen) -> np.ndarray:
    """L*, a*, b* of a colour as somebody sees it."""
    rgb = np.clip(SEEN[seen] @ linear(colour), 0.0, 1.0)
    xyz = np.array(((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))) @ rgb
    x, y, z = np.cbrt(xyz / (0.9505, 1.0, 1.089))  # no colour here is so dark that the straight part counts
    return np.array((116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)))


def distance(one, other, seen) -> float:
    """Difference of two colours as somebody sees them."""
    return float(np.linalg.norm(lab(one, seen) - lab(other, seen)))


FILLS = [fill for fill, _ in palette.by_size(SIZES).values()]


@pytest.mark.parametrize("mark", [palette.FLAW, palette.STRETCH])
def test_marks_stand_out_from_every_size_and_ground(mark):
    """Flaws and arrows have a contrast of 3 : 1 with each of thirteen sizes and each class of ground."""
    for other in (*FILLS, *palette.ZONES):
        assert contrast(mark, other) >= 3.0, other


@pytest.mark.parametrize("seen", SEEN)
def test_flaws_stretch_and_sizes_differ_for_everybody(seen):
    """Flaw against stretch, and either against every size and ground: far apart, whoever looks."""
    assert distance(palette.FLAW, palette.STRETCH, seen) > 40.0
    for mark, other in product((palette.FLAW, palette.STRETCH), (*FILLS, *palette.ZONES)):
        assert distance(mark, other, seen) > 25.0, other


@pytest.mark.parametrize("seen", SEEN)
def test_each_size_is_seen_apart_from_its_neighbours(seen):
    """Seven sizes: each is at least five times what is noticed from the next, whoever looks."""
    fills = [fill for fill, _ in palette.by_size(SIZES[:7]).values()]
    assert min(distance(one, other, seen) for one, other in combinations(fills, 2)) > 11.0


def test_labels_are_read_on_every_size():
    """Words on a piece keep 4.5 : 1 (WCAG 2.1, criterion 1.4.3)."""
    for fill, ink in palette.by_size(SIZES).values():
        assert contrast(fill, ink) >= 4.5


def test_the_model_of_colour_blindness_keeps_greys_and_loses_red_against_green():
    """Greys look grey to everybody; a red and a green of one lightness come close together for the red-green blind."""
    for seen in ("no red", "no green"):
        assert np.abs(lab("#808080", seen)[1:]).max() < 0.6
        assert distance("#c0504d", "#6a8f3c", seen) < 0.55 * distance("#c0504d", "#6a8f3c", "all")
