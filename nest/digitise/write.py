"""Digitised hides and templates as files: DXF, GeoJSON, and the row of the hide index."""

import csv
import json
from collections.abc import Sequence
from dataclasses import astuple, dataclass
from pathlib import Path

import numpy as np
import shapely

from nest.atomic import atomic_path
from nest.digitise.drawn import DrawnHide, label_place
from nest.errors import PlanProblem
from nest.job.hide_drawing import PHOTOGRAPH_LAYER, photograph_words
from nest.job.schema import LayersSection
from nest.limits import LARGEST_FILE_BYTES

_MILLIMETRES = 4
_DECIMALS = 2
INDEX_COLUMNS = (
    "id",
    "file",
    "leather",
    "lot",
    "class",
    "thickness_mm",
    "area",
    "unit",
    "price",
    "price_unit",
    "stretch_deg",
    "area_within",
)


def write_hide_drawing(hide: DrawnHide, path: str | Path, layers: LayersSection | None = None) -> None:
    """Write the drawing, atomically: GeoJSON by the suffix .geojson or .json, else DXF R2000 in millimetres."""
    path = Path(path)
    with atomic_path(path) as part:
        if path.suffix.casefold() in (".geojson", ".json"):
            part.write_text(json.dumps(_geojson(hide), ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
        else:
            _dxf(hide, layers or LayersSection()).saveas(part)


def _dxf(hide: DrawnHide, layers: LayersSection):
    document = new_document(layers.hide_outline, layers.hide_zones, layers.hide_flaws, PHOTOGRAPH_LAYER)
    space = document.modelspace()

    def ring(points, layer: str) -> None:
        rounded = np.round(np.asarray(points), _DECIMALS).tolist()
        space.add_lwpolyline(rounded, close=True, dxfattribs={"layer": layer})

    def text(words: str, at, layer: str, height: float) -> None:
        place = tuple(np.round(at, _DECIMALS).tolist())
        space.add_text(words, height=height, dxfattribs={"layer": layer}).set_placement(place)

    for one in (hide.outline.exterior, *hide.outline.interiors):
        ring(one.coords[:-1], layers.hide_outline)
    for shapes, layer, height in ((hide.zones, layers.hide_zones, 25.0), (hide.flaws, layers.hide_flaws, 6.0)):
        for shape, words in shapes:
            ring(shape.exterior.coords[:-1], layer)
            text(words, label_place(shape), layer, height)
    x, y, *_ = hide.outline.bounds
    text(photograph_words(hide.photograph, hide.within_mm), (x, y - 40.0), PHOTOGRAPH_LAYER, 20.0)
    return document


def new_document(*layers: str):
    """An empty R2000 drawing in millimetres with these layers."""
    import ezdxf

    document = ezdxf.new("R2000", units=_MILLIMETRES)
    for colour, layer in enumerate(layers, start=1):
        document.layers.add(layer, color=colour)
    return document


def _geojson(hide: DrawnHide) -> dict:
    """RFC 7946, in millimetres, as `nest.job.geojson` reads it."""
    features = [{"type": "Feature", "properties": {"part": "hide"}, "geometry": _geometry(hide.outline)}]
    for shape, words in hide.zones:
        head, _, stretch = words.rpartition(" stretch ")
        name, _, quality = head.rpartition("class ")
        features.append(
            {
                "type": "Feature",
                "geometry": _geometry(shape),
                "properties": {
                    "part": "zone",
                    "name": name.strip() or "zone",
                    "class": int(quality),
                    "stretch_deg": float(stretch),
                },
            }
        )
    for shape, words in hide.flaws:
        kind, _, more = words.rpartition(" severity ")
        severity, *marks = more.split()
        features.append(
            {
                "type": "Feature",
                "geometry": _geometry(shape),
                "properties": {
                    "part": "flaw",
                    "kind": kind,
                    "severity": int(severity),
                    **{mark.casefold(): True for mark in marks},
                },
            }
        )
    return {
        "type": "FeatureCollection",
        "unit": "mm",
        "photograph": hide.photograph,
        "outline_within_mm": round(hide.within_mm, 2),
        "features": features,
    }


def _geometry(shape) -> dict:
    return shapely.geometry.mapping(shapely.transform(shape, lambda points: np.round(points, _DECIMALS)))


@dataclass(frozen=True, slots=True)
class IndexRow:
    """One row of the hide index; texts as they are to stand there."""

    id: str
    file: str
    leather: str = ""
    lot: str = ""
    quality: str = ""
    thickness_mm: str = ""
    area: str = ""
    unit: str = "dm2"
    price: str = ""
    price_unit: str = ""
    stretch_deg: str = ""
    area_within: str = ""

    def cells(self) -> tuple[str, ...]:
        """In the order of INDEX_COLUMNS."""
        return astuple(self)


def earlier_rows(path: str | Path, besides: Sequence[str]) -> list[IndexRow]:
    """Rows of an index written before, but those of these ids; none if there is no such file.

    Raises
    ------
    PlanProblem
        If there is another table in its place.
    """
    path = Path(path)
    if not path.exists():
        return []
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise ValueError
        with open(path, encoding="utf-8", newline="") as stream:
            headings, *lines = csv.reader(stream, strict=True)
        rows = [IndexRow(*line) for line in lines]
        if tuple(headings) != INDEX_COLUMNS or any(len(line) != len(INDEX_COLUMNS) for line in lines):
            raise ValueError
    except (OSError, ValueError, TypeError, csv.Error) as error:
        raise PlanProblem(f"{path} is a table that was not written here; name another folder, or move it.") from error
    return [row for row in rows if row.id not in besides]


def write_index(rows: Sequence[IndexRow], path: str | Path) -> None:
    """Write rows as a hide index, atomically."""
    with atomic_path(path) as part, open(part, "w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows([INDEX_COLUMNS, *(row.cells() for row in rows)])
