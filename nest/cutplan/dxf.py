"""Cutting drawings as DXF, R2000 (by layer name) or R12 (for old tables; states its units in a text).

R2000 has closed LWPOLYLINE outlines and the header says millimetres; R12 has neither, and holds
POLYLINE outlines (DXF reference, public).
"""

import os
import re
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import ezdxf
import ezdxf.document
import numpy as np
from ezdxf.entities.lwpolyline import LWPolylinePoints
from ezdxf.enums import TextEntityAlignment
from ezdxf.lldxf.types import DXFTag

from nest.atomic import atomic_path
from nest.cutplan.checksum import sealed
from nest.cutplan.compose import hide_drawing, lay_drawing, piece_drawing
from nest.cutplan.drawing import Drawing, Label, Outline, driven_entities
from nest.cutplan.grid import DECIMALS
from nest.cutplan.layers import NAMED, Layers, layers_of
from nest.cutplan.nickcode import OfMaterials, style_numbers
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work
from nest.errors import PlanProblem
from nest.job.cutting_table import PLAIN_TABLE, CuttingTable
from nest.pieces.piece import Piece
from nest.plan import HideLayout, Lay, Plan
from nest.units import MM_PER_LENGTH_UNIT

VERSIONS = ("R2000", "R12")
UNIT_CODES = {"mm": 4, "cm": 5, "in": 1}
"""$INSUNITS codes (public DXF reference)."""

_DECIMALS = {"mm": DECIMALS, "cm": DECIMALS + 1, "in": DECIMALS + 2}
_UNWRITABLE = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def write_hide_dxf(
    plan: Plan, layout: HideLayout, path, version: str = "R2000", *, layers: Layers | None = None, warning: str = "",
    work: Work | None = None, stamp: Stamp | None = None,
) -> None:
    """Write the cutting drawing of one hide to `path`, atomically.

    `warning` is put first in the legend, in large letters; `work` saves finding the cut order again; `stamp` is by
    default of now, and all that differs from one write to the next; `layers` by default as the plan's table wants.
    Raises PlanProblem for an unknown version, hide or piece, or a folder that cannot be written to.
    """
    _check(version)
    drawing = _sealed(hide_drawing(plan, layout, warning, work, stamp), version)
    _write_for(plan.settings.table, drawing, path, version, layers)


def write_lay_dxf(
    plan: Plan, lay: Lay, path, version: str = "R2000", *, layers: Layers | None = None, warning: str = "",
    work: Work | None = None, stamp: Stamp | None = None,
) -> None:
    """Write the cutting drawing of one lay to `path`, atomically; see `write_hide_dxf`."""
    _check(version)
    drawing = _sealed(lay_drawing(plan, lay, warning, work, stamp), version)
    _write_for(plan.settings.table, drawing, path, version, layers)


def write_piece_dxf(
    piece: Piece, path, version: str = "R2000", *, layers: Layers | None = None, warning: str = "",
    table: CuttingTable = PLAIN_TABLE, styles: Iterable[OfMaterials] = (),
) -> None:
    """Write one piece in its own frame (toe towards +x, axis on y = 0) to `path`, atomically; see `write_hide_dxf`.

    `styles` are those of its job or plan: nicks tell it from others that share its material.
    """
    _check(version)
    _write_for(table, piece_drawing(piece, warning, table, style_numbers(styles)), path, version, layers)


def write_lean_dxf(work: Work, path: str | os.PathLike, version: str) -> None:
    """Write lead-ins, cuts and marks of the work alone to `path`, in their order: no other layer, and no text."""
    write_dxf(Drawing(tuple(driven_entities(work))), path, version, layers_of(work.table), work.table.unit)


def write_dxf(
    drawing: Drawing, path: str | os.PathLike, version: str, layers: Layers = NAMED, unit: str = "mm"
) -> None:
    """Write `drawing`, its entities in their order. Raises PlanProblem for a version not in `VERSIONS`."""
    _check(version)
    with _fixed_header(), atomic_path(path) as part:
        _document(drawing, version, layers, unit).saveas(part)


@contextmanager
def _fixed_header() -> Iterator[None]:
    """Dates and identifiers that ezdxf puts into headers are always the same within: what is written alike is alike."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _check(version: str) -> None:
    if version not in VERSIONS:
        raise PlanProblem(f"the drawing version {version} is unknown; choose one of {', '.join(VERSIONS)}")


def _write_for(table: CuttingTable, drawing: Drawing, path, version: str, layers: Layers | None) -> None:
    write_dxf(drawing, path, version, layers or layers_of(table), table.unit)


def _sealed(drawing: Drawing, version: str) -> Drawing:
    """The drawing with its texts as this version holds them, and with its check sums."""
    old = version == "R12"
    entities = (
        replace(one, text=plain_text(one.text, ascii_only=old)) if isinstance(one, Label) else one
        for one in drawing.entities
    )
    return sealed(Drawing(tuple(entities)), unit_in_header=not old)


def _document(drawing: Drawing, version: str, layers: Layers, unit: str):
    document = ezdxf.document.Drawing.new(version)  # ezdxf.new sets units, which R12 cannot hold, and complains
    if version != "R12":
        document.units = UNIT_CODES[unit]
        document.header["$MEASUREMENT"] = int(unit != "in")
    space = document.modelspace()
    used = {entity.use for entity in drawing.entities}
    # A drawing with a legend has all layers that the legend names; one without has those it uses.
    for use in Layers.__dataclass_fields__ if "legend" in used else sorted(used):
        layer = getattr(layers, use)
        if not document.layers.has_entry(layer.name):
            document.layers.add(layer.name, color=layer.colour)
    scale = _Scale(1.0 / MM_PER_LENGTH_UNIT[unit], _DECIMALS[unit])
    for entity in drawing.entities:
        attributes = {"layer": getattr(layers, entity.use).name}
        if isinstance(entity, Outline):
            _add_outline(space, entity, attributes, version, scale)
        else:
            _add_label(space, entity, attributes, version, scale)
    x_min, y_min, x_max, y_max = scale.of(drawing.bounds()).tolist()
    space.reset_extents((x_min, y_min, 0.0), (x_max, y_max, 0.0))
    middle = (round(0.5 * (x_min + x_max), 1), round(0.5 * (y_min + y_max), 1))
    document.set_modelspace_vport(1.1 * max(y_max - y_min, 0.6 * (x_max - x_min)), middle)
    return document


@dataclass(frozen=True, slots=True)
class _Scale:
    """From mm to the unit of a file."""

    factor: float
    decimals: int

    def of(self, lengths) -> np.ndarray:
        return np.round(np.asarray(lengths, dtype=np.float64) * self.factor, self.decimals) + 0.0


class _Points(LWPolylinePoints):
    """Points of a polyline, written as one text: the library packs and unpacks every number of them by itself."""

    __slots__ = ()

    def dxftags(self) -> Iterator[DXFTag]:
        """One tag in place of two or three for each point."""
        yield _Text(10, "".join([
            f" 10\n{x}\n 20\n{y}\n 42\n{bulge}\n" if bulge else f" 10\n{x}\n 20\n{y}\n"
            for x, y, _, _, bulge in self.values.tolist()
        ]))


class _Text(DXFTag):
    """Tags as they stand in a file, under the code of the first."""

    __slots__ = ()

    def dxfstr(self) -> str:
        """The text."""
        return self.value


def _add_outline(space, outline: Outline, attributes: dict, version: str, scale: _Scale) -> None:
    arcs = outline.arcs
    points = scale.of(outline.points if arcs is None else arcs[:, :2])
    bulges = np.zeros(len(points)) if arcs is None else arcs[:, 2]
    closed = outline.closed or arcs is not None
    if len(points) == 2 and not closed:
        space.add_line(*points.tolist(), dxfattribs=attributes)
    elif version == "R12":
        space.add_polyline2d(np.column_stack((points, bulges)).tolist(), format="xyb", close=closed,
                             dxfattribs=attributes)
    else:
        line = space.add_lwpolyline((), close=closed, dxfattribs=attributes)
        line.lwpoints = _Points(np.column_stack((points, np.zeros((len(points), 2)), bulges)).tolist())


def _add_label(space, label: Label, attributes: dict, version: str, scale: _Scale) -> None:
    text = space.add_text(
        plain_text(label.text, ascii_only=version == "R12"), height=float(scale.of(label.height_mm)),
        rotation=label.turn_deg, dxfattribs=attributes,
    )
    align = TextEntityAlignment.MIDDLE_CENTER if label.centred else TextEntityAlignment.LEFT
    text.set_placement(scale.of(label.at).tolist(), align=align)


def plain_text(text: str, *, ascii_only: bool = False) -> str:
    """`text` on one line, without control characters and without the codes a TEXT entity would act on.

    With `ascii_only`, other letters are written without their accents, or as "?".
    """
    text = "".join(" " if unicodedata.category(letter) in _UNWRITABLE else letter for letter in text)
    if ascii_only:
        text = unicodedata.normalize("NFKD", text).replace("\u2044", "/")
        text = "".join(letter for letter in text if not unicodedata.combining(letter))
        text = text.encode("ascii", "replace").decode("ascii")
    # What is written once must not change if it is written again.
    text = re.sub("%(?=%)", "% ", text)
    return re.sub(r"\^(?! )", "^ ", text).replace("\\U+", "\\ U+").replace("\\M+", "\\ M+")
