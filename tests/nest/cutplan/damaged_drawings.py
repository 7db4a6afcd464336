"""Ways in which a cutting drawing can be damaged, one function each: it changes a document at random, or returns False.

`HARMLESS` holds changes after which a table would still cut and draw the same.
"""

from collections.abc import Callable

import ezdxf.document
import numpy as np
import shapely
from ezdxf.math import Matrix44, Vec3
from written_drawings import Written

from nest.cutplan.layers import MACHINE_USES, layers_of

Damage = Callable[[ezdxf.document.Drawing, np.random.Generator, Written], bool | None]
DAMAGES: dict[str, Damage] = {}
HARMLESS: dict[str, Damage] = {}


def damage(change: Damage) -> Damage:
    """Enter a change among the damages."""
    DAMAGES[change.__name__] = change
    return change


def harmless(change: Damage) -> Damage:
    """Enter a change among the harmless ones."""
    HARMLESS[change.__name__] = change
    return change


def layer(written: Written, use: str) -> str:
    """Name of the layer for a use."""
    return getattr(layers_of(written.table), use).name


def on(document, written: Written, *uses: str):
    """Entities on the layers of these uses."""
    names = {layer(written, use) for use in uses}
    return [entity for entity in document.modelspace() if entity.dxf.layer in names]


def outlines(document, written: Written, *uses: str):
    """Polylines on the layers of these uses."""
    return [one for one in on(document, written, *uses) if one.dxftype() in ("LWPOLYLINE", "POLYLINE")]


def texts(document, written: Written, *uses: str):
    """Texts on the layers of these uses."""
    return [one for one in on(document, written, *uses) if one.dxftype() == "TEXT"]


def points_of(entity) -> np.ndarray:
    """Vertices of a polyline."""
    if entity.dxftype() == "LWPOLYLINE":
        return np.array(entity.get_points("xy"))
    return np.array([tuple(vertex.dxf.location)[:2] for vertex in entity.vertices])


def redrawn(document, entity, points, *, closed=True) -> None:
    """The polyline with other points, in its own place among the entities."""
    points = np.asarray(points).tolist()
    if entity.dxftype() == "LWPOLYLINE":
        entity.set_points(points, format="xy")
        entity.closed = closed
    else:
        del entity.vertices[:]
        entity.append_vertices(points)
        entity.close(closed)


def pick(rng, items):
    """One of them, or None."""
    return items[rng.integers(len(items))] if items else None


def mm(written: Written) -> float:
    """One mm in the unit of the file."""
    return {"mm": 1.0, "cm": 0.1, "in": 1.0 / 25.4}[written.table.unit]


def whole(document, matrix) -> None:
    """Move everything."""
    for entity in document.modelspace():
        entity.transform(matrix)


def stretched(name: str, along: tuple[bool, bool]) -> None:
    """Enter a scaling along these axes."""

    def change(document, rng, written):
        factor = pick(rng, [1.001, 1.01, 1.1, 2.0, 0.5, 0.999, 25.4])
        whole(document, Matrix44.scale(*(factor if one else 1.0 for one in along), 1.0))

    change.__name__ = name
    damage(change)


stretched("all scaled", (True, True))
stretched("all scaled along x", (True, False))
stretched("all scaled along y", (False, True))


@damage
def all_shifted(document, rng, written):
    """By a tenth of a millimetre to a tenth of a metre."""
    whole(document, Matrix44.translate(*(mm(written) * pick(rng, [0.1, 1.0, 100.0]) * np.array((1.0, -0.4))), 0.0))


@damage
def all_turned(document, rng, written):
    """By a hundredth of a degree to half a turn."""
    whole(document, Matrix44.z_rotate(np.radians(pick(rng, [0.01, 1.0, 90.0, 180.0]))))


@damage
def all_mirrored(document, rng, written):
    """About x or y, as one program or another does it."""
    matrix = Matrix44.scale(*pick(rng, [(-1, 1), (1, -1)]), 1)
    for one in document.modelspace():
        one.transform(matrix) if rng.integers(3) == 0 else mapped(one, matrix)


def mapped(entity, matrix) -> None:
    """Move a line, polyline or text by its points alone: mirrored, it lies in the same plane as before."""
    if entity.dxftype() == "LINE":
        entity.dxf.start, entity.dxf.end = matrix.transform(entity.dxf.start), matrix.transform(entity.dxf.end)
    elif entity.dxftype() == "TEXT":
        align, at, _ = entity.get_placement()
        entity.set_placement(matrix.transform(at), align=align)
    else:
        closed = entity.closed if entity.dxftype() == "LWPOLYLINE" else entity.is_closed
        points = [tuple(matrix.transform((x, y, 0.0)))[:2] for x, y in points_of(entity)]
        redrawn(entity.doc, entity, points, closed=closed)


OF_A_PIECE = ("cut", "net", "rough", "heading", "lead", "axis", "size", "labels")


def of_piece(document, written: Written, rng, uses=OF_A_PIECE):
    """Entities whose first point lies in a cut line picked at random, and the middle of that."""
    ring = points_of(pick(rng, outlines(document, written, "cut")))
    shape = shapely.Polygon(ring).buffer(1e-3)
    inside = []
    for one in on(document, written, *uses):
        kind = one.dxftype()
        if kind == "TEXT":
            at = one.get_placement()[1]
        elif kind == "LINE":
            at = (one.dxf.start + one.dxf.end) / 2
        else:
            at = points_of(one)[0]
        if shape.covers(shapely.Point(at[0], at[1])):
            inside.append(one)
    return inside, shape.centroid


def about(matrix, middle):
    """A map about a point."""
    return Matrix44.translate(-middle.x, -middle.y, 0) @ matrix @ Matrix44.translate(middle.x, middle.y, 0)


@damage
def one_piece_mirrored(document, rng, written):
    """About any line through its middle: a left piece becomes a right one."""
    inside, middle = of_piece(document, written, rng)
    turn = rng.uniform(0.0, np.pi)
    matrix = Matrix44.z_rotate(-turn) @ Matrix44.scale(1, -1, 1) @ Matrix44.z_rotate(turn)
    for one in inside:
        if one.dxftype() != "TEXT":
            mapped(one, about(matrix, middle))


@damage
def one_foot_mirrored_on_its_heading(document, rng, written):
    """The mirrored foot where it belongs: outlines mirrored on the heading, which stays."""
    inside, _ = of_piece(document, written, rng, ("cut", "net", "rough", "axis", "size", "lead", "heading"))
    toe = next((one for one in inside if one.dxf.layer == layer(written, "heading")), None)
    if toe is None:
        return False
    start, end = map(Vec3, points_of(toe)[:2])
    along = (end - start).angle
    matrix = Matrix44.z_rotate(-along) @ Matrix44.scale(1, -1, 1) @ Matrix44.z_rotate(along)
    rings = [one for one in inside if one.dxf.layer == layer(written, "net")]
    before = shapely.Polygon(points_of(rings[0]))
    for one in inside:
        if one is not toe:
            mapped(one, about(matrix, start))
    # An outline that is its own mirror image is not damaged by this.
    return before.boundary.hausdorff_distance(shapely.Polygon(points_of(rings[0])).boundary) > 0.02 * mm(written)


@damage
def one_piece_moved(document, rng, written):
    """With all that is drawn of it."""
    inside, _ = of_piece(document, written, rng)
    for one in inside:
        one.transform(Matrix44.translate(mm(written) * pick(rng, [0.1, 2.0]), 0.0, 0.0))


@damage
def one_piece_turned(document, rng, written):
    """With all that is drawn of it, about its middle."""
    inside, middle = of_piece(document, written, rng)
    turn = np.radians(pick(rng, [0.1, 3.0, 180.0]))
    for one in inside:
        one.transform(about(Matrix44.z_rotate(turn), middle))


@damage
def one_cut_moved(document, rng, written):
    """The cut line alone."""
    pick(rng, outlines(document, written, "cut")).transform(Matrix44.translate(0.0, 0.2 * mm(written), 0.0))


@damage
def outline_deleted(document, rng, written):
    """A cut, net or wanted outline, a line of the material, a zone, a flaw."""
    found = pick(rng, outlines(document, written, pick(rng, ["cut", "net", "rough", "material", "zones", "flaws"])))
    return found is not None and document.modelspace().delete_entity(found) is None


@damage
def piece_deleted_with_its_legend(document, rng, written):
    """All of a piece, the others numbered anew, and the counts of the legend to suit."""
    inside, _ = of_piece(document, written, rng)
    gone = next((one.dxf.text for one in inside if one.dxftype() == "TEXT"), "")
    for one in inside:
        document.modelspace().delete_entity(one)
    number = int(gone.split("no. ")[1]) if gone else 0
    for one in texts(document, written, "labels"):
        words, _, own = one.dxf.text.rpartition("no. ")
        if int(own) > number:
            one.dxf.text = f"{words}no. {int(own) - 1}"
    name = gone.split(" pair")[0].split(" no.")[0]
    for one in texts(document, written, "legend"):
        if one.dxf.text.endswith(" pieces."):
            one.dxf.text = f"{int(one.dxf.text.split()[0]) - 1} pieces."
        parts = one.dxf.text.split("; ")
        if any(part.rpartition(": ")[0] == name for part in parts):
            counted = [(part.rpartition(": ")[0], int(part.rpartition(": ")[2])) for part in parts]
            counted = [(words, count - (words == name)) for words, count in counted]
            one.dxf.text = "; ".join(f"{words}: {count}" for words, count in counted if count)


@damage
def outline_twice(document, rng, written):
    """An outline or a mark drawn twice."""
    found = pick(rng, [one for one in on(document, written, *MACHINE_USES, "net") if one.dxftype() != "TEXT"])
    document.modelspace().add_entity(found.copy())


@damage
def vertex_moved(document, rng, written):
    """One vertex by 0.1 to 5 mm."""
    found = pick(rng, outlines(document, written, pick(rng, ["cut", "cut", "net", "rough", "material"])))
    if found is None:
        return False
    points, angle = points_of(found), rng.uniform(0.0, 2.0 * np.pi)
    points[rng.integers(len(points))] += mm(written) * rng.uniform(0.1, 5.0) * np.array((np.cos(angle), np.sin(angle)))
    redrawn(document, found, points)


@damage
def vertex_dropped(document, rng, written):
    """One corner cut off."""
    found = pick(rng, outlines(document, written, "cut", "net"))
    points = points_of(found)
    redrawn(document, found, np.delete(points, rng.integers(len(points)), axis=0))


@damage
def loop_opened(document, rng, written):
    """A closed outline is closed no more."""
    found = pick(rng, outlines(document, written, "cut", "net", "material"))
    redrawn(document, found, points_of(found), closed=False)


@damage
def overcut_drawn(document, rng, written):
    """The cut runs on beyond its start, as HP-GL has it."""
    found = pick(rng, outlines(document, written, "cut"))
    points = points_of(found)
    redrawn(document, found, np.vstack((points, points[: rng.integers(1, 4)])), closed=bool(rng.integers(2)))


@damage
def labels_swapped(document, rng, written):
    """The texts of two pieces exchanged, but for their numbers half of the time."""
    labels = texts(document, written, "labels")
    if len(labels) < 2:
        return False
    one, other = (labels[i] for i in rng.permutation(len(labels))[:2])
    before = a, b = one.dxf.text, other.dxf.text
    if rng.integers(2):
        (words, _, number), (others, _, another) = a.rpartition("no."), b.rpartition("no.")
        a, b = f"{words}no.{another}", f"{others}no.{number}"
    one.dxf.text, other.dxf.text = b, a
    return (b, a) != before


@damage
def size_relabelled(document, rng, written):
    """Another size on a label."""
    found = pick(rng, texts(document, written, "labels"))
    size = next(size for size in ("38", "39", "40", "41", "42", "36", "37") if f" {size}" in found.dxf.text)
    found.dxf.text = found.dxf.text.replace(f" {size}", f" {int(size) + 1}", 1)


@damage
def label_moved(document, rng, written):
    """A label where another piece is, or a little aside."""
    found = pick(rng, texts(document, written, "labels"))
    found.transform(Matrix44.translate(mm(written) * pick(rng, [1.0, 250.0]), 0.0, 0.0))


@damage
def legend_changed(document, rng, written):
    """One letter or digit of one line of the legend, the check sums too."""
    found = pick(rng, texts(document, written, "legend"))
    text = found.dxf.text
    at = pick(rng, [i for i, letter in enumerate(text) if letter.isalnum() and letter.isascii()])
    new = pick(rng, [one for one in ("7", "3", "q") if one != text[at]])
    found.dxf.text = text[:at] + new + text[at + 1 :]


@damage
def legend_line_deleted(document, rng, written):
    """One line of the legend."""
    document.modelspace().delete_entity(pick(rng, texts(document, written, "legend")))


@damage
def check_sums_deleted(document, rng, written):
    """All lines of check sums, with a piece's marks."""
    for one in texts(document, written, "legend"):
        if one.dxf.text.startswith("Check sum"):
            document.modelspace().delete_entity(one)


@damage
def reference_text_changed(document, rng, written):
    """The class or the stretch of a zone, the severity of a flaw, the name of a registration point."""
    found = pick(rng, texts(document, written, "zones", "flaws", "points"))
    text = found.dxf.text
    digits = [i for i, letter in enumerate(text) if letter.isdigit()]
    at = pick(rng, digits) if digits else 0
    found.dxf.text = text[:at] + pick(rng, [one for one in "159" if one != text[at]]) + text[at + 1 :]


def offset(name: str, uses: tuple[str, ...], inward: bool) -> None:
    """Enter the offset of all outlines of these uses."""

    def change(document, rng, written):
        far = mm(written) * pick(rng, [0.05, 0.5, 25.0] if not inward else [0.05, 0.5, 2.0])
        for one in outlines(document, written, *uses):
            shape = shapely.Polygon(points_of(one)).buffer(-far if inward else far, join_style="mitre")
            redrawn(document, one, shapely.get_coordinates(shape.exterior)[:-1])
        return bool(outlines(document, written, *uses))

    change.__name__ = name
    damage(change)


offset("all cuts further out", ("cut",), False)
offset("all cuts further in", ("cut",), True)
offset("all outlines of pieces further out", ("cut", "rough", "net"), False)


@damage
def tool_radius_restated(document, rng, written):
    """Another radius of the tool in the legend."""
    for one in texts(document, written, "legend"):
        if "tool's radius" in one.dxf.text:
            one.dxf.text = one.dxf.text.replace("radius, 0.", "radius, 1.")
            return True
    return False


@damage
def lead_in_changed(document, rng, written):
    """Longer, turned, or gone."""
    found = pick(rng, on(document, written, "lead"))
    if found is None:
        return False
    way = found.dxf.start - found.dxf.end
    how = rng.integers(4)
    if how == 0:
        found.dxf.start = found.dxf.end + way * 1.5
    elif how == 1:
        found.dxf.start = found.dxf.end + way.rotate_deg(25.0)
    elif how == 2:
        found.dxf.start, found.dxf.end = found.dxf.end, found.dxf.start
    else:
        document.modelspace().delete_entity(found)


@damage
def begun_elsewhere(document, rng, written):
    """A cut begins elsewhere than its lead-in ends."""
    found = pick(rng, outlines(document, written, "cut"))
    if not on(document, written, "lead"):
        return False
    redrawn(document, found, np.roll(points_of(found), rng.integers(1, 4), axis=0))


@damage
def mark_changed(document, rng, written):
    """A nick or tick gone, moved, longer, or one more."""
    found = pick(rng, on(document, written, "axis", "size"))
    if found is None:
        return False
    how = rng.integers(4)
    if how == 0:
        document.modelspace().delete_entity(found)
    elif how == 1:
        found.transform(Matrix44.translate(0.3 * mm(written), 0.2 * mm(written), 0.0))
    elif how == 2:
        found.dxf.end = found.dxf.start + (found.dxf.end - found.dxf.start) * 1.2
    else:
        other = found.copy()
        document.modelspace().add_entity(other)
        other.transform(Matrix44.translate(3.0 * mm(written), 0.0, 0.0))


@damage
def registration_moved(document, rng, written):
    """A cross of a registration point, or its name."""
    pick(rng, on(document, written, "points")).transform(Matrix44.translate(mm(written) * 5.0, 0.0, 0.0))


@damage
def heading_changed(document, rng, written):
    """Turned about, turned a little, or shorter."""
    found = pick(rng, on(document, written, "heading"))
    maps = [Matrix44.z_rotate(np.pi), Matrix44.z_rotate(np.radians(2.0)), Matrix44.scale(0.9, 0.9, 1.0)]
    mapped(found, about(pick(rng, maps), Vec3(points_of(found)[0])))


@damage
def material_or_zone_moved(document, rng, written):
    """The outline of the material, a zone, a flaw."""
    found = pick(rng, outlines(document, written, "material", "zones", "flaws"))
    found.transform(Matrix44.translate(mm(written) * pick(rng, [0.2, 20.0]), 0.0, 0.0))


@damage
def on_another_layer(document, rng, written):
    """An entity of one layer on another."""
    uses = ["cut", "axis", "size", "net", "heading", "material", "labels", "lead"]
    one, other = (uses[i] for i in rng.permutation(len(uses))[:2])
    found = pick(rng, on(document, written, one))
    if found is None:
        return False
    found.dxf.layer = layer(written, other)


@damage
def unit_of_the_header(document, rng, written):
    """$INSUNITS says another unit, or none."""
    if written.version == "R12":
        return False
    right = {"mm": 4, "cm": 5, "in": 1}[written.table.unit]
    document.header["$INSUNITS"] = int(pick(rng, [code for code in (0, 1, 2, 4, 5, 6) if code != right]))


@damage
def measurement_of_the_header(document, rng, written):
    """$MEASUREMENT says the other system."""
    if written.version == "R12":
        return False
    document.header["$MEASUREMENT"] = 1 - document.header["$MEASUREMENT"]


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


@damage
def two_pieces_exchanged(document, rng, written):
    """Two cut lines where each other's should be, by the middles of their boxes."""
    cuts = outlines(document, written, "cut")
    if len(cuts) < 2:
        return False
    one, other = (cuts[i] for i in rng.permutation(len(cuts))[:2])
    a, b = points_of(one), points_of(other)
    way = 0.5 * (b.min(axis=0) + b.max(axis=0) - a.min(axis=0) - a.max(axis=0))
    if shapely.Polygon(a + way).boundary.hausdorff_distance(shapely.Polygon(b).boundary) < 0.05 * mm(written):
        return False
    one.transform(Matrix44.translate(*way, 0.0))
    other.transform(Matrix44.translate(*-way, 0.0))


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
    uses = ("net", "rough", "material", "zones", *(() if on(document, written, "lead") else ("cut",)))
    for one in outlines(document, written, *uses):
        closed = one.closed if one.dxftype() == "LWPOLYLINE" else one.is_closed
        points = points_of(one)[::-1]
        redrawn(document, one, np.roll(points, rng.integers(3) if closed else 0, axis=0), closed=closed)
    for one in on(document, written, "axis", "size"):
        one.dxf.start, one.dxf.end = one.dxf.end, one.dxf.start


@harmless
def last_digits(document, rng, written):
    """Coordinates as another program may round them: off by a billionth."""
    for one in outlines(document, written, "cut", "net", "material"):
        points = points_of(one)
        closed = one.closed if one.dxftype() == "LWPOLYLINE" else one.is_closed
        redrawn(document, one, points * (1.0 + 1e-12) + rng.uniform(-1e-9, 1e-9, points.shape), closed=closed)
