"""An engine that fills hides at once, half of their ground, for tests of figures and not of layouts."""

from geometry.polygon import area
from geometry.pose import Pose
from nest.placement.problem import Item, Layout
from nest.planning.run import Engine

PIECES_PER_AREA = 0.5


def half_full(problem, stop, *, seed, workers=2, listener=None):
    """Kinds in turn until half the core ground is used; all at one place, for nothing is cut from it."""
    ground = max((part for one in problem.grounds for part in one.core), key=lambda part: part.area)
    spot = ground.representative_point()
    items, used, left = [], 0.0, [kind.limit // 2 for kind in problem.kinds]
    while used < PIECES_PER_AREA * ground.area and any(left):
        for k, kind in enumerate(problem.kinds):
            if left[k]:
                left[k] -= 1
                items += [Item(k, Pose(spot.x, spot.y, kind.headings_deg[0]))] * 2
                used += 2.0 * area(kind.outline)
    return (Layout(tuple(items)),)


HALF_FULL = Engine(half_full, None)
