"""A DXF file read strictly: what a cutting drawing may hold, and everything else that stands in the file.

A table may cut whatever it finds. So nothing is passed over: what is no plain line, polyline or text, or stands where
no cutting drawing has anything, is a stray.
"""

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass

import ezdxf
import numpy as np
from ezdxf import bbox
from ezdxf.enums import TextEntityAlignment

from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.dxf import UNIT_CODES
from nest.errors import PlanProblem
from nest.job.dxf import quiet, stored_entities
from nest.limits import LARGEST_FILE_BYTES, MOST_STORED_ENTITIES
from nest.plainfile import NotPlain, read_plain

_PLAIN = ("LINE", "LWPOLYLINE", "POLYLINE", "TEXT")
_SOLID_LINES = ("BYLAYER", "BYBLOCK", "CONTINUOUS")
_CODED = re.compile(r"\\U\+(000[1-9A-Fa-f][0-9A-Fa-f]{4}|0010[0-9A-Fa-f]{4}|[0-9A-Fa-f]{4})")
_FLAT = 1e-9
_PLACES = ("insert", "center", "location", "start", "vtx0", "defpoint")
_ALIGNED = {TextEntityAlignment.MIDDLE_CENTER: True, TextEntityAlignment.MIDDLE: True, TextEntityAlignment.LEFT: False}
_POLYLINE_BITS = 1 | 128
"""Bits of group 70 that change no line: closed, and line types that run on around corners (DXF reference, public)."""


@dataclass(frozen=True, slots=True)
class Stray:
    """Something that no cutting drawing holds: its layer, what it is, and where, in the file's unit, if that is known.

    place : where else than among the drawing's own entities it stands, in words.
    """

    layer: str
    what: str
    at: tuple[float, float] | None = None
    place: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class DxfFile:
    """What a file holds; `use` of an entity is the name of its layer, coordinates are the file's.

    unit, metric : as the header says, None where it says nothing. old : R12, whose header cannot name a unit.
    unseen : layers that are frozen or off, by lower-case name; dashed : layers whose lines are not solid.
    """

    drawing: Drawing
    unit: str | None
    metric: bool | None
    old: bool
    strays: tuple[Stray, ...]
    unseen: frozenset[str]
    dashed: frozenset[str]


@quiet()
def read_dxf(path: str | os.PathLike) -> DxfFile:
    """Everything in the file at `path`, entities in their order.

    Raises
    ------
    PlanProblem
        If the file cannot be read as DXF, or has a unit that no cutting drawing has.
    """
    try:
        stored = stored_entities(read_plain(path, LARGEST_FILE_BYTES))
    except NotPlain as error:
        raise PlanProblem(f"{path}: expected a cutting drawing, found {error}; correct the path") from error
    if stored > MOST_STORED_ENTITIES:
        raise PlanProblem(f"{path}: expected a drawing of at most {MOST_STORED_ENTITIES} entities, found more; "
                          "give the drawing that was written")
    try:
        document = ezdxf.readfile(path)
        found = [_read(entity) for entity in document.modelspace()]
        strays = [*(stray for _, stray in found if stray), *_elsewhere(document)]
        old = document.dxfversion <= "AC1009"
        code = 0 if old else document.header.get("$INSUNITS", 0)
        metric = None if old else document.header.get("$MEASUREMENT", None)
        unseen = {one.dxf.name.casefold() for one in document.layers if one.is_frozen() or one.is_off()}
        dashed = {
            one.dxf.name.casefold() for one in document.layers
            if one.dxf.get("linetype", "CONTINUOUS").upper() not in _SOLID_LINES
        }
    except Exception as error:  # a damaged file may fail anywhere within the reader
        line = re.search(r"line:? (\d+)", str(error))
        where = f" (damaged near line {line[1]})" if line else ""
        raise PlanProblem(f"{path}: this is no sound DXF file{where}; write it again from its plan") from error
    units = {number: unit for unit, number in UNIT_CODES.items()}
    if code not in (0, *units):
        raise PlanProblem(f"{path}: $INSUNITS is {code}, a cutting drawing has mm, cm or in; write it again")
    return DxfFile(
        Drawing(tuple(one for one, _ in found if one)), units.get(code),
        None if metric is None else bool(metric), old, tuple(strays), frozenset(unseen), frozenset(dashed),
    )


def _elsewhere(document) -> Iterator[Stray]:
    """What stands in paper space, or in a block; a view of the drawing in paper space is nothing to cut."""
    for layout in document.layouts:
        if not layout.is_modelspace:
            for entity in layout:
                if entity.dxftype() != "VIEWPORT":
                    yield Stray(_layer(entity), _article(entity), _place(entity), f"in paper space ({layout.name})")
    for block in document.blocks:
        if not block.is_any_layout:
            for entity in block:
                yield Stray(_layer(entity), _article(entity), _place(entity), f"in the block {block.name}")


def _read(entity) -> tuple[Outline | Label | None, Stray | None]:
    """What an entity draws, if that is a line or a text, and what about it belongs in no cutting drawing."""
    kind, layer = entity.dxftype(), _layer(entity)
    curved = kind == "POLYLINE" and entity.dxf.get("flags", 0) & ~_POLYLINE_BITS
    if kind not in _PLAIN or curved:
        return None, Stray(layer, f"{_article(entity)}{' in space, or a curve' if curved else ''}", _place(entity))
    odd = _oddity(entity)
    if kind == "LINE":
        points = np.array((tuple(entity.dxf.start), tuple(entity.dxf.end)))
        odd = odd or _raised(points[:, 2])
        read: Outline | Label = Outline(layer, points[:, :2], closed=False)
    elif kind == "LWPOLYLINE":
        points = np.array(entity.get_points("xyseb")).reshape(-1, 5)
        widths = np.append(points[:, 2:4], entity.dxf.get("const_width", 0.0))
        closed = bool(entity.closed)
        odd = odd or _raised(entity.dxf.get("elevation", 0.0)) or _bent(() if closed else points[:, 4], widths)
        read = Outline(layer, points[:, :2], closed, _arcs(points[:, [0, 1, 4]]))
    elif kind == "POLYLINE":
        points = np.array([tuple(vertex.dxf.location) for vertex in entity.vertices]).reshape(-1, 3)
        names = ("bulge", "start_width", "end_width", "flags")
        told = np.array([[one.dxf.get(name, 0.0) for name in names] for one in entity.vertices]).reshape(-1, 4)
        whole = [entity.dxf.get(name, 0.0) for name in ("default_start_width", "default_end_width")]
        widths = np.append(told[:, 1:3], whole)
        odd = odd or _raised(np.append(points[:, 2], entity.dxf.get("elevation", (0.0, 0.0, 0.0))[2]))
        closed = bool(entity.is_closed)
        odd = odd or _bent(() if closed else told[:, 0], widths)
        odd = odd or ("with points of a curve" if told[:, 3].any() else "")
        read = Outline(layer, points[:, :2], closed, _arcs(np.column_stack((points[:, :2], told[:, 0]))))
    else:
        align, at, _ = entity.get_placement()
        odd = odd or _raised(at[2]) or ("" if align in _ALIGNED else "aligned otherwise than in a cutting drawing")
        turn, height = entity.dxf.get("rotation", 0.0), entity.dxf.height
        read = Label(layer, _letters(entity.plain_text()), (at[0], at[1]), height, turn, _ALIGNED.get(align, False))
    if isinstance(read, Outline):
        numbers = read.points if read.arcs is None else read.arcs
    else:
        numbers = np.array((*read.at, read.height_mm, read.turn_deg))
    if not np.isfinite(numbers).all():
        return None, Stray(layer, f"{_article(entity)} at no finite place")
    if isinstance(read, Outline) and len(numbers) < 2:
        return None, Stray(layer, f"{_article(entity)} of {len(numbers)} points", _place(entity))
    return read, Stray(layer, f"{_article(entity)} {odd}", _place(entity)) if odd else None


def _letters(text: str) -> str:
    r"""Letters that a file's code page lacks stand in it as \U+ and four hexadecimal digits, or eight."""
    return _CODED.sub(lambda match: chr(int(match[1], 16)), text)


def _oddity(entity) -> str:
    """What an entity has beside its line that would change what a table makes of it; "" if nothing."""
    dxf = entity.dxf
    if abs(dxf.get("thickness", 0.0)) > _FLAT:
        return f"with a thickness of {dxf.thickness:g}"
    plane = tuple(dxf.get("extrusion", (0.0, 0.0, 1.0)))
    if max(abs(np.array(plane) - (0.0, 0.0, 1.0))) > _FLAT:
        return "on a plane of its own (extrusion {:g}, {:g}, {:g})".format(*plane)
    if dxf.get("invisible", 0):
        return "that is hidden"
    linetype = dxf.get("linetype", "BYLAYER")
    return "" if linetype.upper() in _SOLID_LINES else f"of the line type {linetype}"


def _raised(heights) -> str:
    high = np.abs(np.atleast_1d(heights))
    return f"{high.max():g} off the plane of the drawing (z)" if len(high) and high.max() > _FLAT else ""


def _arcs(rows: np.ndarray) -> np.ndarray | None:
    """The rows of x, y and bulge of an outline with arcs in it; None of one without."""
    return rows if np.abs(rows[:, 2]).max(initial=0.0) > _FLAT else None


def _bent(bulges, widths) -> str:
    if np.abs(np.asarray(bulges)).max(initial=0.0) > _FLAT:
        return "with arcs in it (bulge)"
    return "with a width" if np.abs(widths).max(initial=0.0) > _FLAT else ""


def _layer(entity) -> str:
    return entity.dxf.get("layer", "0") if entity.dxf.is_supported("layer") else "0"


def _article(entity) -> str:
    kind = entity.dxftype()
    return f"{'an' if kind[0] in 'AEIO' else 'a'} {kind}"


def _place(entity) -> tuple[float, float] | None:
    """Where an entity stands, or its first point; None if that is not plain."""
    try:
        for name in _PLACES:
            if entity.dxf.is_supported(name) and entity.dxf.hasattr(name):
                at = entity.dxf.get(name)
                return float(at[0]), float(at[1])
        box = bbox.extents([entity], fast=True)
        return (float(box.center.x), float(box.center.y)) if box.has_data else None
    except Exception:  # a place is only for the message
        return None
