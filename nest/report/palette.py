"""Colours of figures and page: told apart by the colour-blind and, by their lightness, in greyscale."""

NET, TRIM_OFF, INTERLOCK, FAULT, EDGE = "#17406d", "#2f7fb8", "#6cb0a0", "#efb75f", "#f7edcf"
"""The five parts of an account, dark to light."""

INK, QUIET, ALARM = "#1b1b1b", "#6b6b6b", "#b3261e"

FLAW, STRETCH = "#8f0d18", "#0a2a94"
"""Flaws, and arrows of stretch: both dark beside every ground and every size, and red against blue, which the
red-green blind see too (`tests/nest/report/test_colours.py`)."""

ZONES = ("#fbf8f0", "#efe4ca", "#dcc8a0", "#c5ab81", "#b39a70")
"""Ground by class, the best lightest; the last for every lower class."""

_SIZES = ("#5b99d2", "#4fbcb4", "#93d67c", "#f6ee5a")
"""Sizes, small to large: from blue to yellow, only lighter; what lies between is mixed of two neighbours."""

PARTS = {"toe": "#d55e00", "side": "#0072b2", "back": "#009e73"}
"""Parts of an outline (colours after Okabe & Ito, from memory); line styles tell them apart too."""


def zone_tint(quality: int) -> str:
    """Tint of ground of this class."""
    return ZONES[min(max(quality, 1), len(ZONES)) - 1]


def by_size(sizes) -> dict[str, tuple[str, str]]:
    """Fill and ink for each size, in the order given: a scale that only grows lighter."""
    from matplotlib.colors import LinearSegmentedColormap, to_hex

    scale, last = LinearSegmentedColormap.from_list("sizes", _SIZES), max(len(sizes) - 1, 1)
    return {size: (to_hex(scale(i / last)), INK) for i, size in enumerate(sizes)}
