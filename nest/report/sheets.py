"""The cut sheet of one hide as a PDF to be printed on A4 and handed out with it."""

import base64
import textwrap
import zlib
from collections.abc import Iterator

import numpy as np

from nest.atomic import atomic_path
from nest.cutplan.cautions import STANDARDS
from nest.cutplan.sheet import CutSheet
from nest.limits import LARGEST_BACKDROP_PIXELS
from nest.plan import HideLayout, Plan
from nest.report import palette
from nest.report.figures import draw_hide
from nest.stock.material import Backdrop
from nest.units import m2

_WIDTH_IN, _HEIGHT_IN = 8.27, 11.69
_LEFT, _RIGHT, _TOP, _BOTTOM = 0.06, 0.95, 0.965, 0.02
_LINE, _SIZE = 0.0108, 7.0
_LETTERS = 72
"""Letters in a line of one of the two columns."""

_LETTERS_ACROSS = 112
"""Letters in a line above the picture."""

_TEXT_TOP = 0.512
"""Where the columns of the first page begin; the picture is above."""

_PALE = 0.35
"""How strongly a hide's photograph shows through."""

NOT_VERIFIED = "NOT VERIFIED: do not cut"


def write_sheet_pdf(plan: Plan, layout: HideLayout, sheet: CutSheet, path) -> None:
    """Write the cut sheet of one hide to `path`, atomically."""
    from matplotlib.backends.backend_pdf import PdfPages

    with atomic_path(path) as part, PdfPages(part, metadata={"CreationDate": None}) as pages:
        columns = _columns(list(_sections(sheet)))
        first, rest = columns[:2], columns[2:]
        pages.savefig(_first_page(plan, layout, sheet, first))
        for start in range(0, len(rest), 2):
            figure = _page(sheet)
            _write_columns(figure, rest[start : start + 2], _TOP - 0.05)
            pages.savefig(figure)


def _sections(sheet: CutSheet) -> Iterator[tuple[str, list[str]]]:
    """Heading and sentences, in the order to be read."""
    if sheet.findings:
        yield NOT_VERIFIED, list(sheet.findings)
    counts = []
    for (style, foot), row in sheet.counts_by_foot():
        name = style if foot == "either" else f"{style}, {foot}"
        counts.append(f"{name}: " + ", ".join(f"size {one.size} × {one.pieces}" for one in row))
    yield "Pieces", counts
    yield "Nicks", list(sheet.nicks)
    yield "Lay it right", list(sheet.registration)
    if sheet.table:
        yield "On the table", list(sheet.table)
    yield "Directions (toes lie across the stretch)", list(sheet.directions)
    yield "Look out for", list(sheet.look_out) or ["No flaw is marked."]
    if sheet.notes:
        yield "Notes", [f"{style}: {note}" for style, note in sheet.notes]
    # on the first page even where there is more to say than it holds
    yield "Cautions", [*sheet.cautions, f"To look up, as they apply: {'; '.join(STANDARDS)}."]
    yield "Checked and right", list(sheet.checks) or ["Nothing: see what was found."]


def _columns(sections) -> list[list[tuple[str, bool]]]:
    """Lines, and whether each is a heading, filled into columns: two below the picture, then two a page."""
    room = [int((_TEXT_TOP - _BOTTOM) / _LINE)] * 2
    later = int((_TOP - 0.05 - _BOTTOM) / _LINE)
    columns: list[list[tuple[str, bool]]] = [[]]
    for heading, sentences in sections:
        lines = [line for one in sentences for line in _wrapped(one)]
        limit = room[len(columns) - 1] if len(columns) <= len(room) else later
        # A heading never stands alone at the foot of a column.
        if columns[-1] and len(columns[-1]) + min(3, len(lines) + 1) > limit:
            columns.append([])
        columns[-1].append((heading, True))
        for line in lines:
            limit = room[len(columns) - 1] if len(columns) <= len(room) else later
            if len(columns[-1]) >= limit:
                columns.append([])
            columns[-1].append((line, False))
    return columns


def _wrapped(sentence: str) -> list[str]:
    return textwrap.wrap(f"• {sentence}", _LETTERS, subsequent_indent="  ") or [""]


def _page(sheet: CutSheet):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDTH_IN, _HEIGHT_IN))
    FigureCanvasAgg(figure)
    figure.text(_LEFT, _TOP, _plain(f"Cut sheet: hide {sheet.hide_id}"), fontsize=14, weight="bold", va="top")
    if sheet.findings:
        figure.text(_RIGHT, _TOP, NOT_VERIFIED, fontsize=12, weight="bold", va="top", ha="right", color=palette.ALARM)
    return figure


def _first_page(plan: Plan, layout: HideLayout, sheet: CutSheet, columns):
    figure = _page(sheet)
    pieces = f"{sheet.pieces} piece{'s' * (sheet.pieces != 1)}"
    words = (
        f"{sheet.leather}, lot {sheet.lot}, class {sheet.quality}, {sheet.thickness_mm:g} mm thick, "
        f"{m2(sheet.measured_area_mm2):.3f} m². {pieces}, cutting yield {sheet.cutting_yield:.1%}."
    )
    lines = textwrap.wrap(_plain(f"{plan.name}. {words}"), _LETTERS_ACROSS)
    figure.text(_LEFT, _TOP - 0.03, "\n".join(lines), fontsize=8, va="top")
    ax = figure.add_axes((_LEFT, 0.575, _RIGHT - _LEFT, 0.33 - _LINE * (len(lines) - 1)), anchor="N")
    down = plan.settings.table.grain_down
    seen = "seen from the flesh side, as it lies on the table" if down else "grain side up"
    draw_hide(ax, plan, layout, title=f"Hide {sheet.hide_id}, {seen}; coordinates as digitised")
    _add_photograph(ax, plan, layout)
    if down:
        ax.invert_xaxis()
    _narrow_key(ax)
    _write_columns(figure, columns, _TEXT_TOP)
    return figure


def _add_photograph(ax, plan: Plan, layout: HideLayout) -> None:
    """The hide's photograph, straightened and pale, over the tints of its zones and under all else, if it has one."""
    hide = next(hide for hide in plan.hides if hide.hide_id == layout.hide_id)
    shown = hide.backdrop
    grey = None if shown is None else _unpacked(shown)
    if grey is not None:
        limits = ax.get_xlim(), ax.get_ylim()
        ax.imshow(
            grey, cmap="gray", vmin=0, vmax=255, alpha=_PALE, zorder=1.5,
            extent=(shown.x0, shown.x1, shown.y0, shown.y1), aspect=ax.get_aspect(), interpolation="bilinear",
        )
        ax.set(xlim=limits[0], ylim=limits[1])


def _unpacked(shown: Backdrop) -> np.ndarray | None:
    """Grey values (h, w) of a photograph; None where a plan's is damaged or larger than any that is written."""
    count = shown.width * shown.height
    sound = min(shown.width, shown.height) >= 1 and shown.x0 < shown.x1 and shown.y0 < shown.y1
    if not sound or count > LARGEST_BACKDROP_PIXELS:
        return None
    try:
        grey = zlib.decompressobj().decompress(base64.b64decode(shown.packed, validate=True), count + 1)
    except (ValueError, zlib.error):
        return None
    return np.frombuffer(grey, dtype=np.uint8).reshape(shown.height, shown.width) if len(grey) == count else None


def _narrow_key(ax) -> None:
    """The picture's key again, in as many columns as the sheet is wide."""
    if (key := ax.get_legend()) is not None:
        words = [text.get_text() for text in key.get_texts()]
        ax.legend(
            handles=key.legend_handles, labels=words, loc="upper center", bbox_to_anchor=(0.5, -0.095), ncols=5,
            fontsize=6.5, frameon=False, handlelength=1.6, borderaxespad=0.0,
        )


def _write_columns(figure, columns, top: float) -> None:
    for lines, x in zip(columns, (_LEFT, 0.5 + 0.01), strict=False):
        y = top
        for text, heading in lines:
            figure.text(
                x, y, _plain(text), fontsize=_SIZE + heading, weight="bold" if heading else "normal", va="top",
                color=palette.ALARM if heading and text == NOT_VERIFIED else palette.INK,
            )
            y -= _LINE


def _plain(text: str) -> str:
    """Text that is not taken for a formula."""
    return text.replace("$", r"\$")
