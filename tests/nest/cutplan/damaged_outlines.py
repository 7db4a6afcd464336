"""Damages of a drawing: what lies elsewhere, has another shape, is gone or drawn twice."""

import re

import numpy as np
import shapely
from drawing_changes import about, damage, layer, mapped, mm, of_piece, on, outlines, pick, points_of, redrawn, texts
from ezdxf.math import Matrix44, Vec3

from nest.cutplan.layers import MACHINE_USES


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
        if re.fullmatch(r"\d+ pieces?\.", one.dxf.text):
            left = int(one.dxf.text.split()[0]) - 1
            one.dxf.text = f"{left} piece{'s' * (left != 1)}."
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
    """A nick, a tick or a stroke of a number gone, moved, longer, or one more."""
    found = pick(rng, on(document, written, "axis", "size", "number"))
    if found is None:
        return False
    how = rng.integers(4)
    if how == 0:
        document.modelspace().delete_entity(found)
    elif how == 1:
        found.transform(Matrix44.translate(0.3 * mm(written), 0.2 * mm(written), 0.0))
    elif how == 2 and found.dxftype() == "LINE":
        found.dxf.end = found.dxf.start + (found.dxf.end - found.dxf.start) * 1.2
    elif how == 2:
        points = points_of(found)
        redrawn(document, found, np.vstack((points, 2.2 * points[-1] - 1.2 * points[-2])), closed=False)
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
