"""What check sums say of a drawing's entities, whose pieces those are, what cut lines keep, and where the view
stands: worked out by hand."""

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from nest.cutplan.checksum import canonical, piece_numbers
from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.dxf import _document
from nest.cutplan.layers import layers_of
from nest.cutplan.path import Kept, kept_by
from nest.job.cutting_table import PLAIN_TABLE

SQUARE = np.array(((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)))


def ring(use, begin=0, back=False, **place):
    """The square as an outline begun at this corner, either way round."""
    points = np.roll(SQUARE, -begin, axis=0)
    return Outline(use, (points[::-1] if back else points) + place.get("at", 0.0))


@pytest.mark.parametrize("use", ["cut", "net"])
@pytest.mark.parametrize(("begin", "back"), [(1, False), (0, True)])
def test_where_a_cut_begins_counts_only_where_leads_end_there(use, begin, back):
    """With lead-ins, the check sum covers where a cut begins and which way it runs; for other outlines it does not."""
    first, other = ring(use), ring(use, begin, back)
    lead = Outline("lead", np.array(((-5.0, 0.0), (0.0, 0.0))), closed=False)
    assert canonical([first]) == canonical([other])
    assert (canonical([first, lead]) == canonical([other, lead])) is (use == "net")


def test_a_lead_is_told_the_way_it_is_drawn():
    """Drawn backwards it is another lead; any other open way is the same from either end."""
    way = np.array(((-5.0, 0.0), (0.0, 0.0)))
    for use, same in (("lead", False), ("axis", True)):
        there, back = (Outline(use, points, closed=False) for points in (way, way[::-1]))
        assert (canonical([there]) == canonical([back])) is same


def test_a_piece_has_the_number_of_its_own_label():
    """The number stands in the piece's label; texts of other uses give none, and hide outlines are no part of it."""
    entities = (
        ring("cut"), ring("cut", at=100.0), Label("labels", "Vamp no. 7", (5.0, 5.0), 3.0),
        Label("size", "Vamp no. 9", (5.0, 5.0), 3.0), Label("labels", "Vamp", (105.0, 105.0), 3.0), ring("hide"),
    )
    assert piece_numbers(Drawing(entities)) == [7, 0, 7, 7, 0, 0]
    assert piece_numbers(Drawing((entities[0], entities[3]))) == [0, 0]


def test_cut_lines_keep_off_what_is_there():
    """Without material, or without cut lines, nothing is near; else the least distance from its edge counts."""
    assert kept_by([SQUARE], 1.0) == kept_by([], 1.0, box(0, 0, 50, 50)) == Kept()
    assert kept_by([SQUARE + 4.0], 1.0, box(0, 0, 50, 50)).off_mm == pytest.approx(4.0)


@pytest.mark.parametrize(("size", "height"), [((40.0, 30.0), 33.0), ((100.0, 30.0), 66.0)])
def test_a_drawing_opens_on_all_of_it(size, height):
    """The view stands on the middle and is a tenth higher than the drawing, or than 0.6 of its length."""
    outline = Outline("cut", shapely.get_coordinates(box(200.0, 100.0, 200.0 + size[0], 100.0 + size[1]).exterior)[:-1])
    document = _document(Drawing((outline,)), "R2000", layers_of(PLAIN_TABLE), "mm")
    (view,) = document.viewports.get("*Active")
    assert tuple(view.dxf.center)[:2] == (200.0 + 0.5 * size[0], 115.0)
    assert view.dxf.height == pytest.approx(height)
