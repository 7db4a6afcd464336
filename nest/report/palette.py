"""Colours of figures and page: told apart by the colour-blind and, by their lightness, in greyscale."""

NET, TRIM_OFF, INTERLOCK, FAULT, EDGE = "#17406d", "#2f7fb8", "#6cb0a0", "#efb75f", "#f7edcf"
"""The five parts of an account, dark to light."""

INK, QUIET, ALARM = "#1b1b1b", "#6b6b6b", "#b3261e"

ZONES = ("#fbf8f0", "#efe4ca", "#dcc8a0", "#c0a57a", "#9c8158")
"""Ground by class, the best lightest; the last for every lower class."""

DARK_ZONES = ("#5d584b", "#4b4537", "#3a3427", "#2a2519", "#1b170f")
"""The same on a dark screen."""

PARTS = {"toe": "#d55e00", "side": "#0072b2", "back": "#009e73"}
"""Parts of an outline (colours after Okabe & Ito, from memory); line styles tell them apart too."""


def zone_tint(quality: int) -> str:
    """Tint of ground of this class."""
    return ZONES[min(max(quality, 1), len(ZONES)) - 1]


def by_size(sizes) -> dict[str, tuple[str, str]]:
    """Fill and ink for each size, in the order given: a scale that only grows lighter."""
    from matplotlib import colormaps
    from matplotlib.colors import to_hex

    scale, last = colormaps["viridis"], max(len(sizes) - 1, 1)
    found = {}
    for i, size in enumerate(sizes):
        red, green, blue, _ = scale(0.12 + 0.83 * i / last)
        light = 0.2126 * red**2.2 + 0.7152 * green**2.2 + 0.0722 * blue**2.2
        found[size] = (to_hex((red, green, blue)), "white" if light < 0.25 else INK)
    return found
