"""Which layer of a drawing holds what: one table, to be renamed to suit a cutting table."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from nest.job.cutting_table import CuttingTable, layer_names

MACHINE_USES = ("cut", "lead", "axis", "size", "number")
"""Uses of the layers that a table cuts or draws."""


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer's name (DXF: letters, digits, - and _) and its colour, an AutoCAD colour index from 1 to 255."""

    name: str
    colour: int


@dataclass(frozen=True, slots=True)
class Layers:
    """One layer for each use. Only `cut` is cut, and `lead`, the ways into the cuts.

    `axis` and `size` are marks; the others are for the eye.

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

    heading: Layer = Layer("REF_HEADING", 150)
    """A line in each piece from the back of its axis to the toe."""
    rough: Layer = Layer("REF_ROUGH", 134)
    """The outlines wanted, where cut lines are thinned or moved out by the tool's radius."""
    lead: Layer = Layer("CUT_LEAD", 32)
    """Ways into the cuts, each before its outline; a table that leads in by itself leaves this layer out."""
    number: Layer = Layer("MARK_NUMBER", 200)
    """The number of each piece, by pen or punch, where the table wants it."""

    def named(self, names: Mapping[str, str]) -> "Layers":
        """The same table with other names, by use."""
        return replace(self, **{use: Layer(name, getattr(self, use).colour) for use, name in names.items()})


NAMED = Layers()


def layers_of(table: CuttingTable) -> Layers:
    """The layers that a cutting table wants."""
    return NAMED.named(layer_names(dict(table.layers), table.layer_numbers))
