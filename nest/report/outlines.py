"""Outlines as SVG paths: whole tenths of a millimetre, y downwards, each point relative to the one before it."""

import numpy as np
import shapely

UNITS_PER_MM = 10


def path_of_ring(ring) -> str:
    """A closed path along a ring (n, 2), mm."""
    points = units(ring)
    kept = points[np.any(points != np.roll(points, 1, axis=0), axis=1)] if len(points) else points
    if len(kept) == 0:
        return ""
    (x, y), steps = kept[0], np.diff(kept, axis=0)
    return f"M{x} {y}l{' '.join(map(str, steps.ravel().tolist()))}z".replace(" -", "-").replace("lz", "z")


def path_of_line(points) -> str:
    """An open path along points (n, 2), mm."""
    (x, y), steps = units(points)[0], np.diff(units(points), axis=0)
    return f"M{x} {y}l{' '.join(map(str, steps.ravel().tolist()))}".replace(" -", "-")


def path_of_region(region) -> str:
    """One path with every ring of a shapely polygon or multipolygon; to be filled by the even-odd rule."""
    return "".join(
        path_of_ring(shapely.get_coordinates(ring)[:-1])
        for polygon in shapely.get_parts(region)
        for ring in shapely.get_rings(polygon)
    )


def units(points) -> np.ndarray:
    """Points (n, 2) in mm as whole drawing units, y downwards."""
    return np.rint(np.asarray(points, dtype=float).reshape(-1, 2) * (UNITS_PER_MM, -UNITS_PER_MM)).astype(np.int64)


def box_units(bounds, room_mm: float) -> tuple[int, int, int, int]:
    """Left, top, width and height, in drawing units, of bounds (x_min, y_min, x_max, y_max) with room around them."""
    x_min, y_min, x_max, y_max = bounds
    (left, top), (right, bottom) = units(((x_min - room_mm, y_max + room_mm), (x_max + room_mm, y_min - room_mm)))
    return int(left), int(top), int(right - left), int(bottom - top)
