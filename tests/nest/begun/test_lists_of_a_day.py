"""The list of what was cut, row by row: states, repeats, what earlier plans knew, areas and lengths at their limits."""

from dataclasses import replace

import pytest
from tiny_plans import box_plan, hide, in_pairs, slant_plan, spots

from geometry.pose import Pose
from nest.begun.lists import read_begun
from nest.begun.part import cut_part, length_used_mm
from nest.begun.spoiled import cut_vamps
from nest.begun.written import cut_list, spoiled_list
from nest.errors import InputProblems, PlanProblem
from nest.plan import Begun, CutHide, CutLine, HideLayout, Placed, Side, Spoiled, UsedRoll


def day_plan(**begun):
    """Two pairs on each of two hides of three, one lay of two plies; something cut or withdrawn before."""
    second = HideLayout("H2", in_pairs(["V38"] * 4, spots(4), first_pair=3))
    return box_plan(
        order=(CutLine("box", "38", 4, 4),), hides=(hide("H1"), hide("H2"), hide("H3")),
        layouts=(*box_plan().layouts, second), begun=Begun(**begun),
    )


def read(tmp_path, rows: str, plan=None, **options):
    """What the list says, after the plan."""
    path = tmp_path / "cut.csv"
    path.write_text(f"material,state,used,unit\n{rows}\n", encoding="utf-8")
    return read_begun(plan or day_plan(), path, **options)


def refused(tmp_path, rows: str, plan=None, **options) -> list[str]:
    """The sentences that a list is refused with."""
    with pytest.raises(InputProblems) as caught:
        read(tmp_path, rows, plan, **options)
    return str(caught.value).splitlines()


def test_a_hide_withdrawn_before_may_leave_the_stock_and_be_listed_again(tmp_path):
    """Withdrawn, or without a state, it passes though it is not in the plan; cut it does not."""
    plan = day_plan(withdrawn=("H9",))
    for state in ("", "withdrawn"):
        assert read(tmp_path, f"H9,{state},,", plan)[0].withdrawn == ("H9",)
    assert "expected a hide or a roll of the plan, found 'H9'" in refused(tmp_path, "H9,cut,,", plan)[0]
    assert "found 'H8'" in refused(tmp_path, "H8,withdrawn,,", plan)[0]


def test_states_of_hides(tmp_path):
    """Cut, uncut and withdrawn; an empty state is refused; what is cut stays cut and cannot be withdrawn."""
    begun, warnings = read(tmp_path, "H1,cut,,\nH2,uncut,,\nH3,withdrawn,,")
    assert begun.hides == (CutHide("H1", None),) and begun.withdrawn == ("H3",) and not warnings
    assert "state: expected cut, uncut or withdrawn, found an empty cell" in refused(tmp_path, "H1,,,")[0]
    before = day_plan(hides=(CutHide("H1"),))
    for state in ("uncut", "withdrawn"):
        (sentence,) = refused(tmp_path, f"H1,{state},,", before)
        assert f"expected cut, as the plan has hide H1, found {state!r}" in sentence
    assert "one that is cut and withdrawn" in refused(tmp_path, "H1,cut,,", withdrawn=("H1",))[0]
    assert "withdrawn hide H7: expected a hide of the plan" in refused(tmp_path, "H1,cut,,", withdrawn=("H7",))[0]


def test_areas_at_their_limits(tmp_path):
    """5 % off is said, 25 % off refused, either way; half a square metre measured 0.5."""
    for area, warned in (("52.4", 0), ("52.6", 1), ("47.6", 0), ("47.4", 1), ("62.4", 1)):
        begun, warnings = read(tmp_path, f"H1,cut,{area},dm2")
        assert begun.hides[0].measured_mm2 == pytest.approx(float(area) * 1e4) and len(warnings) == warned, area
    _, (warning,) = read(tmp_path, "H1,cut,47.4,dm2")
    assert "0.47 m², 5% less than the 0.50 m² that hide H1 measured; check it" in warning
    assert "6% more" in read(tmp_path, "H1,cut,53,dm2")[1][0]
    for area in ("62.6", "37.4"):
        assert "about the 0.50 m²" in refused(tmp_path, f"H1,cut,{area},dm2")[0]


def test_lengths_of_rolls(tmp_path):
    """A lay of two plies needs 0.898 m; a withdrawn roll keeps what was off it, an uncut one has no length."""
    assert read(tmp_path, "knit,cut,,")[0].rolls == (UsedRoll("knit", 898.0),)
    assert read(tmp_path, "knit,withdrawn,,")[0].rolls == (UsedRoll("knit", 0.0, True),)
    assert read(tmp_path, "knit,withdrawn,0.9,m")[0].rolls == (UsedRoll("knit", 900.0, True),)
    assert read(tmp_path, "knit,uncut,,")[0].rolls == ()
    assert "no length, for the roll is not cut" in refused(tmp_path, "knit,uncut,0.9,m")[0]
    begun, (warning,) = read(tmp_path, "knit,cut,0.449,m")
    assert "0.449 m hold 1 of the 2 plies of lay L1" in warning and begun.lays == ("L1",)


def test_what_was_off_a_roll_before(tmp_path):
    """A later length is at least 95 % of the earlier one; uncut it cannot be; an old list names no later lay."""
    before = day_plan(rolls=(UsedRoll("knit", 1_000.0),), lays=("L1",))
    assert read(tmp_path, "knit,cut,0.951,m", before)[0].rolls[0].length_mm == pytest.approx(951.0)
    assert "at least the 1 m that were off roll knit before" in refused(tmp_path, "knit,cut,0.949,m", before)[0]
    assert "expected cut, as the plan has roll knit" in refused(tmp_path, "knit,uncut,,", before)[0]
    assert read(tmp_path, "knit,cut,,", before)[0].lays == ("L1",)
    later = replace(before, lays=(*before.lays, replace(before.lays[0], lay_id="L2")))
    assert "the length off roll knit in all" in refused(tmp_path, "knit,cut,,", later)[0]


def test_vamps_that_are_cut():
    """Counted by style, size and foot."""
    assert cut_vamps(day_plan())["box", "38"] == {"either": 8}


def test_a_hide_that_the_plan_leaves_whole_is_not_cut(tmp_path):
    """Layouts of other hides do not count for it."""
    (sentence,) = refused(tmp_path, "H3,cut,,")
    assert "a hide that the plan cuts something from, found H3, which it leaves whole" in sentence


def test_rows_of_one_kind_of_spoiled_vamps_are_added_up(tmp_path):
    """One and two more are three."""
    spoiled = tmp_path / "spoiled.csv"
    spoiled.write_text("size,side,pieces\n38,,1\n38,,2\n", encoding="utf-8")
    path = tmp_path / "cut.csv"
    path.write_text("material,state\nH1,cut\n", encoding="utf-8")
    (lost,) = read_begun(day_plan(), path, spoiled)[0].spoiled
    assert (lost.style, lost.size, lost.count) == ("box", "38", 3)


def test_a_lay_cut_in_part_ends_behind_its_last_piece():
    """230 mm off the roll hold the first reinforcement, which ends at 204 mm, after 20 mm of end loss."""
    plan = day_plan()
    plan = replace(plan, lays=(replace(plan.lays[0], plies=1),))
    part = cut_part(plan, Begun(rolls=(UsedRoll("knit", 230.0),)))
    assert [len(lay.placed) for lay in part.lays] == [1] and part.lays[0].length_mm == pytest.approx(204.02)
    longer = cut_part(plan, Begun(rolls=(UsedRoll("knit", 250.0),)))
    assert longer.lays[0].length_mm == pytest.approx(210.0)


def test_a_list_of_spoiled_vamps_names_the_style_and_what_became_of_its_reinforcement(tmp_path):
    """Columns that need not be there are read all the same, and without a warning."""
    spoiled, path = tmp_path / "spoiled.csv", tmp_path / "cut.csv"
    spoiled.write_text("style,size,side,reinforcement,pieces\nbox,38,,kept,1\nbox,38,pair,lost,1\n", encoding="utf-8")
    path.write_text("material,state\nH1,cut\n", encoding="utf-8")
    begun, warnings = read_begun(day_plan(), path, spoiled)
    assert begun.spoiled == (Spoiled("box", "38", Side.EITHER, 1, False), Spoiled("box", "38", Side.PAIR, 1))
    assert not warnings


def test_outcomes_of_a_hide_that_is_not_cut_are_refused(tmp_path):
    """What the press made of a piece of H2 cannot be known while H2 is uncut; of H1 it can."""
    outcomes, path = tmp_path / "outcomes.csv", tmp_path / "cut.csv"
    path.write_text("material,state\nH1,cut\n", encoding="utf-8")
    outcomes.write_text("hide,piece,outcome\nH1,1,crack\n", encoding="utf-8")
    assert read_begun(day_plan(), path, outcomes)[0].spoiled == (Spoiled("box", "38", Side.EITHER, 1),)
    outcomes.write_text("hide,piece,outcome\nH2,1,crack\n", encoding="utf-8")
    with pytest.raises(InputProblems, match="expected hides that are cut, found H2, which is not"):
        read_begun(day_plan(), path, outcomes)


def test_a_length_that_ends_within_a_ply_names_the_nearest_end(tmp_path):
    """Two plies of 449 mm: 0.6 m is nearest to the end of the first."""
    (sentence,) = refused(tmp_path, "knit,cut,0.6,m")
    assert "give the length at its end, such as 0.449 m" in sentence


def test_the_lists_of_a_day_are_written_as_they_are_read(tmp_path):
    """Cut, withdrawn and spoiled come back as they were, sides and reinforcements too."""
    begun = Begun(
        hides=(CutHide("H1", 505_000.0),), rolls=(UsedRoll("knit", 898.0),), lays=("L1",), withdrawn=("H3",),
        spoiled=(Spoiled("box", "38", Side.EITHER, 1, False), Spoiled("box", "38", Side.PAIR, 1)),
    )
    paths = []
    for name, (columns, rows) in (("cut", cut_list(begun)), ("spoiled", spoiled_list(begun))):
        paths.append(tmp_path / f"{name}.csv")
        paths[-1].write_text("\n".join(",".join(map(str, row)) for row in (columns, *rows)), encoding="utf-8")
    assert paths[1].read_text(encoding="utf-8").splitlines()[1:] == ["box,38,,1,kept", "box,38,pair,1,lost"]
    again = read_begun(day_plan(), *paths)[0]
    assert replace(again, lays=begun.lays) == begun


def spoiled_of(tmp_path, rows: str, plan=None):
    """What a list of spoiled vamps says, after the plan of left and right vamps; H1 is cut."""
    spoiled, path = tmp_path / "spoiled.csv", tmp_path / "cut.csv"
    spoiled.write_text(f"size,side,pieces\n{rows}\n", encoding="utf-8")
    path.write_text("material,state\nH1,cut\n", encoding="utf-8")
    return read_begun(plan or slant_plan(), path, spoiled)[0].spoiled


def test_sides_of_spoiled_vamps(tmp_path):
    """Left, right or pair where there are two; nothing, or any side, where one outline serves both feet."""
    assert spoiled_of(tmp_path, "38,Left,1\n38,right,2\n38,pair,0") == (
        Spoiled("slant", "38", Side.LEFT, 1), Spoiled("slant", "38", Side.RIGHT, 2))
    for side in ("", "left", "right", "either"):
        assert spoiled_of(tmp_path, f"38,{side},1", day_plan()) == (Spoiled("box", "38", Side.EITHER, 1),)
    for plan, side in ((slant_plan(), ""), (slant_plan(), "either"), (day_plan(), "both")):
        with pytest.raises(InputProblems, match="line 2, side: expected left, right or pair"):
            spoiled_of(tmp_path, f"38,{side},1", plan)


@pytest.mark.parametrize(("plan", "rows", "words"), [
    (slant_plan(), "38,left,3", "line 2, pieces: expected at most the 2 left vamps of slant 38 that are cut, found 3"),
    (slant_plan(), "38,pair,2\n38,right,1", "line 3, pieces: expected at most the 2 right vamps of slant 38"),
    (day_plan(), "38,,5", "line 2, pieces: expected at most the 4 vamps of box 38 that are cut, found 5"),
    (day_plan(), "38,pair,3", "line 2, pieces: expected at most the 4 vamps of box 38 that are cut, found 6"),
])
def test_no_more_is_spoiled_than_is_cut(tmp_path, plan, rows, words):
    """By foot, and rows added up; as many as are cut may be."""
    with pytest.raises(InputProblems) as refused:
        spoiled_of(tmp_path, rows, plan)
    assert words in str(refused.value) and len(refused.value.problems) == 1
    assert spoiled_of(tmp_path, "38,pair,2", plan)[0].count == 2


def two_rolls(**begun):
    """A lay of two plies on one roll, one of three on another; 898 and 1347 mm."""
    plan = day_plan(**begun)
    felt = replace(plan.rolls[0], roll_id="felt")
    return replace(plan, rolls=(*plan.rolls, felt), lays=(
        *plan.lays, replace(plan.lays[0], lay_id="L2", roll_id="felt", plies=3)))


def test_a_roll_without_a_length_is_as_long_as_its_own_lays(tmp_path):
    """Of two rolls each has its own; what was measured before stays where it is more, and not where it is less."""
    assert read(tmp_path, "knit,cut,,\nfelt,cut,,", two_rolls())[0].rolls == (
        UsedRoll("knit", 898.0), UsedRoll("felt", 1347.0))
    for before, now in ((1000.0, 1000.0), (890.0, 898.0)):
        plan = two_rolls(rolls=(UsedRoll("knit", before),), lays=("L1",))
        assert read(tmp_path, "knit,cut,,", plan)[0].rolls[0] == UsedRoll("knit", now)


def test_lengths_that_a_roll_cannot_have(tmp_path):
    """More than the 20 m it holds, less than a first piece takes, and figures that read two ways; nothing is booked."""
    assert "at most the 20 m that roll knit holds, found 20.001 m" in refused(tmp_path, "knit,cut,20.001,m")[0]
    assert read(tmp_path, "knit,cut,20,m")[0].rolls == (UsedRoll("knit", 20_000.0),)
    one_ply = replace(day_plan(), lays=(replace(day_plan().lays[0], plies=1),))
    (sentence,) = refused(tmp_path, "knit,cut,0.1,m", one_ply)
    assert "about the 0.449 m that lay L1 needs; no piece of it lies within less" in sentence
    # 1.234 m, or 1234 m: in doubt where the roll holds that much.
    for roll_mm, doubt in ((1_234_000.0, True), (1_233_999.0, False)):
        plan = replace(day_plan(), rolls=(replace(day_plan().rolls[0], length_mm=roll_mm),))
        if doubt:
            assert "a length that can be read one way" in refused(tmp_path, "knit,cut,1.234,m", plan)[0]
        else:
            assert read(tmp_path, "knit,cut,1.234,m", plan)[0].rolls == (UsedRoll("knit", 1234.0),)


@pytest.mark.parametrize(("length", "near"), [("0.6", "0.449"), ("0.8", "0.898"), ("1.1", "0.898"), ("1.7", "1.796")])
def test_the_nearest_end_of_a_ply_is_named(tmp_path, length, near):
    """Two lays of two plies of 449 mm, one behind the other on a roll."""
    plan = replace(day_plan(), lays=(*day_plan().lays, replace(day_plan().lays[0], lay_id="L2")))
    (sentence,) = refused(tmp_path, f"knit,cut,{length},m", plan)
    assert f"give the length at its end, such as {near} m" in sentence


def test_a_length_without_a_unit_is_in_metres(tmp_path):
    """0.898 alone, 898 mm and 89.8 cm are the same; a unit of area is refused."""
    for cells in ("0.8980,", "898,mm", "89.8,cm"):
        assert read(tmp_path, f"knit,cut,{cells}")[0].rolls[0].length_mm == pytest.approx(898.0)
    assert "expected a length unit (" in refused(tmp_path, "knit,cut,9,dm2")[0]


def test_a_length_used_is_the_longer_of_measured_and_needed():
    """A lay of 898 mm: measured 950 mm count, 800 mm or nothing measured do not; what is off another roll neither."""
    knit = day_plan().rolls[0]
    for rolls, length in (((), 898.0), ((UsedRoll("knit"),), 898.0), ((UsedRoll("knit", 800.0),), 898.0),
                          ((UsedRoll("knit", 950.0),), 950.0), ((UsedRoll("felt", 950.0),), 898.0),
                          ((UsedRoll("knit", 950.0), UsedRoll("knit", 930.0)), 950.0)):
        assert length_used_mm(day_plan(rolls=rolls), knit) == pytest.approx(length)


def test_a_hide_refused_for_its_area_is_not_taken_for_cut(tmp_path):
    """One sentence for the area, and none for the same hide being withdrawn as well; each limit in its turn."""
    assert len(refused(tmp_path, "H1,cut,90,dm2", withdrawn=("H1",))) == 1
    full = day_plan()
    full = replace(full, layouts=(replace(full.layouts[0], placed=in_pairs(["V38"] * 16, spots(4) * 4)),))
    (sentence,) = refused(tmp_path, "H1,cut,40,dm2", full, withdrawn=("H1",))
    assert "expected at least the 0.44 m² that the pieces cut from hide H1 cover, found 0.40 m²" in sentence


@pytest.mark.parametrize(("off", "pieces", "length"), [
    (450.0, 2, 410.0), (424.1, 2, 409.02), (423.9, 1, 383.9), (219.1, 1, 204.02), (218.9, 0, None),
])
def test_a_lay_cut_in_part_holds_what_ends_within_5_mm_of_the_length(off, pieces, length):
    """Of three in any sequence, ends at 204, 409 and 614 mm; the lay is as long as they need, or as was measured."""
    plan = day_plan()
    backs = tuple(Placed("B38", Pose(102.0 + 205.0 * i, 52.0, 0.0)) for i in (1, 0, 2))
    plan = replace(plan, lays=(replace(plan.lays[0], plies=1, length_mm=614.0, placed=backs),))
    lays = cut_part(plan, Begun(rolls=(UsedRoll("knit", off),))).lays
    assert [len(lay.placed) for lay in lays] == ([pieces] if pieces else [])
    assert [lay.length_mm for lay in lays] == ([pytest.approx(length)] if pieces else [])


@pytest.mark.parametrize(("off", "length"), [(515.0, 500.0), (514.9, 474.9), (448.0, 409.02), (20.0, None)])
def test_a_lay_is_cut_whole_up_to_5_mm_and_its_last_end_loss(off, length):
    """The ply is 500 mm long, with 20 mm lost at each end: 515 mm off the roll is the whole lay."""
    plan = replace(day_plan(), lays=(replace(day_plan().lays[0], plies=1, length_mm=500.0),))
    lays = cut_part(plan, Begun(rolls=(UsedRoll("knit", off),))).lays
    assert [lay.length_mm for lay in lays] == ([pytest.approx(length)] if length else [])
    assert (lays == plan.lays) is (off == 515.0)


@pytest.mark.parametrize(("off", "plies"), [
    (24.9, 0), (25.1, None), (423.9, None), (424.0, 1), (474.0, 1), (474.1, None), (872.9, None), (873.0, 2),
])
def test_plies_end_within_5_mm_and_an_end_loss_of_the_length(off, plies):
    """There are two plies of 449 mm; a length that ends too far from the end of a ply is refused."""
    begun = Begun(rolls=(UsedRoll("knit", off),))
    if plies is None:
        with pytest.raises(PlanProblem, match=r"roll knit: the length used ends within a ply of lay L1, .* 0\.449 m"):
            cut_part(day_plan(), begun)
    else:
        assert [lay.plies for lay in cut_part(day_plan(), begun).lays] == [plies] * (plies > 0)


def test_lays_of_a_roll_are_cut_one_behind_the_other(tmp_path):
    """Of two lays of one ply, 0.1 m is too little for the first, and 0.75 m ends within the second of 0.898 m."""
    lay = replace(day_plan().lays[0], plies=1)
    plan = replace(day_plan(), lays=(lay, replace(lay, lay_id="L2")))
    (sentence,) = refused(tmp_path, "knit,cut,0.1,m", plan)
    assert "about the 0.449 m that lay L1 needs" in sentence
    begun, (warning,) = read(tmp_path, "knit,cut,0.75,m", plan)
    assert "0.75 m hold 1 of the 2 pieces of lay L2, which needs 0.898 m" in warning and begun.lays == ("L1", "L2")
    begun, warnings = read(tmp_path, "knit,cut,0.449,m", plan)
    assert begun.lays == ("L1",) and not warnings
