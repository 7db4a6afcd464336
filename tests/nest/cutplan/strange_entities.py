"""Damages of a drawing: what the eye does not see, and entities that are none of ours."""

import numpy as np
from drawing_changes import damage, layer, mm, on, outlines, pick, points_of
from ezdxf.math import Vec3

from nest.cutplan.layers import MACHINE_USES


def unseen(name: str, change_one, uses=MACHINE_USES) -> None:
    """Enter a change of one line of these uses that the eye does not see."""

    def change(document, rng, written):
        change_one(pick(rng, [one for one in on(document, written, *uses) if one.dxftype() != "TEXT"]))

    change.__name__ = name
    damage(change)


def _raise(entity):
    if entity.dxftype() == "LINE":
        entity.dxf.end = Vec3(entity.dxf.end) + Vec3(0.0, 0.0, 2.0)
    elif entity.dxftype() == "LWPOLYLINE":
        entity.dxf.elevation = 3.0
    else:
        entity.vertices[0].dxf.location = Vec3(entity.vertices[0].dxf.location) + Vec3(0.0, 0.0, 1.0)


def _widen(entity):
    if entity.dxftype() == "LWPOLYLINE":
        entity.dxf.const_width = 1.0
    else:
        entity.dxf.default_start_width = 1.0


def _bend(entity):
    if entity.dxftype() == "LWPOLYLINE":
        points = entity.get_points("xyb")
        entity.set_points([(x, y, 0.3 if i == 1 else b) for i, (x, y, b) in enumerate(points)], format="xyb")
    else:
        entity.vertices[0].dxf.bulge = -0.5


unseen("one line off the table", _raise)
unseen("one line with a width", _widen, ("cut",))
unseen("one chord made an arc", _bend, ("cut",))
unseen("one line on a plane seen from below", lambda one: one.dxf.set("extrusion", (0.0, 0.0, -1.0)))
unseen("one line with a thickness", lambda one: one.dxf.set("thickness", 2.0))
unseen("one line dashed", lambda one: one.dxf.set("linetype", "DASHED"))


@damage
def layer_unseen(document, rng, written):
    """A layer that the table cuts or draws is frozen, or off."""
    use = pick(rng, [use for use in MACHINE_USES if on(document, written, use)])
    one = document.layers.get(layer(written, use))
    one.freeze() if rng.integers(2) else one.off()


def corners(at, size: float) -> list[tuple[float, float]]:
    """A small right-angled triangle."""
    x, y = map(float, at)
    return [(x, y), (x + size, y), (x, y + size)]


def bulged(at, size: float) -> list[tuple[float, float, float]]:
    """The same with arcs for sides, as x, y, bulge."""
    return [(x, y, 0.4) for x, y in corners(at, size)]


def raised(at, size: float) -> list[tuple[float, float, float]]:
    """The same, rising."""
    return [(x, y, float(i)) for i, (x, y) in enumerate(corners(at, size))]


STRANGE = {
    "LINE": lambda space, at, size, a: space.add_line(at, at + np.array((40.0 * size, 3.0)), dxfattribs=a),
    "CIRCLE": lambda space, at, size, a: space.add_circle(at, size, dxfattribs=a),
    "ARC": lambda space, at, size, a: space.add_arc(at, size, 10.0, 200.0, dxfattribs=a),
    "POINT": lambda space, at, size, a: space.add_point(at, dxfattribs=a),
    "TEXT": lambda space, at, size, a: space.add_text("CUT HERE", height=size, dxfattribs=a).set_placement(at),
    "3DFACE": lambda space, at, size, a: space.add_3dface(corners(at, size), dxfattribs=a),
    "SOLID": lambda space, at, size, a: space.add_solid(corners(at, size), dxfattribs=a),
    "POLYLINE": lambda space, at, size, a: space.add_polyline2d(
        bulged(at, size), format="xyb", close=True, dxfattribs=a),
    "3D POLYLINE": lambda space, at, size, a: space.add_polyline3d(raised(at, size), dxfattribs=a),
    "SHAPE": lambda space, at, size, a: space.add_polyline2d(corners(at, size), close=True, dxfattribs=a),
}
"""What R12 can hold already, added to a drawing."""

NEWER = {
    "LWPOLYLINE": lambda space, at, size, a: space.add_lwpolyline(
        bulged(at, size), format="xyb", close=True, dxfattribs=a),
    "SPLINE": lambda space, at, size, a: space.add_spline(raised(at, size), dxfattribs=a),
    "ELLIPSE": lambda space, at, size, a: space.add_ellipse(at, (size, 0), 0.5, dxfattribs=a),
    "MTEXT": lambda space, at, size, a: space.add_mtext("cut here", dxfattribs=a | {"insert": at}),
    "HATCH": lambda space, at, size, a: space.add_hatch(dxfattribs=a).paths.add_polyline_path(corners(at, size)),
    "XLINE": lambda space, at, size, a: space.add_xline(at, (1, 0), dxfattribs=a),
    "INSERT": lambda space, at, size, a: _inserted(space, at, size, a),
}
"""What later versions hold."""


def _inserted(space, at, size, attributes):
    block = space.doc.blocks.new("A_BLOCK")
    block.add_circle((0, 0), size, dxfattribs=attributes)
    space.add_blockref("A_BLOCK", at, dxfattribs=attributes)


def strange(name: str) -> None:
    """Enter the addition of an entity of this kind, on any layer."""

    def change(document, rng, written):
        if name in NEWER and written.version == "R12":
            return False
        use = pick(rng, ["cut", "cut", "axis", "size", "lead", "heading", "labels", "legend", "net", "0", "Nobody"])
        where = use if use in ("0", "Nobody") else layer(written, use)
        ring = points_of(outlines(document, written, "material")[0])
        at = ring.mean(axis=0) + mm(written) * rng.uniform(-100.0, 100.0, 2)
        (STRANGE | NEWER)[name](document.modelspace(), at, 50.0 * mm(written), {"layer": where})

    change.__name__ = f"{name} added"
    damage(change)


for one in STRANGE | NEWER:
    strange(one)


@damage
def in_paper_space(document, rng, written):
    """A line in paper space, on the cut layer."""
    document.layout("Layout1").add_line((0, 0), (10, 10), dxfattribs={"layer": layer(written, "cut")})


@damage
def in_a_block(document, rng, written):
    """A circle in a block that is not even inserted."""
    document.blocks.new("SPARE").add_circle((0, 0), 5.0, dxfattribs={"layer": layer(written, "cut")})


@damage
def on_a_frozen_layer(document, rng, written):
    """A line on a layer of its own that is frozen."""
    document.layers.add("SLEEPING").freeze()
    document.modelspace().add_line((0, 0), (10, 10), dxfattribs={"layer": "SLEEPING"})
