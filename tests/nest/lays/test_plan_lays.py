"""Lays of a job: lengths, faces, splices, costs and sentences."""

import json
from decimal import Decimal

import box_jobs
import pytest
from small_jobs import small_job

from nest.cli import main
from nest.cli.lays import sentences
from nest.errors import PlanProblem
from nest.estimate.make import quick_estimate
from nest.lays.plan import LayRules, plan_lays, stretches_of
from nest.lays.spread import Spread

# By hand: the reinforcement of the box style is 204 × 104 mm, the roll 480 mm wide, the gap 1 mm: four rows, each pair
# takes 2 × 205 / 4 = 102.5 mm, in whole mm 103. Its corners are round, so that rows may be shifted against each other:
# the ragged end of a lay is at most one piece.


def box_job(pairs=12, **roll):
    """Pairs of one size, backed."""
    return box_jobs.job(
        styles=(box_jobs.style(roll="knit"),), order=(("box", "38", pairs),), rolls=(box_jobs.roll(**roll),)
    )


def test_one_size_by_hand():
    """Twelve pairs, up to 4 plies of up to 3 pairs: one lay of 4 plies, its length and cost as worked out by hand."""
    found, = plan_lays(box_job(), LayRules(most_plies=4, most_pairs=3, setup_cost=Decimal(2)))
    lay, = found.lays
    assert (lay.plies, lay.ratio, found.cut, found.over) == (4, (("box", "38", 3),), (("box", "38", 12),), 0)
    assert 3 * 103 + 40 - 1 <= lay.ply_mm <= 3 * 103 + 40 + 204
    assert found.proved and found.gap == 0.0
    assert found.material_cost == (Decimal(lay.length_mm) * Decimal("0.0032")).quantize(Decimal("0.01"))
    assert found.setup_cost == Decimal("2.00") and found.bound == found.cost


def test_face_to_face_takes_twos_of_plies():
    """Facing plies come in twos; a pair takes half the length of each, so the material is the same."""
    rules = LayRules(most_plies=4, most_pairs=6, setup_cost=Decimal(2), spread=Spread.FACE_TO_FACE)
    found, = plan_lays(box_job(), rules)
    lay, = found.lays
    assert lay.plies % 2 == 0 and lay.plies <= 4
    assert sum(lay.pairs_cut(n) for *_, n in lay.ratio) == 12
    assert lay.plies == 4 and lay.ratio == (("box", "38", 6),)
    assert 6 * 52 + 40 - 1 <= lay.ply_mm <= 6 * 52 + 40 + 204


def test_plies_keep_clear_of_splices():
    """A roll of 2 m with splices at 0.5 and 1.1 m: plies come from stretches, none longer than its stretch."""
    job = box_job(pairs=8, length_mm=2000.0, splices_mm=(500.0, 1100.0))
    assert stretches_of(job.rolls[0]) == (500.0, 600.0, 900.0)
    found, = plan_lays(job, LayRules(most_plies=4))
    for s, length in enumerate(stretches_of(job.rolls[0]), start=1):
        taken = sum(n * lay.ply_mm for lay in found.lays for at, n in lay.from_stretch if at == s)
        assert taken <= length
    assert all(sum(n for _, n in lay.from_stretch) == lay.plies for lay in found.lays)
    assert found.cut == (("box", "38", 8),)


@pytest.mark.parametrize(("rules", "words"), [
    (LayRules(most_length_mm=100.0), "a ply of one pair"),
    (LayRules(most_plies=1, spread=Spread.FACE_TO_FACE), "a ply of one pair"),
    (LayRules(most_plies=1, most_pairs=2, most_lays=1), "allow more lays"),
])
def test_limits_that_leave_no_way_are_said(rules, words):
    """One sentence with what stands in the way and the remedy."""
    with pytest.raises(PlanProblem, match=words):
        plan_lays(box_job(), rules)


def test_the_command_writes_and_says_the_lays(tmp_path, capsys):
    """Table and JSON agree, pairs in the table are those to cut, and the faces are said."""
    job = small_job(tmp_path / "job", pairs={"38": 6, "39": 8})
    assert main(["lays", str(job), "--plies", "6", "--out", str(tmp_path / "out"), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    lines = (tmp_path / "out" / "lays.csv").read_text().splitlines()
    cut = {}
    for line in lines[1:]:
        *_, size, _, pairs = line.split(",")
        cut[size] = cut.get(size, 0) + int(pairs)
    assert set(cut) == {"38", "39"} and cut["38"] >= 6 and cut["39"] >= 8
    assert data["rolls"][0]["proved"] and (tmp_path / "out" / "lays.xlsx").is_file()
    assert main(["lays", str(job), "--spread", "face-to-face"]) == 0
    assert "every second ply turned over" in capsys.readouterr().out


def test_lays_and_estimate_tell_of_each_other():
    """One ply of all is the estimate plus the rounding of pairs and room for the longest piece; the command says so."""
    asked = box_job(6)
    found, = plan_lays(asked, LayRules(most_plies=1))
    total, = quick_estimate(asked).rolls
    assert found.one_ply_mm == total.length_mm and found.plies == 1
    # Each of six pairs is rounded up by less than a mm; a ply of one pair is as long as its piece of 204 mm.
    assert 0.0 <= found.length_mm - total.length_mm <= 6.0 + 1.0 + 204.0
    said = sentences((found,), "EUR")
    assert f"{found.one_ply_mm / 1e3:.2f} m for all in one ply" in said[1] and "1 ply has" in said[1]
    assert said[0].startswith("knit: 1 lay, ")


def test_a_roll_too_narrow_is_refused():
    """What no lay can hold is not left out without a word."""
    asked = box_job(width_mm=120.0)
    with pytest.raises(PlanProblem, match="too narrow for the reinforcement of box 38; use a wider roll"):
        plan_lays(asked, LayRules())
