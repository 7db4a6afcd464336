"""A hide that is full of everything: small vamps up to its tips, flaws, zones with long names; all invented."""

from dataclasses import replace

import numpy as np
import shapely
from vamp_plans import side_hide, vamp_plan

from geometry.pose import Pose
from geometry.precision import as_ring
from nest.cutplan.compose import registration_points
from nest.plan import HideLayout, Placed
from nest.stock.material import Flaw, Zone

_KINDS = ("scratch", "tick mark", "brand of the owner", "scar of an old wound that healed badly, seen on the flesh too")


def dense_plan(seed=1):
    """Some 200 vamps of 60 to 120 mm, 64 flaws, 14 zones; a flaw and a vamp at every registration point."""
    pick, plan, hide = np.random.default_rng(seed), vamp_plan(1), side_hide("S-014")
    hide = replace(hide, zones=_zones(hide.outline), flaws=_flaws(hide, pick))
    vamps = [piece for piece in plan.pieces if piece.role == "vamp"]
    shrink = dict(zip((piece.piece_id for piece in vamps), np.linspace(0.28, 0.55, len(vamps)), strict=True))
    pieces = tuple(
        replace(one, cut_outline=as_ring(one.cut_outline * shrink[one.piece_id]),
                net_outline=as_ring(one.net_outline * shrink[one.piece_id]))
        if one.piece_id in shrink else one for one in plan.pieces
    )
    placed = _placed(hide, [piece for piece in pieces if piece.role == "vamp"], pick)
    return in_two_styles(replace(plan, hides=(hide,), pieces=pieces, layouts=(HideLayout(hide.hide_id, placed),)))


def in_two_styles(plan):
    """The plan with every other piece of another style: sizes then have a letter, and only numbers are numbers."""
    pieces = tuple(replace(one, style="brook") if int(one.size) % 2 else one for one in plan.pieces)
    return replace(plan, pieces=pieces, styles=(*plan.styles, replace(plan.styles[0], name="brook")))


def _zones(outline):
    """Seven by two bands."""
    x0, y0, x1, y1 = outline.bounds
    x, y = np.linspace(x0, x1, 8), np.linspace(y0, y1, 3)
    cells = [shapely.box(x[i], y[j], x[i + 1], y[j + 1]) for i in range(7) for j in range(2)]
    return tuple(
        Zone(f"loose ground behind the shoulder {n}", 1 + n % 4, 13.0 * n % 180.0, outline.intersection(cell))
        for n, cell in enumerate(cells, start=1)
    )


def _flaws(hide, pick):
    """Sixty anywhere, and one at each registration point."""
    tips, (x0, y0, x1, y1) = registration_points(hide), hide.outline.bounds
    spots = [*pick.uniform((x0, y0), (x1, y1), (60, 2)), *(0.97 * tips + 0.03 * tips.mean(axis=0))]
    found = []
    for n, spot in enumerate(spots, start=1):
        ring = shapely.get_coordinates(shapely.Point(0, 0).buffer(1.0, quad_segs=4)) * pick.uniform(3.0, 30.0, 2)
        ring = Pose(*spot, pick.uniform(0.0, 180.0)).apply(ring)
        tears, coverable = n % 7 == 0, n % 3 != 0
        outline = shapely.polygons(ring).intersection(hide.outline.buffer(-2.0))
        if outline.is_empty or outline.geom_type != "Polygon":
            continue
        found.append(Flaw(f"F{n:02d}", _KINDS[n % 4], 1 + n % 3, tears, coverable and not tears, outline))
    return tuple(found)


def _placed(hide, vamps, pick):
    """On a grid of 72 mm, turned anyhow, wherever one lies clear of edge, flaws and those before."""
    x0, y0, x1, y1 = hide.outline.bounds
    torn = shapely.union_all([flaw.outline for flaw in hide.flaws if not flaw.coverable])
    marked = shapely.union_all([flaw.outline for flaw in hide.flaws])
    ground, found = hide.outline.difference(torn), []
    for x in np.arange(x0 + 30.0, x1, 72.0):
        for y in np.arange(y0 + 30.0, y1, 72.0):
            for piece in pick.permutation(np.array(vamps, dtype=object))[:3]:
                pose = Pose(float(x), float(y), float(pick.uniform(0.0, 360.0)))
                cut, net = (shapely.polygons(pose.apply(ring)) for ring in (piece.cut_outline, piece.net_outline))
                if ground.contains(cut) and not net.intersects(marked):
                    found.append(Placed(piece.piece_id, pose, len(found) // 2 + 1))
                    ground = ground.difference(cut)
                    break
    return tuple(found)
