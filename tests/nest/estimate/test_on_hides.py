"""Consumption on simulated hides: supplies as stated, figures that add up, the command, and Ctrl-C."""

import csv
import json
from dataclasses import replace
from statistics import fmean

import box_jobs
import pytest
from half_full import HALF_FULL
from small_jobs import small_job

from nest.cli import main
from nest.estimate.onhides import _of_leather, on_simulated_hides
from nest.estimate.supply import supply_of
from nest.estimate.trialhides import HeldBy, order_wants
from nest.job.read import read_job
from nest.planning.run import Engine
from nest.rules import Rules
from nest.stock.distribution import SIDES
from nest.stock.ground import fit_ground
from nest.stock.simulate import simulate_hides


@pytest.mark.parametrize("share", [0.08, 0.3, 0.6])
def test_supply_has_the_unfit_ground_that_is_stated(share):
    """Thirty hides drawn from the supply have the stated mean area and share of unfit ground, within their scatter."""
    leather = replace(box_jobs.job().leathers[0], mean_hide_mm2=1.5e6, unfit_share=share)
    supply = supply_of(leather, (), Rules(), 0.0)
    assert "as the leather states it" in supply.method
    hides = simulate_hides(supply.distribution, 30, seed=2, leather="calf")
    unfit = 1.0 - fmean(fit_ground(hide, Rules()).area / hide.outline.area for hide in hides)
    assert unfit == pytest.approx(share, abs=0.03)
    assert fmean(hide.outline.area for hide in hides) == pytest.approx(1.5e6, rel=0.06)


def test_supply_follows_the_stock_and_says_so():
    """Area and unfit ground of simulated stock come back; without any word the supply is that of usual sides."""
    stock = simulate_hides(SIDES, 12, seed=3, leather="calf")
    leather = box_jobs.job().leathers[0]
    supply = supply_of(leather, stock, Rules(), 0.0)
    assert supply.distribution.area_mean_mm2 == pytest.approx(fmean(hide.measured_area_mm2 for hide in stock))
    assert "12 hides in stock" in supply.method
    assert supply_of(leather, (), Rules(), 0.0).distribution == SIDES
    beyond = supply_of(replace(leather, unfit_share=0.999), (), Rules(), 0.0)
    assert "cannot be changed" in beyond.method and beyond.distribution.zones == SIDES.zones


def test_figures_add_up():
    """Every size takes its rough area × hide area ÷ rough area held; its interval holds the mean."""
    job = box_jobs.job(order=(("box", "38", 40), ("box", "39", 30)), hides=())
    (found,) = on_simulated_hides(job, 6, passes=1, engine=HALF_FULL)
    ratio = sum(one.area_mm2 for one in found.held) / sum(one.rough_mm2 for one in found.held)
    for size in found.sizes:
        assert size.leather_mm2 == pytest.approx(ratio * size.rough_mm2)
        assert size.low_mm2 < size.leather_mm2 < size.high_mm2
    assert found.needed_mm2 == pytest.approx(sum(size.pairs_to_cut * size.rough_mm2 for size in found.sizes))
    assert found.promised_mm2 >= found.needed_mm2 and found.issue >= found.on_the_mean >= 1
    again = on_simulated_hides(job, 6, passes=1, engine=HALF_FULL)
    assert again == (found,)
    assert on_simulated_hides(job, 6, passes=1, seed=99, engine=HALF_FULL) != (found,)


def test_what_was_measured_before_a_stop_counts():
    """Stopped after four of nine hides, four count; stopped after two, nothing is said."""
    job = box_jobs.job(hides=())

    def stopped_after(number):
        done = []
        return on_simulated_hides(
            job, 9, passes=1, engine=HALF_FULL, cancelled=lambda: len(done) > number,
            tell=lambda name, hides, total: done.append(hides),
        )

    (found,) = stopped_after(4)
    assert len(found.held) == 4
    assert stopped_after(2) == ()
    with pytest.raises(ValueError, match="at least 3"):
        on_simulated_hides(job, 2, passes=1, engine=HALF_FULL)


def test_the_command_says_how_many_hides(tmp_path, capsys, monkeypatch):
    """Tables as CSV, the number in JSON and in a sentence with its confidence and supply."""
    monkeypatch.setattr(Engine, "fresh", classmethod(lambda cls: HALF_FULL))
    monkeypatch.setattr("nest.placement.solve.warm_up", lambda: None)
    path = small_job(tmp_path / "job", pairs={"38": 40, "39": 20}, hides=2)
    out = tmp_path / "out"
    assert main(["estimate", str(path), "--hides", "5", "--out", str(out), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    (issue,) = [one for one in data["hides_to_issue"] if one["leather"] == read_job(path).leathers[0].name]
    assert issue["hides_to_issue"] >= issue["hides_on_the_mean"] >= 1 and issue["confidence"] == 0.95
    with open(out / "consumption.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["size"] for row in rows] == ["38", "39"]
    for row in rows:
        assert float(row["mean_at_least_dm2"]) <= float(row["leather_dm2"]) <= float(row["mean_at_most_dm2"])
    assert len((out / "simulated-hides.csv").read_text().splitlines()) == 6
    assert main(["estimate", str(path), "--hides", "5"]) == 0
    assert "to cover the order with 95 % confidence" in capsys.readouterr().out


def held(first, second, area=1e6):
    """A hide that holds so many units of two wants, 10 dm² of rough area each."""
    return HeldBy("S", area, area, 1e5 * (first + second), (first, second))


def test_pieces_that_need_good_ground_must_be_covered_by_themselves():
    """Hides that hold one fine pair beside four plain ones: ten of each take ten hides, not the four of all area."""
    fine, plain = box_jobs.style("fine"), box_jobs.style("plain", rules=Rules(net_quality=3))
    asked = box_jobs.job(styles=(fine, plain), order=(("fine", "38", 10), ("plain", "38", 10)), hides=())
    wants = [replace(want, area_mm2=1e5) for want in order_wants(asked, asked.leathers[0])]
    sides = [held(1, 4), held(1, 4), held(1, 4), held(1, 4)]
    found = _of_leather(asked, "calf", "as drawn", wants, sides, 0.95)
    assert (found.on_the_mean, found.issue) == (10, 10)
    assert sum(size.pairs_to_cut * size.leather_mm2 for size in found.sizes) == pytest.approx(10 * 1e6)
    alike = replace(plain, rules=Rules())
    asked = replace(asked, styles=(fine, alike))
    wants = [replace(want, area_mm2=1e5) for want in order_wants(asked, asked.leathers[0])]
    assert _of_leather(asked, "calf", "as drawn", wants, sides, 0.95).on_the_mean == 4


def test_the_command_has_one_table_with_one_meaning(tmp_path, capsys, monkeypatch):
    """With hides measured the size run, its totals and the waste by size all hold what was measured on them."""
    monkeypatch.setattr(Engine, "fresh", classmethod(lambda cls: HALF_FULL))
    monkeypatch.setattr("nest.placement.solve.warm_up", lambda: None)
    path = small_job(tmp_path / "job", pairs={"38": 40, "39": 20}, hides=2)
    assert main(["estimate", str(path), "--hides", "5", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    measured = {row["size"]: row["leather_dm2"] for row in data["consumption"]}
    assert {row["size"]: row["leather_dm2"] for row in data["per_pair"]} == pytest.approx(measured, rel=1e-3)
    sizes = [row for row in data["size_run"] if row["size"] != "all"]
    assert {row["size"]: row["pair_leather_dm2"] for row in sizes} == pytest.approx(measured, rel=1e-3)
    assert sum(row["leather_m2"] for row in sizes) == pytest.approx(data["leathers"][0]["leather_m2"], abs=2e-3)
    assert main(["estimate", str(path), "--hides", "5"]) == 0
    out = capsys.readouterr().out
    assert out.count("size run") == 1 and "consumption" not in out
    assert "the table holds what was measured on 5 simulated hides" in " ".join(out.split())
