"""A corpus of nasty geometry: each case has the right answer, or is refused in a sentence that says why.

Read cases go all the way: drawing, job, pieces, a plan by the plain engine of these tests, the judge, the accounts.
All are made here, from rules, and invented.
"""

import math
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
import tiny_job
from tiny_job import on, put_points, put_text, redraw, remove, replace_in

from geometry.nofit import no_fit_polygon
from geometry.precision import as_ring
from nest.accounts import account
from nest.errors import InputProblems
from nest.job.read import read_job
from nest.planfile import plan_from_text, plan_text
from nest.planning.make import make_plan
from nest.verify import verify

sys.path.append(str(Path(__file__).parents[1] / "planning"))
from box_jobs import ROWS

SIDE = [(0.0, 0.0), (1000.0, 0.0), (1000.0, 600.0), (0.0, 600.0)]
AREA = 600_000.0


def along(corners, count: int) -> list[tuple[float, float]]:
    """The outline with `count` points on every edge, all in line."""
    points = []
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        points += [(ax + (bx - ax) * i / count, ay + (by - ay) * i / count) for i in range(count)]
    return points


def wavy(count: int) -> list[tuple[float, float]]:
    """The hide with a fine wave on its edges, 0.2 mm deep, inwards."""
    inner = along([(0.1, 0.1), (999.9, 0.1), (999.9, 599.9), (0.1, 599.9)], count // 4)
    return [(x + 0.1 * math.sin(7.0 * i), y + 0.1 * math.cos(11.0 * i)) for i, (x, y) in enumerate(inner)]


def hide_points(points):
    """The hide drawn through these points."""
    return redraw("a1.dxf", put_points("HIDE", points))


def moved_drawing(dx: float, dy: float, times: float = 1.0):
    """Everything in the hide's drawing moved, and scaled about the origin before."""

    def change(document, space):
        for entity in space:
            entity.scale_uniform(times)
            entity.translate(dx, dy, 0.0)

    return redraw("a1.dxf", change)


def second_zone(left: float, right: float):
    """The belly zone from `left` to `right`, with its text in it; the butt zone ends at 600."""

    def change(document, space):
        put_points("ZONES", tiny_job.box(left, 0.0, right, 600.0), 1)(document, space)
        on(space, "ZONES", "TEXT")[1].set_placement((0.5 * (left + right), 300.0))

    return redraw("a1.dxf", change)


def flaw_aside(document, space):
    """The flaw in a corner, where it is in nobody's way: the plain engine tries few places."""
    put_points("FLAWS", tiny_job.box(985.0, 585.0, 995.0, 595.0))(document, space)
    on(space, "FLAWS", "TEXT")[0].set_placement((987.0, 590.0))


def in_metres(document, space):
    """The drawing says that its unit is the metre."""
    document.units = 6


def several(*changes):
    """Changes one after the other."""

    def change(folder):
        for one in changes:
            one(folder)

    return change


def hole_at(points):
    """A hole in the hide."""
    return redraw("a1.dxf", lambda _, space: space.add_lwpolyline(points, close=True, dxfattribs={"layer": "HIDE"}))


def template_points(points):
    """The template drawn through these points."""
    return redraw("plain.dxf", put_points("TEMPLATE", points))


T = tiny_job.TEMPLATE
SPUR = [*T[:2], (159.8, -0.2), (185.0, 0.0), (159.8, 0.2), *T[3:]]
"""The template with a needle at the toe, 0.4 mm wide at its base, narrower than the gap."""

def rough_template(depth: float):
    """The template with six thousand teeth of this depth."""
    centre = np.array((90.0, 0.0))  # from which all of the template is seen, so that teeth do not cross
    points = np.array(along(T, 1000))
    points[1::2] += depth * (points[1::2] - centre) / np.hypot(*(points[1::2] - centre).T)[:, None]
    return template_points([tuple(point) for point in points])


RIGHT = {
    "two thousand points in line on every edge": (hide_points(along(SIDE, 2000)), AREA),
    "points in line, and some twice": (hide_points([*SIDE[:1], *SIDE[:1], (500.0, 0.0), *SIDE[1:], SIDE[-1]]), AREA),
    "a spike 200 mm long and 0.05 mm wide": (
        hide_points([*SIDE[:2], (1000.0, 300.0), (1200.0, 300.025), (1000.0, 300.05), *SIDE[2:]]), AREA + 5.0
    ),
    "a slit 0.001 mm wide": (
        hide_points([*SIDE[:1], (700.0, 0.0), (700.0, 250.0), (700.001, 250.0), (700.001, 0.0), *SIDE[1:]]), AREA - 0.25
    ),
    "edges that nearly touch": (
        several(second_zone(600.0, 899.0), hide_points([
            *SIDE[:2], (1000.0, 290.0), (900.0, 299.999), (1000.0, 299.9995), (900.0, 300.0), (1000.0, 310.0), *SIDE[2:]
        ])), None
    ),
    "ten thousand vertices": (hide_points(wavy(10_000)), None),
    "at a million millimetres": (moved_drawing(998_000.0, -999_000.0), AREA),
    "in thousandths of a millimetre, unit metre": (
        several(moved_drawing(0.0, 0.0, 1e-3), redraw("a1.dxf", in_metres)),
        AREA,
    ),
    "zones that overlap by a hand's tremble": (second_zone(599.0, 1000.0), AREA),
    "zones with a gap of 1 mm": (second_zone(601.0, 1000.0), AREA),
    "zones with a gap of 300 mm": (second_zone(900.0, 1000.0), AREA),
    "a needle of a zone, narrower than the gap": (second_zone(999.5, 1000.0), AREA),
    "no zone but one": (redraw("a1.dxf", lambda d, s: (remove("ZONES", "TEXT", "belly class 2 stretch 80")(d, s),
                                                     s.delete_entity(on(s, "ZONES", "LWPOLYLINE")[1]))), AREA),
    "a hole that almost touches the edge": (hole_at(tiny_job.box(0.001, 300.0, 50.0, 350.0)), AREA - 49.999 * 50.0),
    "a flaw as thin as a hair": (
        redraw("a1.dxf", put_points("FLAWS", [(985, 585), (995, 585), (995, 585.0005)])), AREA
    ),
    "template: two hundred points in line": (template_points(along(T, 200)), AREA),
    "template: points 0.00001 mm apart": (template_points([T[0], (1e-5, -60.0), *T[1:]]), AREA),
    "template: ten thousand vertices": (template_points(along(T, 1667)), AREA),
    "template: a needle narrower than the gap": (template_points(SPUR), AREA),
    "template: six thousand teeth 0.01 mm deep": (rough_template(0.01), AREA),
}


REAL = ("ten thousand vertices", "at a million millimetres")
"""Cases for the real engine: the plain one only tries corners, which these hides do not have to the last bit."""


LONG = (
    "zones with a gap of 300 mm", "a needle of a zone, narrower than the gap", "no zone but one",
    "ten thousand vertices",
)
"""Cases that take several seconds each, and are like one that is always tried."""


@pytest.mark.parametrize(("name", "spoil", "area"), [
    pytest.param(name, *case, marks=pytest.mark.slow if name in LONG else ()) for name, case in RIGHT.items()
], ids=RIGHT)
def test_it_has_the_right_answer(job_folder, name, spoil, area):
    """Area as drawn; a plan that the judge passes; accounts that add up; the plan's file reads back."""
    redraw("a1.dxf", flaw_aside)(job_folder)
    spoil(job_folder)
    job = read_job(job_folder / "job.toml")
    (hide,) = job.hides
    assert hide.outline.is_valid and (area is None or hide.outline.area == pytest.approx(area, abs=0.2))
    plan = make_plan(job, passes=5, engine=None if name in REAL else ROWS)
    verdict = verify(plan)
    assert verdict.ok, [finding.sentence for finding in verdict.findings]
    assert sum(len(layout.placed) for layout in plan.layouts) >= 2
    use = account(plan).leather
    parts = use.net_mm2 + use.trim_off_mm2 + use.interlock_mm2 + use.fault_mm2 + use.edge_mm2
    assert parts == pytest.approx(use.material_mm2, rel=1e-9)
    assert min(use.net_mm2, use.trim_off_mm2, use.interlock_mm2, use.fault_mm2) >= 0.0 and use.edge_mm2 >= -1e-6
    assert verify(plan_from_text(plan_text(plan))).ok


REFUSED = {
    "template: six thousand teeth 0.3 mm deep": (rough_template(0.3), "2000 vertices draw within 0.05 mm"),
    "a spike of no width": (
        hide_points([*SIDE[:2], (1000.0, 300.0), (1200.0, 300.0), (1000.0, 300.0), *SIDE[2:]]), "does not cross itself"
    ),
    "a ring that touches itself": (
        hide_points([*SIDE[:2], (1000.0, 600.0), (500.0, 0.0), (0.0, 600.0)]), "does not cross itself"
    ),
    "an eight": (hide_points([(0, 0), (1000, 600), (1000, 0), (0, 600)]), "does not cross itself|encloses an area"),
    "all points in line": (hide_points([(0, 0), (500, 0), (1000, 0), (700, 0)]), "encloses an area"),
    "beyond a million millimetres": (moved_drawing(1e6, 0.0), "coordinates within 1e"),
    "a hide of a thousandth of a millimetre": (moved_drawing(0.0, 0.0, 1e-6), "."),
    "a hide drawn in metres as millimetres": (moved_drawing(0.0, 0.0, 1e-3), "."),
    "zones that overlap by 30 mm": (second_zone(570.0, 1000.0), "zones clear of each other"),
    "a zone beyond the hide": (second_zone(600.0, 1100.0), "a zone on the hide"),
    "a hole that touches the edge": (hole_at(tiny_job.box(0.0, 300.0, 50.0, 350.0)), "holes within it"),
    "a hole across the edge": (hole_at(tiny_job.box(-10.0, 300.0, 50.0, 350.0)), "holes within it"),
    "two holes that meet": (
        several(hole_at(tiny_job.box(100, 300, 150, 350)), hole_at(tiny_job.box(150, 320, 200, 340))), "holes apart"
    ),
    "the same hide twice": (
        replace_in("hides.csv", "A1,a1.dxf,calf,1,1.4,59.9,dm2\n", 2 * "A1,a1.dxf,calf,1,1.4,59.9,dm2\n"),
        "an id of its own",
    ),
    "template: a spike of no width": (template_points([*T[:2], (160, 0), (190, 0), *T[2:]]), "does not cross itself"),
    "template: touches itself": (
        template_points([(0, -60), (120, -50), (160, 0), (20, 0), (120, 50), (0, 60), (20, 0)]), "does not cross itself"
    ),
    "template: in metres": (
        redraw("plain.dxf", lambda d, s: [entity.scale_uniform(1e-3) for entity in s]), "a template of"
    ),
}


@pytest.mark.parametrize(("spoil", "words"), REFUSED.values(), ids=REFUSED)
def test_it_is_refused_in_a_sentence(job_folder, spoil, words):
    """Every problem is one line, and one of them says what is wrong."""
    spoil(job_folder)
    with pytest.raises(InputProblems, match=words) as caught:
        read_job(job_folder / "job.toml")
    assert all("\n" not in str(problem) for problem in caught.value.problems)


def test_a_hide_twice_under_two_ids_is_said(job_folder):
    """One drawing for two hides is read as two, and said."""
    replace_in("hides.csv", "A1,a1.dxf,calf,1,1.4,59.9,dm2\n",
               "A1,a1.dxf,calf,1,1.4,59.9,dm2\nA2,a1.dxf,calf,1,1.4,59.9,dm2\n")(job_folder)
    job = read_job(job_folder / "job.toml")
    assert len(job.hides) == 2 and any("is that of hides.csv, line 2 too" in warning for warning in job.warnings)
    assert verify(make_plan(job, passes=1, engine=ROWS)).ok


def test_a_flaw_that_covers_the_hide(job_folder):
    """Nothing can be cut from it: the hide stays whole, the order is short, and both are said."""
    several(redraw("a1.dxf", put_points("FLAWS", [(-5, -5), (1005, -5), (1005, 605), (-5, 605)])),
            redraw("a1.dxf", put_text("FLAWS", "scratch severity 2 coverable", "mould severity 3 tears")))(job_folder)
    plan = make_plan(read_job(job_folder / "job.toml"), passes=1, engine=ROWS)
    verdict = verify(plan)
    assert verdict.ok and not verdict.order_met and not any(layout.placed for layout in plan.layouts)
    assert any("find no place" in warning for warning in plan.warnings)
    assert account(plan).leather.net_mm2 == 0.0


def needle_star(points: int, width: float) -> np.ndarray:
    """A disc with needles of this width at their base, 25 mm long."""
    ring = []
    for i in range(points):
        turn = 2.0 * math.pi * i / points
        for radius, off in ((30.0, -0.5 * width / 30.0), (55.0, 0.0), (30.0, 0.5 * width / 30.0)):
            ring.append((radius * math.cos(turn + off), radius * math.sin(turn + off)))
    return as_ring(np.round(ring, 4))


@pytest.mark.parametrize("gap", [0.0, 1.0])
def test_needles_narrower_than_the_gap(gap):
    """No-fit polygons of discs with needles 0.4 mm wide: outside exactly where shapely has them the gap apart."""
    star = needle_star(7, 0.4)
    no_fit, one = no_fit_polygon(star, star, gap), shapely.Polygon(star)
    spots = np.random.default_rng(4).uniform(-120.0, 120.0, (400, 2))
    others = shapely.polygons(star[None] + spots[:, None])
    apart = shapely.distance(one, others)
    told = shapely.contains_properly(no_fit, shapely.points(spots))
    clear = np.abs(apart - gap) > 0.01 if gap else np.ones(len(spots), dtype=bool)
    true = apart < gap if gap else shapely.area(shapely.intersection(one, others)) > 0.0
    np.testing.assert_array_equal(told[clear], true[clear])
    assert told.sum() > 50 and (~told).sum() > 50
