"""A camera for tests: photographs of drawn sides and mark sheets, rendered by exact coverage of pixels.

Every region is a polygon of the plane. Its boundary, cut into short pieces, goes through opencv's published camera
model (pinhole, radial k1 and k2), and each pixel takes the share of it that the region covers (exact along the row,
four rows a pixel). Light adds up linearly, is blurred, grained, and coded as sRGB (IEC 61966-2-1) and JPEG.
Nothing here is used by the program.
"""

from dataclasses import dataclass, field

import cv2
import numpy as np
import shapely
import shapely.affinity

ROWS = 4
"""Scan lines a pixel."""

STEP_MM = 4.0
"""Longest piece of a boundary."""

LEATHERS = {
    "black": (0.020, 0.020, 0.022),
    "dark brown": (0.070, 0.035, 0.020),
    "tan": (0.42, 0.22, 0.10),
    "grey": (0.22, 0.23, 0.25),
}
TABLES = {"white": (0.75, 0.75, 0.73), "light wood": (0.55, 0.40, 0.24), "green": (0.10, 0.30, 0.16)}
CHALKS = {
    "white": (0.80, 0.80, 0.78),
    "yellow": (0.78, 0.62, 0.06),
    "red": (0.60, 0.05, 0.05),
    "blue": (0.05, 0.15, 0.60),
}
PAPER, INK = (0.86, 0.86, 0.86), (0.03, 0.03, 0.03)
"""Colours are linear light, red, green, blue, in 0..1."""


@dataclass(frozen=True)
class Camera:
    """Picture size, focal length, principal point in pixels, distortion, and where it stands: X' = turn X + shift."""

    width: int
    height: int
    focal: float
    cx: float
    cy: float
    k1: float
    k2: float
    turn: np.ndarray
    shift: np.ndarray

    def see(self, points: np.ndarray, height: float = 0.0) -> np.ndarray:
        """Pixels of points of the plane, by opencv's own projection."""
        world = np.column_stack((points, np.full(len(points), height)))
        matrix = np.array(((self.focal, 0, self.cx), (0, self.focal, self.cy), (0, 0, 1.0)))
        bent = np.array((self.k1, self.k2, 0.0, 0.0))
        return cv2.projectPoints(world, cv2.Rodrigues(self.turn)[0], self.shift, matrix, bent)[0].reshape(-1, 2)


@dataclass(frozen=True)
class Sheet:
    """A mark sheet on the table: number, place of the square's middle, turn in degrees."""

    number: int
    x: float
    y: float
    turn_deg: float

    def on_table(self, local: np.ndarray, side: float) -> np.ndarray:
        """Points of the sheet's frame (square 1 wide) on the table, mm."""
        a = np.radians(self.turn_deg)
        turn = np.array(((np.cos(a), -np.sin(a)), (np.sin(a), np.cos(a))))
        return np.asarray(local) * side @ turn.T + (self.x, self.y)


@dataclass
class Scene:
    """What lies on the table. `strokes`: (line or ring of points, width in mm, colour)."""

    hide: shapely.Polygon
    leather: tuple
    table: tuple
    sheets: list[Sheet]
    side: float = 160.0
    strokes: list = field(default_factory=list)
    extras: list = field(default_factory=list)
    """(polygon, colour) laid over everything else."""
    lit: list = field(default_factory=list)
    """(polygon, factor, added, softness in mm): shadows, and lamps that mirror in what lies there."""
    under: list = field(default_factory=list)
    """(polygon, colour) of the table itself, under sheets and hide: boards, stains."""
    thickness: float = 0.0
    shadow: float = 0.0
    """How much darker the table is just beside the hide."""


@dataclass(frozen=True)
class Look:
    """Light and sensor: unevenness of the light, blur in pixels, grain, grey noise, JPEG quality, and `tone`, the power
    by which the camera's tone curve leaves the standard one."""

    uneven: float = 0.25
    blur: float = 0.9
    grain: float = 0.06
    noise: float = 0.006
    quality: int = 92
    colour: tuple = (1.0, 1.0, 1.0)
    exposure: float = 1.0
    tone: float = 1.0


def coverage(rings: list[np.ndarray], width: int, height: int) -> tuple[np.ndarray, slice, slice]:
    """Share of each pixel within the rings (even-odd), on the box they take; pixel middles are whole numbers."""
    every = np.concatenate(rings)
    x0, y0 = np.maximum(np.floor(every.min(axis=0)).astype(int) - 1, 0)
    x1 = min(int(np.ceil(every[:, 0].max())) + 2, width)
    y1 = min(int(np.ceil(every[:, 1].max())) + 2, height)
    if x1 <= x0 or y1 <= y0:
        return np.zeros((0, 0)), slice(0, 0), slice(0, 0)
    w, h = x1 - x0, y1 - y0
    sums = np.zeros((h * ROWS, w + 2), dtype=np.float32)
    for ring in rings:
        a = ring - (x0 - 0.5, y0 - 0.5)
        b = np.roll(a, -1, axis=0)
        ay, by = a[:, 1] * ROWS - 0.5, b[:, 1] * ROWS - 0.5
        first, last = np.ceil(np.minimum(ay, by)).astype(int), np.ceil(np.maximum(ay, by)).astype(int)
        first, last = np.maximum(first, 0), np.minimum(last, h * ROWS)
        count = np.maximum(last - first, 0)
        edge = np.repeat(np.arange(len(a)), count)
        row = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
        share = (row - ay[edge]) / (by[edge] - ay[edge])
        x = np.clip(a[edge, 0] + share * (b[edge, 0] - a[edge, 0]), 0.0, w)
        sign = np.where(by[edge] > ay[edge], 1.0, -1.0)
        cell = np.floor(x).astype(int)
        part = x - cell
        np.add.at(sums, (row, cell), sign * (1.0 - part))
        np.add.at(sums, (row, cell + 1), sign * part)
    inside = np.abs(np.cumsum(sums, axis=1)[:, :w]).reshape(h, ROWS, w).mean(axis=1)
    return np.clip(inside, 0.0, 1.0), slice(y0, y1), slice(x0, x1)


def pieces(ring) -> np.ndarray:
    """A ring with points no further than STEP_MM apart."""
    line = shapely.LinearRing(ring)
    return shapely.get_coordinates(shapely.segmentize(line, STEP_MM))[:-1]


def render(scene: Scene, camera: Camera, look: Look, seed: int) -> np.ndarray:
    """The photograph, (h, w, 3) uint8, blue, green, red."""
    rng = np.random.default_rng(seed)
    w, h = camera.width, camera.height
    light = np.empty((h, w, 3), dtype=np.float32)
    light[:] = scene.table
    light *= 1.0 + grain(rng, h, w, 12.0, 0.04)[:, :, None]

    def paint(shape, colour, height: float = 0.0, texture=None):
        for part in shapely.get_parts(shape):
            rings = [camera.see(pieces(ring.coords), height) for ring in (part.exterior, *part.interiors)]
            # Holes turn the other way: oriented, they cancel.
            share, rows, columns = coverage(oriented(rings), w, h)
            if share.size:
                own = np.asarray(colour, dtype=np.float32)
                if texture is not None:
                    own = own * (1.0 + texture[rows, columns, None])
                light[rows, columns] += share[:, :, None] * (own - light[rows, columns])

    for shape, colour in scene.under:
        paint(shape, colour)
    for sheet in scene.sheets:
        paint_sheet(paint, sheet, scene.side)
    if scene.shadow:
        for reach in np.linspace(14.0, 2.0, 5):
            dark = shapely.affinity.translate(scene.hide.buffer(reach, quad_segs=4), 4.0, -4.0)
            rings = [camera.see(pieces(part.exterior.coords)) for part in shapely.get_parts(dark)]
            share, rows, columns = coverage(oriented(rings), w, h)
            light[rows, columns] *= 1.0 - scene.shadow / 5.0 * share[:, :, None]
    texture = grain(rng, h, w, 1.3, look.grain) + grain(rng, h, w, 40.0, 0.5 * look.grain)
    paint(scene.hide, scene.leather, scene.thickness, texture)
    for line, width, colour in scene.strokes:
        paint(
            shapely.LineString(line).buffer(0.5 * width, quad_segs=4), colour, scene.thickness,
            grain(rng, h, w, 1.0, 0.15),
        )
    for shape, colour in scene.extras:
        paint(shape, colour, scene.thickness)
    for shape, factor, added, soft in scene.lit:
        rings = [camera.see(pieces(ring.coords)) for ring in (shape.exterior, *shape.interiors)]
        share, rows, columns = coverage(oriented(rings), w, h)
        mask = np.zeros((h, w), dtype=np.float32)
        mask[rows, columns] = share
        mask = cv2.GaussianBlur(mask, (0, 0), max(0.5, soft * camera.focal / camera.shift[2]))[:, :, None]
        light *= 1.0 + (factor - 1.0) * mask
        light += added * mask
    light *= field_of_light(rng, h, w, look.uneven)[:, :, None]
    light *= np.float32(look.exposure) * np.asarray(look.colour, dtype=np.float32)
    light = cv2.GaussianBlur(light, (0, 0), look.blur)
    light += rng.standard_normal((h, w, 3), dtype=np.float32) * (look.noise * np.sqrt(np.maximum(light, 0.01)))
    coded = srgb(np.clip(light, 0.0, 1.0) ** look.tone)
    good, data = cv2.imencode(".jpg", coded[:, :, ::-1], (cv2.IMWRITE_JPEG_QUALITY, look.quality))
    assert good
    return cv2.imdecode(data, cv2.IMREAD_COLOR)


def paint_sheet(paint, sheet: Sheet, side: float) -> None:
    """Paper, then the black cells of the code, each row's runs as one region."""
    x, y, below = 105.0 / 160.0, 110.0 / 160.0, 187.0 / 160.0
    paper = np.array(((-x, y), (x, y), (x, -below), (-x, -below))) * 160.0 / side
    paint(shapely.Polygon(sheet.on_table(paper, side)), PAPER)
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    white = cv2.aruco.generateImageMarker(family, sheet.number, 8, borderBits=1) > 127
    black = shapely.union_all(
        [shapely.box(c / 8 - 0.5, 0.5 - (r + 1) / 8, (c + 1) / 8 - 0.5, 0.5 - r / 8) for r, c in np.argwhere(~white)],
        grid_size=1e-6,
    )
    paint(shapely.transform(black, lambda points: sheet.on_table(points, side)), INK)


def oriented(rings: list[np.ndarray]) -> list[np.ndarray]:
    """The first ring one way round, the others the other way."""

    def area(ring):
        x, y = ring.T
        return np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)

    return [ring if (area(ring) > 0) == (i == 0) else ring[::-1] for i, ring in enumerate(rings)]


def grain(rng, h: int, w: int, size: float, strength: float) -> np.ndarray:
    """Noise of a length scale in pixels and a standard deviation, (h, w) float32."""
    shrink = max(1, int(size / 2))
    small = rng.standard_normal((h // shrink + 2, w // shrink + 2), dtype=np.float32)
    small = cv2.GaussianBlur(small, (0, 0), max(0.6, size / shrink / 2))
    small /= small.std()
    return strength * (small[:h, :w] if shrink == 1 else cv2.resize(small, (w, h), interpolation=cv2.INTER_LINEAR))


def field_of_light(rng, h: int, w: int, uneven: float) -> np.ndarray:
    """A smooth field about 1: a lamp to one side, and corners that fall off."""
    y, x = np.mgrid[-1:1:64j, -1:1:64j]
    angle = rng.uniform(0, 2 * np.pi)
    field = 1.0 + 0.6 * uneven * (np.cos(angle) * x + np.sin(angle) * y) - 0.4 * uneven * (x * x + y * y)
    return cv2.resize(field.astype(np.float32), (w, h), interpolation=cv2.INTER_CUBIC)


def srgb(light: np.ndarray) -> np.ndarray:
    """Linear light coded as sRGB, uint8."""
    light = np.clip(light, 0.0, 1.0)
    return np.round(255.0 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)).astype(
        np.uint8
    )


def camera_over(rng, width: int, height: int, area: tuple, tilt_deg: float, k1: float, k2: float) -> Camera:
    """A camera that looks at the middle of an area (x0, y0, x1, y1), tilted, all of the area in its picture."""
    x0, y0, x1, y1 = area
    middle = np.array((0.5 * (x0 + x1), 0.5 * (y0 + y1), 0.0))
    focal = rng.uniform(0.72, 1.0) * width
    bearing, roll = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(-4, 4))
    tilt = np.radians(tilt_deg)
    away = np.array((np.sin(tilt) * np.cos(bearing), np.sin(tilt) * np.sin(bearing), np.cos(tilt)))
    right = np.cross((0.0, 1.0, 0.0), away)
    right /= np.linalg.norm(right)
    up = np.cross(away, right)
    right, up = np.cos(roll) * right + np.sin(roll) * up, np.cos(roll) * up - np.sin(roll) * right
    turn = np.array((right, -up, -away))
    cx, cy = 0.5 * (width - 1) + rng.normal(0, 0.003) * width, 0.5 * (height - 1) + rng.normal(0, 0.003) * width
    corners = np.array(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), dtype=float)
    far = 1000.0
    while True:
        camera = Camera(width, height, focal, cx, cy, k1, k2, turn, -turn @ (middle + far * away))
        seen = camera.see(corners)
        if (seen.min(axis=0) > 0.01 * width).all() and (seen.max(axis=0) < (0.99 * width, height - 0.01 * width)).all():
            return camera
        far *= 1.03
