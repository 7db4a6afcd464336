"""Where the arrow of a zone's stretch stands: on bare ground if there is any, and never over a word."""

from collections.abc import Sequence

import numpy as np
import shapely

from nest.plan import Placed, Plan
from nest.report.pointed import label_lines

MOST_LABELS = 400
"""With more pieces on one material they bear no labels."""

LONGEST_MM, SHORTEST_MM = 80.0, 12.0
"""Half the length of an arrow, at most and at least."""

HEAD_MM = 11.0
"""An arrowhead reaches this far to either side."""

_LENGTHS_MM = (LONGEST_MM, 55.0, 38.0, 26.0, 18.0, SHORTEST_MM)
_ACROSS = 15
"""Places tried along the longer side of a zone."""

_LETTER_MM, _LINE_MM = 22.0, 33.0
"""Width of a letter and height of a line on a piece, as the page shows them."""


def stretch_arrow(zone, stretch_deg: float, pieces: Sequence, words: Sequence, marks: Sequence = ()):
    """Middle and half length (x, y, half) of the arrow, mm; None where there is no room for the shortest one.

    It lies in the zone along `stretch_deg`, off every one of `words`; as long as may be off `pieces` and `marks` too,
    else over them. All are shapely regions.
    """
    if shapely.is_empty(zone) or shapely.area(zone) <= 0.0:
        return None
    middles = _middles(zone)
    way = np.array((np.cos(np.radians(stretch_deg)), np.sin(np.radians(stretch_deg))))
    bare = _room(zone, [*pieces, *marks])
    for ground, over in ((bare, ()), (zone, words)):
        shapely.prepare(ground)
        for half in _LENGTHS_MM:
            lines = shapely.linestrings(np.stack((middles - half * way, middles + half * way), axis=1))
            held = shapely.buffer(lines, HEAD_MM, quad_segs=2)
            fits = shapely.contains_properly(ground, held)
            if len(over):
                hit = shapely.STRtree(over).query(held, predicate="intersects")[0]
                fits[hit] = False
            if fits.any():
                roomy = shapely.distance(held[fits], shapely.boundary(ground))
                x, y = middles[fits][int(np.argmax(np.round(roomy, 3)))]
                return float(x), float(y), half
    return None


def widest_place(zone, pieces: Sequence) -> np.ndarray:
    """Where a zone is widest off the pieces on it, (2,) mm; where it is widest at all if they leave none of it."""
    bare = _room(zone, pieces)
    circle = shapely.maximum_inscribed_circle(zone if shapely.is_empty(bare) else bare, tolerance=5.0)
    return shapely.get_coordinates(circle)[0]


def _room(zone, others: Sequence):
    """The zone without what lies on it."""
    near = np.array(others, dtype=object)
    near = near[shapely.intersects(zone, near)] if len(near) else near
    return shapely.difference(zone, shapely.union_all(shapely.make_valid(near))) if len(near) else zone


def _middles(zone) -> np.ndarray:
    """Places to try, (n, 2): a grid over the zone, and where it is widest."""
    x_min, y_min, x_max, y_max = shapely.bounds(zone)
    step = max(x_max - x_min, y_max - y_min) / _ACROSS
    xs, ys = (np.arange(low + step / 2.0, high, step) for low, high in ((x_min, x_max), (y_min, y_max)))
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    spoke = shapely.maximum_inscribed_circle(zone, tolerance=max(1.0, step / 4.0))
    widest = shapely.get_coordinates(spoke)[:1]
    inside = shapely.contains_xy(zone, grid)
    return np.vstack((widest, grid[inside]))


def words_on(net, lines: Sequence[str]):
    """The box that the label of a piece takes up, its lines one below the other on the middle of its net outline."""
    middle = shapely.centroid(shapely.make_valid(shapely.polygons(net)))
    half = 0.5 * _LETTER_MM * max(map(len, lines)), 0.5 * _LINE_MM * (len(lines) + 0.4)
    return shapely.box(middle.x - half[0], middle.y - half[1], middle.x + half[0], middle.y + half[1])


def ground_taken(plan: Plan, placed: Sequence[Placed]) -> tuple[list, list]:
    """Regions that pieces lie on, and those of their labels where there are any."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    outlines = [(p.pose, pieces[p.piece_id], p.pair) for p in placed]
    taken = [shapely.polygons(pose.apply(piece.cut_outline)) for pose, piece, _ in outlines]
    if len(placed) > MOST_LABELS:
        return taken, []
    return taken, [
        words_on(pose.apply(piece.net_outline), label_lines(piece.size, piece.foot, pair))
        for pose, piece, pair in outlines
    ]
