"""What must be cut before what, so that no piece shifts under the tool.

Two rules. An outline within another one is cut first. And a piece is cut while it is still held: when its
turn comes, at least `HELD_SHARE` of its outline must face leather that holds it, which is open skeleton or a
neighbour not yet cut. Leather narrower than `WEB_MM` between two cuts, or between a cut and the edge of the
material, holds nothing. (Common practice, no source; both figures are a cautious choice, not a measurement.)
"""

from collections.abc import Sequence

import numpy as np
import shapely

WEB_MM = 10.0
HELD_SHARE = 0.25


def cut_before(outlines: Sequence[np.ndarray], material=None) -> tuple[tuple[int, int], ...]:
    """Pairs (i, j), without a circle: outline i is cut before outline j.

    Parameters
    ----------
    outlines
        Rings of the pieces where they lie, mm.
    material
        Their hide or strip, a shapely region; None if it has no edge near.

    A piece with open skeleton around enough of its outline waits for no one. Any other is cut before as many
    neighbours as it needs to be held by, taken from those that are themselves held without it, longest border first. A
    piece that so little holds that no order helps is cut before all its neighbours that are left.
    """
    shapes = np.array([shapely.Polygon(ring) for ring in outlines], dtype=object)
    if len(shapes) == 0:
        return ()
    facing, open_share = faced_shares(shapes, material)
    pairs = {(int(i), int(j)) for j, i in _inner(shapes)}
    settled = np.array(open_share >= HELD_SHARE)
    while not settled.all():
        held = np.where(settled, np.inf, open_share + (facing * settled[None, :]).sum(axis=1))
        ready = np.flatnonzero(~settled & (held >= HELD_SHARE))
        if not len(ready):
            # Nothing holds the rest well enough: settle the one held best.
            ready = np.array([int(np.argmax(np.where(settled, -np.inf, held)))])
        for i in ready:
            share = open_share[i]
            for j in np.argsort(-facing[i], kind="stable"):
                if share >= HELD_SHARE or facing[i, j] <= 0.0:
                    break
                if settled[j]:
                    pairs.add((int(i), int(j)))
                    share += facing[i, j]
        settled[ready] = True
    return tuple(sorted(pairs))


def faced_shares(shapes: np.ndarray, material=None) -> tuple[np.ndarray, np.ndarray]:
    """Share of each outline that faces each other one across a web, (n, n), and that faces open skeleton, (n,)."""
    edges = shapely.boundary(shapes)
    length = shapely.length(edges)
    facing = np.zeros((len(shapes), len(shapes)))
    near = shapely.buffer(shapes, WEB_MM, quad_segs=4)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=WEB_MM)
    apart = first != second
    first, second = first[apart], second[apart]
    facing[first, second] = shapely.length(shapely.intersection(edges[first], near[second])) / length[first]
    rim = None if material is None else shapely.buffer(shapely.boundary(material), WEB_MM, quad_segs=4)
    open_share = np.empty(len(shapes))
    for i, edge in enumerate(edges):
        walls = [near[j] for j in np.flatnonzero(facing[i])] + ([] if rim is None else [rim])
        open_share[i] = shapely.length(shapely.difference(edge, shapely.union_all(walls))) / length[i]
    return facing, open_share


def _inner(shapes: np.ndarray):
    """Pairs (outer, inner) of outlines within each other."""
    outer, inner = shapely.STRtree(shapes).query(shapes, predicate="contains_properly")
    return zip(outer.tolist(), inner.tolist(), strict=True)
