"""The picture on a lay sheet: the strip, in rows where it is long, with style, size and foot in each piece."""

from collections import Counter
from collections.abc import Iterable, Mapping
from itertools import product
from string import ascii_lowercase
from types import MappingProxyType

import numpy as np
import shapely

from nest.cutplan.sizes import by_number, sizes_in_order
from nest.cutplan.work import Work
from nest.pieces.piece import Foot, Piece
from nest.plan import Lay, Plan
from nest.report import palette
from nest.sheets.hidepicture import STRETCH
from nest.sheets.page import INK, LEAST_SIZE, QUIET, Box, Page, width
from nest.sheets.spots import Spots
from nest.sheets.view import View, arrow, fills, write_in
from nest.stock.material import Roll

_BETWEEN = 20.0
"""Between the rows of a long strip, points: the metres stand there."""

KEY_HIGH = 12.0
"""Room for the key of colours below the rows."""

Kind = tuple[str, str, Foot]
"""Style, size and foot."""

_MOST_ROWS = 12
_SIDE = 26.0

ADHESIVE = "#d55e00"
"""Its dashes in the section of a spread."""

_MARK_MM = 500.0


def rows_for(length_mm: float, width_mm: float, room: Box) -> tuple[int, float]:
    """In how many rows a strip is shown largest, and its scale, points a mm."""
    wide, high = room.x1 - room.x0 - 2.0 * _SIDE, room.y1 - room.y0 - KEY_HIGH
    found = [
        (min(wide / (length_mm / rows), (high - rows * _BETWEEN) / (rows * width_mm)), -rows)
        for rows in range(1, _MOST_ROWS + 1)
    ]
    scale, rows = max(found)
    return -rows, scale


def kinds_of(plan: Plan, lay: Lay) -> dict[Kind, int]:
    """How many pieces of each kind lie in a ply: by style, size and foot."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    placed = [pieces[one.piece_id] for one in lay.placed]
    counted = Counter((piece.style, piece.size, piece.foot) for piece in placed)
    styles = list(dict.fromkeys(piece.style for piece in placed))
    rank = {size: i for i, size in enumerate(by_number(sizes_in_order(plan)))}
    return dict(sorted(counted.items(), key=lambda one: (styles.index(one[0][0]), rank[one[0][1]], one[0][2])))


def kind_words(kind: Kind, kinds: Iterable[Kind]) -> str:
    """A kind in few letters: a letter of the style where there are several, size, foot."""
    styles = list(dict.fromkeys(style for style, _, _ in kinds))
    letter = f"{style_letter(styles.index(kind[0]))} " if len(styles) > 1 else ""
    return letter + kind[1] + {Foot.LEFT: " L", Foot.RIGHT: " R"}.get(kind[2], "")


def style_letter(i: int) -> str:
    """A, B ... Z, and from the start again."""
    return chr(ord("A") + i % 26)


def keys_of(plan: Plan, lay: Lay) -> dict[Kind, str]:
    """A small letter for each kind, the slimmest first, and two for those beyond the alphabet."""
    wide: dict[Kind, float] = {}
    for piece in {one.piece_id: plan.piece(one.piece_id) for one in lay.placed}.values():
        wide.setdefault((piece.style, piece.size, piece.foot), _room(piece))
    # Mirror images are as wide to the last digit but one, and stay side by side.
    kinds = sorted(kinds_of(plan, lay), key=lambda kind: round(wide[kind], 2))
    return dict(zip(kinds, [*ascii_lowercase, *map("".join, product(ascii_lowercase, repeat=2))], strict=False))


def _room(piece: Piece) -> float:
    """Radius of the largest circle in a piece, mm."""
    return float(shapely.length(shapely.maximum_inscribed_circle(shapely.polygons(piece.cut_outline), tolerance=0.5)))


def draw_lay_picture(
    page: Page, room: Box, plan: Plan, lay: Lay, roll: Roll, work: Work,
    keys: Mapping[Kind, str] = MappingProxyType({}),
) -> tuple[float, int]:
    """Draw the strip in its own direction, from its start; returns the scale, points a mm, and how many lack a name.

    The strip is shown along its length whatever way it is turned on the table. Pieces too small for their words have
    their key, if there are `keys`.
    """
    count, scale = rows_for(lay.length_mm, roll.usable_width_mm, room)
    each = lay.length_mm / count
    colours, pieces = fills(sizes_in_order(plan)), {piece.piece_id: piece for piece in plan.pieces}
    kinds, unnamed = kinds_of(plan, lay), 0
    rings = [one.pose.apply(pieces[one.piece_id].cut_outline) for one in lay.placed]
    boxes = np.array([(*ring.min(axis=0), *ring.max(axis=0)) for ring in rings]).reshape(-1, 4)
    middles = 0.5 * (boxes[:, 0] + boxes[:, 2])
    for row in range(count):
        start, end = row * each, (row + 1) * each
        top = room.y0 + row * (scale * roll.usable_width_mm + _BETWEEN)
        view = View(scale, room.x0 + _SIDE - scale * start, top + scale * roll.usable_width_mm)
        strip = shapely.box(start, 0.0, end, roll.usable_width_mm)
        page.rings(view.rings(strip), fill=palette.ZONES[0], colour=None)
        spots = Spots(Box(room.x0, top, room.x1, top + scale * roll.usable_width_mm + _BETWEEN))
        for i in np.flatnonzero((boxes[:, 2] > start) & (boxes[:, 0] < end)):
            piece = pieces[lay.placed[i].piece_id]
            shown = shapely.intersection(shapely.polygons(rings[i]), strip)
            page.rings(view.rings(shown), fill=colours[piece.size], thick=0.5)
            if start <= middles[i] < end or (row == count - 1 and middles[i] >= end):
                kind = piece.style, piece.size, piece.foot
                stacks = _stacks(kind_words(kind, kinds), keys.get(kind))
                unnamed += not write_in(page, spots, view.region(shown), stacks)
        _edges(page, view, start, end, roll, row, count, length=lay.length_mm)
        if row == 0:
            _stretch(page, room, top, scale, roll)
    said = f"{unnamed} pieces are too small for a name" if unnamed and keys else ""
    _key(page, room, row_bottom(room, count, scale, roll), plan, {size for _, size, _ in kinds}, said)
    return scale, unnamed


def _stacks(words: str, key: str | None) -> list[list[tuple[str, float, bool]]]:
    """Ways to name a piece, the best first."""
    shown = [(words, 10.0, True), (words, 8.5, True), (words, LEAST_SIZE, True), (words, LEAST_SIZE, False)]
    if key is not None:
        shown += [(key, 8.5, True), (key, LEAST_SIZE, True), (key, LEAST_SIZE, False)]
    return [[one] for one in shown]


def row_bottom(room: Box, count: int, scale: float, roll: Roll) -> float:
    """Where the last row of a picture ends, its metres included."""
    return room.y0 + count * (scale * roll.usable_width_mm + _BETWEEN)


def _key(page: Page, room: Box, y: float, plan: Plan, used: set[str], said: str) -> None:
    """The colour of each size, and what else is to be said of the picture."""
    colours, x = fills(sizes_in_order(plan)), room.x0 + _SIDE
    for size, fill in colours.items():
        if size in used and x + 22.0 + width(size, LEAST_SIZE) < room.x1:
            page.rectangle(x, y - 1.0, 12.0, 8.0, fill=fill, thick=0.5)
            x = page.text(x + 15.0, y - 0.5, size, LEAST_SIZE).x1 + 10.0
    if said and x + width(said, LEAST_SIZE) < room.x1:
        page.text(x, y - 0.5, said, LEAST_SIZE)


def _edges(
    page: Page, view: View, start: float, end: float, roll: Roll, row: int, count: int, *, length: float
) -> None:
    """Selvedges thick, ends of the strip closed, breaks between rows dashed; metres below."""
    wide = roll.usable_width_mm
    for y in (0.0, wide):
        page.line(view.of(((start, y), (end, y))), thick=1.4)
    for x, open_ in ((start, row > 0), (end, row < count - 1)):
        page.line(view.of(((x, 0.0), (x, wide))), thick=0.6 if open_ else 1.4, dashes=(3.0, 2.0) if open_ else ())
    marks = np.arange(_MARK_MM * np.ceil(start / _MARK_MM - 1e-9), end + 1e-6, _MARK_MM)
    for x in marks:
        at = view.of(((x, 0.0),))[0]
        page.line((at, (at[0], at[1] + 3.0)), thick=0.5)
        if min(x - start, end - x) * view.scale > 36.0:
            page.text(at[0], at[1] + 4.0, f"{x / 1000.0:g} m", LEAST_SIZE, align="middle")
    for x, said in ((start, True), (end, row == count - 1)):
        if said:
            at = view.of(((x, 0.0),))[0]
            page.text(at[0], at[1] + 4.0, f"{min(x, length) / 1000.0:.3f} m", LEAST_SIZE, bold=True, align="middle")


def _stretch(page: Page, room: Box, top: float, scale: float, roll: Roll) -> None:
    """The direction of most stretch of the goods, beside the first row."""
    angle = np.radians(roll.stretch_deg)
    way = 10.0 * np.array((np.cos(angle), -np.sin(angle)))
    middle = np.array((room.x1 - 0.5 * _SIDE, top + min(0.5 * scale * roll.usable_width_mm, 40.0)))
    arrow(page, middle - way, middle + way, both=True, colour=STRETCH, thick=1.3)
    page.text(room.x1, middle[1] + 14.0, "most", LEAST_SIZE, colour=STRETCH, align="right")
    page.text(room.x1, middle[1] + 22.0, "stretch", LEAST_SIZE, colour=STRETCH, align="right")


def draw_plies(page: Page, x: float, y: float, roll: Roll, plies: int) -> None:
    """A section through the spread: plies, no more than three, and on which side of each its adhesive is."""
    wide, step = 120.0, 10.0
    shown = min(plies, 3)
    for ply in range(shown):
        at = y + 8.0 + ply * step
        page.line(((x, at), (x + wide, at)), thick=1.6, colour=INK)
        if roll.adhesive_one_side:
            for dot in np.arange(x + 4.0, x + wide - 2.0, 6.0):
                page.line(((dot, at - 3.0), (dot + 2.5, at - 3.0)), thick=1.6, colour=ADHESIVE)
    bed = y + 8.0 + shown * step
    page.line(((x - 4.0, bed), (x + wide + 4.0, bed)), thick=2.6, colour=QUIET)
    words = "adhesive (dashes) above each ply" if roll.adhesive_one_side else "no adhesive side"
    page.text(x + wide + 8.0, y + 1.0, words, LEAST_SIZE)
    page.text(x + wide + 8.0, bed - 3.5, "table", LEAST_SIZE)
