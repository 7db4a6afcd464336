"""Boxes in which the outcome of every vamp of a batch is recorded, by hide and number."""

from collections.abc import Callable, Sequence
from itertools import accumulate
from math import fsum

from nest.outcomes import Reason
from nest.pieces.piece import Foot
from nest.sheets.frame import MARGIN
from nest.sheets.page import LEAST_SIZE, QUIET, Page, clipped, width
from nest.tickets.batches import Batch, Vamp

_ACROSS, _ROW, _BOX = 2, 13.5, 8.5
_SIZE = 8.5
_PIECE, _OF = 50.0, 27.0
"""Room for hide and number, and for size and foot."""

_MEASURED = 4
"""Lines for vamps whose trim is measured."""


def outcome_bands(batch: Batch) -> list[Callable[[Page, float], float]]:
    """Rows of boxes, two vamps to a row: they run down the left half of a band, then down the right one.

    Vamps of one hide stand below each other as long as a band goes, so that a pile is ticked off in its order.
    """
    vamps = batch.vamps
    bands: list[Callable[[Page, float], float]] = [_said]
    for start in range(0, len(vamps), _ACROSS * _DOWN):
        part = vamps[start : start + _ACROSS * _DOWN]
        down = -(-len(part) // _ACROSS)
        bands.append(_rows([part[i : i + down] for i in range(0, len(part), down)]))
    return [*bands, _measured]


_DOWN = 34
"""Rows of one band: a page holds it with its heading and foot."""


def _said(page: Page, y: float) -> float:
    page.text(MARGIN, y, "Tick one box for each vamp: good, or the first reason why not. The number is that of the cut "
              "sheet.", _SIZE)
    return y + 15.0


def _rows(columns: Sequence[Sequence[Vamp]]) -> Callable[[Page, float], float]:
    def draw(page: Page, y: float) -> float:
        wide = (page.size[0] - 2.0 * MARGIN) / _ACROSS
        for at, vamps in enumerate(columns):
            x = MARGIN + at * wide
            middles = _middles(x + _PIECE + _OF, x + wide - 8.0)
            page.text(x, y, "hide, no.", LEAST_SIZE, colour=QUIET)
            page.text(x + _PIECE, y, "size", LEAST_SIZE, colour=QUIET)
            for middle, word in zip(middles, Reason, strict=True):
                page.text(middle, y, word, LEAST_SIZE, colour=QUIET, align="middle")
            for row, vamp in enumerate(vamps):
                _row(page, x, y + 11.0 + row * _ROW, middles, vamp)
        return y + 11.0 + max(map(len, columns)) * _ROW + 4.0

    return draw


def _middles(x0: float, x1: float) -> list[float]:
    """Where the boxes stand: below words as wide as they are, equally far apart."""
    wide = [width(word, LEAST_SIZE) for word in Reason]
    apart = (x1 - x0 - fsum(wide)) / (len(wide) - 1)
    starts = accumulate((one + apart for one in wide), initial=x0)
    return [start + 0.5 * one for start, one in zip(starts, wide, strict=False)]


def _row(page: Page, x: float, y: float, middles: Sequence[float], vamp: Vamp) -> None:
    number = page.text(x + _PIECE - 6.0, y, str(vamp.number), _SIZE, bold=True, align="right")
    page.text(x, y, clipped(vamp.hide_id, number.x0 - x - 4.0, _SIZE), _SIZE)
    foot = {Foot.LEFT: " L", Foot.RIGHT: " R"}.get(vamp.foot, "")
    page.text(x + _PIECE, y, clipped(f"{vamp.size}{foot}", _OF, _SIZE), _SIZE)
    for middle in middles:
        page.rectangle(middle - 0.5 * _BOX, y, _BOX, _BOX, thick=0.7)
    page.line(((x, y + _BOX + 2.5), (middles[-1] + _BOX, y + _BOX + 2.5)), colour="#cccccc", thick=0.3)


def _measured(page: Page, y: float) -> float:
    page.text(MARGIN, y, "Trim left, measured at will, mm: before trimming, beyond the template line", _SIZE)
    for row in range(_MEASURED):
        page.text(MARGIN, y + 16.0 + row * 16.0, "hide ____________ number ________ toe ________ left side ________ "
                  "right side ________ back ________", _SIZE)
    return y + 16.0 + _MEASURED * 16.0
