"""The judge of whole plans: a clean one passes, one that cannot be judged is said, mirror images, rolls and ids."""

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from judged import only, tight_plan
from shapely.geometry import Polygon
from tiny_plans import (
    SLANT,
    box_plan,
    mirrored,
    moved,
    rectangle,
    roll,
    slant_plan,
    style,
    vamp,
    with_hide,
    with_placed,
)

import nest.verify
from geometry.pose import Pose
from nest.plan import HideLayout, Lay, Placed
from nest.stock.material import Leather
from nest.verify import Rule, verify
from nest.verify.judge import _why_unusable_piece


@pytest.mark.parametrize("make", [box_plan, slant_plan, tight_plan])
def test_clean_plan_passes(make):
    """A right plan is ok, meets its order, and says what was looked at."""
    verdict = verify(make())
    assert verdict.ok and verdict.order_met and verdict.findings == ()
    assert verdict.checks.hides == 1 and verdict.checks.pairs == 2 and verdict.checks.grounds == 4


def test_counts_say_what_was_checked():
    """The checks count hides, lays, pieces, measured neighbours and order lines."""
    checks = verify(tight_plan()).checks
    assert (checks.hides, checks.lays, checks.pieces, checks.order_lines, checks.unpaired) == (1, 1, 6, 1, 0)
    # Four in a block: two neighbours along, two across, none over the corner (1.41 mm); one on the lay.
    assert checks.neighbours == 5


def test_lay_edges_and_roll_length():
    """Pieces stay within the lay's length and the usable width, and the lays within the roll."""
    lay = box_plan().lays[0]
    assert only(box_plan(lays=(replace(lay, length_mm=408.7),)), Rule.OUTSIDE).amount == pytest.approx(0.3, abs=1e-4)
    low = replace(lay.placed[0], pose=Pose(102.0, 51.9, 0.0))
    assert only(box_plan(lays=(replace(lay, placed=(low, lay.placed[1])),)), Rule.OUTSIDE).where == "L1"
    # Two plies of 409 mm with 2 × 20 mm of end loss need 898 mm.
    assert verify(box_plan(rolls=(roll(length_mm=898.0),))).ok
    assert only(box_plan(rolls=(roll(length_mm=897.0),)), Rule.ROLL_LENGTH).amount == pytest.approx(1.0)


def test_pieces_on_the_wrong_material():
    """Vamps belong on their leather, reinforcements on their roll."""
    plan = with_hide(box_plan(leathers=(*box_plan().leathers, Leather("suede", 1, "m2"))), leather="suede")
    assert [f.rule for f in verify(plan).findings] == [Rule.MATERIAL] * 4
    other = box_plan(rolls=(roll(), roll(roll_id="felt")), lays=(replace(box_plan().lays[0], roll_id="felt"),))
    assert [f.rule for f in verify(other).findings] == [Rule.MATERIAL] * 2
    stray = with_placed(box_plan(), 3, Placed("B38", Pose(810.0, 70.0, 0.0), 0))
    assert Rule.MATERIAL in {f.rule for f in verify(stray).wrong}


def test_ids():
    """Unknown ids and ids given twice are found, and the rest is still judged."""
    plan = box_plan()
    only(replace(plan, hides=plan.hides * 2), Rule.IDS)
    only(replace(plan, pieces=(*plan.pieces, plan.pieces[0])), Rule.IDS)
    only(replace(plan, layouts=(*plan.layouts, HideLayout("H9", ()))), Rule.IDS)
    only(replace(plan, layouts=(*plan.layouts, HideLayout("H1", ()))), Rule.IDS)
    only(replace(plan, lays=(*plan.lays, Lay("L2", "wool", 10.0, 1, ()))), Rule.IDS)
    strange = verify(with_placed(plan, 3, replace(plan.layouts[0].placed[3], piece_id="V99")))
    assert [f.rule for f in strange.wrong] == [Rule.IDS, Rule.PAIR] and strange.short[0].amount == 1.0


def test_shapes_that_cannot_be_judged():
    """Poses that are no numbers, crossed outlines and lays of no length are findings, not crashes."""
    plan = box_plan()
    nan = with_placed(plan, 0, replace(plan.layouts[0].placed[0], pose=Pose(float("nan"), 0.0, 0.0)))
    assert verify(nan).wrong[0].rule is Rule.SHAPE
    bow = replace(plan.pieces[0], cut_outline=np.array([(-200.0, -200), (200, 200), (200, -200), (-200, 200)]))
    assert Rule.SHAPE in {f.rule for f in verify(replace(plan, pieces=(bow, plan.pieces[1]))).wrong}
    small = replace(plan.pieces[0], cut_outline=rectangle(100, 50))
    assert "outside its cut outline" in verify(replace(plan, pieces=(small, plan.pieces[1]))).wrong[0].sentence
    assert Rule.SHAPE in {f.rule for f in verify(with_hide(plan, outline=Polygon(bow.cut_outline))).wrong}
    assert Rule.SHAPE in {f.rule for f in verify(replace(plan, lays=(replace(plan.lays[0], length_mm=0.0),))).wrong}
    empty = replace(plan, layouts=(), lays=())
    assert verify(empty).ok and len(verify(empty).short) == 2


def test_mirror_images():
    """A right piece must be the left one mirrored, and a piece for either foot its own mirror image."""
    plan = slant_plan()
    left, right = plan.pieces
    turned_over = replace(right, net_outline=left.net_outline, cut_outline=left.cut_outline)
    # Corner (100, -20) comes to (100, 20) in the mirror: 30 mm from the outline there.
    assert only(replace(plan, pieces=(left, turned_over)), Rule.MIRROR).amount == pytest.approx(30.0, abs=2.0)
    lopsided = replace(box_plan().pieces[0], net_outline=mirrored(SLANT))
    only(box_plan(pieces=(lopsided,), lays=(), styles=(style(roll=""),)), Rule.MIRROR)


def test_findings_are_sentences():
    """Every finding names its place and its pieces in one sentence."""
    finding = only(moved(tight_plan(), 3, dx=-0.5), Rule.GAP)
    assert finding.sentence == "H1: V38 (no. 3) and V38 (no. 4) are 0.500 mm apart, the gap is 1 mm."


def test_shares_no_code_with_the_search():
    """The judge imports nothing that made the plan: of geometry tolerances alone, of nest nothing but data.

    Of the rules it takes what a rule is, not the functions that the search asks; headings and ground it judges itself.
    """
    allowed = {"geometry.precision", "nest.plan", "nest.pieces.piece", "nest.stock.material", "nest.units"}
    for path in Path(nest.verify.__file__).parent.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = {alias.name for n in ast.walk(tree) if isinstance(n, ast.Import) for alias in n.names}
        for n in (n for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)):
            assert n.module != "nest.rules" or [alias.name for alias in n.names] == ["Rules"], path.name
            names.add(n.module)
        ours = {name for name in names if name.split(".")[0] in ("geometry", "nest")} - {"nest.rules"}
        assert {name for name in ours if not name.startswith("nest.verify")} <= allowed, path.name


@pytest.mark.parametrize(("corners", "why"), [
    ([(0.0, 0.0), (200.0, 0.0), (0.0, 100.0)], ""), ([(0.0, 0.0), (200.0, 0.0)], "has an outline that is not finite"),
    ([(0.0, 0.0), (200.0, 0.0), (0.0, np.nan)], "has an outline that is not finite"),
    ([(0.0, 0.0), (200.0, 100.0), (200.0, 0.0), (0.0, 100.0)], "has an outline that crosses itself"),
])
def test_an_outline_has_three_corners_at_least(corners, why):
    """A triangle is a piece; a line is none, nor what is nowhere or crosses itself."""
    ring = np.array(corners)
    assert _why_unusable_piece(replace(vamp(), cut_outline=ring, net_outline=ring)) == why
