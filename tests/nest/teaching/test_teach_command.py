"""The command teach: a plan and its outcomes in; rates, figures and a new job out. All data are invented."""

import json

import numpy as np
import pytest
from shapely.affinity import scale, translate
from shapely.geometry import box
from small_jobs import small_job
from tiny_plans import box_plan, hide, in_pairs, spots, style, zone

from nest.cli import main
from nest.job.read import read_job
from nest.pieces.rejects import RejectRates
from nest.plan import CutLine, HideLayout
from nest.planfile import write_plan
from nest.teaching.cells import cells_of
from nest.teaching.frame import frame_of
from nest.teaching.jobtext import with_rates
from nest.teaching.pieces import band_of

ZONES = (zone("butt", 1, 90.0, box(0, 0, 1000, 250)), zone("belly", 2, 84.0, box(0, 250, 1000, 500)))


def pressed(folder, hides=16, name="Linden boot"):
    """A plan of twelve vamps on each of some hides, half of them on class 2, and a list: those fail more often."""
    rng = np.random.default_rng(5)
    layouts, rows = [], ["hide,piece,outcome"]
    for h in range(1, hides + 1):
        places = [*spots(4), *spots(8, first=(120.0, 310.0), pitch=(230.0, 130.0))][:8]
        layouts.append(HideLayout(f"H{h}", in_pairs(["V38"] * 8, places, first_pair=1 + 4 * h)))
        for number in range(1, 9):
            fails = rng.random() < (0.03 if number <= 4 else 0.45)
            rows.append(f"H{h},{number},{'pleats' if fails else 'good'}")
    pieces = tuple(type(one)(one.piece_id, name, *(getattr(one, field) for field in (
        "size", "foot", "role", "cut_outline", "net_outline"))) for one in box_plan().pieces)
    plan = box_plan(
        order=(CutLine(name, "38", 4 * hides, 4 * hides),), styles=(style(name),), pieces=pieces,
        layouts=tuple(layouts), lays=(), hides=tuple(hide(f"H{h}", zones=ZONES) for h in range(1, hides + 1)),
    )
    write_plan(plan, folder / "plan.json")
    (folder / "list.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder / "plan.json", folder / "list.csv"


def test_rates_figures_and_a_new_job(tmp_path, capsys):
    """Poor ground shows; class and zone go together here, so that neither is claimed; the new job has its rates."""
    (tmp_path / "job").mkdir()
    plan, outcomes = pressed(tmp_path)
    job = small_job(tmp_path / "job", pairs={"39": 2})
    into, out = job.with_name("taught.toml"), tmp_path / "out"
    before = job.read_text(encoding="utf-8")
    words = ["teach", str(plan), str(outcomes), "--job", str(job), "--into", str(into), "-o", str(out), "--json"]
    assert main(words) == 0
    data = json.loads(capsys.readouterr().out)
    rows = {(row["factor"], row["level"]): row for row in data["rows"]}
    poor, good = rows["class", "2"], rows["class", "1"]
    assert poor["pieces"] == good["pieces"] == 64 and poor["percent"] > 1.1 * good["percent"]
    assert not poor["told"] and not rows["zone", "belly"]["told"]
    assert rows["all", "all"]["low"] < rows["all", "all"]["percent"] < rows["all", "all"]["high"]
    assert {"rates.csv", "map.png", "rates.png"} <= {path.name for path in out.iterdir()}
    read = read_job(into).styles[0]
    assert read.rates is not None and job.read_text(encoding="utf-8") == before
    assert into.read_text(encoding="utf-8").startswith(before.rstrip("\n"))
    assert main(words) == 2


@pytest.mark.parametrize(("words", "said"), [
    (["PLAN"], "a plan and its list of outcomes"),
    (["PLAN", "LIST", "--into", "new.toml"], "--job and --into belong together"),
])
def test_what_is_missing_is_said(tmp_path, capsys, words, said):
    """Arguments that do not go together end in a sentence."""
    plan, outcomes = pressed(tmp_path, hides=1)
    known = {"PLAN": str(plan), "LIST": str(outcomes)}
    assert main(["teach", *(known.get(word, word) for word in words)]) == 2
    assert said in capsys.readouterr().err


def test_rates_in_a_job_are_replaced_and_the_rest_stays():
    """Rates of a style take the place of its old ones; those of others, and every comment, stay."""
    text = 'name = "a" # one\n[[rejects]]\nstyle = "x"\npercent_by_class = { 1 = [1.0] }\n[[rejects]]\nstyle = "y"\n' \
           "percent_by_class = { 1 = [2.0] }\n# end\n[settings]\nseed = 2\n"
    new = with_rates(text, {"x": RejectRates((5.0, 10.0), ((1, (1.5, 2.0)),), 4.0)}, "of 200")
    assert '# one' in new and "seed = 2" in new and 'style = "y"' in new and new.count('style = "x"') == 1
    assert "up_to_deg = [5.0, 10.0]\npercent_by_class = { 1 = [1.5, 2.0] }\nbias_percent = 4.0\n" in new


def test_all_sides_lie_in_one_frame():
    """A side digitised turned over, or end for end, comes to lie as the largest does, by the names of its zones."""
    first = hide("A", zones=(zone("butt", 1, 90.0, box(0, 0, 300, 500)), zone("belly", 2, 90.0, box(300, 0, 1000, 500)),
                             zone("neck", 3, 90.0, box(0, 400, 300, 500))))
    def turned(outline):
        return translate(scale(outline, -0.5, -0.5, origin=(0, 0)), 500, 250)

    second = type(first)(
        "B", "calf", "lot 1", 1, 1.3, 1.0, turned(first.outline),
        tuple(zone(one.zone_id, one.quality, 90.0, turned(one.outline)) for one in first.zones), (),
    )
    outline, ways = frame_of((first, second))
    assert outline is first.outline
    assert ways["B"]((500.0 - 50.0, 250.0 - 25.0)) == pytest.approx((100.0, 50.0))
    assert ways["A"]((7.0, 9.0)) == pytest.approx((7.0, 9.0))


def test_cells_stand_out_only_beyond_doubt():
    """A corner where all fail is told; one piece that failed alone is not."""
    rng = np.random.default_rng(1)
    places = rng.uniform((0.0, 0.0), (800.0, 400.0), (800, 2))
    failed = rng.random(800) < np.where((places < 100.0).all(axis=1), 0.9, 0.05)
    told = [(cell.x0, cell.y0) for cell in cells_of(places, failed, (0.0, 0.0, 800.0, 400.0)) if cell.told > 0]
    assert told == [(0.0, 0.0)]
    assert not any(cell.told for cell in cells_of([(1.0, 1.0), (700.0, 1.0)], [True, False], (0.0, 0.0, 800.0, 400.0)))


def test_an_end_of_a_band_belongs_to_it():
    """5° lies in the band to 5°, also with the rounding of a heading."""
    assert [band_of(value) for value in (0.0, 2.5, 2.5000004, 2.6, 5.0, 10.0)] == [2.5, 2.5, 2.5, 5.0, 5.0, 10.0]
