"""Hide drawings: outline, holes, zones and flaws; as DXF, or as GeoJSON (see `nest.job.geojson`).

A drawing holds, on layers that the job file may name otherwise, with the hide grain side up:

* HIDE: the closed outline; closed outlines within it are holes.
* ZONES: one closed outline for each zone, and within it a text such as "butt class 1 stretch 88": a name, the
  quality class (1 is the best) and the direction of most stretch, in degrees from the drawing's x axis, or *unknown*.
* FLAWS: one outline for each flaw, and within or beside it a text such as "scratch severity 2 coverable": its
  kind, its severity, and if they hold the words tears (nothing may be cut over it) and coverable
  (harmless within what is trimmed off). A flaw may also be drawn as an open line or a point; its text then
  ends with its width in mm: "scratch severity 1 width 2".
* PHOTOGRAPH: where the outline was taken from a photograph, a text such as "photograph H17.jpg within 1.2 mm": 95 % of
  the outline is right within that.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from geometry.polygon import snapped
from geometry.precision import COORDINATE_GRID_MM
from nest.job.drawing import Drawing, Label, Path
from nest.job.dxf import read_drawing, refuse_open
from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.geojson import GEOJSON_SUFFIXES, read_geojson
from nest.job.schema import LayersSection
from nest.stock.material import UNKNOWN, Flaw, Zone

ZONE_TOLERANCE_MM = 2.0
"""A zone may reach this far beyond the hide or into another zone: the digitiser's hand is no finer."""

LABEL_REACH_MM = 5.0
"""A text belongs to the outline it stands in, or else to the nearest one within this."""

PHOTOGRAPH_LAYER = "PHOTOGRAPH"

_PHOTOGRAPH_LABEL = re.compile(r"photograph\s+(?P<name>.+?)\s+within\s+(?P<within>\d{1,3}(\.\d+)?)\s*mm", re.I)
_PHOTOGRAPH_FORM = 'a text such as "photograph H17.jpg within 1.2 mm"'
_ZONE_LABEL = re.compile(
    rf"(?P<name>.*?)\s*\bclass\s+(?P<quality>\d{{1,2}})\s+stretch\s+({UNKNOWN}|(?P<angle>-?\d+(\.\d+)?))", re.I
)
_ZONE_FORM = f'a text such as "butt class 1 stretch 88", or "... stretch {UNKNOWN}"'
_FLAW_LABEL = re.compile(
    r"(?P<kind>.+?)\s+severity\s+(?P<severity>\d{1,2})(?P<words>(\s+(tears|coverable|width\s+\d+(\.\d+)?))*)", re.I
)
_FLAW_FORM = 'a text such as "scratch severity 2 tears"'


@dataclass(frozen=True, slots=True, eq=False)
class HideShape:
    """What a hide's drawing says."""

    outline: Polygon
    zones: tuple[Zone, ...]
    flaws: tuple[Flaw, ...]
    photograph: str = ""
    within_mm: float | None = None


def photograph_words(name: str, within_mm: float) -> str:
    """The text that keeps a drawing's photograph and how sure its outline is."""
    return f"photograph {name} within {within_mm:.2f} mm"


def read_hide_shape(source: Source, layers: LayersSection, unit: str | None, findings: Findings) -> HideShape | None:
    """Read one hide's drawing; None, and every problem in it, if it cannot be used."""
    before = findings.refused
    if source.path.suffix.casefold() in GEOJSON_SUFFIXES:
        drawing = read_geojson(source, layers, unit, findings)
    else:
        wanted = (layers.hide_outline, layers.hide_zones, layers.hide_flaws, PHOTOGRAPH_LAYER)
        drawing = read_drawing(source, unit, findings, wanted)
    if drawing is None:
        return None
    outline = _hide_outline(drawing, layers.hide_outline, findings)
    # Holes are no part of the question where zones and flaws lie: both may reach over them.
    skin = None if outline is None else shapely.Polygon(outline.exterior)
    zones = _zones(drawing, layers.hide_zones, skin, findings)
    flaws = _flaws(drawing, layers.hide_flaws, skin, findings)
    photograph, within_mm = _photograph(drawing, findings)
    if outline is None or findings.refused > before:
        return None
    return HideShape(outline, zones, flaws, photograph, within_mm)


def _photograph(drawing: Drawing, findings: Findings) -> tuple[str, float | None]:
    """Name of the photograph that the outline comes from, and within how many mm it is right."""
    labels = drawing.labels_on(PHOTOGRAPH_LAYER)
    if not labels:
        return "", None
    match = _PHOTOGRAPH_LABEL.fullmatch(labels[0].text.strip())
    if len(labels) > 1 or match is None:
        found = f"{len(labels)} texts" if len(labels) > 1 else repr(labels[0].text)
        findings.refuse(drawing.layer(PHOTOGRAPH_LAYER), _PHOTOGRAPH_FORM, found, "correct the text or remove it")
        return "", None
    return match["name"], float(match["within"])


def _region(drawing: Drawing, path: Path, findings: Findings) -> Polygon | None:
    """A closed path as a polygon on the grid; None, and a problem, if it encloses nothing or crosses itself."""
    shape = shapely.Polygon(np.round(path.points / COORDINATE_GRID_MM) * COORDINATE_GRID_MM)
    place = drawing.where(path.entity, path.layer)
    if shape.area <= 0.0:
        findings.refuse(place, "an outline that encloses an area", "none", "draw it again")
        return None
    if not shape.is_valid:
        reason = shapely.is_valid_reason(shape)
        findings.refuse(place, "an outline that does not cross itself", reason, "mend it there")
        return None
    return shapely.orient_polygons(shape)


def _hide_outline(drawing: Drawing, layer: str, findings: Findings) -> Polygon | None:
    """The largest outline on the layer, less those within it."""
    paths = drawing.paths_on(layer)
    if not paths:
        remedy = "draw it there, or name its layer in [layers]"
        findings.refuse(drawing.layer(layer), "the closed outline of the hide", drawing.nothing(), remedy)
        return None
    refuse_open(drawing, paths, findings)
    regions = [(path, region) for path in paths if path.closed and (region := _region(drawing, path, findings))]
    if len(regions) < len(paths):
        return None
    regions.sort(key=lambda item: item[1].area, reverse=True)
    outer, holes = regions[0][1], regions[1:]
    for path, region in holes:
        if not shapely.contains_properly(outer, region):
            findings.refuse(
                drawing.where(path.entity, layer), "one outline, and holes within it",
                f"another outline beside or across it: {_where(outer)} and {_where(region)}",
                "leave one hide in each drawing",
            )
            return None
    shape = shapely.Polygon(outer.exterior, [hole.exterior for _, hole in holes])
    if not shape.is_valid:
        findings.refuse(drawing.layer(layer), "holes apart from each other", "holes that meet", "draw them as one")
        return None
    return shapely.orient_polygons(shape)


def _where(region: Polygon) -> str:
    """Size and middle of an outline, for messages."""
    x0, y0, x1, y1 = region.bounds
    return f"{x1 - x0:.0f} × {y1 - y0:.0f} mm at ({0.5 * (x0 + x1):.0f}, {0.5 * (y0 + y1):.0f})"


def _matched(
    drawing: Drawing, layer: str, shapes: Sequence, entities: Sequence[str], form: str, findings: Findings
) -> list[Label | None]:
    """The text of each shape: the one within it (within the smallest, where shapes lie in each other) or near it."""
    found: list[Label | None] = [None] * len(shapes)
    labels = drawing.labels_on(layer)
    if shapes and labels:
        points = shapely.points(np.array([label.at for label in labels]))
        tree = shapely.STRtree(shapes)
        owner: dict[int, int] = {}
        for label, shape in zip(*tree.query(points, predicate="intersects"), strict=True):
            if label not in owner or shapes[shape].area < shapes[owner[label]].area:
                owner[int(label)] = int(shape)
        near = tree.query_nearest(points, max_distance=LABEL_REACH_MM, all_matches=False)
        for label, shape in zip(*near, strict=True):
            owner.setdefault(int(label), int(shape))
    else:
        owner = {}
    for i, label in enumerate(labels):
        place = drawing.where(label.entity, layer)
        if i not in owner:
            found_text = f"{label.text!r} apart from all"
            findings.refuse(place, "a text within its outline", found_text, "move it or remove it")
        elif (other := found[owner[i]]) is not None:
            findings.refuse(
                place, "one text for an outline", f"{other.text!r} and {label.text!r}", "remove one of them"
            )
        else:
            found[owner[i]] = label
    for entity, label in zip(entities, found, strict=True):
        if label is None:
            place = drawing.where(entity, layer)
            findings.refuse(place, form, "an outline without text", "write it within the outline")
    return found


def _zones(drawing: Drawing, layer: str, outline: Polygon | None, findings: Findings) -> tuple[Zone, ...]:
    """The zones on the layer; they stay on the hide and clear of each other."""
    paths = drawing.paths_on(layer)
    refuse_open(drawing, paths, findings)
    pairs = [(path, region) for path in paths if path.closed and (region := _region(drawing, path, findings))]
    shapes = [region for _, region in pairs]
    labels = _matched(drawing, layer, shapes, [path.entity for path, _ in pairs], _ZONE_FORM, findings)
    zones: list[Zone] = []
    names: set[str] = set()
    for (path, region), label in zip(pairs, labels, strict=True):
        where = drawing.where(path.entity, layer)
        if outline is not None and not shapely.covers(outline.buffer(ZONE_TOLERANCE_MM), region):
            out = shapely.difference(region, outline).area / 100.0
            findings.refuse(where, "a zone on the hide", f"{out:.4g} cm² outside it", "draw it within the outline")
        if label is None:
            continue
        match = _ZONE_LABEL.fullmatch(label.text)
        if not match or int(match["quality"]) == 0:
            findings.refuse(drawing.where(label.entity, layer), _ZONE_FORM, repr(label.text), "correct the text")
            continue
        name = _numbered(match["name"] or "zone", names)
        stretch = None if match["angle"] is None else float(match["angle"]) % 180.0
        zones.append(Zone(name, int(match["quality"]), stretch, region))
    touching = shapely.STRtree(shapes).query(shapes, predicate="intersects") if shapes else ((), ())
    for i, j in zip(*touching, strict=True):
        common = shapely.intersection(shapes[i], shapes[j]) if i < j else None
        if common is not None and not common.buffer(-0.5 * ZONE_TOLERANCE_MM).is_empty:
            findings.refuse(
                drawing.where(f"{pairs[i][0].entity} and {pairs[j][0].entity}", layer), "zones clear of each other",
                f"{common.area / 100.0:.4g} cm² in both", "draw them edge to edge",
            )
    return tuple(zones)


def _numbered(name: str, taken: set[str]) -> str:
    """The name, with a number behind it when it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name} {number}"
    taken.add(free)
    return free


def _flaws(drawing: Drawing, layer: str, outline: Polygon | None, findings: Findings) -> tuple[Flaw, ...]:
    """The flaws on the layer: outlines, and lines and points with a width."""
    shapes: list = []
    entities: list[str] = []
    for path in drawing.paths_on(layer):
        shape = _region(drawing, path, findings) if path.closed else shapely.LineString(path.points)
        if shape is not None:
            shapes.append(shape)
            entities.append(path.entity)
    for mark in drawing.marks_on(layer):
        shapes.append(shapely.Point(mark.at))
        entities.append(mark.entity)
    flaws = []
    labels = _matched(drawing, layer, shapes, entities, _FLAW_FORM, findings)
    for number, (shape, entity, label) in enumerate(zip(shapes, entities, labels, strict=True), start=1):
        flaw = None if label is None else _flaw(drawing, layer, f"F{number:02d}", shape, entity, label, findings)
        if flaw is None:
            continue
        if outline is not None and not shapely.intersects(outline, flaw.outline):
            distance = shapely.distance(outline, flaw.outline)
            findings.refuse(
                drawing.where(entity, layer), "a flaw on the hide", f"one {distance:.1f} mm outside it",
                "move it or remove it",
            )
        flaws.append(flaw)
    return tuple(flaws)


def _flaw(
    drawing: Drawing, layer: str, flaw_id: str, shape, entity: str, label: Label, findings: Findings
) -> Flaw | None:
    """One flaw from its shape and its text."""
    match = _FLAW_LABEL.fullmatch(label.text)
    if not match:
        findings.refuse(drawing.where(label.entity, layer), _FLAW_FORM, repr(label.text), "correct the text")
        return None
    words = match["words"].casefold().split()
    if shape.geom_type != "Polygon":
        width = float(words[words.index("width") + 1]) if "width" in words else 0.0
        if not 0.0 < width <= 1000.0:
            findings.refuse(
                drawing.where(entity, layer), "a width for a flaw drawn as a line or a point", repr(label.text),
                'add its width in mm to the text, such as "width 2"',
            )
            return None
        shape = snapped(shape.buffer(0.5 * width, quad_segs=8), COORDINATE_GRID_MM)
    return Flaw(flaw_id, match["kind"], int(match["severity"]), "tears" in words, "coverable" in words, shape)
