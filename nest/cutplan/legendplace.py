"""Where the legend of a cutting drawing stands: beside all that is drawn, and where the table reaches."""

from collections.abc import Sequence

import numpy as np

from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.checksum import sum_rows
from nest.cutplan.drawing import Label
from nest.cutplan.legend import legend
from nest.cutplan.reach import Box, table_box
from nest.job.cutting_table import CuttingTable

_LETTER, _ROW = 0.7, 1.7
"""Width of a letter, and distance of lines, as shares of the height of the text."""
_LONGEST_SUMS = 180
"""Letters in a row of check sums, at most."""
_APART_MM = 20.0
_LEAST_MM, _SMALLEST_MM, _LARGEST_MM, _SHARE = 2.0, 5.0, 20.0, 0.008
"""Text is this share of the drawing's width high, within limits; smaller where there is no more room."""


def legend_beside(
    lines: Sequence[str], warning: str, drawn: Box, material: Box, table: CuttingTable, pieces: int
) -> list[Label]:
    """The legend above what is drawn, or where there is more room beside it; over it if there is next to none.

    Parameters
    ----------
    lines, warning
        As in `nest.cutplan.legend.legend`.
    drawn, material
        Boxes of all that is drawn and of the material alone, mm on the table.
    pieces
        How many there are: check sums of each come below the legend.
    """
    rows = len(lines) + len(CAUTIONS) + sum_rows(pieces) + 1
    high = _ROW * rows + (3.0 if warning else 0.0)
    wide = _LETTER * max(_LONGEST_SUMS, 2 * len(warning), *map(len, (*lines, *CAUTIONS)))
    usual = min(_LARGEST_MM, max(_SMALLEST_MM, _SHARE * (drawn[2] - drawn[0])))
    x_min, y_min, x_max, y_max = table_box(table, material)
    left, top = max(x_min, drawn[0]), min(y_max, drawn[3])
    # Each place as (x, y) of a corner of the legend, room along x and y, whether it is a lower and a right corner.
    above = (left, drawn[3] + _APART_MM, x_max - left, y_max - drawn[3] - _APART_MM, True, False)
    right = (drawn[2] + _APART_MM, top, x_max - drawn[2] - _APART_MM, top - y_min, False, False)
    below = (left, drawn[1] - _APART_MM, x_max - left, drawn[1] - _APART_MM - y_min, False, False)
    before = (drawn[0] - _APART_MM, top, drawn[0] - _APART_MM - x_min, top - y_min, False, True)
    over = (material[0], material[3], material[2] - material[0], material[3] - material[1], False, False)
    places = [(min(usual, place[2] / wide, place[3] / high), place) for place in (above, right, below, before)]
    height, place = max(places, key=lambda one: one[0])
    if height < _LEAST_MM:
        height, place = min(usual, over[2] / wide, over[3] / high), over
    height = max(0.1, float(np.floor(10.0 * height + 1e-6)) / 10.0)
    x, y, _, _, lower, right_corner = place
    top_left = (x - wide * height if right_corner else x, y + high * height if lower else y)
    return legend(lines, top_left, height, warning)
