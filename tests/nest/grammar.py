"""Files made up by grammar, at the choice of hypothesis: nearly right, so that they reach deep into their reader.

A spoilt file (`mutations.py`) is a sound one with something wrong. These are put together from the words a format
knows, with values that fit, that nearly fit, and that do not fit at all. All data are invented.
"""

import csv
import io
import json
import types
import typing
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import StrEnum

import numpy as np
import openpyxl
from hypothesis import strategies as st
from mutations import TOKENS, VALUES, nudged, spoilt_json
from shapely.geometry import Polygon

from nest.edits.commands import COMMANDS, STEPS
from nest.plan import Plan
from nest.planfile import FORMAT


def _mostly(sound: st.SearchStrategy, odd: st.SearchStrategy) -> st.SearchStrategy:
    """What fits, and now and then what does not."""
    return st.integers(0, 24).flatmap(lambda drawn: odd if drawn == 13 else sound)


NUMBERS = st.one_of(
    st.sampled_from((0, 1, 2, 3, 10, 38, 90, 100, 0.5, 1.5, 12.0, 59.9, 1000, -1, -0.0, 1e-9, 1e6, 1e15, 1e308)),
    st.integers(-10, 2000), st.floats(-100.0, 3000.0, allow_nan=False),
)
_SOUND = st.sampled_from((
    "38", "39", "38.5", "38½", "left", "right", "pair", "cut", "uncut", "withdrawn", "calf", "plain", "knit", "A1",
    "H1", "V38", "dm2", "m2", "mm", "m", "yes", "no", "2026-03-31", "lost", "kept", "toe", "side", "back", "H", "box",
    "butt class 1 stretch 90", "scar severity 2 coverable", "mark width 2",
))
_PLAIN = st.text(st.characters(exclude_categories=("C",)), max_size=12)
WORDS = _mostly(_SOUND, st.one_of(st.sampled_from(TOKENS), _PLAIN, st.text(max_size=12)))
CELLS = st.one_of(WORDS, NUMBERS.map(str))


# --- DXF: pairs of a group code and a value ------------------------------------------------------

LAYERS = ("TEMPLATE", "AXIS", "PARTS", "HIDE", "ZONES", "FLAWS", "CUT", "MARK_AXIS", "REF_LEGEND", "0", "PHOTOGRAPH")
_POINT = st.tuples(st.integers(-50, 1100), st.integers(-50, 700))
_BOX = st.sampled_from(
    ((0, 0, 1000, 600), (10, 10, 40, 40), (0, 0, 160, 120), (500, 0, 1000, 600), (0, 0, 500, 600), (5, 5, 5, 6)))


def _tags(*pairs) -> str:
    return "".join(f"{code}\n{value}\n" for code, value in pairs)


@st.composite
def _entity(draw) -> str:
    kind = draw(st.sampled_from(("LWPOLYLINE", "LWPOLYLINE", "LINE", "TEXT", "TEXT", "CIRCLE", "ARC", "ELLIPSE",
                                 "SPLINE", "POINT", "INSERT", "MTEXT", "POLYLINE", "HATCH", "SOLID", "3DFACE")))
    pairs = [(0, kind), (8, draw(st.sampled_from(LAYERS)))]
    if kind in ("LWPOLYLINE", "SPLINE"):
        if draw(st.booleans()):
            x0, y0, x1, y1 = draw(_BOX)
            points = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        else:
            points = draw(st.lists(_POINT, max_size=9))
        closed = draw(st.integers(0, 1))
        if kind == "LWPOLYLINE":
            pairs += [(100, "AcDbEntity"), (100, "AcDbPolyline"), (90, len(points)), (70, closed)]
            for x, y in points:
                pairs += [(10, x), (20, y)]
                if draw(st.integers(0, 5)) == 0:
                    pairs.append((42, draw(NUMBERS)))
        else:
            pairs += [(100, "AcDbSpline"), (70, 8 + closed), (71, draw(st.integers(0, 5))), (73, len(points))]
            pairs += [(40, i) for i in range(draw(st.integers(0, 12)))]
            pairs += [tag for x, y in points for tag in ((10, x), (20, y), (30, 0))]
    else:
        (x, y), (u, v) = draw(_POINT), draw(_POINT)
        pairs += [(10, x), (20, y), (30, 0), (11, u), (21, v), (31, 0)]
        if kind in ("TEXT", "MTEXT"):
            pairs += [(40, draw(NUMBERS)), (1, draw(WORDS).replace("\n", " "))]
        elif kind == "INSERT":
            pairs += [(2, draw(st.sampled_from(("B1", "B2", "NONE")))), (41, draw(NUMBERS)), (42, draw(NUMBERS)),
                      (50, draw(NUMBERS)), (70, draw(st.integers(0, 4))), (71, draw(st.integers(0, 4)))]
        else:
            pairs += [(40, draw(NUMBERS)), (41, draw(NUMBERS)), (42, draw(NUMBERS)), (50, draw(NUMBERS)),
                      (51, draw(NUMBERS))]
    for _ in range(draw(st.integers(0, 2)) if draw(st.integers(0, 3)) == 0 else 0):
        at = draw(st.integers(0, len(pairs) - 1))
        pairs[at] = draw(st.sampled_from((
            (pairs[at][0], draw(CELLS)), (draw(st.integers(-5, 1071)), pairs[at][1]), pairs[0],
        )))
    return _tags(*pairs)


@st.composite
def dxf(draw) -> bytes:
    """A drawing: header, blocks and entities, each as it may be."""
    version = draw(st.sampled_from(("AC1009", "AC1015", "AC1032")))
    head = _tags((0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, version), (9, "$INSUNITS"),
                 (70, draw(st.sampled_from((4, 4, 4, 1, 0, 99, "x")))), (0, "ENDSEC"))
    blocks = "".join(
        _tags((0, "BLOCK"), (8, "0"), (2, name), (70, 0), (10, 0), (20, 0), (30, 0), (3, name))
        + "".join(draw(st.lists(_entity(), max_size=2))) + _tags((0, "ENDBLK"), (8, "0")) for name in ("B1", "B2")
    )
    body = "".join(draw(st.lists(_entity(), max_size=8)))
    parts = [head, _tags((0, "SECTION"), (2, "BLOCKS")) + blocks + _tags((0, "ENDSEC")),
             _tags((0, "SECTION"), (2, "ENTITIES")) + body + _tags((0, "ENDSEC"))]
    if draw(st.integers(0, 9)) == 0:
        parts.pop(draw(st.integers(0, 2)))
    return ("".join(parts) + _tags((0, "EOF"))).encode("utf-8", "surrogatepass")


# --- JSON: drawings of hides, plans, commands ----------------------------------------------------

_RINGS = _mostly(
    _BOX.map(lambda b: [[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]], [b[0], b[1]]]),
    st.one_of(st.lists(_POINT.map(list), max_size=8), st.sampled_from(VALUES)),
)


@st.composite
def _geometry(draw):
    kind = draw(st.sampled_from(("Polygon", "Polygon", "MultiPolygon", "LineString", "Point", "Curve")))
    data = {
        "Polygon": st.lists(_RINGS, max_size=3), "MultiPolygon": st.lists(st.lists(_RINGS, max_size=2), max_size=2),
        "LineString": _RINGS, "Point": st.one_of(_POINT.map(list), st.sampled_from(VALUES)),
    }.get(kind, st.sampled_from(VALUES))
    sound = st.just({"type": kind, "coordinates": draw(data)})
    return draw(_mostly(sound, st.sampled_from(VALUES[-6:])))


@st.composite
def geojson(draw) -> bytes:
    """A hide by RFC 7946, more or less."""
    def feature(part):
        known = {"zone": {"class": 1, "stretch_deg": 90.0, "name": "butt"},
                 "flaw": {"kind": "scar", "severity": 2, "tears": True, "width_mm": 3.0}}.get(part, {})
        more = {key: draw(_mostly(st.just(value), st.sampled_from(VALUES))) for key, value in known.items()}
        return {"type": "Feature", "properties": {"part": part} | more, "geometry": draw(_geometry())}

    parts = draw(st.lists(_mostly(st.sampled_from(("zone", "flaw")), st.sampled_from(("hide", "", None))), max_size=5))
    data = {"type": "FeatureCollection", "features": [feature(part) for part in parts]}
    if draw(st.integers(0, 9)):
        data["features"].insert(0, {"type": "Feature", "properties": {"part": "hide"}, "geometry": {
            "type": "Polygon", "coordinates": [[[0, 0], [1000, 0], [1000, 600], [0, 600], [0, 0]]]}})
    for key in draw(st.sets(st.sampled_from(("unit", "photograph", "outline_within_mm", "bbox")), max_size=1)):
        data[key] = draw(_mostly(st.sampled_from(("mm", "cm", "a.jpg", 1.5)), st.sampled_from(VALUES)))
    return json.dumps(data).encode()


_HINTS: dict[type, dict] = {}


def _of_type(kind, depth: int = 0) -> st.SearchStrategy:
    """JSON data for a declared type of a plan, mostly of the right kind."""
    members = typing.get_args(kind) if isinstance(kind, types.UnionType) else (kind,)
    first = members[0]
    if is_dataclass(first):
        hints = _HINTS.setdefault(first, typing.get_type_hints(first))
        made = st.fixed_dictionaries({one.name: _of_type(hints[one.name], depth + 1) for one in fields(first)})
    elif typing.get_origin(first) is tuple:
        kinds = typing.get_args(first)
        made = (
            st.lists(_of_type(kinds[0], depth + 1), max_size=2) if len(kinds) == 2 and kinds[1] is Ellipsis
            else st.tuples(*(_of_type(one, depth + 1) for one in kinds)).map(list)
        )
    elif first is np.ndarray:
        made = _BOX.map(lambda b: [[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]]])
    elif first is Polygon:
        made = _BOX.map(lambda b: {"type": "Polygon", "coordinates": [
            [[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]], [b[0], b[1]]]]})
    elif isinstance(first, type) and issubclass(first, StrEnum):
        made = st.sampled_from([one.value for one in first])
    else:
        made = {
            Decimal: _mostly(st.sampled_from(("1", "44.50", "0")), st.sampled_from(("-1", "1e5", "NaN", "150"))),
            str: WORDS, bool: st.booleans(), int: _mostly(st.integers(0, 40), st.just(-1)),
            float: _mostly(st.sampled_from((0.0, 1.0, 12.0, 50.0)), NUMBERS.map(float)),
        }.get(first, st.sampled_from(VALUES))
    return st.one_of(made, st.none()) if type(None) in members else made


PLANS = _of_type(Plan).map(lambda data: json.dumps({"format": FORMAT, "schema": 1} | data).encode())
"""A plan file with fields of the right types and any values."""


_LOOP = [[20, 300], [60, 300], [60, 340], [20, 340]]
STEPS_OF_A_DAY = json.dumps([
    {"do": "mark_flaw", "hide": "H1", "kind": "scar", "severity": 2, "points": [[900, 450]], "width_mm": 6},
    {"do": "mark_zone", "hide": "H1", "quality": 2, "stretch_deg": 80, "points": _LOOP},
    {"do": "hold", "hide": "H1", "numbers": [1]}, {"do": "free", "hide": "H1", "numbers": [1]},
    {"do": "move", "hide": "H1", "number": 2, "x": 352, "y": 72, "heading_deg": 1},
    {"do": "name", "name": "before noon"}, {"do": "undo"}, {"do": "redo"},
    {"do": "take_out", "hide": "H1", "number": 4},
    {"do": "put_in", "hide": "H1", "piece": "V38", "x": 810, "y": 330, "heading_deg": 0},
    {"do": "trim_edge", "hide": "H1", "points": [[980, 480], [1001, 480], [1001, 501], [980, 501]]},
    {"do": "cut", "hide": "H1", "numbers": [1, 2]}, {"do": "cut_lay", "lay": "L1", "plies": 1},
    {"do": "pressed", "hide": "H1", "numbers": [1], "outcome": "good", "toe_mm": 9.5, "day": "2026-03-31"},
    {"do": "spoiled", "hide": "H1", "numbers": [2]}, {"do": "go_to", "name": "before noon"},
])
"""Commands that can all be done with the plan of `tiny_plans`."""


@st.composite
def commands(draw) -> bytes:
    """Commands for a plan: sound ones with a few values changed, or fields of the right types with any values."""
    match draw(st.integers(0, 3)):
        case 0:
            return draw(spoilt_json(STEPS_OF_A_DAY)).encode()
        case 1 | 2:
            return draw(nudged(STEPS_OF_A_DAY)).encode()
    steps = []
    for word in draw(st.lists(st.sampled_from(sorted(COMMANDS | STEPS)), min_size=1, max_size=3)):
        data = draw(_of_type((COMMANDS | STEPS)[word]))
        for key in list(data):
            if draw(st.integers(0, 30)) == 13:
                data[key] = draw(st.sampled_from(VALUES))
        steps.append({"do": word} | data)
    return json.dumps(steps).encode()


# --- TOML ----------------------------------------------------------------------------------------

_SECTIONS = {
    "": ("name", "order", "hides", "unit", "unit_prevails", "stretch"),
    "settings": ("seed", "seconds", "hide_gap_mm", "edge_margin_mm", "currency", "dxf_version", "reject_pairs"),
    "[leather]": ("name", "price", "price_unit", "price_by_class", "breaks", "one_way", "mean_hide_dm2"),
    "[roll]": ("name", "width_mm", "length_m", "weight_g_m2", "price_per_m", "stretch", "selvedge_mm", "splices_m"),
    "[rate]": ("currency", "date", "rate"),
    "[style]": ("name", "leather", "roll", "template", "templates", "thickness_mm", "reject_percent", "notes"),
    "style.grading": ("system", "base_size", "length_step_mm"),
    "style.allowances": ("toe_mm", "side_mm", "back_mm", "least_toe_mm", "by_size", "blend_mm"),
    "style.rules": ("tolerance_deg", "bias_leave", "net_quality", "trim_quality"),
    "table": ("origin", "turn_deg", "unit", "files", "layers", "tool_radius_mm", "cut_mm_s", "grain_down", "curve_mm"),
    "costing": ("labour_per_hour", "freight_percent", "pairs_per_year", "candidates", "margin_percent"),
    "layers": ("template_outline", "parts_by_angle_deg"), "odd": ("x",),
    "[leathers]": ("name", "instead"), "[allowances]": ("name", "style", "toe_more_mm"),
}
_TOML_VALUES = st.one_of(
    st.sampled_from(("1", "12", "38", "0.5", '"38"', '"plain"')),
    NUMBERS.map(lambda x: f"{x}"), st.booleans().map(lambda x: str(x).lower()),
    st.sampled_from(('"plain"', '"calf"', '"knit"', '"m2"', '"order.csv"', '"hides.csv"', '"plain.dxf"', '"38"', "[]",
                     "{}", '{ "38" = 3 }', '{ calf = ["calf"] }', "[1, 2]", '["a", "b"]', "2026-11-02", "nan", "-inf",
                     '"../x"', '"""a\nb"""', "1979-05-27T07:32:00Z", "0xff", '{ "42" = { toe_mm = 15 } }', "[[[]]]")),
    WORDS.map(lambda text: json.dumps(text, ensure_ascii=True).replace("\\ud800", "")),
)


@st.composite
def toml(draw, sound: str = "") -> bytes:
    """A job file, a table or a scenarios file: after `sound` text, sections with keys and any values."""
    lines = [sound]
    for section in draw(st.lists(st.sampled_from(sorted(_SECTIONS)), max_size=5)):
        if section:
            lines.append(f"[{section}]")
        keys = draw(st.lists(st.sampled_from(_SECTIONS[section]), max_size=5, unique=True))
        lines += [f"{key} = {draw(_TOML_VALUES)}" for key in keys]
    return "\n".join(lines).encode("utf-8", "surrogatepass")


# --- tables --------------------------------------------------------------------------------------

TABLES = {
    "order": ("style,size,pairs,due,priority", "plain,37,4,2026-03-31,1", "plain,38,6,,", "plain,39,3,,2"),
    "hides": ("id,file,leather,class,thickness_mm,area,unit,price,price_unit,stretch_deg",
              "A1,a1.dxf,calf,1,1.4,59.9,dm2,,,", "A2,a1.dxf,calf,2,1.3,60,dm2,40,m2,",
              "A3,a1.dxf,calf,1,1.4,0.6,m2,,,"),
    "cut": ("material,state,used,unit,cutter", "H1,cut,50,dm2,Ann"),
    "spoiled": ("size,style,side,pieces,reinforcement", "38,box,,1,kept"),
    "points": ("point,x,y", "P1,0,0", "P2,900,0", "P3,0,400"),
    "readings": ("material,zone,angle_deg,extension_percent,strip", "A1,butt,0,5,1", "A1,butt,45,8,2",
                 "A1,butt,90,12,3", "A1,butt,135,8,4", "knit,,0,5,1", "knit,,60,9,1", "knit,,120,9,1"),
    "outcomes": ("hide,piece,size,outcome,toe_mm,left_mm,date,reinforcement,remark",
                 "H1,1,38,good,9.5,3,2026-03-31,,", "H1,2,38,pleats,,,2026-03-31,kept,by the toe",
                 "H1,others,,good,,,,,"),
    "record": ("date,plan,id,style,size,side,part,leather,lot,hide,piece,allowance_mm,trim_mm",
               "2026-03-31,box,a,box,38,left,toe,calf,A,H1,1,12,3.5", "2026-04-01,box,b,box,38,,side,calf,,H1,1,12,4"),
    "counted": ("id,length_m", "H1,", "R1,12.5"),
}
"""A sound list of every kind, headings first."""


@st.composite
def rows(draw, what: str) -> list[list[str]]:
    """A sound list, its columns in any order; rows of it doubled or gone, cells nudged or replaced, headings too."""
    table = [line.split(",") for line in TABLES[what]]
    columns = draw(st.permutations(range(len(table[0]))))
    table = [[row[at] for at in columns] for row in table]
    for _ in range(draw(st.integers(0, 3))):
        number = draw(st.integers(1 if draw(st.integers(0, 4)) else 0, len(table) - 1))
        row = table[number]
        at = draw(st.integers(0, len(row) - 1))
        match draw(st.sampled_from(("nudge", "nudge", "cell", "cell", "swap", "double", "gone", "short"))):
            case "nudge":
                row[at] = draw(nudged(row[at]))
            case "cell":
                row[at] = draw(CELLS)
            case "swap":
                row[at] = draw(st.sampled_from([one for one in table if len(one) > at]))[at]
            case "double":
                table.append(list(row))
            case "gone" if number and len(table) > 2:
                del table[number]
            case "short":
                table[number] = row[:max(1, at)]
    return table


@st.composite
def csv_text(draw, what: str) -> bytes:
    """A list as CSV, by any separator."""
    stream, found = io.StringIO(), draw(rows(what))
    ending = draw(st.sampled_from(("\n", "\r\n")))
    csv.writer(stream, delimiter=draw(st.sampled_from(",;\t")), lineterminator=ending).writerows(found)
    return (draw(st.sampled_from(("", "\ufeff"))) + stream.getvalue()).encode("utf-8", "surrogatepass")


@st.composite
def xlsx(draw, what: str) -> bytes:
    """A list as a workbook, with numbers, dates, truth and formulas among its cells."""
    book, table = openpyxl.Workbook(), [list(row) for row in draw(rows(what))]
    formulas = st.sampled_from(("=1+1", "=A1", "#N/A"))
    for _ in range(draw(st.integers(0, 2))):
        cells = draw(st.sampled_from(table))
        odd = st.one_of(NUMBERS, st.booleans(), st.none(), st.datetimes(), st.dates(), formulas)
        cells[draw(st.integers(0, len(cells) - 1))] = draw(odd)
    for cells in table:
        try:
            book.active.append(cells)
        except (ValueError, openpyxl.utils.exceptions.IllegalCharacterError):
            continue
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


# --- the export of a ledger ----------------------------------------------------------------------


@st.composite
def export(draw, sound: dict[str, str]) -> dict[str, bytes]:
    """The files of an export, one of them with cells, rows or headings changed, or gone."""
    files = {name: text.encode() for name, text in sound.items()}
    for _ in range(draw(st.integers(1, 2))):
        name = draw(st.sampled_from(sorted(sound)))
        table = list(csv.reader(io.StringIO(sound[name])))
        for _ in range(draw(st.integers(1, 3))):
            row = draw(st.sampled_from(table))
            match draw(st.sampled_from(("cell", "cell", "cell", "cell", "row", "short", "none"))):
                case "cell" if row:
                    row[draw(st.integers(0, len(row) - 1))] = draw(st.one_of(CELLS, st.just("\\N"), st.just("1")))
                case "row":
                    table.append(list(row))
                case "short":
                    del row[1:]
        stream = io.StringIO()
        csv.writer(stream).writerows(table)
        files[name] = stream.getvalue().encode("utf-8", "surrogatepass")
        if draw(st.integers(0, 9)) == 0:
            del files[name]
        elif draw(st.integers(0, 9)) == 0:
            files[name] = files[name][: draw(st.integers(0, len(files[name])))] + draw(st.binary(max_size=6))
    return files
