"""How much of a container the pieces can cover at all: a bound for every layout.

Ground that a piece can reach is the opening of the container by the piece (mathematical morphology: J. Serra (1982),
Image Analysis and Mathematical Morphology): the sum of its inner-fit polygon and itself. Proof of the bound: the
position of a piece in a layout lies in its inner-fit polygon, hence the piece within the sum; so the whole layout lies
in the union of the sums over all pieces and headings, and covers no more area than that.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from geometry.nofit import joint_fit_polygon, minkowski_sum
from geometry.precision import Region
from geometry.winding import union

SLACK_MM = 1e-3
"""Containers are grown by this much: neither rounding nor a piece that fits without play makes the bound too low."""

Way = Sequence[tuple[np.ndarray | Region, np.ndarray]]
"""One piece at one heading: demands (container, ring) that move together; the first ring is what covers ground."""


def reachable_ground(ways: Sequence[Way], slack: float = SLACK_MM) -> Region:
    """Return a region that holds all ground which some way covers at a position that meets its demands.

    It is never too small, and reaches out of the true ground by some `slack` mm: what must clear a narrow place by less
    than that counts as fitting. A demand's container is a ring or shapely polygon(s), mm; further demands of a way,
    such as that the net outline lies on good ground, only bind its position.

    Raises
    ------
    GeometryError
        If a ring encloses nothing.
    """
    covered = []
    for way in ways:
        fit = joint_fit_polygon([(_grown(container, slack), ring) for container, ring in way])
        if not fit.is_empty:
            covered.append(minkowski_sum(fit, way[0][1]))
    return union(covered)


def _grown(container: np.ndarray | Region, slack: float) -> Region:
    shape = container if isinstance(container, shapely.Geometry) else shapely.Polygon(container)
    return shapely.buffer(shape, slack, quad_segs=2)
