"""Hides as GeoJSON (RFC 7946), read as a drawing: the same shapes and texts as on the layers of a DXF file.

A FeatureCollection whose coordinates are lengths in the plane, not degrees (RFC 7946, section 4, leaves that to those
who agree on it): in millimetres, unless its member "unit" or the job says otherwise. Every feature has a property
"part":

* "hide": the Polygon of the hide; its inner rings are holes.
* "zone": a Polygon without holes, or a MultiPolygon of such; properties "class", "stretch_deg" (null where
  it is unknown) and, if wanted, "name".
* "flaw": a Polygon without holes, a LineString or a Point; properties "kind", "severity" and, if wanted, "tears" and
  "coverable" (true or false), and "width_mm" for a line or a point.

The members "photograph" and "outline_within_mm" of the collection, if it has them, name the photograph that the outline
was taken from and how sure it is.
"""

from collections.abc import Iterator
from itertools import pairwise
from typing import TypeGuard

import numpy as np
import shapely

from nest.job.drawing import Drawing, Label, Mark, Path
from nest.job.files import Source, checked_source, read_text
from nest.job.findings import Findings, clipped, listed
from nest.job.schema import LayersSection
from nest.limits import LARGEST_COORDINATE, MOST_DRAWING_VALUES, MOST_FEATURES, MOST_OUTLINE_VERTICES, MOST_VERTICES
from nest.plainfile import BadJson, parsed_json
from nest.stock.material import UNKNOWN
from nest.text import hidden_in
from nest.units import MM_PER_LENGTH_UNIT

GEOJSON_SUFFIXES = (".geojson", ".json")

_KINDS = {"hide": ("Polygon",), "zone": ("Polygon", "MultiPolygon"), "flaw": ("Polygon", "LineString", "Point")}
"""Geometry types that each part may have."""


class _Fault(ValueError):
    """What is wrong with a feature: expected, found."""


def read_geojson(source: Source, layers: LayersSection, unit: str | None, findings: Findings) -> Drawing | None:
    """Read the file; None, and every problem in it, if it cannot be used."""
    before = findings.refused
    text = read_text(source, findings) if checked_source(source, source.name, findings) else None
    if text is None:
        return None
    try:
        data = parsed_json(text, MOST_DRAWING_VALUES)
    except BadJson as error:
        findings.refuse(source.name, "GeoJSON", str(error), "write the file again")
        return None
    features = data.get("features") if isinstance(data, dict) else None
    if not isinstance(features, list) or data.get("type") != "FeatureCollection":
        findings.refuse(source.name, "a GeoJSON FeatureCollection", "something else", "write the hide as one")
        return None
    named = data.get("unit", unit or "mm")
    if not isinstance(named, str) or named not in MM_PER_LENGTH_UNIT:
        findings.refuse(f"{source.name}, unit", listed(MM_PER_LENGTH_UNIT), clipped(named), "correct unit")
        return None
    if len(features) > MOST_FEATURES:
        findings.refuse(source.name, f"at most {MOST_FEATURES} features", str(len(features)), "save only the hide")
        return None
    layer_of = {"hide": layers.hide_outline, "zone": layers.hide_zones, "flaw": layers.hide_flaws}
    found: list[Path | Mark | Label] = []
    for number, feature in enumerate(features, start=1):
        try:
            found += _read(feature, MM_PER_LENGTH_UNIT[named], layer_of, f"feature {number}")
        except _Fault as fault:
            expected, told = fault.args
            findings.refuse(f"{source.name}, feature {number}", expected, told, "correct the feature")
    if "photograph" in data:
        found.append(Label("PHOTOGRAPH", np.zeros(2), _photograph_words(data), "photograph"))
    if sum(len(one.points) for one in found if isinstance(one, Path)) > MOST_VERTICES:
        findings.refuse(source.name, f"at most {MOST_VERTICES} vertices", "more", "save only what the job needs in it")
    if findings.refused > before:
        return None
    return Drawing(
        source.name, tuple(one for one in found if isinstance(one, Path)),
        tuple(one for one in found if isinstance(one, Mark)), tuple(one for one in found if isinstance(one, Label)),
    )


def _is_number(value: object) -> TypeGuard[float]:
    return type(value) in (int, float)


def _photograph_words(data: dict) -> str:
    name, within = data["photograph"], data.get("outline_within_mm")
    if not isinstance(name, str) or hidden_in(name) or not _is_number(within) or not 0.0 <= within < 1000.0:
        return clipped(name)
    return f"photograph {name} within {within:.2f} mm"


def _read(feature, scale: float, layer_of: dict[str, str], entity: str) -> Iterator[Path | Mark | Label]:
    """Paths, marks and labels of one feature."""
    feature = feature if isinstance(feature, dict) else {}
    geometry, properties = feature.get("geometry"), feature.get("properties")
    if not isinstance(geometry, dict) or not isinstance(properties, dict):
        raise _Fault("a feature with geometry and properties", clipped(feature))
    part = properties.get("part")
    if not isinstance(part, str) or part not in _KINDS:
        raise _Fault(f"the property part: {listed(_KINDS)}", clipped(part))
    kind = geometry.get("type")
    if kind not in _KINDS[part]:
        raise _Fault(f"{listed(_KINDS[part])} for a {part}", clipped(kind))
    words = None if part == "hide" else _zone_words(properties) if part == "zone" else _flaw_words(properties)
    shapes = geometry.get("coordinates")
    if kind != "MultiPolygon":
        shapes = [shapes]
    elif not isinstance(shapes, list):
        raise _Fault("a list of polygons", clipped(shapes))
    for shape in shapes:
        yield from _shape(kind, shape, scale, layer_of[part], entity, words)


def _shape(kind: str, coordinates, scale: float, layer: str, entity: str, words: str | None):
    if kind == "Point":
        at = _points([coordinates], 1, scale)[0]
        yield Mark(layer, at, entity)
    elif kind == "LineString":
        points = _points(coordinates, 2, scale)
        at = points[0]
        yield Path(layer, points, False, entity)
    else:
        if not isinstance(coordinates, list) or not coordinates:
            raise _Fault("a list of rings", clipped(coordinates))
        if words is not None and len(coordinates) > 1:
            raise _Fault("a polygon without holes", f"one with {len(coordinates) - 1}")
        for ring in coordinates:
            points = _points(ring, 4, scale)
            if (points[0] != points[-1]).any():
                raise _Fault("a ring that ends where it begins", "one that does not (RFC 7946, section 3.1.6)")
            yield Path(layer, points[:-1], True, entity)
        at = shapely.get_coordinates(shapely.point_on_surface(shapely.make_valid(shapely.Polygon(points))))[0]
    if words is not None:
        yield Label(layer, at, words, entity)


def _points(data, least: int, scale: float) -> np.ndarray:
    """Positions as an (n, 2) array without repeats, times `scale`; heights are passed over."""
    sound = isinstance(data, list) and len(data) >= least and all(
        isinstance(point, list) and len(point) in (2, 3)
        and all(_is_number(x) and abs(x) <= LARGEST_COORDINATE / scale for x in point)
        for point in data
    )
    if not sound:
        raise _Fault(f"at least {least} positions [x, y]", clipped(data))
    if len(data) > MOST_OUTLINE_VERTICES:
        raise _Fault(f"at most {MOST_OUTLINE_VERTICES} positions in one outline", str(len(data)))
    points = [data[0], *(b for a, b in pairwise(data) if a[:2] != b[:2])]
    if len(points) < least:
        raise _Fault(f"at least {least} positions that differ from the one before", str(len(points)))
    return np.array([point[:2] for point in points], dtype=np.float64) * scale


def _zone_words(properties: dict) -> str:
    name = properties.get("name", "zone")
    quality, stretch = properties.get("class"), properties.get("stretch_deg")
    if not isinstance(name, str) or not name.strip():
        raise _Fault("a name that is text", clipped(name))
    if hidden := hidden_in(name):
        raise _Fault("a name of plain text", hidden)
    if type(quality) is not int or not 1 <= quality <= 99:
        raise _Fault("the property class: a whole number from 1 to 99", clipped(quality))
    if "stretch_deg" in properties and stretch is None:
        return f"{name.strip()} class {quality} stretch {UNKNOWN}"
    if not _is_number(stretch) or not abs(stretch) <= 360.0:
        raise _Fault("the property stretch_deg: an angle, or null where it is unknown", clipped(stretch))
    return f"{name.strip()} class {quality} stretch {stretch % 180.0:.6f}"


def _flaw_words(properties: dict) -> str:
    kind, severity, width = (properties.get(key) for key in ("kind", "severity", "width_mm"))
    if not isinstance(kind, str) or not kind.strip():
        raise _Fault("the property kind: text", clipped(kind))
    if hidden := hidden_in(kind):
        raise _Fault("the property kind: plain text", hidden)
    if type(severity) is not int or not 0 <= severity <= 99:
        raise _Fault("the property severity: a whole number from 0 to 99", clipped(severity))
    words = [f"{kind.strip()} severity {severity}"]
    for key in ("tears", "coverable"):
        value = properties.get(key, False)
        if type(value) is not bool:
            raise _Fault(f"the property {key}: true or false", clipped(value))
        words += [key] if value else []
    if width is not None:
        if not _is_number(width) or not 0.0 < width <= 1000.0:
            raise _Fault("the property width_mm: from above 0 to 1000", clipped(width))
        words.append(f"width {width:.6f}")
    return " ".join(words)
