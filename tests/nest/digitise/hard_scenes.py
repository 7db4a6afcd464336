"""Photographs that are hard to read, drawn from a seed by kind, and what became of each."""

import re

import numpy as np
import shapely
import shapely.affinity
from camera_scene import LEATHERS, TABLES, Look, Scene, camera_over, render
from invented import area_of, cross_distance_of, fit, lay_sheets, side

from nest.digitise.hide import find_hide
from nest.digitise.picture import Photograph
from nest.digitise.scene import solve_scene
from nest.digitise.solve import Distance
from nest.digitise.vision import PhotographProblem

SKIN = ((0.45, 0.25, 0.18), (0.55, 0.36, 0.28), (0.10, 0.055, 0.035), (0.25, 0.13, 0.08))
KINDS = (
    "like the table", "soft shadow", "hard shadow", "glare on the edge", "hand on the edge", "arm across",
    "thing on the edge", "leaves the picture", "fold", "glare within",
)


def hard_scene(kind: str, seed: int):
    """(scene, area that the picture shows, true outline)."""
    rng = np.random.default_rng(seed)
    outline = side(seed)[1]
    sheets = lay_sheets(rng, outline, int(rng.integers(9, 15)))
    area = area_of(outline, sheets)
    leather, table = LEATHERS[str(rng.choice(list(LEATHERS)))], TABLES[str(rng.choice(list(TABLES)))]
    scene = Scene(outline, leather, table, sheets)
    spot = shapely.line_interpolate_point(outline.exterior, rng.uniform(0, outline.exterior.length))
    if kind == "like the table":
        scene.table = tuple(np.array(leather) * rng.uniform(1.0, 1.5) * rng.uniform(0.95, 1.05, 3))
    elif kind == "soft shadow":
        scene.shadow = rng.uniform(0.1, 0.5)
    elif kind == "hard shadow":
        shade = shapely.affinity.translate(spot, *rng.uniform(-60, 60, 2)).buffer(rng.uniform(80, 250), quad_segs=2)
        scene.lit = [(shade, rng.uniform(0.3, 0.6), 0.0, 2.0)]
    elif kind == "glare on the edge":
        scene.lit = [(spot.buffer(rng.uniform(20, 70)), 1.0, rng.uniform(0.3, 1.5), rng.uniform(3, 15))]
    elif kind == "hand on the edge":
        hand = shapely.affinity.rotate(shapely.box(-40, -60, 40, 60).buffer(20), rng.uniform(0, 180))
        scene.extras = [(shapely.affinity.translate(hand, spot.x, spot.y), SKIN[seed % 4])]
    elif kind == "arm across":
        away = np.subtract(spot.coords[0], outline.centroid.coords[0])
        end = np.add(spot.coords[0], 900.0 * away / np.hypot(*away))
        scene.extras = [(shapely.LineString((spot.coords[0], end)).buffer(45.0), SKIN[seed % 4])]
    elif kind == "thing on the edge":
        thing = shapely.affinity.rotate(shapely.box(-15, -100, 15, 100), rng.uniform(0, 180))
        colour = ((0.6, 0.6, 0.62), (0.5, 0.4, 0.05), (0.05, 0.05, 0.05))[seed % 3]
        scene.extras = [(shapely.affinity.translate(thing, spot.x, spot.y), colour)]
    elif kind == "leaves the picture":
        *_, x1, y1 = area
        scene.hide = shapely.union(outline, shapely.box(x1 - 500, outline.centroid.y - 150, x1 + 400, y1 - 900))
        scene.hide = max(shapely.get_parts(scene.hide), key=shapely.area)
        scene.sheets = [s for s in sheets if not shapely.Point(s.x, s.y).buffer(250).intersects(scene.hide)]
    elif kind == "fold":
        # Folded over: the flesh side, paler, lies on the grain along a straight line.
        angle = rng.uniform(0, np.pi)
        away = np.array((np.cos(angle), np.sin(angle)))
        reach = np.percentile(shapely.get_coordinates(outline) @ away, 97.0)
        across = np.array((-away[1], away[0]))
        corners = [away * (reach + u) + across * v for u, v in ((0, -9e3), (0, 9e3), (9e3, 9e3), (9e3, -9e3))]
        turned = shapely.intersection(outline, shapely.Polygon(corners))
        scene.hide = max(shapely.get_parts(shapely.difference(outline, turned)), key=shapely.area)
        mirrored = shapely.transform(turned, lambda p: p - 2.0 * (p @ away - reach)[:, None] * away)
        pale = tuple(np.minimum(np.array(leather) * 1.5 + 0.08, 0.6))
        scene.extras = [(part, pale) for part in shapely.get_parts(shapely.intersection(mirrored, outline))
                        if part.geom_type == "Polygon"]
    elif kind == "glare within":
        inner = shapely.get_coordinates(shapely.maximum_inscribed_circle(outline, tolerance=20.0))[0]
        scene.lit = [(shapely.Point(inner + rng.uniform(-80, 80, 2)).buffer(rng.uniform(30, 90)), 1.0,
                      rng.uniform(0.2, 1.2), rng.uniform(3, 20))]
    return scene, area, scene.hide


def judged(kind: str, seed: int, width: int) -> tuple[str, str]:
    """What became of one photograph, and why."""
    scene, area, true = hard_scene(kind, seed)
    rng = np.random.default_rng(seed + 1)
    camera = camera_over(
        rng, width, width * 3 // 4, area, rng.uniform(0, 12), rng.uniform(-0.1, 0.1), rng.uniform(-0.02, 0.02)
    )
    look = Look(uneven=rng.uniform(0.1, 0.35), blur=0.7, grain=rng.uniform(0.03, 0.07), noise=rng.uniform(0.003, 0.008))
    shown = Photograph("H.jpg", render(scene, camera, look, seed))
    try:
        found = find_hide(shown, solve_scene([shown], distances=[Distance(*cross_distance_of(scene, rng))]))
    except PhotographProblem as problem:
        return "refused", str(problem)
    move = fit(found.outline, true)
    points = move(shapely.get_coordinates(shapely.segmentize(found.outline.exterior, 3.0)))
    away = shapely.distance(shapely.points(points), true.exterior)
    off = found.outline.area / true.area - 1.0
    words = f"95 % {np.percentile(away, 95):.2f}, most {away.max():.1f} mm, area {off:+.2%}, "
    words += f"± {found.doubt.within_mm:.2f}; {'; '.join(found.said)}"
    if np.percentile(away, 95) <= max(2.5, found.doubt.within_mm) and abs(off) <= 0.005 and away.max() <= 15.0:
        return "right", words
    named = [move(np.array([[float(x), float(y)]]))[0] for x, y in re.findall(r"near \((-?\d+), (-?\d+)\)", words)]
    wrong = points[np.argmax(away)]
    near = any(np.hypot(*(wrong - at)) <= 150.0 for at in named)
    return ("said" if near else "wrong in silence"), words
