"""What every sheet has around its picture and lists: a heading with a code, cautions, signatures, a gauge line."""

from nest.cutplan.cautions import CAUTIONS, STANDARDS
from nest.cutplan.stamp import Stamp
from nest.sheets.code import draw_code
from nest.sheets.flow import paragraph
from nest.sheets.page import ALARM, INK, LEAST_SIZE, MM, PITCH, QUIET, Page, clipped, width, wrapped

MARGIN = 10.0 * MM
"""Left blank on every side; printers do not reach the edge."""

_CODE = 25.0 * MM
_NAME_SIZES = (38.0, 32.0, 26.0, 20.0, 16.0, 12.0)
_NAME_SHARE = 0.36
"""The name of a hide or lay takes no more of the width than this."""

_GAUGE_MM = 100.0


def draw_heading(page: Page, kind: str, name: str, lines: list[str], up: str, alarm: str) -> float:
    """Kind and name large, what it is beside it, a code of the name to scan; returns where the rest begins."""
    x, y, right = MARGIN, MARGIN, page.size[0] - MARGIN
    draw_code(page, right - _CODE, y - 8.0, _CODE, name)
    above = page.text(x, y, kind, 10.0, bold=True, colour=QUIET)
    room = _NAME_SHARE * (right - x)
    size = next((s for s in _NAME_SIZES if width(name, s, True) <= room), _NAME_SIZES[-1])
    box = page.text(x, y + 13.0, clipped(name, room, size, True), size, bold=True)
    left, row = max(box.x1, above.x1) + 14.0, y
    for i, line in enumerate(lines):
        row = paragraph(page, left, row, right - _CODE - 4.0 - left, line, 8.5, bold=i == 0)
    row = max(row + 2.0, box.y1 + 2.0)
    page.text(x, row, up, 11.0, bold=True)
    row = max(row + 15.0, y + _CODE - 12.0)
    if alarm:
        page.rectangle(x, row, right - x, 18.0, fill=ALARM, colour=None)
        page.text(0.5 * (x + right), row + 3.0, alarm, 12.0, bold=True, colour="#ffffff", align="middle")
        row += 22.0
    return row


def draw_foot(page: Page, scale: float | None, signed: str, stamp: Stamp | None, plan_name: str) -> float:
    """Cautions, signatures, gauge line, plan and time at the foot; returns where the rest must end.

    There is no gauge line where `scale` is None, for nothing is drawn to scale.
    """
    x, right, bottom = MARGIN, page.size[0] - MARGIN, page.size[1] - MARGIN
    row = bottom - LEAST_SIZE
    if scale is not None:
        page.text(x + _GAUGE_MM * MM + 5.0, row, _gauge_words(scale), LEAST_SIZE)
        page.line(((x, row + 4.0), (x + _GAUGE_MM * MM, row + 4.0)), thick=0.8)
        for at in (x, x + _GAUGE_MM * MM):
            page.line(((at, row), (at, row + 8.0)), thick=0.8)
        row -= 1.6 * LEAST_SIZE
    said = stamp.told() if stamp else ""
    page.text(x, row, clipped(f"{plan_name}. {said}".strip(), right - x, LEAST_SIZE), LEAST_SIZE, colour=QUIET)
    row -= 22.0
    page.text(x, row + 4.0, signed, 8.0)
    words = " ".join(f"• {one}" for one in CAUTIONS)
    look_up = f"To look up, as they apply: {'; '.join(STANDARDS)}."
    head = "Cautions  "
    inner = right - x - 12.0
    lines = [*wrapped(head + words, inner, LEAST_SIZE), *wrapped(look_up, inner, LEAST_SIZE)]
    high = len(lines) * PITCH * LEAST_SIZE + 7.0
    row -= high + 2.0
    page.rectangle(x, row, right - x, high, colour=INK, thick=0.9, fill="#fff6df")
    for i, line in enumerate(lines):
        at = row + 4.5 + i * PITCH * LEAST_SIZE
        if i == 0:
            page.text(x + 6.0, at, "Cautions", LEAST_SIZE, bold=True)
            page.text(x + 6.0 + width("Cautions ", LEAST_SIZE, True), at, line.removeprefix("Cautions").strip(),
                      LEAST_SIZE)
        else:
            page.text(x + 6.0, at, line, LEAST_SIZE)
    return row - 5.0


def _gauge_words(scale: float) -> str:
    """What the gauge line says; `scale` is points of the picture a mm of the material."""
    times = MM / scale
    return f"This line is 100 mm long, or the print is not to scale. Picture 1 : {times:.1f}."
