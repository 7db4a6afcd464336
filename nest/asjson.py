"""Dataclasses of a plan as JSON, and back: every field in its declared order.

Rings are lists of [x, y] in mm, regions GeoJSON geometry objects (RFC 7946, section 3.1, but in mm), both on the
coordinate grid; money is a string.
"""

import functools
import json
import math
import types
import typing
from dataclasses import MISSING, fields, is_dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon, mapping, shape

from geometry.polygon import snapped
from geometry.pose import Pose
from geometry.precision import COORDINATE_GRID_MM, GeometryError, as_ring
from nest.errors import InputProblems, PlanProblem, Problem
from nest.job.job import Settings
from nest.limits import (
    LARGEST_COORDINATE,
    LARGEST_NUMBER,
    MOST_DECIMALS,
    MOST_DIGITS,
    MOST_PLAN_VALUES,
    MOST_PROBLEMS,
)
from nest.pieces.quantities import RejectPairs
from nest.plainfile import BadJson, parsed_json
from nest.text import hidden_in
from nest.units import TABLE_UNITS

_DECIMALS = round(-math.log10(COORDINATE_GRID_MM))
REMEDY = "restore the file from the output folder of its run, or plan again"
_AS_MANY = {"Template": ("parts", "outline"), "HideLayout": ("numbers", "placed")}
"""By class: a field that has as many entries as another one, if it has any."""

_ABOVE_0 = (lambda value: value > 0.0, "a number above 0")
_ABOVE_0_OR_NONE = (lambda value: value is None or value > 0.0, "a number above 0, or null")
_FIT = {
    "CuttingTable": {
        "unit": (TABLE_UNITS.__contains__, f"one of {', '.join(TABLE_UNITS)}"),
        "cut_mm_s": _ABOVE_0, "mark_mm_s": _ABOVE_0, "travel_mm_s": _ABOVE_0,
        "accel_mm_s2": _ABOVE_0_OR_NONE, "length_mm": _ABOVE_0_OR_NONE, "width_mm": _ABOVE_0_OR_NONE,
    },
    "Costing": {"margin_percent": (lambda value: value is None or 0 <= value < 100, "a percentage below 100, or null")},
    "Rules": {"tolerance_deg": (lambda value: 0.0 <= value <= 90.0, "a number from 0 to 90")},
}
"""By class: fields that no drawing and no search can do with any value for, what they may be, and that in words."""

_BEFORE = {(Settings, "reject_pairs"): RejectPairs.BY_SIZE}
"""What a field that is missing stands for, where older plans were made by another rule than today's default."""

_UNSAID = {"PlannedStyle": ("thickness_mm", "weight_table", "crimping")}
"""By class: fields that are left out while they say nothing, so that plans made before them keep their text and id."""

_BAD = object()
"""Stands for a value that could not be read; its problem has been noted."""


def record_text(kind: type, value) -> str:
    """The text of one dataclass as it stands in the file of a plan; errors as `nest.planfile.write_plan`."""
    return json_text(encoded(kind, value, kind.__name__.lower()))


def record_from_text(kind: type, text: str, where: str, remedy: str = REMEDY):
    """What `record_text` wrote; errors as `nest.planfile.read_plan`, with how to mend them."""
    try:
        data = parsed_json(text, MOST_PLAN_VALUES)
    except BadJson as error:
        raise PlanProblem(f"{where}: it is damaged ({error}).") from error
    return decoded(kind, data, where, remedy)


def decoded(kind: type, data, where: str, remedy: str = REMEDY):
    """The value of declared type `kind` in `data`; InputProblems, with how to mend them, if there is none."""
    problems = _Problems(remedy)
    try:
        found = _decode(kind, data, where, problems)
    except _Enough:
        raise InputProblems(problems, None) from None
    if problems:
        raise InputProblems(problems)
    return found


class _Enough(Exception):
    """There are more problems than are reported."""


class _Problems(list[Problem]):
    """Collects as many problems as are reported, and stops there; all have one remedy."""

    def __init__(self, remedy: str):
        super().__init__()
        self._remedy = remedy

    def note(self, where: str, expected: str, found: str) -> None:
        """One more."""
        self.append(Problem(where, expected, found, self._remedy))
        if len(self) >= MOST_PROBLEMS:
            raise _Enough


def json_text(value) -> str:
    """The JSON text of plain data, on one line."""
    return json.dumps(value, allow_nan=False, ensure_ascii=False)


_hints = functools.cache(typing.get_type_hints)
"""Declared types of a dataclass by field; to find them takes longer than to write a small one."""


def _members(kind) -> tuple:
    """The alternatives of a union, or the type alone."""
    return typing.get_args(kind) if isinstance(kind, types.UnionType) else (kind,)


def _item_kinds(kind, length: int) -> tuple | None:
    """Types of the items of a tuple type, for a list of this length; None if the length does not fit."""
    kinds = typing.get_args(kind)
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return (kinds[0],) * length
    return kinds if len(kinds) == length else None


# --- writing -------------------------------------------------------------------------------------


def encoded(kind, value, where):
    """`value` of declared type `kind` as JSON data."""
    members = _members(kind)
    if value is None and type(None) in members:
        return None
    kind = members[0]
    if is_dataclass(kind):
        hints = _hints(kind)
        unsaid = _UNSAID.get(kind.__name__, ())
        data = {
            f.name: encoded(hints[f.name], getattr(value, f.name), f"{where}.{f.name}") for f in fields(kind)
            if f.name not in unsaid or getattr(value, f.name) != f.default
        }
        if kind is Pose:
            data |= {axis: round(data[axis], _DECIMALS) + 0.0 for axis in ("x", "y")}
        return data
    if typing.get_origin(kind) is tuple:
        kinds = _item_kinds(kind, len(value))
        return [encoded(k, v, f"{where}[{i}]") for i, (k, v) in enumerate(zip(kinds, value, strict=True))]
    if kind is np.ndarray:
        return _ring_data(value, where)
    if kind is Polygon:
        return _region_data(value, where)
    if kind is Decimal:
        if not value.is_finite():
            raise PlanProblem(f"{where}: {value} is not an amount; the plan was not written.")
        return str(value)
    if kind is float:
        if not math.isfinite(value):
            raise PlanProblem(f"{where}: {value} is not a number; the plan was not written.")
        return float(value) + 0.0
    if kind is str and (hidden := hidden_in(value)):
        raise PlanProblem(f"{where}: the text holds {hidden}; the plan was not written.")
    return kind(value)


def _ring_data(ring, where) -> list:
    try:
        ring = as_ring(np.round(ring, _DECIMALS) + 0.0)
    except GeometryError as error:
        raise PlanProblem(f"{where}: {error}; the plan was not written.") from error
    if not shapely.is_valid(shapely.polygons(ring)):
        raise PlanProblem(f"{where}: expected a simple outline on the grid; the plan was not written.")
    return ring.tolist()


def _region_data(region, where) -> dict:
    region = shapely.force_2d(region)
    if not np.isfinite(shapely.get_coordinates(region)).all():
        raise PlanProblem(f"{where}: a coordinate is not a number; the plan was not written.")
    rounded = _rounded(region)
    if not rounded.is_valid:
        # Rounding made two edges meet: snap the whole outline, which keeps it valid.
        rounded = _rounded(snapped(region, COORDINATE_GRID_MM))
    if rounded.is_empty or not rounded.is_valid or not isinstance(rounded, (Polygon, MultiPolygon)):
        raise PlanProblem(f"{where}: expected a valid region on the grid; the plan was not written.")
    return mapping(rounded)


def _rounded(region):
    return shapely.transform(region, lambda xy: np.round(xy, _DECIMALS) + 0.0)


# --- reading -------------------------------------------------------------------------------------


def _decode(kind, data, where, problems):
    """The value of declared type `kind` in `data`, or _BAD with the problem noted."""

    def bad(expected):
        text = _clipped(data)
        problems.note(where, expected, text)
        return _BAD

    members = _members(kind)
    if data is None and type(None) in members:
        return None
    kind = members[0]
    if is_dataclass(kind):
        return _decode_fields(kind, data, where, problems) if isinstance(data, dict) else bad("an object")
    if typing.get_origin(kind) is tuple:
        kinds = _item_kinds(kind, len(data)) if isinstance(data, list) else None
        if kinds is None:
            return bad("a list of the right length")
        items = [_decode(k, v, f"{where}[{i}]", problems) for i, (k, v) in enumerate(zip(kinds, data, strict=True))]
        return _BAD if any(item is _BAD for item in items) else tuple(items)
    if kind is np.ndarray:
        return _decode_ring(data, bad)
    if kind is Polygon:
        region = _decode_region(data, bad)
        if isinstance(region, MultiPolygon) and MultiPolygon not in members:
            return bad("one polygon")
        return region
    if kind is Decimal:
        try:
            amount = Decimal(data) if isinstance(data, str) else None
        except InvalidOperation:
            amount = None
        return amount if amount is not None and _is_amount(amount) else bad("an amount as a string")
    if kind is float:
        # 0.0 added makes of -0.0 the 0 that it is.
        return float(data) + 0.0 if _is_number(data) else bad("a number")
    if kind is int:
        return data if type(data) is int and _is_number(data) else bad("a whole number")
    if issubclass(kind, StrEnum):
        return kind(data) if data in list(kind) else bad("one of " + ", ".join(kind))
    if kind is str and type(data) is str and (hidden := hidden_in(data)):
        return bad(f"text without {hidden}")
    return data if type(data) is kind else bad({str: "text", bool: "true or false"}[kind])


def _decode_fields(kind, data, where, problems):
    hints = _hints(kind)
    for name in sorted(data.keys() - hints.keys()):
        problems.note(f"{where}.{name}", "no such field", "it")
    values = {}
    for field in fields(kind):
        if field.name in data:
            values[field.name] = _decode(hints[field.name], data[field.name], f"{where}.{field.name}", problems)
        elif (kind, field.name) in _BEFORE:
            values[field.name] = _BEFORE[kind, field.name]
        elif field.default is MISSING:
            problems.note(f"{where}.{field.name}", "a value", "none")
            values[field.name] = _BAD
    if any(value is _BAD for value in values.values()):
        return _BAD
    for name, (fits, expected) in _FIT.get(kind.__name__, {}).items():
        if name in values and not fits(values[name]):
            problems.note(f"{where}.{name}", expected, _clipped(values[name]))
    if kind.__name__ in _AS_MANY:
        name, other = _AS_MANY[kind.__name__]
        if values.get(name) and len(values[name]) != len(values[other]):
            found = str(len(values[name]))
            problems.note(f"{where}.{name}", f"as many as {other}, {len(values[other])}", found)
    return kind(**values)


def _decode_ring(data, bad):
    if not _is_points(data):
        return bad("an outline: a list of [x, y] in mm")
    try:
        ring = as_ring(data)
    except GeometryError as error:
        return bad(f"an outline ({error})")
    if not np.array_equal(ring, np.array(data)) or not shapely.is_valid(shapely.polygons(ring)):
        return bad("a simple outline, counter-clockwise, not closed, no point repeated")
    return ring


def _decode_region(data, bad):
    expected = "a valid region: a GeoJSON Polygon or MultiPolygon in mm"
    kind, coordinates = (data.get("type"), data.get("coordinates")) if isinstance(data, dict) else (None, None)
    parts = coordinates if kind == "MultiPolygon" else [coordinates] if kind == "Polygon" else []
    if not isinstance(parts, list) or not parts or not all(_is_rings(part) for part in parts):
        return bad(expected)
    region = shape(data)
    return region if region.is_valid else bad(expected)


def _is_rings(data) -> bool:
    return (
        isinstance(data, list)
        and len(data) > 0
        and all(_is_points(ring) and len(ring) >= 4 and ring[0] == ring[-1] for ring in data)
    )


def _is_points(data) -> bool:
    return isinstance(data, list) and all(
        isinstance(point, list) and len(point) == 2 and all(type(x) in (int, float) for x in point)
        and max(map(abs, point)) <= LARGEST_COORDINATE
        for point in data
    )


def _is_number(value) -> bool:
    # Text like 1e999 reads as infinity, and a whole number may be too large for a float.
    return type(value) in (int, float) and abs(value) <= LARGEST_NUMBER


def _is_amount(value: Decimal) -> bool:
    # What an exponent spreads over millions of digits is exact for a fraction, which then takes the memory of them.
    exponent = value.as_tuple().exponent  # a letter where the value is not finite
    return isinstance(exponent, int) and value.adjusted() < MOST_DIGITS and exponent >= -MOST_DECIMALS


def _clipped(data) -> str:
    try:
        text = json.dumps(data, ensure_ascii=False, default=str)
    except RecursionError:
        return "lists within lists without end"
    return text if len(text) <= 40 else text[:37] + "..."
