"""Where a table reaches and what leaves it, by hand."""

import math

import numpy as np
import pytest

from nest.cutplan.reach import cut_box, reach_words, table_box
from nest.job.cutting_table import CuttingTable, FileKind

TABLE = CuttingTable(length_mm=1000.0, width_mm=500.0, files=())


@pytest.mark.parametrize(("used", "box"), [
    ((10.0, 10.0, 900.0, 400.0), (0.0, 0.0, 1000.0, 500.0)),
    ((-900.0, -400.0, -10.0, -10.0), (-1000.0, -500.0, 0.0, 0.0)),
    ((-900.0, -400.0, 0.0, 0.0), (-1000.0, -500.0, 0.0, 0.0)),
    ((-20.0, 10.0, 1100.0, 600.0), (-20.0, 0.0, 1100.0, 600.0)),
    ((-1200.0, 10.0, -10.0, 400.0), (-1200.0, 0.0, 0.0, 500.0)),
])
def test_a_table_reaches_to_one_side_of_its_origin(used, box):
    """To the side on which the material lies, and as far as that lies in any case; without a size without end."""
    assert table_box(TABLE, used) == box
    free = table_box(CuttingTable(), (10.0, 10.0, 900.0, 400.0))
    assert free == (0.0, 0.0, math.inf, math.inf)
    assert table_box(CuttingTable(), (-9.0, -9.0, -1.0, 4.0)) == (-math.inf, -9.0, 0.0, math.inf)


@pytest.mark.parametrize(("box", "axes"), [
    ((0.0, 0.0, 1000.0, 500.0), ""), ((-0.009, 0.0, 1000.009, 500.0), ""), ((-0.011, 0.0, 900.0, 500.0), "x"),
    ((0.0, 0.0, 1000.011, 500.0), "x"), ((-1000.0, -500.0, 0.0, 0.0), ""), ((-1000.011, -500.0, 0.0, 0.0), "x"),
    ((0.0, 0.0, 1000.0, 500.011), "y"), ((-1.0, -1.0, 1.0, 1.0), "xy"),
])
def test_cuts_that_leave_the_table_are_said_by_axis(box, axes):
    """A hundredth of a millimetre is rounding; a table may count from either of its ends, but not from both."""
    said = [*reach_words(box, TABLE)]
    assert ["xy"["reaches 500 mm" in one] for one in said] == list(axes)
    assert all(one.startswith("cuts leave the table, which reaches ") for one in said)
    assert not [*reach_words(box, CuttingTable(files=()))]


@pytest.mark.parametrize(("box", "words"), [
    ((0.0, 0.0, 819.175, 10.0), []), ((-0.009, 0.0, 10.0, 10.0), []), ((0.0, -0.011, 10.0, 10.0), ["below 0"]),
    ((-0.011, 0.0, 10.0, 10.0), ["below 0"]), ((0.0, 0.0, 819.2, 10.0), ["16 bits"]),
    ((0.0, 0.0, 10.0, 819.2), ["16 bits"]), ((-819.2, 0.0, 10.0, 10.0), ["below 0"]),
    ((-819.3, 0.0, 10.0, 10.0), ["below 0", "16 bits"]),
])
def test_what_hpgl_does_not_reach(box, words):
    """Plotter units are 0.025 mm, from -32768 to 32767 of them; many tables draw above 0 alone."""
    said = [*reach_words(box, CuttingTable(files=(FileKind.HPGL,)))]
    assert len(said) == len(words) and all(word in one for word, one in zip(words, said, strict=True))
    assert not [*reach_words(box, CuttingTable(files=()))]


def test_cuts_reach_beyond_their_outlines():
    """By what the tool reaches beyond a line and by the offset of a trailing knife."""
    ring = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)])
    table = CuttingTable(knife_offset_mm=2.0, tool_radius_mm=3.0, curve_mm=0.5)
    assert cut_box([ring, ring + 10.0], table) == (-5.5, -5.5, 115.5, 65.5)
