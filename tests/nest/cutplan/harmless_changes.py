"""Changes after which a table would still cut and draw the same."""

import numpy as np
from drawing_changes import harmless, layer, on, outlines, pick, points_of, redrawn


@harmless
def nothing(document, rng, written):
    """Saved again as it was."""


@harmless
def newer_version(document, rng, written):
    """Saved in a later version of DXF."""
    document.dxfversion = pick(rng, ["R2000", "R2007", "R2010", "R2018"])


@harmless
def extended_data(document, rng, written):
    """Data of some program beside every entity."""
    document.appids.add("NOTES")
    for one in document.modelspace():
        one.set_xdata("NOTES", [(1000, "seen"), (1040, 1.5)])


@harmless
def coloured(document, rng, written):
    """Colours of its own for an entity and for a layer."""
    for one in document.modelspace():
        one.dxf.color = int(rng.integers(1, 255))
    document.layers.get(layer(written, "net")).color = 3


@harmless
def shuffled(document, rng, written):
    """All entities in another order."""
    space = document.modelspace()
    found = list(space)
    for one in found:
        space.unlink_entity(one)
    for i in rng.permutation(len(found)):
        space.add_entity(found[i])


@harmless
def by_layer(document, rng, written):
    """All entities layer by layer."""
    space = document.modelspace()
    found = sorted(space, key=lambda one: (one.dxf.layer, one.dxftype()))
    for one in found:
        space.unlink_entity(one)
    for one in found:
        space.add_entity(one)


@harmless
def run_the_other_way(document, rng, written):
    """Outlines reversed and begun elsewhere, marks reversed; cuts too where nothing leads into them."""
    uses = ("net", "rough", "material", "zones", "number", *(() if on(document, written, "lead") else ("cut",)))
    for one in outlines(document, written, *uses):
        closed = one.closed if one.dxftype() == "LWPOLYLINE" else one.is_closed
        points = points_of(one)[::-1]
        redrawn(document, one, np.roll(points, rng.integers(3) if closed else 0, axis=0), closed=closed)
    for one in on(document, written, "axis", "size", "number"):
        if one.dxftype() == "LINE":
            one.dxf.start, one.dxf.end = one.dxf.end, one.dxf.start


@harmless
def last_digits(document, rng, written):
    """Coordinates as another program may round them: off by a billionth."""
    for one in outlines(document, written, "cut", "net", "material"):
        points = points_of(one)
        closed = one.closed if one.dxftype() == "LWPOLYLINE" else one.is_closed
        redrawn(document, one, points * (1.0 + 1e-12) + rng.uniform(-1e-9, 1e-9, points.shape), closed=closed)
