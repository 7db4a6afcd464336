"""Planning again and used against planned on the command line: files, exit codes, and sentences on bad lists."""

import csv
import json
from dataclasses import replace
from types import SimpleNamespace

import pytest
from tiny_plans import backing, box_plan, hide, in_pairs, spots, vamp

from nest.begun.lists import read_begun
from nest.begun.part import cut_part
from nest.cli import main, steps
from nest.cli.codes import Exit
from nest.errors import InputProblems
from nest.plan import CutHide, CutLine, HideLayout, Side, Spoiled, UsedRoll
from nest.planfile import write_plan


def two_hides():
    """Two pairs on each of two hides; reinforcements on one lay."""
    second = HideLayout("H2", in_pairs(["V38"] * 4, spots(4), first_pair=3))
    return box_plan(
        order=(CutLine("box", "38", 4, 4),), hides=(hide("H1"), hide("H2"), hide("H3")),
        layouts=(*box_plan().layouts, second), pieces=(vamp(), backing()),
    )


def listed(folder, name, text):
    """A file of this text."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_both_lists_are_read(tmp_path):
    """Areas and lengths in their units; states in any case; blank rows and a hide not listed are no matter."""
    cut = listed(tmp_path, "cut.csv", "material,state,used,unit\nH1,cut,52,dm2\nH3,Withdrawn,,\n\nknit,cut,0.9,m\n")
    spoiled = listed(tmp_path, "spoiled.csv", "size,side,pieces,reinforcement\n38,,1,\n38,pair,1,kept\n")
    begun, _ = read_begun(two_hides(), cut, spoiled)
    assert begun.hides == (CutHide("H1", 520_000.0),) and begun.withdrawn == ("H3",)
    assert begun.rolls == (UsedRoll("knit", 900.0),) and begun.lays == ("L1",)
    assert begun.spoiled == (Spoiled("box", "38", Side.EITHER, 1), Spoiled("box", "38", Side.PAIR, 1, backed=False))


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("H9,cut,,", "cut.csv, line 2, material: expected a hide or a roll of the plan, found 'H9'"),
        ("H1,half,,", "cut.csv, line 2, state: expected cut, uncut or withdrawn, found 'half'"),
        ("H1,cut,,\nH1,uncut,,", "cut.csv, line 3, material: expected each hide and roll once, found H1 again"),
        ("H3,cut,,", "line 2, material: expected a hide that the plan cuts something from, found H3"),
        ("H1,cut,52,", "line 2, unit: expected an area unit"),
        ("H1,cut,52,m2", "line 2, used: expected about the 0.50 m² that hide H1 measured, found 52.00 m²"),
        ("H1,withdrawn,52,dm2", "line 2, used: expected no area, for the hide is not cut"),
        ("knit,cut,99,m", "line 2, used: expected at most the 20 m that roll knit holds, found 99 m"),
        ("knit,cut,1,dm2", "line 2, unit: expected a length unit"),
        ("H1,cut,-3,dm2", "line 2, used: expected an area above 0"),
        ("H1,cut,70,dm2", "line 2, used: expected about the 0.50 m² that hide H1 measured, found 0.70 m²"),
        ("knit,cut,0.25,m", "used: expected a length at the end of a ply, for the plies of a lay are cut whole"),
        ("knit,cut,0.25,m", "found 0.25 m; give the length at its end, such as 0.449 m"),
        ("knit,cut,0.009,m", "expected about the 0.898 m that lay L1 needs; no piece of it lies within less"),
        ("knit,cut,1.000,mm", "expected a length that can be read one way, found '1.000', which may mean 1 or 1000"),
    ],
)
def test_bad_rows_of_what_was_cut_give_one_sentence_each(rows, words, tmp_path, capsys):
    """File, line, what and remedy; exit code 2, nothing written."""
    write_plan(two_hides(), tmp_path / "plan.json")
    cut = listed(tmp_path, "cut.csv", f"material,state,used,unit\n{rows}\n")
    out = tmp_path / "out"
    assert main(["used", str(tmp_path / "plan.json"), "--cut", str(cut), "-o", str(out)]) == Exit.BAD_INPUT
    err = capsys.readouterr().err
    assert words in err and len(err.strip().splitlines()) == 1 and not out.exists()


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("46,,1", "line 2, size: expected a size of box in the plan, found '46'"),
        ("38,upper,1", "line 2, side: expected left, right or pair, found 'upper'"),
        ("38,,some", "line 2, pieces: expected a number of vamps, found 'some'"),
        ("38,,5", "line 2, pieces: expected at most the 4 vamps of box 38 that are cut, found 5"),
        ("38,pair,1\n38,,3", "line 3, pieces: expected at most the 4 vamps"),
    ],
)
def test_bad_rows_of_what_was_spoiled_give_one_sentence_each(rows, words, tmp_path):
    """As for what was cut; no more can be spoiled than is cut, whatever rows say it."""
    cut = listed(tmp_path, "cut.csv", "material,state\nH1,cut\n")
    spoiled = listed(tmp_path, "spoiled.csv", f"size,side,pieces\n{rows}\n")
    with pytest.raises(InputProblems) as caught:
        read_begun(two_hides(), cut, spoiled)
    assert words in str(caught.value) and len(caught.value.problems) == 1


def test_whole_plies_of_a_lay_may_be_cut(tmp_path):
    """One of two plies of 0.449 m: the lay is cut with one ply, the other counts as not cut, and that is said."""
    begun, said = read_begun(two_hides(), listed(tmp_path, "cut.csv", "material,state,used,unit\nknit,cut,0.45,m\n"))
    part = cut_part(two_hides(), replace(begun, lays=()))
    assert [(lay.lay_id, lay.plies, len(lay.placed)) for lay in part.lays] == [("L1", 1, 2)]
    assert "1 of the 2 plies of lay L1" in said[0]


def test_an_old_list_does_not_take_a_later_lay_for_cut(tmp_path):
    """A roll listed as cut without a length, and a lay planned since: the length is asked for, in one sentence."""
    cut = listed(tmp_path, "cut.csv", "material,state\nknit,cut\n")
    plan = two_hides()
    begun, _ = read_begun(plan, cut)
    later = replace(plan, begun=begun, lays=(*plan.lays, replace(plan.lays[0], lay_id="L2")))
    with pytest.raises(InputProblems, match="line 2, used: expected the length off roll knit in all"):
        read_begun(later, cut)
    assert read_begun(later, None)[0].lays == ("L1",)


def test_an_area_less_than_its_pieces_cover_is_refused(tmp_path):
    """Sixteen rectangles of 224 × 124 mm cover 44.4 of 50 dm²: 40 is refused though it is near, 46 is said."""
    dense = in_pairs(["V38"] * 16, spots(16, first=(113.0, 63.0), pitch=(225.0, 125.0)))
    plan = box_plan(layouts=(HideLayout("H1", dense),))
    with pytest.raises(InputProblems, match=r"at least the 0\.44 m² that the pieces cut from hide H1 cover"):
        read_begun(plan, listed(tmp_path, "cut.csv", "material,state,used,unit\nH1,cut,40,dm2\n"))
    _, said = read_begun(plan, listed(tmp_path, "cut.csv", "material,state,used,unit\nH1,cut,46,dm2\n"))
    assert said == ("cut.csv, line 2, used: 0.46 m², 8% less than the 0.50 m² that hide H1 measured; check it.",)


def test_a_length_that_ends_within_a_lay_is_said(tmp_path):
    """A lay of one ply of two pieces: 0.3 m hold one of them, 4.490 m is a length like any other and holds both."""
    plan = two_hides()
    plan = replace(plan, lays=(replace(plan.lays[0], plies=1),))
    _, said = read_begun(plan, listed(tmp_path, "cut.csv", "material,state,used,unit\nknit,cut,0.3,m\n"))
    words = "0.3 m hold 1 of the 2 pieces of lay L1, which needs 0.449 m; the others count as not cut."
    assert said == (f"cut.csv, line 2, used: {words}",)
    begun, said = read_begun(plan, listed(tmp_path, "cut.csv", "material,state,used,unit\nknit,cut,4.490,m\n"))
    assert not said and begun.rolls == (UsedRoll("knit", 4490.0),)
    later = replace(plan, begun=begun)
    with pytest.raises(InputProblems, match=r"at least the 4\.49 m that were off roll knit before, found 0\.5 m"):
        read_begun(later, listed(tmp_path, "cut.csv", "material,state,used,unit\nknit,cut,0.5,m\n"))


def test_used_prints_and_writes_its_table(tmp_path, capsys):
    """The same figures on the screen as data, and in the CSV file."""
    write_plan(two_hides(), tmp_path / "plan.json")
    cut = listed(tmp_path, "cut.csv", "material,state\nH1,cut\n")
    words = ["used", str(tmp_path / "plan.json"), "--cut", str(cut), "-o", str(tmp_path / "out")]
    assert main([*words, "--json"]) == Exit.DONE
    order = json.loads(capsys.readouterr().out)["rows"][-1]
    assert (order["hides_planned"], order["hides_used"], order["pairs_finished"]) == (2.0, 1.0, 2)
    with open(tmp_path / "out" / "used-against-planned.csv", encoding="utf-8") as stream:
        assert list(csv.DictReader(stream))[-1]["leather_dm2_used"] == "50.0"
    assert (tmp_path / "out" / "used-against-planned.xlsx").is_file()
    assert main(words[:-2]) == Exit.DONE
    assert "1.00 of 2.00" in capsys.readouterr().out


def test_hides_are_searched_where_the_options_say(tmp_path, monkeypatch):
    """replan hands its hides to the workers that are named, as run and place do."""
    asked = []
    monkeypatch.setattr(steps, "planned_and_written", lambda *given, **more: asked.append(given[3]))
    monkeypatch.setattr(steps, "read_for_writing", lambda *_: SimpleNamespace(warnings=()))
    write_plan(two_hides(), tmp_path / "plan.json")
    words = ["replan", "job.toml", "--plan", str(tmp_path / "plan.json"), "--out", str(tmp_path / "out"), "--quiet"]
    main([*words, "--scheduler", "tcp://127.0.0.1:9"])
    assert asked[0].scheduler == "tcp://127.0.0.1:9"
