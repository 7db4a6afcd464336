"""Check sums in the legend of a cutting drawing: they tell whether anything in it was changed since it was written.

They are taken over every entity in whole steps of the coordinate grid, whatever its order, its handle, the name of its
layer or the unit of the file, so that a drawing which another program saved as it was keeps them. One sum covers all;
a sum for each layer and for each piece tells where a change is. The time of writing is left out: it is the one thing in
which two writes of a plan differ. That a drawing is unchanged says nothing about whether
it is right: it is judged as well.
"""

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeGuard

import numpy as np
import shapely

from geometry.precision import COORDINATE_GRID_MM
from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.grid import rounded
from nest.cutplan.layers import MACHINE_USES, Layers
from nest.cutplan.path import BULGE_DECIMALS
from nest.cutplan.stamp import without_time

_WHOLE, _PARTS = "Check sum of this drawing:", "Check sums of its"
_HEADER = {True: "unit in its header", False: "no unit in its header"}
_SHORT, _LONG = 4, 16
"""Hexadecimal digits of the sum of a layer or piece, and of all."""

_LAYERS_A_ROW, _PIECES_A_ROW = 8, 12
_NUMBER = re.compile(r".* no\. (\d+)")
_ROW = re.compile(rf"([a-z]+) (\d+) ([0-9a-f]{{{_SHORT}}})|(\d+) ([0-9a-f]{{{_SHORT}}})")


def sealed(drawing: Drawing, unit_in_header: bool) -> Drawing:
    """The drawing, its labels on the grid, with its check sums below its legend: of layers, of pieces, then of all."""
    entities = tuple(_on_grid(one) if isinstance(one, Label) else one for one in drawing.entities)
    layers, pieces = sums(Drawing(entities))
    rows = [
        *_rows("layers", [f"{use} {count} {own}" for use, (count, own) in layers.items()], _LAYERS_A_ROW),
        *_rows("pieces", [f"{number} {own}" for number, own in pieces.items()], _PIECES_A_ROW),
        *_rows("order", [order_sum(entities)], 1),
    ]
    for text in rows:
        entities = (*entities, _below(entities, text))
    return Drawing((*entities, whole_line(entities, unit_in_header)))


def sum_rows(pieces: int) -> int:
    """How many lines the check sums of a drawing of this many pieces take."""
    return -(-len(Layers.__dataclass_fields__) // _LAYERS_A_ROW) + -(-pieces // _PIECES_A_ROW) + 2


def whole_line(entities: Sequence[Outline | Label], unit_in_header: bool) -> Label:
    """The line with the sum of all other entities of a drawing, where it stands."""
    header = _HEADER[unit_in_header]
    whole = _sum([*canonical(entities), header], _LONG)
    return _below(entities, f"{_WHOLE} {len(entities)} entities, {header}, {whole}.")


def is_whole_line(entity: Outline | Label) -> TypeGuard[Label]:
    """Whether an entity is the line with the sum of all others."""
    return isinstance(entity, Label) and entity.use == "legend" and entity.text.startswith(_WHOLE)


def unit_stated(line: Label) -> bool:
    """Whether the drawing was written with a unit in its header, by the line with the sum of all."""
    return f" {_HEADER[False]}," not in line.text


def without_sums(drawing: Drawing) -> Drawing:
    """The drawing without the lines of its check sums."""
    return Drawing(tuple(one for one in drawing.entities if not (is_whole_line(one) or _is_row(one))))


def sums(drawing: Drawing) -> tuple[dict[str, tuple[int, str]], dict[int, str]]:
    """Of every layer the number of its entities and their sum; of every piece, by its number, the sum."""
    by_layer: dict[str, list[str]] = {}
    by_piece: dict[int, list[str]] = {}
    told = canonical(drawing.entities)
    for entity, number, text in zip(drawing.entities, piece_numbers(drawing), told, strict=True):
        by_layer.setdefault(entity.use, []).append(text)
        if number:
            by_piece.setdefault(number, []).append(text)
    return (
        {use: (len(texts), _sum(texts, _SHORT)) for use, texts in sorted(by_layer.items())},
        {number: _sum(texts, _SHORT) for number, texts in sorted(by_piece.items())},
    )


def stated_sums(drawing: Drawing) -> tuple[dict[str, tuple[int, str]], dict[int, str]]:
    """The same as `sums`, as the legend states them."""
    layers: dict[str, tuple[int, str]] = {}
    pieces: dict[int, str] = {}
    for line in filter(_is_row, drawing.entities):
        for use, count, own, number, piece in _ROW.findall(line.text.partition(": ")[2]):
            if use:
                layers[use] = int(count), own
            else:
                pieces[int(number)] = piece
    return layers, pieces


def order_sum(entities: Iterable[Outline | Label]) -> str:
    """The sum of marks, lead-ins and cuts as they follow each other, with where each begins and which way it runs."""
    told = [_told(one, as_drawn=True) for one in entities if one.use in MACHINE_USES]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()[:_SHORT]


def order_kept(drawing: Drawing) -> bool:
    """Whether marks, lead-ins and cuts follow each other as the legend's sum of their order has it."""
    return any(
        line.text == _rows("order", [order_sum(drawing.entities)], 1)[0] for line in filter(_is_row, drawing.entities)
    )


def canonical(entities: Sequence[Outline | Label]) -> list[str]:
    """Every entity in words that depend on nothing but what it draws.

    Where a closed outline begins and which way round it runs counts on the cut layer of a drawing with lead-ins, which
    end where the cut begins, and nowhere else.
    """
    led = any(entity.use == "lead" for entity in entities)
    return [_told(entity, as_drawn=entity.use == "lead" or (led and entity.use == "cut")) for entity in entities]


def piece_numbers(drawing: Drawing) -> list[int]:
    """For each entity the number of the piece whose cut line it lies in (the last, if several); 0 for none."""
    cuts = [shapely.Polygon(one.points) for one in drawing.outlines("cut") if one.closed and len(one.points) > 2]
    labels = [one for one in drawing.entities if isinstance(one, Label) and one.use == "labels"]
    if not cuts or not labels:
        return [0] * len(drawing.entities)
    tree = shapely.STRtree(cuts)
    owner = np.zeros(len(cuts), dtype=np.int64)
    for label in labels:
        match = _NUMBER.fullmatch(label.text)
        inside = tree.query(shapely.Point(label.at), predicate="intersects")
        owner[inside] = np.maximum(owner[inside], int(match[1]) if match else 0)
    own = {"labels", "net", "heading", "rough", "axis", "size", "number", "lead", "cut"}
    spots = [_within(one) if one.use in own else (np.nan, np.nan) for one in drawing.entities]
    numbers = np.zeros(len(spots), dtype=np.int64)
    at, inside = tree.query(shapely.points(spots), predicate="intersects")
    np.maximum.at(numbers, at, owner[inside])
    return numbers.tolist()


def _within(entity: Outline | Label) -> tuple[float, float]:
    """A point of an entity that lies in its piece."""
    if isinstance(entity, Label):
        return entity.at
    if entity.closed and len(entity.points) > 2:
        return tuple(shapely.get_coordinates(shapely.point_on_surface(shapely.Polygon(entity.points)))[0])
    return tuple(entity.points.mean(axis=0)) if entity.use == "heading" else tuple(entity.points[0])


def _told(entity: Outline | Label, as_drawn: bool) -> str:
    if isinstance(entity, Label):
        # Programs write a caret, and blanks at the end of a line, in more than one way.
        text = without_time(re.sub(r"\^ *", "^", entity.text).strip())
        place = _steps((*entity.at, entity.height_mm)).tolist()
        return f"{entity.use} text {text!r} {place} {round(entity.turn_deg * 100) % 36000} {entity.centred}"
    if entity.arcs is not None:
        rows = np.column_stack((_steps(entity.arcs[:, :2]), np.rint(entity.arcs[:, 2] * 10.0**BULGE_DECIMALS)))
        rows = rows.astype(np.int64)
        return f"{entity.use} arcs {(rows if as_drawn else _chain_from_least(rows)).tolist()}"
    points = _steps(entity.points)
    if not as_drawn:
        points = _ring_from_least(points) if entity.closed else _way_from_least(points)
    return f"{entity.use} {'closed' if entity.closed else 'open'} {points.tolist()}"


def _steps(lengths) -> np.ndarray:
    return np.rint(np.asarray(lengths, dtype=np.float64) / COORDINATE_GRID_MM).astype(np.int64)


def _ring_from_least(points: np.ndarray) -> np.ndarray:
    """The ring counter-clockwise from its least point."""
    x, y = points.astype(np.float64).T
    if np.dot(x, np.roll(y, -1)) < np.dot(np.roll(x, -1), y):
        points = points[::-1]
    return np.roll(points, -int(np.lexsort(points.T[::-1])[0]), axis=0)


def _chain_from_least(rows: np.ndarray) -> np.ndarray:
    """The chain of arcs counter-clockwise from its least point."""
    x, y, _ = rows.astype(np.float64).T
    if np.dot(x, np.roll(y, -1)) < np.dot(np.roll(x, -1), y):
        rows = np.column_stack((rows[::-1, :2], -np.roll(rows[::-1, 2], -1)))
    return np.roll(rows, -int(np.lexsort(rows[:, 1::-1].T)[0]), axis=0)


def _way_from_least(points: np.ndarray) -> np.ndarray:
    return min(points, points[::-1], key=lambda way: way.tolist())


def _on_grid(label: Label) -> Label:
    x, y, height = rounded((*label.at, label.height_mm)).tolist()
    return replace(label, at=(x, y), height_mm=height, turn_deg=round(label.turn_deg, 2))


def _sum(texts: Iterable[str], digits: int) -> str:
    return hashlib.sha256("\n".join(sorted(texts)).encode()).hexdigest()[:digits]


def _rows(what: str, parts: Sequence[str], a_row: int) -> list[str]:
    return [f"{_PARTS} {what}: {', '.join(parts[i : i + a_row])}." for i in range(0, len(parts), a_row)]


def _is_row(entity: Outline | Label) -> TypeGuard[Label]:
    return isinstance(entity, Label) and entity.use == "legend" and entity.text.startswith(_PARTS)


def _below(entities: Iterable[Outline | Label], text: str) -> Label:
    """A line of text below the last one of the legend."""
    last = min((e for e in entities if isinstance(e, Label) and e.use == "legend"), key=lambda one: one.at[1])
    return _on_grid(replace(last, text=text, at=(last.at[0], last.at[1] - 1.7 * last.height_mm)))
