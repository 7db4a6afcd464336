"""Changes of a cutting drawing for tests: where they are entered, and what they are made of.

Each is one function that changes a document at random, or returns False where it cannot.
"""

from collections.abc import Callable

import ezdxf.document
import numpy as np
import shapely
from ezdxf.math import Matrix44
from written_drawings import Written

from nest.cutplan.layers import layers_of

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
