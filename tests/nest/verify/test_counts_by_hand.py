"""What the judge counts, by hand: ids, feet, pieces short of the order and over it, and the sentences that say so."""

from dataclasses import replace

import pytest
from tiny_plans import box_plan, roll, slant_plan, vamp, with_rules

from geometry.pose import Pose
from nest.pieces.piece import Foot
from nest.plan import Begun, CutHide, CutLine, DueRow, Placed, Side, Spoiled, UsedRoll
from nest.verify import Rule, verify
from nest.verify.counts import Cut, id_findings, order_findings, pair_findings, roll_findings, unit_findings
from nest.verify.judge import broken
from nest.verify.verdict import Finding


def sentences(findings) -> list[str]:
    """What the findings say."""
    return [one.sentence for one in findings]


@pytest.mark.parametrize(("changes", "words"), [
    ({"leathers": box_plan().leathers * 2}, "leather calf is given 2 times."),
    ({"order": box_plan().order * 3}, "order line box 38 is given 3 times."),
    ({"layouts": box_plan().layouts * 2}, "layout of hide H1 is given 2 times."),
    ({"styles": ()}, "piece V38 names the style 'box', which is not in the plan."),
    ({"leathers": ()}, "style box names the leather 'calf', which is not in the plan."),
    ({"rolls": ()}, "style box names the roll 'knit', which is not in the plan."),
    ({"rolls": ()}, "lay L1 names the roll 'knit', which is not in the plan."),
    ({"hides": ()}, "a layout names the hide 'H1', which is not in the plan."),
])
def test_ids_are_given_once_and_lead_somewhere(changes, words):
    """A name given twice, or one that nothing in the plan bears, is said with who names it."""
    plan = box_plan()
    assert not [*id_findings(plan)]
    found = [one for one in id_findings(replace(plan, **changes)) if one.sentence == words]
    assert len(found) == 1 and found[0].rule is Rule.IDS
    assert found[0].amount == (3.0 if "3 times" in words else 2.0 if "times" in words else 1.0)


def test_names_are_not_blank_and_units_are_known():
    """A blank name is no name; a leather is priced in an area unit, a table measured in a unit of length."""
    plan = box_plan()
    blank = replace(plan, hides=(replace(plan.hides[0], hide_id=" "),), layouts=())
    assert sentences(id_findings(blank)) == ["a hide has no name."]
    assert not [*unit_findings(plan)]
    table = replace(plan.settings.table, unit="ell")
    wrong = replace(plan, leathers=(replace(plan.leathers[0], price_unit="acre"),),
                    settings=replace(plan.settings, table=table))
    first, second = sentences(unit_findings(wrong))
    assert first.startswith("leather calf: the price unit 'acre' is none of dm2, m2, ")
    assert second.startswith("cutting table: the unit 'ell' is none of mm")


LEFT, RIGHT = slant_plan().pieces
EITHER, BACKING = box_plan().pieces
RULES = {style.name: style.rules for style in (*slant_plan().styles, *box_plan().styles)}


def _cut(piece, pair=1, spot=0, where="H1", plies=1, quality=None):
    return Cut(where, spot, piece, pair, plies, quality)


@pytest.mark.parametrize(("members", "why"), [
    ((_cut(LEFT),), "has 1 piece, a pair has two"),
    ((_cut(LEFT), _cut(RIGHT), _cut(LEFT)), "has 3 pieces, a pair has two"),
    ((_cut(LEFT), _cut(replace(RIGHT, size="39"))), "is not of one style, size and role"),
    ((_cut(RIGHT), _cut(RIGHT)), "has the feet right and right"),
    ((_cut(EITHER), _cut(replace(EITHER, foot=Foot.LEFT))), "has the feet either and left"),
    ((_cut(LEFT), _cut(RIGHT, where="H2")), "is not cut from one hide"),
    ((_cut(LEFT, quality=1), _cut(RIGHT, quality=2)), "comes from ground of classes 1 and 2"),
    ((_cut(BACKING, plies=2), _cut(BACKING, plies=3)), "lies on 2 plies and 3"),
])
def test_a_pair_that_is_none_says_why(members, why):
    """Two pieces of one kind for both feet, of one hide and class; reinforcements on as many plies."""
    (finding,) = pair_findings(members, RULES)
    ids = " and ".join(one.piece.piece_id for one in members)
    places = " and ".join(dict.fromkeys(one.where for one in members))
    assert finding.sentence == f"{places}: pair 1 ({ids}) {why}."
    assert finding.amount == 1.0 and finding.rule is Rule.PAIR


def test_pairs_that_are_some_are_counted():
    """In any order of feet, on ground of unknown class, on lays apart, where the rules let it; singles count not."""
    sound = [
        (_cut(RIGHT), _cut(LEFT)), (_cut(EITHER), _cut(EITHER)), (_cut(LEFT, quality=1), _cut(RIGHT)),
        (_cut(LEFT, quality=2), _cut(RIGHT, quality=2)), (_cut(BACKING, where="L1"), _cut(BACKING, where="L2")),
        (_cut(BACKING, quality=1), _cut(BACKING, quality=2)),
    ]
    for members in sound:
        assert [*pair_findings(members, RULES)] == [1]
    lone = [replace(one, pair=0) for one in sound[0]]
    assert not [*pair_findings(lone, RULES)]
    free = {name: replace(rule, pairs_from_one_hide=False, pairs_same_class=False) for name, rule in RULES.items()}
    assert [*pair_findings((_cut(LEFT, quality=1), _cut(RIGHT, where="H2", quality=2)), free)] == [1]


def _counted(plan, vamps, pair=1):
    cuts = [_cut(piece, pair, spot) for spot, piece in enumerate(vamps)]
    return sentences(order_findings(plan, cuts))


def _slants(pairs_wanted=2, pairs_to_cut=2, *spoiled, **begun):
    line = CutLine("slant", "38", pairs_wanted, pairs_to_cut)
    return slant_plan(order=(line,), begun=Begun((CutHide("H1"),), spoiled=spoiled, **begun))


def test_pieces_short_and_over_are_counted_by_foot():
    """Three lefts and one right for two pairs: one is short and one is over; one and many are said rightly."""
    plan = _slants()
    assert not _counted(plan, [LEFT, RIGHT] * 2)
    assert _counted(plan, [LEFT, LEFT, LEFT, RIGHT]) == [
        "order: vamp slant 38 is 1 piece short of 2 pairs.", "order: vamp slant 38 has 1 piece more than 2 pairs need."]
    assert _counted(plan, [LEFT, LEFT]) == ["order: vamp slant 38 is 2 pieces short of 2 pairs."]
    assert _counted(plan, [LEFT, RIGHT] * 3) == ["order: vamp slant 38 has 2 pieces more than 2 pairs need."]
    assert _counted(_slants(1, 1), [LEFT]) == ["order: vamp slant 38 is 1 piece short of 1 pair."]
    # One for either foot fills in for either, here for the right.
    either = vamp("E38", "slant")
    assert not _counted(plan, [LEFT, LEFT, RIGHT, either])


def test_what_is_spoiled_is_cut_again():
    """A left that is spoiled, a pair, and two pairs: on top of the order, or covered by what was cut to spare."""
    left, pair = Spoiled("slant", "38", Side.LEFT, 1), Spoiled("slant", "38", Side.PAIR, 1)
    assert _counted(_slants(2, 2, left), [LEFT, RIGHT] * 2) == [
        "order: vamp slant 38 is 1 piece short of 2 pairs and 1 spoiled."]
    assert not _counted(_slants(2, 2, left), [LEFT, RIGHT, LEFT, RIGHT, LEFT])
    assert _counted(_slants(2, 2, pair), [LEFT, RIGHT] * 2) == [
        "order: vamp slant 38 is 2 pieces short of 2 pairs and 2 spoiled."]
    # One pair of three to cut is to spare: it covers the first pair spoiled, not the second, nor a second left.
    assert not _counted(_slants(2, 3, pair, rejects_cover=True), [LEFT, RIGHT] * 3)
    assert _counted(_slants(2, 3, replace(pair, count=2), rejects_cover=True), [LEFT, RIGHT] * 3) == [
        "order: vamp slant 38 is 2 pieces short of 3 pairs and 2 spoiled."]
    assert _counted(_slants(2, 3, replace(left, count=2), rejects_cover=True), [LEFT, RIGHT] * 3) == [
        "order: vamp slant 38 is 1 piece short of 3 pairs and 1 spoiled."]
    # A piece cut again may be alone: its partner is there already. Others may not.
    cuts = [*(_cut(one, 1) for one in (LEFT, RIGHT)), *(_cut(one, 2) for one in (LEFT, RIGHT)), _cut(LEFT, 0)]
    assert not [*order_findings(_slants(2, 2, left), cuts)]
    assert [one.amount for one in order_findings(_slants(3, 3), [*cuts, _cut(RIGHT, 0)])] == [2.0]


def test_a_spoiled_pair_of_either_foot_is_two_pieces_with_their_backing():
    """Of the rectangle two pieces and two reinforcements more; none of the latter where they are kept."""
    for backed, roles in ((True, ["reinforcement", "vamp"]), (False, ["vamp"])):
        begun = Begun((CutHide("H1"),), spoiled=(Spoiled("box", "38", Side.PAIR, 1, backed),))
        cuts = [_cut(EITHER, 1), _cut(EITHER, 1), _cut(EITHER, 2), _cut(EITHER, 2), *[_cut(BACKING, 0)] * 4]
        assert sentences(order_findings(box_plan(begun=begun), cuts)) == [
            f"order: {role} box 38 is 2 pieces short of 2 pairs and 2 spoiled." for role in roles]
    covered = Begun((CutHide("H1"),), spoiled=(Spoiled("box", "38", Side.EITHER, 3),), rejects_cover=True)
    plan = box_plan(begun=covered, order=(CutLine("box", "38", 1, 2),))
    cuts = [_cut(EITHER, 1), _cut(EITHER, 1), _cut(EITHER, 2), _cut(EITHER, 2), *[_cut(BACKING, 0)] * 4]
    # Of three spoiled the pair to spare covers two.
    assert sentences(order_findings(plan, cuts)) == [
        f"order: {role} box 38 is 1 piece short of 2 pairs and 1 spoiled." for role in ("reinforcement", "vamp")]


def test_lays_need_their_length_and_both_ends_of_every_ply():
    """Two plies of 409 mm with 20 mm at either end are 898 mm; what was taken off in truth counts where it is more."""
    def at(length, **begun):
        return [(one.sentence, one.amount) for one in roll_findings(
            box_plan(rolls=(roll(length_mm=length),), begun=Begun(**begun)))]

    assert not at(898.0)
    assert at(896.0) == [("roll knit: its lays need 898 mm with end losses, 2 mm too much.", 2.0)]
    assert not at(898.0, lays=("L1",), rolls=(UsedRoll("knit"),))
    assert not at(898.0, lays=("L1",), rolls=(UsedRoll("knit", 800.0),))
    assert at(900.0, lays=("L1",), rolls=(UsedRoll("knit", 910.0),)) == [
        ("roll knit: its lays need 910 mm with end losses, 10 mm too much.", 10.0)]
    # What was taken off for other things does not shorten what is still to be spread.
    assert at(900.0, rolls=(UsedRoll("knit", 10.0),)) == [
        ("roll knit: its lays need 908 mm with end losses, 8 mm too much.", 8.0)]


def test_pieces_that_do_not_belong_are_said_by_number():
    """Unknown pieces, poses that are no numbers, a reinforcement on a hide: each in one sentence with its number."""
    def found(**one):
        layout = box_plan().layouts[0]
        placed = (*layout.placed[:3], replace(layout.placed[3], **one))
        plan = with_rules(box_plan(layouts=(replace(layout, placed=placed),)), pairs_from_one_hide=False)
        return [finding for finding in verify(plan).wrong if finding.spots == (3,)]

    assert found(piece_id="V99") == [Finding(
        "H1", Rule.IDS, ("V99",), (3,), 1.0, "pieces", "H1: V99 (no. 4) is no usable piece of the plan.")]
    assert found(pose=Pose(0.0, 0.0, float("inf"))) == [Finding(
        "H1", Rule.SHAPE, ("V38",), (3,), 1.0, "pieces", "H1: V38 (no. 4) has a pose that is not a number.")]
    assert "H1: B38 (no. 4) is a reinforcement and does not belong here." in sentences(found(piece_id="B38"))
    lay = replace(box_plan().lays[0], placed=(Placed("B38", Pose(102.0, 52.0, 0.0)),), plies=0)
    assert Finding(
        "L1", Rule.SHAPE, (), (), 1.0, "pieces", "lay L1: length 409 mm, usable width 320 mm and 0 plies make no lay."
    ) in verify(box_plan(lays=(lay,))).wrong


def test_what_makes_a_plan_useless_for_anything_else_is_found_apart():
    """Ids, units and outlines, and pieces that are not there, once a material; what is merely wrong is left out."""
    assert not [*broken(box_plan(order=(CutLine("box", "38", 5, 2),)))]
    layout = box_plan().layouts[0]
    strange = replace(layout, placed=tuple(replace(one, piece_id="V99") for one in layout.placed))
    assert [*broken(box_plan(layouts=(strange,)))] == [
        Finding("H1", Rule.IDS, ("V99",), (), 1.0, "pieces", "H1: V99 is no usable piece of the plan.")]
    assert sentences(broken(box_plan(leathers=(replace(box_plan().leathers[0], price_unit="acre"),))))


def test_rows_short_count_the_pairs_that_lack_a_piece():
    """Of two lefts and a right for two pairs one pair is short; a left that is spoiled makes it one more."""
    def short(vamps, *spoiled, piece=LEFT):
        rows = DueRow("2026-12-01", 0, 1), DueRow("2026-12-08", 0, 1)
        make = slant_plan if piece is LEFT else box_plan
        plan = make(order=(CutLine(piece.style, "38", 2, 2, rows),),
                    begun=Begun((CutHide("H1"),), spoiled=spoiled))
        said = [one for one in _counted(plan, vamps) if "vamp" in one and "short" in one]
        return [one.partition("leaves short: ")[2] for one in said]

    first, second = "1 of 1 due 2026-12-01", "1 of 1 due 2026-12-08"
    assert short([LEFT, LEFT, RIGHT]) == [f"{second}."]
    assert short([LEFT, LEFT]) == [f"{first}, {second}."]
    spoiled = Spoiled("slant", "38", Side.LEFT, 1)
    assert short([LEFT, LEFT, RIGHT, RIGHT], spoiled) == short([LEFT, LEFT, LEFT, RIGHT], spoiled) == [f"{second}."]
    assert short([LEFT, RIGHT, RIGHT, RIGHT], spoiled) == [f"{first}, {second}."]
    # Of either foot: four pieces for two pairs, one more for each that is spoiled.
    spoiled = Spoiled("box", "38", Side.EITHER, 1)
    assert short([EITHER] * 4, spoiled, piece=EITHER) == short([EITHER] * 3, piece=EITHER) == [f"{second}."]
    assert short([EITHER] * 3, spoiled, piece=EITHER) == [f"{second}."]
    assert short([EITHER] * 2, spoiled, piece=EITHER) == [f"{first}, {second}."]


def test_nothing_is_counted_as_checked_that_was_not_looked_at():
    """Of a plan without anything every count is 0."""
    checks = verify(replace(box_plan(), hides=(), layouts=(), lays=(), pieces=(), order=())).checks
    assert {name: getattr(checks, name) for name in checks.__dataclass_fields__ if getattr(checks, name)} == {}
