"""What trim-off costs: its share and the avoidable part, on rectangles in closed form."""

from dataclasses import replace
from math import pi

import pytest
from shapely.geometry import LineString, Polygon
from tiny_plans import box_plan, rectangle, rectangle_lattice, slant_plan, style

from geometry.polygon import area
from nest.accounts import account
from nest.accounts.trimshares import avoidable_mm2
from nest.pieces.piece import Part, Template
from nest.pieces.rough import rough_outline
from nest.pieces.style import Allowances


def trim_of(plan):
    """Trim cost of a rectangular plan."""
    return account(plan, lattice=rectangle_lattice).trim


def test_share():
    """Of 15.00 for the hide, 31 104 of 111 104 mm² cut are trim-off: 4.20; of the roll's 2.8736, 4864 of 84 864."""
    line, order = trim_of(box_plan())
    assert (line.style, line.size, order.style) == ("box", "38", "")
    for row in (line, order):
        assert str(row.leather_share) == "4.20" and str(row.leather_share_per_pair) == "2.10"
        assert str(row.reinforcement_share) == "0.16" and str(row.reinforcement_share_per_pair) == "0.08"


def test_share_is_price_times_area_by_yield():
    """The same by the definition: price × trim-off area ÷ cutting yield."""
    found = account(box_plan(), lattice=rectangle_lattice)
    cutting = found.leather.rough_mm2 / found.leather.material_mm2
    assert 30.0 * found.leather.trim_off_mm2 / 1e6 / cutting == pytest.approx(15.0 * 31_104 / 111_104)


def test_avoidable_in_closed_form():
    """8 mm round a rectangle of 200 × 100 take 8 × 600 + 64 π (Steiner's formula); the rest is avoidable."""
    plan = box_plan()
    least = 20_000.0 + 8.0 * 600.0 + 64.0 * pi
    assert avoidable_mm2(plan.styles[0], plan.pieces[0]) == pytest.approx(27_776.0 - least, abs=12.0)
    line = trim_of(plan)[0]
    # 4 × 2775 of 111 104 mm² of a hide at 15.00, less what thinning adds to the corners of the least outline.
    assert float(line.avoidable) == pytest.approx(1.50, abs=0.011)
    assert float(line.avoidable_per_pair) == pytest.approx(0.75, abs=0.011)


def test_least_allowance_by_part_needs_the_template():
    """Where the least differs by part, the template says where; without it the figure is left out, with a note."""
    allowances = Allowances(12.0, 12.0, 12.0, 10.0, 4.0, 2.0, blend_mm=0.0)
    bare = style(allowances=allowances)
    plan = box_plan(styles=(bare,))
    assert avoidable_mm2(bare, plan.pieces[0]) is None
    found = account(plan, lattice=rectangle_lattice)
    assert all(row.avoidable is None and row.avoidable_per_pair is None for row in found.trim)
    assert any("holds no templates" in note for note in found.notes)

    net = rectangle(200.0, 100.0)
    parts = {(100.0, 100.0): Part.TOE, (-100.0, -100.0): Part.BACK}
    ends = [(a[0], b[0]) for a, b in zip(net, [*net[1:], net[0]], strict=True)]
    template = Template("box", "38", net, tuple(parts.get(end, Part.SIDE) for end in ends))
    known = replace(bare, templates=(template,))
    # Independent: each edge with its own round buffer, united with the net outline.
    edges = [LineString([net[i], net[(i + 1) % 4]]).buffer(allowances.least_of(part), quad_segs=64)
             for i, part in enumerate(template.parts)]
    least = Polygon(net)
    for edge in edges:
        least = least.union(edge)
    # Between the parts the outline passes over within one sample of 3 mm.
    assert avoidable_mm2(known, plan.pieces[0]) == pytest.approx(27_776.0 - least.area, abs=60.0)
    assert trim_of(box_plan(styles=(known,)))[0].avoidable is not None


def test_nothing_is_avoidable_at_the_least():
    """A rough vamp made with the least allowances has nothing to avoid."""
    least = style(allowances=Allowances(8.0, 8.0, 8.0, 8.0, 8.0, 8.0))
    net = rectangle(200.0, 100.0)
    rough = rough_outline(Template("box", "38", net, (Part.SIDE,) * 4), least.allowances)
    piece = replace(box_plan().pieces[0], cut_outline=rough)
    assert avoidable_mm2(least, piece) == pytest.approx(0.0, abs=1e-6)


def test_left_and_right_have_the_same_to_avoid():
    """A right piece is mirrored, its figure is its left one's."""
    plan = slant_plan()
    left, right = (avoidable_mm2(plan.styles[0], piece) for piece in plan.pieces)
    assert left == pytest.approx(right) and 0.0 < left < area(plan.pieces[0].cut_outline)
