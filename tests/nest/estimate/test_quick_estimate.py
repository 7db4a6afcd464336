"""The quick estimate: by hand for rectangles, and its wastes, sources and differences."""

import csv
import json
from dataclasses import replace

import box_jobs
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_jobs import small_job

from nest.cli import main
from nest.cli.estimate import run_table, sentences
from nest.estimate.make import quick_estimate
from nest.estimate.sizerun import size_run, size_run_changes
from nest.job.read import read_job
from nest.perpair.use import FLAT_UNFIT_SHARE
from nest.perpair.yield_model import REACH_ERROR_PERCENT, hide_yield
from nest.pieces.quantities import RejectPairs


def box_job(order=(("box", "38", 4),), **changes):
    """Rectangles of 224 × 124 mm rough (gap 1 mm), backed by 204 × 104 mm on a strip of 480 mm."""
    return box_jobs.job(styles=(box_jobs.style(roll="knit"),), order=order, rolls=(box_jobs.roll(),), **changes)


def test_rectangles_by_hand():
    """Parallelogram 2 × 225 × 125 mm²; four reinforcements across, 205 mm long: 102.5 mm a pair.

    The rough outline has round corners, which take 112 mm² off 224 × 124, and interlock by up to 0.2 %.
    """
    one, = quick_estimate(box_job()).sizes
    assert one.leather.parallelogram_mm2 == pytest.approx(2 * 225 * 125, rel=2e-3)
    assert one.leather.rough_mm2 == pytest.approx(2 * 224 * 124, rel=5e-3)
    assert one.leather.first_mm2 == pytest.approx(one.leather.parallelogram_mm2 - one.leather.rough_mm2)
    # Outlines on rolls may be taken up to 0.2 mm too large.
    assert one.roll.length_mm == pytest.approx(102.5, rel=2e-3)
    assert one.roll.across == 4
    assert (one.left, one.right, one.either) == (0, 0, 8)


def test_wastes_add_up_to_the_material():
    """Rough + first + second + third waste = material, and yield = rough ÷ material, in every line of the demo."""
    from nest.cli.demo import DEMO_FOLDER

    job = read_job(DEMO_FOLDER / "job.toml")
    job = replace(job, order=tuple(line for line in job.order if line.size in ("37", "41")))
    found = quick_estimate(job)
    assert len({one.style for one in found.sizes}) == 2
    for one in found.sizes:
        use = one.leather
        assert use.rough_mm2 + use.first_mm2 + use.second_mm2 + use.third_mm2 == pytest.approx(use.material_mm2)
        assert use.rough_mm2 / use.material_mm2 == pytest.approx(use.cutting_yield)
        assert min(use.first_mm2, use.second_mm2, use.third_mm2) > 0.0
        assert f"{REACH_ERROR_PERCENT:g} % off" in use.methods[1]
        assert len(use.methods) == 3 and "hides of the job" in use.methods[2]
        assert one.left == one.right and one.left + one.right + one.either == 2 * one.pairs_to_cut
    total, = found.leathers
    assert total.material_mm2 == pytest.approx(sum(o.pairs_to_cut * o.leather.material_mm2 for o in found.sizes))


def test_unfit_ground_from_hides_else_stated_else_flat():
    """The job's hides prevail, then what the leather states, then 15 % flat; each line says which."""
    poor = box_jobs.hide(zones=(
        box_jobs.zone("good", box_jobs.box(0, 0, 600, 500)),
        box_jobs.zone("poor", box_jobs.box(600, 0, 1000, 500), quality=3),
    ))
    stated = tuple(replace(one, mean_hide_mm2=2e6, unfit_share=0.25) for one in box_job().leathers)
    by_hides = quick_estimate(box_job(hides=(poor,), leathers=stated)).sizes[0].leather
    assert by_hides.third_mm2 / by_hides.material_mm2 == pytest.approx(0.4, abs=1e-6)
    by_word = quick_estimate(box_job(hides=(), leathers=stated)).sizes[0].leather
    assert by_word.third_mm2 / by_word.material_mm2 == pytest.approx(0.25)
    assert "states" in by_word.methods[2]
    flat = quick_estimate(box_job(hides=())).sizes[0].leather
    assert flat.third_mm2 / flat.material_mm2 == pytest.approx(FLAT_UNFIT_SHARE) == pytest.approx(0.15 / 1.15)
    assert "flat" in flat.methods[2] and "want of a mean area" in flat.methods[2]


def test_hides_that_hold_next_to_nothing_are_said():
    """Fit ground for five of the vamps: the estimate is given, with a word that it is a guess; for eighteen none."""
    poor = box_jobs.hide(zones=(
        box_jobs.zone("good", box_jobs.box(0, 0, 290, 500)),
        box_jobs.zone("poor", box_jobs.box(290, 0, 1000, 500), quality=3),
    ))
    found = quick_estimate(box_job(hides=(poor,)))
    assert found.sizes[0].leather.material_mm2 > 0.0
    assert any("rough guess" in warning for warning in found.warnings)
    assert not any("rough guess" in warning for warning in quick_estimate(box_job()).warnings)


@given(st.floats(0.8, 0.96), st.floats(0.0, 0.1), st.floats(0.0, 0.6), st.floats(0.5e6, 4e6), st.floats(2e4, 8e4),
       st.floats(1.0, 3.0), st.floats(5.0, 15.0))
def test_larger_hides_cut_no_worse(straight, turns, unfit, hide, rough, factor, tolerance):
    """Yield does not fall as hide area ÷ piece area grows, and leaves no waste below zero.

    Source: F. Y. Golding, The Manufacture of Boots and Shoes (London, 1902), chapter on clicking.
    """
    density = min(1.0, straight + turns)
    less = hide_yield(density, straight, unfit, hide, rough, tolerance)
    more = hide_yield(density, straight, unfit, factor * hide, rough, tolerance)
    assert 0.0 <= less <= more <= (1.0 - unfit) * density


def test_a_changed_order_changes_what_it_changes():
    """The difference table is the size run after less the one before, and holds changed sizes only."""
    job = box_job(order=(("box", "38", 4), ("box", "39", 6)))
    before = quick_estimate(job)
    after = quick_estimate(replace(job, order=(replace(job.order[0], pairs=10), job.order[1])))
    changes = size_run_changes(before, after)
    assert [(row.style, row.size) for row in changes] == [("box", "38"), ("box", ""), ("", "")]
    assert all(row.pairs_wanted == 6 and row.vamps == 12 for row in changes)
    assert size_run(after)[-1].leather_mm2 - size_run(before)[-1].leather_mm2 == pytest.approx(changes[-1].leather_mm2)
    assert size_run_changes(before, before) == ()


def test_a_worked_order_adds_up():
    """Sizes 6 to 10 of 50, 150, 100, 500 and 200 pairs are 1,000 pairs; with 3 % rejects 1,031 are cut, 1,034 by size.

    Source of the order: trade notes on norms (2017). By hand: 1,000 ÷ 0.97 = 1,030.9; by size 52 + 155 + 104 + 516 +
    207 = 1,034.
    """
    style = box_jobs.style(roll="knit", reject_percent=3.0)
    order = tuple(("box", str(36 + at), pairs) for at, pairs in enumerate((50, 150, 100, 500, 200)))
    job = box_jobs.job(styles=(style,), order=order, rolls=(box_jobs.roll(),))
    total = size_run(quick_estimate(job))[-1]
    assert (total.pairs_wanted, total.pairs_to_cut, total.vamps, total.reinforcements) == (1000, 1031, 2062, 2062)
    by_size = replace(job, settings=replace(job.settings, reject_pairs=RejectPairs.BY_SIZE))
    assert size_run(quick_estimate(by_size))[-1].pairs_to_cut == 1034


def test_a_roll_too_narrow_is_said():
    """A reinforcement wider than the roll gives no length, and a warning with the remedy."""
    job = box_jobs.job(styles=(box_jobs.style(roll="knit"),), rolls=(box_jobs.roll(width_mm=120.0),))
    found = quick_estimate(job)
    assert found.sizes[0].roll is None
    assert found.rolls[0].length_mm is None and found.rolls[0].unknown == (("box", "38"),)
    assert size_run(found)[-1].reinforcement_mm is None
    assert any("use a wider roll" in warning for warning in found.warnings)


def test_the_command_writes_tables(tmp_path, capsys):
    """CSV, workbook and JSON hold the same size run; a changed order adds its differences."""
    job = small_job(tmp_path / "job", pairs={"38": 4, "39": 2})
    (tmp_path / "new.csv").write_text("size,pairs\n38,4\n39,12\n")
    out = tmp_path / "out"
    assert main(["estimate", str(job), "--changed", str(tmp_path / "new.csv"), "--out", str(out), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    with open(out / "size-run.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["pairs_wanted"] for row in rows if row["size"] == "39"] == ["12"]
    assert [str(row["leather_m2"]) for row in data["size_run"]] == [row["leather_m2"] for row in rows]
    assert [row["pairs_wanted"] for row in data["changes"] if row["size"] != "38"] == [10, 10, 10]
    # Rejects are pooled: the pair cut beyond those wanted goes to the size that is now the largest.
    assert [row["pairs_to_cut"] for row in data["changes"] if row["size"] == "38"] == [-1]
    assert {path.name for path in out.iterdir()} == {"size-run.csv", "size-run.xlsx", "per-pair.csv", "changes.csv"}
    assert all(row["leather_method"] and row["reinforcement_method"] for row in data["per_pair"])


def test_a_leather_that_cannot_be_estimated_says_so(tmp_path, capsys):
    """No hide has ground the vamp fits on: no 0.00 m² anywhere, but words with the remedy; sums are unknown too."""
    poor = box_jobs.hide(zones=(box_jobs.zone("poor", box_jobs.box(0, 0, 1000, 500), quality=3),))
    found = quick_estimate(box_job(hides=(poor,)))
    total, = found.leathers
    assert (total.material_mm2, total.hides, total.unknown) == (None, None, ("box",))
    assert size_run(found)[-1].leather_mm2 is None and size_run(found)[-1].reinforcement_mm > 0.0
    assert any("cannot be estimated: no hide in stock has ground it fits on; check" in one for one in found.warnings)
    said = sentences(found, box_job())
    assert any(line.startswith("calf: not estimated") for line in said)
    assert not any("0.00 m²" in line for line in said)
    assert [row[7] for row in run_table("size run", size_run(found)).rows] == [None, None, None]


def test_a_roll_holds_no_less_than_its_longest_piece():
    """One pair of reinforcements 204 mm long, four of which would lie side by side, takes 204 mm and the end losses."""
    job = box_job(order=(("box", "38", 1),))
    total, = quick_estimate(job).rolls
    assert total.length_mm == pytest.approx(204.0 + 2.0 * job.rolls[0].end_loss_mm, abs=0.5)


def test_a_mixture_takes_more_roll_than_rows_of_one_outline():
    """Up to four across nothing is added; of twelve across rows take 12 % more, so that lays fit in what is said."""
    narrow, wide = (quick_estimate(box_job(order=(("box", "38", 40),))), quick_estimate(box_jobs.job(
        styles=(box_jobs.style(roll="knit"),), order=(("box", "38", 40),),
        rolls=(box_jobs.roll(width_mm=12 * 105.0 + 20.0),))))
    assert narrow.sizes[0].roll.length_mm == pytest.approx(102.5, rel=2e-3)
    assert wide.sizes[0].roll.across == 12
    assert wide.sizes[0].roll.length_mm == pytest.approx(2.0 * 205.0 / 12.0 * 1.12, rel=3e-3)
