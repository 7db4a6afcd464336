"""Simulated hides: sides drawn from a distribution, the same for the same seed.

A side is half a skin, cut along the spine. It lies grain up with the spine along the top, the tail at
x = 0 and the head towards +x; the shanks and the neck are drawn out, the belly edge is wavy.
"""

from collections.abc import Callable

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from geometry.curves import closed_bspline
from geometry.polygon import is_simple, polygon, ring_of, snapped
from geometry.precision import Region
from geometry.thinning import thin
from nest.stock.distribution import FlawKind, HideDistribution
from nest.stock.material import Flaw, Hide, Zone

SIMULATED_GRID_MM = 0.1
"""Grid of simulated outlines: zones that share an edge share its points."""

# Control points of a side: along the spine from the tail (0) to the head (1), down from the spine (0) to the
# tips of the shanks (1); then how far each may wander. Counter-clockwise with the spine on top.
_SIDE = np.array([
    (0.98, 0.00, 0.010, 0.004), (0.85, 0.00, 0.020, 0.006), (0.70, 0.00, 0.020, 0.006), (0.55, 0.00, 0.020, 0.006),
    (0.40, 0.00, 0.020, 0.006), (0.25, 0.00, 0.020, 0.006), (0.10, 0.00, 0.015, 0.004), (0.00, 0.00, 0.008, 0.006),
    (-0.015, 0.09, 0.010, 0.020), (0.010, 0.21, 0.012, 0.020), (0.012, 0.35, 0.015, 0.020),
    (0.000, 0.50, 0.015, 0.020), (-0.020, 0.65, 0.015, 0.020), (-0.045, 0.80, 0.015, 0.020),
    (-0.065, 0.94, 0.015, 0.015), (-0.045, 1.03, 0.012, 0.015), (0.015, 1.04, 0.012, 0.015),
    (0.060, 0.97, 0.012, 0.015), (0.11, 0.87, 0.015, 0.020), (0.17, 0.78, 0.015, 0.025),
    (0.24, 0.77, 0.015, 0.030), (0.31, 0.83, 0.015, 0.030), (0.38, 0.87, 0.015, 0.025), (0.45, 0.89, 0.015, 0.025),
    (0.52, 0.88, 0.015, 0.025), (0.58, 0.86, 0.015, 0.025), (0.63, 0.82, 0.012, 0.025), (0.67, 0.81, 0.010, 0.020),
    (0.71, 0.88, 0.010, 0.020), (0.745, 1.00, 0.012, 0.020), (0.785, 1.06, 0.012, 0.015),
    (0.83, 1.05, 0.012, 0.015), (0.855, 0.95, 0.012, 0.020), (0.855, 0.83, 0.012, 0.025),
    (0.88, 0.71, 0.012, 0.020), (0.925, 0.64, 0.012, 0.020), (0.975, 0.58, 0.012, 0.020), (1.02, 0.48, 0.015, 0.020),
    (1.04, 0.35, 0.015, 0.020), (1.02, 0.21, 0.015, 0.020), (1.02, 0.10, 0.012, 0.015), (1.02, 0.02, 0.010, 0.008),
])
_SPINE_CONTROLS = 8
_TRIES_PER_FLAW = 40


def simulate_hides(
    supply: HideDistribution, count: int, *, seed: int, leather: str, lot: str = "simulated"
) -> tuple[Hide, ...]:
    """Draw `count` hides; the same arguments give the same hides, and hide i does not depend on `count`.

    Raises
    ------
    ValueError
        If `count` is negative.
    """
    if count < 0:
        raise ValueError(f"expected a number of hides of 0 or more, found {count}")
    seeds = np.random.SeedSequence(seed).spawn(count)
    return tuple(
        simulate_hide(supply, np.random.default_rng(child), hide_id=f"S{i + 1:03d}", leather=leather, lot=lot)
        for i, child in enumerate(seeds)
    )


def simulate_hide(supply: HideDistribution, rng: np.random.Generator, *, hide_id: str, leather: str, lot: str) -> Hide:
    """Draw one hide."""
    area = _within(rng, supply.area_mean_mm2, supply.area_sd_mm2, supply.area_range_mm2)
    outline, zones = _zones(supply, _side_outline(supply, area, rng), rng)
    flaws = _flaws(supply, outline, zones, rng)
    good = shapely.union_all([zone.outline for zone in zones if zone.quality <= 2])
    usable = shapely.difference(good, shapely.union_all([flaw.outline for flaw in flaws])).area / outline.area
    first, second = supply.class_from_usable
    return Hide(
        hide_id=hide_id,
        leather=leather,
        lot=lot,
        quality=1 if usable >= first else 2 if usable >= second else 3,
        thickness_mm=round(max(0.5, rng.normal(*supply.thickness_mm)), 1),
        measured_area_mm2=outline.area * (1.0 + rng.normal(0.0, supply.measure_sd)),
        outline=outline,
        zones=zones,
        flaws=flaws,
    )


def _within(rng: np.random.Generator, mean: float, spread: float, limits: tuple[float, float]) -> float:
    """A normal deviate, drawn again until it lies within the limits."""
    while not limits[0] <= (value := rng.normal(mean, spread)) <= limits[1]:
        pass
    return float(value)


def _side_outline(supply: HideDistribution, area: float, rng: np.random.Generator) -> np.ndarray:
    """Outline of one side with this area, (n, 2) mm, its bounding box at the origin."""
    slenderness = max(1.4, rng.normal(*supply.slenderness))
    # Where the shanks join the body a control point may wander past its neighbour: draw such a side again.
    while not is_simple(ring := closed_bspline(_controls(rng) * (slenderness, -1.0) * 1000.0, chord_error=0.4)):
        pass
    ring = ring * np.sqrt(area / polygon(ring).area)
    return thin(ring - ring.min(axis=0), 0.4)


def _controls(rng: np.random.Generator) -> np.ndarray:
    """Control points of one side, (n, 2): every point wanders, and points halfway make the edge wavy."""
    controls = _SIDE[:, :2] + np.clip(rng.standard_normal((len(_SIDE), 2)), -1.8, 1.8) * _SIDE[:, 2:]
    # The knife along the spine leaves no waves.
    free = controls[_SPINE_CONTROLS - 1 :]
    halfway = 0.5 * (free[:-1] + free[1:]) + rng.normal(0.0, 1.0, (len(free) - 1, 2)) * (0.004, 0.008)
    wavy = np.insert(free[:-1], np.arange(1, len(free)), halfway, axis=0)
    return np.concatenate((controls[: _SPINE_CONTROLS - 1], wavy, free[-1:]))


def _zones(supply: HideDistribution, ring: np.ndarray, rng: np.random.Generator) -> tuple[Polygon, tuple[Zone, ...]]:
    """The outline on the grid, and its division into the zones of the supply."""
    side = polygon(ring)
    length, width = ring.max(axis=0)
    shares = {kind.name: kind.share * side.area for kind in supply.zones}
    found: dict[str, Polygon | MultiPolygon] = {}

    def take(name: str, rest: Region, part: Callable[[float], Polygon], low: float, high: float) -> Region:
        found[name], rest = _cut_off(rest, part, shares[name], low, high)
        return rest

    def tip(angle_deg: float, window: tuple[float, float]) -> Callable[[float], Polygon]:
        """Beyond a line square to the shank, within a window along the spine."""
        limits = shapely.box(window[0] * length, -width, window[1] * length, 0.5 * width)
        toward = np.array((np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))))
        return lambda reach: shapely.intersection(_half_plane(toward, -reach, length), limits)

    wave = np.cumsum(rng.normal(0.0, 0.006, 9)) * width
    lean = rng.normal(0.0, 0.02, 4) * length
    bow = rng.normal(0.0, 0.06) * length

    def below(height: float) -> Polygon:
        """Below a gently wavy line along the body."""
        line = np.column_stack((np.linspace(-0.2, 1.2, 9) * length, height + wave))
        return polygon(np.concatenate((line, ((1.3 * length, -width), (-0.3 * length, -width)))))

    def headward(slant: float) -> Callable[[float], Polygon]:
        """Beyond a bowed line across the body, its upper end `slant` nearer the head."""
        across = np.array((-0.5, 0.25, 0.5, 0.75, 1.0, 1.5))
        line = np.column_stack((slant * (2.0 * across - 1.0) + bow * (across - 0.25) * (1.0 - across), width * across))
        far = np.array(((4.0 * length, 1.5 * width), (4.0 * length, -0.5 * width)))
        return lambda at: polygon(np.concatenate((line + np.array((at, 0.0)), far)))

    def tailward(slant: float) -> Callable[[float], Polygon]:
        beyond = headward(slant)
        return lambda at: polygon(np.array(beyond(length - at).exterior.coords) * (-1.0, 1.0) + (length, 0.0))

    rest = take("hind shank", side, tip(-108.0 + 60.0 * lean[3] / length, (-0.2, 0.28)), -width, width)
    rest = take("fore shank", rest, tip(-80.0, (0.62, 1.2)), -width, width)
    strip, upper = _cut_off(rest, below, shares["belly"] + shares["flank"], 0.0, width)
    found["belly"] = take("flank", strip, tailward(0.03 * length + lean[0]), 0.0, length)
    upper = take("neck", upper, headward(0.02 * length + lean[1]), 0.0, length)
    upper = take("shoulder", upper, headward(-0.04 * length + lean[2]), 0.0, length)
    found["butt"] = take("ribs", upper, headward(0.01 * length + lean[3]), 0.0, length)

    outline, shapes = _shared_edges(found)
    zones = []
    for kind in supply.zones:
        quality = kind.quality + (1 if rng.random() < kind.lower_chance else 0)
        stretch = round(float(rng.normal(kind.stretch_deg, kind.stretch_sd_deg))) % 180
        zones.append(Zone(kind.name, quality, float(stretch), shapes[kind.name]))
    return outline, tuple(zones)


def _half_plane(toward: np.ndarray, least: float, size: float) -> Polygon:
    """Points whose projection on the unit vector `toward` is at least `least`, as far as matters here."""
    aside = np.array((-toward[1], toward[0]))
    near, far = least * toward, (least + 4.0 * size) * toward
    return polygon(np.array((near - 4 * size * aside, far - 4 * size * aside, far + 4 * size * aside,
                             near + 4 * size * aside)))


def _cut_off(
    rest: Region, part: Callable[[float], Polygon], area: float, low: float, high: float
) -> tuple[Region, Region]:
    """Divide `rest` so that the part taken has this area; returns the part and what is left.

    The part is bounded by a line that slides between `low` and `high`; its area is monotone in the
    line's position, so bisection finds it.
    """
    growing = shapely.intersection(rest, part(high)).area > shapely.intersection(rest, part(low)).area
    for _ in range(36):
        middle = 0.5 * (low + high)
        if (shapely.intersection(rest, part(middle)).area < area) == growing:
            low = middle
        else:
            high = middle
    cutter = part(0.5 * (low + high))
    return shapely.intersection(rest, cutter), shapely.difference(rest, cutter)


def _shared_edges(zones: dict[str, Polygon | MultiPolygon]) -> tuple[Polygon, dict[str, Polygon | MultiPolygon]]:
    """Put the zones on the grid as faces of one network of lines, so that they partition the outline exactly."""
    names, shapes = list(zones), np.array(list(zones.values()))
    network = shapely.union_all(shapely.boundary(shapes), grid_size=SIMULATED_GRID_MM)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(network)))
    owner = np.array([int(np.argmax(shapely.area(shapely.intersection(shapes, face)))) for face in faces])
    divided = _in_one_piece([shapely.union_all(faces[owner == i]) for i in range(len(names))])
    shapes_by_name = {name: _tidy(shape) for name, shape in zip(names, divided, strict=True)}
    return _tidy(shapely.union_all(faces)), shapes_by_name


def _in_one_piece(shapes: list[Region]) -> list[Polygon]:
    """Give every stray part of a zone to the neighbour it shares most of its edge with."""
    parts = [sorted(shapely.get_parts(shape), key=shapely.area) for shape in shapes]
    whole = [own[-1] for own in parts]
    for stray in (part for own in parts for part in own[:-1]):
        shared = [shapely.length(shapely.intersection(stray.boundary, shape.boundary)) for shape in whole]
        nearest = int(np.argmax(shared))
        whole[nearest] = shapely.union(whole[nearest], stray)
    return whole


def _tidy(shape: Region) -> Polygon:
    """The same ground without needless points."""
    return snapped(shapely.normalize(shape), SIMULATED_GRID_MM)


def _flaws(
    supply: HideDistribution, outline: Polygon, zones: tuple[Zone, ...], rng: np.random.Generator
) -> tuple[Flaw, ...]:
    """Flaws scattered over the zones each kind is found in, clear of each other; fewer where there is no room."""
    rates = np.array([kind.per_m2 for kind in supply.flaws])
    if rates.sum() <= 0.0:
        return ()
    number = int(np.clip(rng.poisson(rates.sum() * outline.area * 1e-6), *supply.flaw_range))
    shapes = {zone.zone_id: zone.outline for zone in zones}
    flaws: list[Flaw] = []
    for _ in range(_TRIES_PER_FLAW * number):
        if len(flaws) == number:
            break
        kind = supply.flaws[rng.choice(len(rates), p=rates / rates.sum())]
        ground = shapely.union_all([shapes[name] for name in kind.zones]) if kind.zones else outline
        streak = shapely.intersection(_streak(kind, ground, rng), outline, grid_size=SIMULATED_GRID_MM)
        taken = shapely.union_all([flaw.outline for flaw in flaws])
        if streak.geom_type != "Polygon" or streak.is_empty or shapely.intersects(streak, taken):
            continue
        tears = bool(rng.random() < kind.tears_chance)
        flaws.append(Flaw(
            flaw_id=f"F{len(flaws) + 1:02d}", kind=kind.name,
            severity=int(rng.integers(kind.severity[0], kind.severity[1] + 1)), tears=tears,
            coverable=bool(rng.random() < kind.coverable_chance) and not tears, outline=polygon(ring_of(streak)),
        ))
    return tuple(flaws)


def _streak(kind: FlawKind, ground: Polygon | MultiPolygon, rng: np.random.Generator) -> Polygon:
    """A flaw's outline: a wandering line of the kind's length, as broad as its width, starting within `ground`."""
    low_x, low_y, high_x, high_y = ground.bounds
    while not shapely.contains_xy(ground, *(start := rng.uniform((low_x, low_y), (high_x, high_y)))):
        pass
    length, width = rng.uniform(*kind.length_mm), rng.uniform(*kind.width_mm)
    steps = 5
    bearing = rng.uniform(0.0, 2.0 * np.pi) + np.cumsum(rng.normal(0.0, 0.25, steps))
    walk = np.cumsum(np.column_stack((np.cos(bearing), np.sin(bearing))) * length / steps, axis=0)
    line = shapely.LineString(np.vstack((start, start + walk)))
    # Few segments: a digitised flaw is drawn with a handful of clicks.
    return shapely.buffer(line if length > 0.0 else shapely.Point(start), 0.5 * width, quad_segs=3)
