"""Curves tighter than the tool follows: their radius is that of the circle; drawing, sheet and screen say how many."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from table_jobs import on_table
from vamp_plans import vamp_plan

from nest.cutplan.compose import hide_drawing
from nest.cutplan.curves import curve_radii, tight_words, vertex_radii
from nest.cutplan.order import cut_route
from nest.cutplan.reach import table_notes
from nest.cutplan.work import hide_work
from nest.job.cutting_table import CuttingTable
from nest.sheets.cutwords import on_the_table


@pytest.mark.parametrize("radius", [5.0, 40.0, 300.0])
def test_the_radius_of_a_circle_is_its_own(radius):
    """A circle of chords at uneven steps: at every vertex its radius (three points fix a circle; Euclid, IV 5)."""
    turns = np.sort(np.random.default_rng(4).uniform(0.0, 2.0 * np.pi, 90))
    turns = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False) + 0.3 * np.pi / 90 * np.sin(turns)
    assert vertex_radii(radius * np.column_stack((np.cos(turns), np.sin(turns)))) == pytest.approx(radius)


def test_corners_are_no_curves():
    """A square has no curve; a stadium of radius 20 mm has two, however many chords they are made of."""
    square = np.array([(0, 0), (90, 0), (90, 90), (0, 90)], dtype=float)
    assert np.isinf(vertex_radii(square)).all()
    turns = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 19)
    end = 20.0 * np.column_stack((np.cos(turns), np.sin(turns)))
    stadium = np.vstack((np.add(end, (100.0, 0.0)), -end))
    piece = replace(vamp_plan(1).pieces[0], cut_outline=stadium, net_outline=0.5 * stadium)
    assert tight_words([piece], CuttingTable(least_radius_mm=25.0)) == (
        "2 curves are tighter than the 25 mm that the tool follows, down to 20.0 mm"
    )
    assert tight_words([piece], CuttingTable(least_radius_mm=15.0)) == tight_words([piece], CuttingTable()) == ""


@pytest.mark.parametrize("smooth", [{}, {"curve_mm": 0.4}])
def test_tight_curves_are_said_everywhere(smooth):
    """On drawing, sheet and screen, with arcs and without; none where the tool follows every curve of the job."""
    plan = vamp_plan(1)
    tightest = [float(curve_radii(piece, CuttingTable(**smooth)).min()) for piece in plan.pieces]
    slow, quick = (
        on_table(plan, CuttingTable(least_radius_mm=least, **smooth))
        for least in (1.01 * max(tightest), 0.95 * min(tightest))
    )
    assert not any("tighter than" in text for text in table_notes(quick))
    assert any("tighter than" in text for text in table_notes(slow))
    layout = slow.layouts[0]
    work = hide_work(slow, layout, partial(cut_route, effort=0.01))
    texts = [one.text for one in hide_drawing(slow, layout, work=work).entities if hasattr(one, "text")]
    assert any("tighter than" in text for text in texts)
    assert any("tighter than" in text for text in on_the_table(slow, layout, work))
