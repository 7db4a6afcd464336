"""Entities of a DXF drawing as chords within a stated error: lines, polylines, arcs, circles, ellipses, splines.

Group codes and meanings after the public DXF reference. Curves in an entity's own coordinate system (OCS)
are made into chords there and then moved to the world's.
"""

from collections.abc import Callable
from math import degrees, hypot, isfinite

import numpy as np
from ezdxf import DXFError
from ezdxf.entities import DXFGraphic, LWPolyline, Polyline

from geometry.curves import arc_points, bspline_points, bulge_points, ellipse_points
from geometry.precision import CHORD_ERROR_MM, GeometryError
from nest.limits import LARGEST_COORDINATE

_FLAT_SHARE = 1e-6
Z_NOISE_MM = 0.01
"""Heights no further than this from the middle of all are noise of the program that wrote them."""

_STRAIGHT_BULGE = 1e-10
_CURVE_FRAME_POINT = 16
_RATIONAL_CHORD_SHARE = 0.25


class EntityFault(ValueError):
    """An entity that cannot be read; `expected` and `found` say why."""

    def __init__(self, expected: str, found: str):
        self.expected, self.found = expected, found
        super().__init__(f"expected {expected}, found {found}")


def chords_of(entity: DXFGraphic, chord_error: float) -> tuple[np.ndarray, bool]:
    """Points of an entity in world coordinates of the drawing's unit, and whether it closes on itself.

    Parameters
    ----------
    entity
        Of a type in `PATH_TYPES`.
    chord_error
        Largest distance between curve and chords, in the drawing's unit. Held by proof for all but rational
        splines; these are halved until the curve's middle lies within a quarter of it.

    Returns
    -------
    (n, 2) float array
        A closed path does not repeat its first point.
    bool

    Raises
    ------
    EntityFault
        If a value is not finite or too large, the entity is not flat, or it is damaged.
    """
    try:
        points, closed = PATH_TYPES[entity.dxftype()](entity, chord_error)
    except EntityFault:
        raise
    except (DXFError, GeometryError, ValueError, TypeError, ArithmeticError, AttributeError, IndexError) as error:
        why = f" ({error})" if isinstance(error, GeometryError) else ""
        raise EntityFault(f"a sound {entity.dxftype()}", f"a damaged one{why}") from error
    points = flat(points, chord_error * Z_NOISE_MM / CHORD_ERROR_MM)
    if len(points) > 2 and (points[0] == points[-1]).all():
        return points[:-1], True
    return points, closed


def is_curved(entity: DXFGraphic) -> bool:
    """Whether an entity of a type in `PATH_TYPES` holds curves, which chords replace."""
    if isinstance(entity, LWPolyline):
        return entity.has_arc
    if isinstance(entity, Polyline):
        return entity.is_2d_polyline and entity.has_arc
    return entity.dxftype() != "LINE"


def flat(points: np.ndarray, noise: float = 0.0) -> np.ndarray:
    """The (n, 2) points of (n, 2 or 3) ones that lie in one plane z = constant, but for noise of this height.

    Raises
    ------
    EntityFault
        If a coordinate is not finite or too large, or z changes.
    """
    points = np.asarray(points, dtype=np.float64)
    if not np.isfinite(points).all():
        raise EntityFault("finite coordinates", "NaN or infinity")
    if points.size and np.abs(points).max() > LARGEST_COORDINATE:
        found = f"{np.abs(points).max():.3g}: the drawing lies far from its origin"
        raise EntityFault(f"coordinates within {LARGEST_COORDINATE:g}", found)
    if points.shape[1] == 3:
        allowed = max(noise, _FLAT_SHARE * max(1.0, float(np.ptp(points[:, :2], axis=0).max()))) if len(points) else 0.0
        if len(points) and 0.5 * np.ptp(points[:, 2]) > allowed:  # off the height in the middle
            raise EntityFault("a flat drawing", f"heights from {points[:, 2].min():.3g} to {points[:, 2].max():.3g}")
        points = points[:, :2]
    return points


def _bounded(*values: float) -> None:
    """Refuse values that would make chords without end."""
    for value in values:
        if not isfinite(value):
            raise EntityFault("finite coordinates", "NaN or infinity")
        if abs(value) > LARGEST_COORDINATE:
            raise EntityFault(f"coordinates and radii within {LARGEST_COORDINATE:g}", f"{value:.3g}")


def _line(entity, chord_error):
    return np.array((tuple(entity.dxf.start), tuple(entity.dxf.end))), False


def _arc(entity, chord_error):
    centre, radius = entity.dxf.center, entity.dxf.radius
    _bounded(*centre, radius)
    if radius <= 0.0:
        raise EntityFault("a radius above 0", f"{radius:g}")
    whole = entity.dxftype() == "CIRCLE"
    start, end = (0.0, 360.0) if whole else (entity.dxf.start_angle, entity.dxf.end_angle)
    _bounded(start, end)
    points = arc_points((centre.x, centre.y), radius, start, end, chord_error)
    return _in_world(entity, points[:-1] if whole else points, centre.z), whole


def _ellipse(entity, chord_error):
    dxf = entity.dxf
    _bounded(*dxf.center, *dxf.major_axis, dxf.start_param, dxf.end_param)
    if dxf.major_axis.magnitude <= 0.0 or not 0.0 < abs(dxf.ratio) <= LARGEST_COORDINATE:
        raise EntityFault("half axes above 0", f"{dxf.major_axis.magnitude:g} and the ratio {dxf.ratio:g}")
    if abs(dxf.extrusion.normalize().z) < 1.0 - 1e-9:
        raise EntityFault("a flat drawing", "an ellipse that is tilted")
    # Seen from below, the other half axis turns to the other side.
    ratio = dxf.ratio if dxf.extrusion.z > 0.0 else -dxf.ratio
    major, centre = dxf.major_axis, (dxf.center.x, dxf.center.y)
    # The bound on the chord error needs the longer half axis.
    chord_error /= max(1.0, abs(ratio))
    start, end = degrees(dxf.start_param), degrees(dxf.end_param)
    points = ellipse_points(centre, (major.x, major.y), ratio, start, end, chord_error)
    whole = abs((end - start) % 360.0) < 1e-9 or abs((end - start) % 360.0 - 360.0) < 1e-9
    return (points[:-1] if whole else points), whole


def _light_polyline(entity, chord_error):
    rows = np.array(list(entity.get_points("xyb")), dtype=np.float64).reshape(-1, 3)
    return _bulged(entity, rows, entity.closed, entity.dxf.elevation, chord_error)


def _polyline(entity, chord_error):
    if entity.is_3d_polyline:
        return np.array([tuple(v.dxf.location) for v in entity.vertices]).reshape(-1, 3), entity.is_closed
    if not entity.is_2d_polyline:
        raise EntityFault("a polyline", "a mesh")
    shown = [v for v in entity.vertices if not v.dxf.flags & _CURVE_FRAME_POINT]
    rows = [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in shown]
    rows = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return _bulged(entity, rows, entity.is_closed, entity.dxf.elevation.z, chord_error)


def _bulged(entity, rows: np.ndarray, closed: bool, height: float, chord_error: float):
    """Chords of a polyline given as rows of x, y and bulge, in the entity's own coordinates."""
    if len(rows) == 0:
        return np.empty((0, 2)), False
    flat(rows[:, :2])
    if not np.isfinite(rows[:, 2]).all():
        raise EntityFault("finite bulges", "NaN or infinity")
    pieces = []
    last = len(rows) if closed else len(rows) - 1
    for i in range(last):
        (ax, ay, bulge), (bx, by, _) = rows[i], rows[(i + 1) % len(rows)]
        if abs(bulge) < _STRAIGHT_BULGE:
            pieces.append(rows[i : i + 1, :2])
            continue
        _bounded(hypot(bx - ax, by - ay) * (1.0 + bulge * bulge) / (4.0 * abs(bulge)))
        pieces.append(bulge_points((ax, ay), (bx, by), float(bulge), chord_error)[:-1])
    if not closed:
        pieces.append(rows[-1:, :2])
    return _in_world(entity, np.concatenate(pieces), height), closed


def _spline(entity, chord_error):
    curve = entity.construction_tool()
    control = np.array([tuple(point) for point in curve.control_points])
    flat(control, chord_error * Z_NOISE_MM / CHORD_ERROR_MM)
    if curve.is_rational:
        return np.array([tuple(p) for p in curve.flattening(_RATIONAL_CHORD_SHARE * chord_error, segments=8)]), False
    points = bspline_points(control[:, :2], np.array(curve.knots()), curve.degree, chord_error)
    if entity.closed and hypot(*(points[0] - points[-1])) <= chord_error:
        points[-1] = points[0]
    return points, False


def _in_world(entity, points: np.ndarray, height: float) -> np.ndarray:
    """Points of an entity's own plane in world coordinates."""
    if not isfinite(height):
        raise EntityFault("finite coordinates", "NaN or infinity")
    system = entity.ocs()
    if not system.transform:
        return points
    return np.array([tuple(system.to_wcs((x, y, height))) for x, y in points])


PATH_TYPES: dict[str, Callable[[DXFGraphic, float], tuple[np.ndarray, bool]]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
"""How each type of entity that draws a path is made into chords."""
