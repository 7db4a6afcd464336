"""Invented sides with mark sheets about them, photographed; and how far a found outline lies from the drawn one."""

from dataclasses import dataclass

import numpy as np
import shapely
import shapely.affinity
from camera_scene import CHALKS, LEATHERS, TABLES, Camera, Look, Scene, Sheet, camera_over, render
from scipy.spatial import cKDTree

from nest.stock.distribution import SIDES
from nest.stock.simulate import simulate_hides

PAPER = np.array(((-105.0, 110.0), (105.0, 110.0), (105.0, -187.0), (-105.0, -187.0)))


@dataclass
class Case:
    """A photograph and what is true of it."""

    scene: Scene
    camera: Camera
    pixels: np.ndarray
    print_scale: float
    hide: object


def side(seed: int):
    """An invented side, its lower left corner at (400, 400)."""
    hide = simulate_hides(SIDES, 1, seed=seed, leather="invented")[0]
    x, y, *_ = hide.outline.bounds
    return hide, shapely.affinity.translate(hide.outline, 400.0 - x, 400.0 - y)


def lay_sheets(rng, outline, count: int) -> list[Sheet]:
    """Sheets about the hide, clear of it and of each other, on all sides."""
    x0, y0, x1, y1 = outline.bounds
    around = shapely.box(x0 - 130.0, y0 - 130.0, x1 + 130.0, y1 + 130.0).exterior
    sheets, taken = [], outline.buffer(25.0)
    numbers = rng.permutation(60)[:count]
    for i, number in enumerate(numbers):
        for attempt in range(200):
            at = around.interpolate((i + rng.uniform(-0.3, 0.3)) / count, normalized=True)
            spread = 30.0 + 0.6 * attempt
            x, y = at.x + rng.uniform(-spread, spread), at.y + rng.uniform(-spread, spread)
            sheet = Sheet(int(number), x, y, float(rng.uniform(0, 360)))
            paper = shapely.Polygon(sheet.on_table(PAPER / 160.0, 160.0))
            if not shapely.intersects(paper, taken):
                break
        else:
            raise AssertionError("no room for a sheet")
        taken = shapely.union(taken, paper.buffer(8.0))
        sheets.append(sheet)
    return sheets


def area_of(outline, sheets) -> tuple:
    """What must be in the picture."""
    papers = [shapely.Polygon(sheet.on_table(PAPER / 160.0, 160.0)) for sheet in sheets]
    return shapely.union_all([outline, *papers]).bounds


def make_case(
    seed: int, width: int = 4000, height: int = 3000, *, holes: int = 0, strokes=(), look=None, leather=None,
    table=None, side_seed=None, thickness: float = 0.0, shadow: float = 0.0,
) -> Case:
    """A photograph of an invented side: camera, light, leather, table, sheets and print scale drawn from the seed."""
    rng = np.random.default_rng(seed)
    hide, outline = side(seed if side_seed is None else side_seed)
    for _ in range(holes):
        at = shapely.get_coordinates(shapely.maximum_inscribed_circle(outline, tolerance=20.0))[0]
        spot = shapely.Point(at + rng.uniform(-150, 150, 2)).buffer(rng.uniform(12, 30))
        outline = shapely.difference(outline, spot)
    sheets = lay_sheets(rng, outline, int(rng.integers(8, 17)))
    leather = LEATHERS[leather or rng.choice(list(LEATHERS))]
    table = TABLES[table or rng.choice(list(TABLES))]
    # A sheet whose rule is off by more is printed again.
    while abs(off := float(rng.normal(0.0, 0.0015))) > 0.003:
        pass
    print_scale = 1.0 + off
    scene = Scene(
        outline, leather, table, sheets, side=160.0 * print_scale, strokes=list(strokes), thickness=thickness,
        shadow=shadow,
    )
    camera = camera_over(
        rng, width, height, area_of(outline, sheets), rng.uniform(0, 15), rng.uniform(-0.1, 0.1),
        rng.uniform(-0.03, 0.03),
    )
    scale = width / 4000.0
    look = look or Look(
        uneven=rng.uniform(0.1, 0.4),
        blur=max(0.6, scale * rng.uniform(0.7, 1.4)),
        grain=rng.uniform(0.03, 0.08),
        noise=rng.uniform(0.003, 0.010),
        quality=int(rng.integers(85, 96)),
        exposure=rng.uniform(0.8, 1.1),
        tone=rng.uniform(0.92, 1.08),
        colour=tuple(rng.uniform(0.9, 1.1, 3)),
    )
    return Case(scene, camera, render(scene, camera, look, seed), print_scale, hide)


def cross_distance(case: Case, rng=None) -> tuple[int, int, float]:
    """The tape laid between the crosses of the two sheets furthest apart; its error drawn if `rng` is given."""
    return cross_distance_of(case.scene, rng)


def cross_distance_of(scene: Scene, rng=None) -> tuple[int, int, float]:
    """The same of a scene."""
    crosses = {one.number: one.on_table(((0.0, -0.66),), scene.side)[0] for one in scene.sheets}
    numbers = sorted(crosses)
    pairs = [(a, b) for a in numbers for b in numbers if a < b]
    a, b = max(pairs, key=lambda pair: np.hypot(*(crosses[pair[0]] - crosses[pair[1]])))
    length = float(np.hypot(*(crosses[a] - crosses[b])))
    return a, b, length + (0.0 if rng is None else float(rng.normal(0.0, 0.5 + 1e-4 * length)))


def fit(found: shapely.Polygon, true: shapely.Polygon):
    """The turn and move that lay a found outline on the true one best, by closest points; a function of points."""
    points = shapely.get_coordinates(shapely.segmentize(found.exterior, 4.0))
    aim = shapely.get_coordinates(shapely.segmentize(true.exterior, 1.0))
    tree = cKDTree(aim)
    turn, shift = np.eye(2), aim.mean(axis=0) - points.mean(axis=0)
    for _ in range(80):
        now = points @ turn.T + shift
        before, near = shift, aim[tree.query(now)[1]]
        a, b = points - points.mean(axis=0), near - near.mean(axis=0)
        angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
        turn = np.array(((np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))))
        shift = near.mean(axis=0) - turn @ points.mean(axis=0)
        if np.abs(shift - before).max() < 1e-4:
            break
    return lambda points: np.asarray(points) @ turn.T + shift


def distances(found: shapely.Polygon, true: shapely.Polygon) -> np.ndarray:
    """Distances of the found outline's points from the true outline, laid on it as well as it goes, mm."""
    move = fit(found, true)
    points = move(shapely.get_coordinates(shapely.segmentize(found.exterior, 3.0)))
    return shapely.distance(shapely.points(points), true.exterior)


__all__ = [
    "CHALKS",
    "LEATHERS",
    "TABLES",
    "Case",
    "Look",
    "Scene",
    "Sheet",
    "area_of",
    "cross_distance",
    "cross_distance_of",
    "distances",
    "fit",
    "lay_sheets",
    "make_case",
    "side",
]
