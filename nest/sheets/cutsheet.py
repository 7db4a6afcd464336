"""The cut sheet of one hide: one page, whatever lies on it."""

from collections.abc import Callable, Iterator

from nest.cutplan.sheet import CutSheet
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work, found
from nest.plan import HideLayout, Plan
from nest.sheets.cutwords import LEVELS, NOT_VERIFIED, cut_blocks
from nest.sheets.flow import Block, Column, Row, filled, rows_of, write_columns
from nest.sheets.frame import MARGIN, draw_foot, draw_heading
from nest.sheets.hidepicture import aspect, draw_hide_picture, named
from nest.sheets.page import LEAST_SIZE, Box, Page
from nest.units import m2

SIZES = (8.5, 8.0, 7.5, LEAST_SIZE)
"""Sizes that lists are tried at, the largest that leaves the picture its room."""

_TALL = 1.05
"""A picture higher than this share of its width stands beside the lists, not above them."""

_GAP = 12.0
_PICTURE_SHARES = (1.0, 0.92, 0.85, 0.75, 0.65, 0.5)
_SIGNED = "Laid right, points measured: ______________   First piece checked: ______________   " \
    "Cut by, date: ______________"


def cut_sheet_page(
    plan: Plan, layout: HideLayout, sheet: CutSheet, work: Work, stamp: Stamp | None = None
) -> Page:
    """The sheet of one hide; `sheet` says what was counted and checked."""
    page = Page()
    hide = found(plan.hides, "hide_id", layout.hide_id)
    names = named(plan, layout, hide)
    down = work.frame.mirrored
    up = "GRAIN SIDE DOWN: you look at the flesh side" if down else "GRAIN SIDE UP"
    pieces = f"{sheet.pieces} piece{'s' * (sheet.pieces != 1)}"
    lines = [
        f"{sheet.leather}, lot {sheet.lot}",
        f"class {sheet.quality}, {sheet.thickness_mm:g} mm thick, {m2(sheet.measured_area_mm2):.3f} m²",
        f"{pieces}, cutting yield {sheet.cutting_yield:.1%}",
        f"Scan the code for the hide's name. {stamp.told() if stamp else ''}".strip(),
    ]
    top = draw_heading(page, "Cut sheet of hide", sheet.hide_id, lines, up, NOT_VERIFIED if sheet.findings else "")
    # How high the foot is must be known before the picture, whose scale the foot says.
    bottom = draw_foot(Page(), 1.0, _SIGNED, stamp, plan.name)
    picture, columns, rows, size = arranged(
        lambda level: cut_blocks(plan, layout, hide, sheet, work, names, level),
        aspect(work, hide, page.size[0] - 2.0 * MARGIN), Box(MARGIN, top, page.size[0] - MARGIN, bottom),
    )
    view = draw_hide_picture(page, picture, plan, layout, hide, work, names)
    write_columns(page, rows, columns, size)
    draw_foot(page, view.scale, _SIGNED, stamp, plan.name)
    return page


def arranged(
    blocks: Callable[[int], list[Block]], high_by_wide: float, room: Box
) -> tuple[Box, list[Column], list[list[Row]], float]:
    """Where picture and lists stand within a page's room, the rows of each column, and their size.

    As much of the words as there is room for, in letters as large as there is room for; the picture gives way last.
    """
    for level in range(LEVELS):
        wanted = blocks(level)
        for share in _PICTURE_SHARES[: 2 + level]:
            for size in SIZES if level == 0 else SIZES[-1:]:
                picture, columns = _placed(high_by_wide, room, share)
                rows = filled(wanted, columns, size)
                if rows is not None:
                    return picture, columns, rows, size
    picture, columns = _placed(high_by_wide, room, _PICTURE_SHARES[-1])
    rows = list(_cut_short(wanted, columns))
    return picture, columns, rows, SIZES[-1]


def _placed(high_by_wide: float, room: Box, share: float) -> tuple[Box, list[Column]]:
    """A place for the picture, and columns beside or below it; `share` of the size it could have."""
    wide, high = room.x1 - room.x0, room.y1 - room.y0
    if high_by_wide > _TALL:
        across = min(share * 0.66 * wide, high / high_by_wide)
        picture = Box(room.x0, room.y0, room.x0 + across, room.y1)
        left = picture.x1 + _GAP
        count = 2 if room.x1 - left > 330.0 else 1
        each = (room.x1 - left - (count - 1) * _GAP) / count
        return picture, [Column(left + i * (each + _GAP), room.y0, each, high) for i in range(count)]
    down = share * min(high_by_wide * wide, 0.62 * high)
    picture = Box(room.x0, room.y0, room.x1, room.y0 + down)
    each = (wide - 2.0 * _GAP) / 3.0
    top = picture.y1 + 6.0
    return picture, [Column(room.x0 + i * (each + _GAP), top, each, room.y1 - top) for i in range(3)]


def _cut_short(blocks: list[Block], columns: list[Column]) -> Iterator[list[Row]]:
    """The rows that columns hold of blocks that need more; the last says that there is more."""
    rows = [row for block in blocks for row in rows_of(block, columns[0].wide, SIZES[-1])]
    for i, column in enumerate(columns):
        room = column.rows(SIZES[-1])
        own, rows = rows[:room], rows[room:]
        if i == len(columns) - 1 and rows and own:
            own[-1] = Row(((0.0, "More stands in report.html."),), True)
        yield own
