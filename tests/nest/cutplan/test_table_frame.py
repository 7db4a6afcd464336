"""The way from the hide to the cutting table."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st
from table_jobs import on_table
from tiny_plans import box_plan, hide, slant_plan, zone

from geometry.pose import Pose
from nest.cutplan.compose import hide_drawing, lay_drawing
from nest.cutplan.frame import Frame, frame_from, frame_of
from nest.cutplan.work import hide_work
from nest.job.cutting_table import Corner, CuttingTable
from nest.plan import HideLayout, Placed

POINTS = np.array(((0.0, 0.0), (1000.0, 0.0), (20.0, 500.0)))


@pytest.mark.parametrize(
    ("corner", "low"),
    [(Corner.LOWER_LEFT, (0, 0)), (Corner.LOWER_RIGHT, (-500, 0)), (Corner.UPPER_LEFT, (0, -1000)),
     (Corner.UPPER_RIGHT, (-500, -1000))],
)
def test_the_corner_lies_at_the_origin(corner, low):
    """A hide of 1000 × 500 turned by 90° is 500 wide and 1000 high, the corner asked for at (5, 7)."""
    table = CuttingTable(origin=corner, origin_x_mm=5.0, origin_y_mm=7.0, turn_deg=90.0)
    bounds = frame_of(table, hide().outline, turned_over=False).region(hide().outline).bounds
    wanted = (low[0] + 5, low[1] + 7, low[0] + 505, low[1] + 1007)
    assert bounds == pytest.approx(wanted)


def test_grain_down_is_the_hide_turned_over_about_its_upright_axis():
    """Against shapely's own affine maps: mirror about y, then turn, then move."""
    frame = Frame(True, 30.0, 12.0, -5.0)
    for point in shapely.points(POINTS):
        moved = shapely.affinity.scale(point, -1.0, 1.0, origin=(0, 0))
        moved = shapely.affinity.translate(shapely.affinity.rotate(moved, 30.0, origin=(0, 0)), 12.0, -5.0)
        assert frame.apply(shapely.get_coordinates(point))[0] == pytest.approx(moved.coords[0])


@given(st.booleans(), st.floats(-360, 360), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_a_frame_told_is_the_frame_read(mirrored, turn, x, y):
    """Whatever the frame: undone it gives the points back, and its sentence gives the frame back to 1e-4 mm."""
    frame = Frame(mirrored, turn, round(x, 4), round(y, 4))
    assert np.abs(frame.undo(frame.apply(POINTS)) - POINTS).max() < 1e-8
    read = frame_from(f"Hide to table: {frame.told()}")
    assert read is not None and read.mirrored == mirrored
    assert np.abs(read.apply(POINTS) - frame.apply(POINTS)).max() < 1e-4
    assert frame_from("x = 1 X") is None


@given(st.booleans(), st.floats(-360, 360), st.floats(-360, 360))
def test_directions_turn_with_the_hide(mirrored, turn, angle):
    """A direction on the table is the direction of the line between two points of it."""
    frame = Frame(mirrored, turn, 3.0, 4.0)
    a, b = frame.apply([(0.0, 0.0), (np.cos(np.radians(angle)), np.sin(np.radians(angle)))])
    shown = np.degrees(np.arctan2(*(b - a)[::-1]))
    assert (shown - frame.direction_deg(angle) + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-6)


def test_a_hide_grain_down_carries_right_pieces_where_left_ones_were():
    """Mirrored, a left piece has the outline of its right partner; all cut lines stay counter-clockwise."""
    plan = slant_plan()
    placed = (Placed("L38", Pose(300.0, 250.0, 0.0)),)
    plan = on_table(plan, CuttingTable(grain_down=True))
    (path,) = hide_work(plan, HideLayout("H1", placed)).paths
    right = shapely.Polygon(Pose(-300.0, 250.0, 180.0).apply(plan.piece("R38").cut_outline))
    assert shapely.Polygon(path.ring).symmetric_difference(right).area < 1.0
    assert shapely.is_ccw(shapely.linearrings(path.ring))


def test_lays_are_never_turned_over():
    """Grain down is for hides: the drawing of a lay says grain side up and mirrors nothing."""
    plan = on_table(box_plan(), CuttingTable(grain_down=True))
    texts = [e.text for e in lay_drawing(plan, plan.lays[0]).entities if hasattr(e, "text")]
    assert any(text.startswith("Grain side up") for text in texts)
    texts = [e.text for e in hide_drawing(plan, plan.layouts[0]).entities if hasattr(e, "text")]
    assert any(text.startswith("Grain side down: the drawing is mirrored") for text in texts)


def test_zone_directions_are_those_of_the_table():
    """A stretch of 20° on the hide runs at 20 + 90 = 110° on a table that turns it, at 90 + 160 = 70° grain down."""
    plan = box_plan(hides=(hide(zones=(zone(stretch_deg=20.0),)),))
    for down, wanted in ((False, "110"), (True, "70")):
        turned = on_table(plan, CuttingTable(turn_deg=90.0, grain_down=down))
        labels = [e.text for e in hide_drawing(turned, plan.layouts[0]).entities if getattr(e, "use", "") == "zones"
                  and hasattr(e, "text")]
        assert labels == [f"butt: class 1, stretch {wanted} deg"]
