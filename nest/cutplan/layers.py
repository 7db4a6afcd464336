"""Which layer of a drawing holds what: one table, to be renamed to suit a cutting table."""

from dataclasses import dataclass, fields, replace


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer's name (DXF: letters, digits, - and _) and its colour, an AutoCAD colour index from 1 to 255."""

    name: str
    colour: int


@dataclass(frozen=True, slots=True)
class Layers:
    """One layer for each use. Only `cut` is cut; `axis` and `size` are marks; the others are for the eye.

    Every colour stands out from a dark and from a light ground. Rename one with `dataclasses.replace`.
    """

    cut: Layer = Layer("CUT", 7)
    """Cut outlines, and nothing else."""
    axis: Layer = Layer("MARK_AXIS", 150)
    """Ticks on the heel-toe axis, within the trim-off band."""
    size: Layer = Layer("MARK_SIZE", 200)
    """Nicks that tell the size, within the trim-off band."""
    labels: Layer = Layer("REF_LABELS", 8)
    """What each piece is."""
    net: Layer = Layer("REF_NET", 134)
    """Net outlines: what stays in the shoe."""
    material: Layer = Layer("REF_MATERIAL", 32)
    """The hide's outline and holes, or the strip of the roll."""
    zones: Layer = Layer("REF_ZONES", 94)
    """Zones with class and stretch direction."""
    flaws: Layer = Layer("REF_FLAWS", 1)
    """Flaws."""
    points: Layer = Layer("REF_POINTS", 150)
    """Registration points."""
    legend: Layer = Layer("REF_LEGEND", 8)
    """What the drawing is, units, and cautions."""

    def numbered(self) -> "Layers":
        """The same table with the numbers 1, 2, 3 ... as names, for cutting tables that read layer numbers."""
        uses = [field.name for field in fields(self)]
        return replace(self, **{use: Layer(str(i), getattr(self, use).colour) for i, use in enumerate(uses, start=1)})


NAMED = Layers()
NUMBERED = NAMED.numbered()
