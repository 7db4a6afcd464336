"""Which part of a template each edge of its outline is: as points and texts say, or by angle where none are drawn."""

from dataclasses import dataclass

import numpy as np
import shapely

from geometry.polygon import edge_lengths
from geometry.pose import rotate
from geometry.precision import on_grid
from nest.job.drawing import Drawing
from nest.job.findings import Findings, listed
from nest.job.schema import ASTM, LayersSection
from nest.pieces.piece import Part

LIMIT_REACH_MM = 5.0
"""A part's limit lies no further than this from the outline."""

_SAME_PLACE_MM = 0.02


@dataclass(frozen=True, slots=True)
class Frame:
    """The heel-toe axis: its heel end, its direction, its toe end, and where in the drawing it stands."""

    heel: np.ndarray
    angle_deg: float
    toe: np.ndarray
    place: str

    def reversed(self) -> "Frame":
        """The same line the other way round."""
        return Frame(self.toe, self.angle_deg + 180.0, self.heel, self.place)

    def local(self, points: np.ndarray) -> np.ndarray:
        """Points (n, 2) of the drawing in the template's own frame."""
        return rotate(np.asarray(points) - self.heel, -self.angle_deg)


def divided_outline(
    drawing: Drawing, layers: LayersSection, ring: np.ndarray, frame: Frame, findings: Findings
) -> tuple[np.ndarray, tuple[Part, ...]] | None:
    """The ring with a vertex at every limit, and the part of each of its edges; None, and problems, without them."""
    layer = layers.template_parts
    drawn = drawing.labels_on(layer) or drawing.marks_on(layer) or drawing.paths_on(layer)
    if layers.parts_by_angle_deg is None or drawn:
        return _drawn_parts(drawing, layer, ring, frame, layers.template_standard == ASTM, findings)
    toe, back = layers.parts_by_angle_deg
    findings.note(
        drawing.name, f"no parts are drawn; by angle from the middle, the toe lies within {toe:g}° of the axis and the "
        f"back beyond {back:g}°: look at the picture of the piece",
    )
    return parts_by_angle(ring, toe, back)


def parts_by_angle(ring: np.ndarray, toe_deg: float, back_deg: float) -> tuple[np.ndarray, tuple[Part, ...]]:
    """The ring divided where rays from its middle, at these angles from the axis on both sides, leave it.

    ring : (n, 2) counter-clockwise in the template's frame. Of several crossings of a ray the furthest counts.
    """
    line = shapely.LinearRing(ring)
    x0, y0, x1, y1 = line.bounds
    middle, far = np.array((0.5 * (x0 + x1), 0.5 * (y0 + y1))), np.hypot(x1 - x0, y1 - y0)
    found = []
    for angle, part in ((-toe_deg, Part.TOE), (toe_deg, Part.SIDE), (back_deg, Part.BACK), (-back_deg, Part.SIDE)):
        way = np.array((np.cos(np.radians(angle)), np.sin(np.radians(angle))))
        crossing = shapely.get_coordinates(shapely.intersection(shapely.LineString((middle, middle + far * way)), line))
        tip = max(crossing, key=lambda point: float(np.hypot(*(point - middle))))
        found.append((shapely.line_locate_point(line, shapely.Point(tip)), part))
    found.sort()
    limits, names = np.array([at for at, _ in found]), [part for _, part in found]
    outline, at = _with_vertices(ring, line, limits)
    stretches = (np.searchsorted(limits, at + _SAME_PLACE_MM, side="right") - 1) % len(limits)
    return outline, tuple(names[i] for i in stretches)


def refuse_missing_parts(drawing: Drawing, layer: str, found: str, findings: Findings) -> None:
    """Note that parts are not named."""
    findings.refuse(
        drawing.layer(layer), "texts that name the parts toe, side and back", found,
        "write each beside its stretch of the outline, or give parts_by_angle_deg in [layers]",
    )


def _drawn_parts(
    drawing: Drawing, layer: str, ring: np.ndarray, frame: Frame, by_standard: bool, findings: Findings
) -> tuple[np.ndarray, tuple[Part, ...]] | None:
    """The same as points and texts on the layer say."""
    before = findings.refused
    line = shapely.LinearRing(ring)
    named: list[tuple[float, Part]] = []
    for label in drawing.labels_on(layer):
        word = label.text.casefold().strip()
        if word not in list(Part):
            findings.refuse_name(drawing.where(label.entity, layer), listed(Part), label.text, list(Part))
            continue
        named.append((shapely.line_locate_point(line, shapely.Point(frame.local(label.at))), Part(word)))
    limits = _limits(drawing, layer, line, frame, by_standard, findings)
    missing = [part for part in Part if part not in [part for _, part in named]]
    if missing and findings.refused == before:
        found = "none" if len(missing) == len(Part) else f"no {listed(missing)}"
        refuse_missing_parts(drawing, layer, found, findings)
    if findings.refused > before:
        return None
    if len(limits) < len(Part):
        findings.refuse(
            drawing.layer(layer), "at least 3 points that divide the outline", str(len(limits)),
            "mark where each part ends with a point on the outline",
        )
        return None
    stretch_parts: list[Part | None] = [None] * len(limits)
    for at, part in named:
        i = (int(np.searchsorted(limits, at, side="right")) - 1) % len(limits)
        if stretch_parts[i] not in (None, part):
            findings.refuse(
                _near(drawing, layer, line, frame, at), "one name for a stretch of the outline",
                f"{stretch_parts[i]} and {part}", "mark where one passes into the other with a point",
            )
        stretch_parts[i] = part
    for i, named_part in enumerate(stretch_parts):
        if named_part is None:
            span = (limits[(i + 1) % len(limits)] - limits[i]) % line.length
            findings.refuse(
                _near(drawing, layer, line, frame, (limits[i] + 0.5 * span) % line.length),
                "a text beside every stretch of the outline", "a stretch without one", f"write {listed(Part)} there",
            )
    if findings.refused > before:
        return None
    parts = [part for part in stretch_parts if part is not None]  # each of them has one by now
    outline, along = _with_vertices(ring, line, limits)
    stretches = (np.searchsorted(limits, along + _SAME_PLACE_MM, side="right") - 1) % len(limits)
    return outline, tuple(parts[i] for i in stretches)


def _near(drawing: Drawing, layer: str, line: shapely.LinearRing, frame: Frame, at: float) -> str:
    """Place on the outline, in the drawing's own coordinates (mm), for messages."""
    point = np.array(shapely.line_interpolate_point(line, at).coords[0])
    x, y = rotate(point, frame.angle_deg) + frame.heel
    return f"{drawing.layer(layer)}, near ({x:.1f}, {y:.1f}) mm"


def _limits(
    drawing: Drawing, layer: str, line: shapely.LinearRing, frame: Frame, by_standard: bool, findings: Findings
) -> np.ndarray:
    """Where along the outline parts pass into each other, ascending, mm from its first vertex."""
    found: list[float] = []
    for mark in drawing.marks_on(layer):
        point = shapely.Point(frame.local(mark.at))
        distance = shapely.distance(point, line)
        if by_standard and distance > LIMIT_REACH_MM:
            findings.warn(drawing.where(mark.entity, layer), f"a notch {distance:.1f} mm off the outline not used")
            continue
        if distance > LIMIT_REACH_MM:
            findings.refuse(
                drawing.where(mark.entity, layer), "a point on the outline", f"one {distance:.1f} mm off",
                "move it onto the outline",
            )
            continue
        found.append(shapely.line_locate_point(line, point))
    for path in drawing.paths_on(layer):
        crossing = shapely.get_parts(shapely.intersection(shapely.LineString(frame.local(path.points)), line))
        if len(crossing) != 1 or crossing[0].geom_type != "Point":
            findings.refuse(
                drawing.where(path.entity, layer), "a short line that crosses the outline once",
                f"{len(crossing)} crossings", "draw it across, or put a point there",
            )
            continue
        found.append(shapely.line_locate_point(line, crossing[0]))
    limits = np.sort(np.array(found, dtype=np.float64) % line.length)
    return limits[np.diff(limits, prepend=-np.inf) > _SAME_PLACE_MM]


def _with_vertices(ring: np.ndarray, line: shapely.LinearRing, limits: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The ring with a vertex at every place in `limits`, and the place of each of its vertices along it, mm."""
    own = np.concatenate(((0.0,), np.cumsum(edge_lengths(ring))))
    gaps = np.abs(limits[:, None] - own[None, :])
    new = limits[gaps.min(axis=1) > _SAME_PLACE_MM]
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, new))
    places = np.concatenate((own[:-1], new))
    order = np.argsort(places)
    outline = np.concatenate((ring, points))[order]
    return on_grid(outline), places[order]
