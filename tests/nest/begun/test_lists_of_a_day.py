"""The list of what was cut, row by row: states, repeats, what earlier plans knew, areas and lengths at their limits."""

from dataclasses import replace

import pytest
from tiny_plans import box_plan, hide, in_pairs, spots

from nest.begun.lists import read_begun
from nest.begun.part import cut_part
from nest.begun.spoiled import cut_vamps
from nest.begun.written import cut_list, spoiled_list
from nest.errors import InputProblems
from nest.plan import Begun, CutHide, CutLine, HideLayout, Side, Spoiled, UsedRoll


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
    """Columns that are not needed are read all the same; vamps of a reinforcement are not asked for."""
    spoiled, path = tmp_path / "spoiled.csv", tmp_path / "cut.csv"
    spoiled.write_text("style,size,side,reinforcement,pieces\nbox,38,,kept,1\nbox,38,pair,lost,1\n", encoding="utf-8")
    path.write_text("material,state\nH1,cut\n", encoding="utf-8")
    lost = read_begun(day_plan(), path, spoiled)[0].spoiled
    assert lost == (Spoiled("box", "38", Side.EITHER, 1, False), Spoiled("box", "38", Side.PAIR, 1))


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
