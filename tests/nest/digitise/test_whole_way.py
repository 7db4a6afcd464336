"""Photographs → hides → run → verified plan, every vamp on the true leather."""

import resource
import subprocess
import sys
from dataclasses import replace

import pytest
from invented import cross_distance
from whole_way import photographed, placings, planned

import nest
from nest.cutplan.sheet import cut_sheet
from nest.cutplan.work import hide_work
from nest.sheets.cutsheet import cut_sheet_page
from nest.sheets.page import new_canvas


def whole_way(seeds, width: int, order: str, passes: int, folder):
    """Cases by hide, the plan, and where its vamps lie."""
    cases = {f"H{seed}": photographed(seed, width, folder) for seed in seeds}
    plan = planned(cases, folder, order, passes)
    return cases, plan, placings(plan, cases)


def test_two_photographs_to_a_plan_on_the_true_leather(tmp_path, monkeypatch):
    """Two photographs, each hide with its own margin: no vamp leaves the true leather or touches the true scar."""
    monkeypatch.setattr("geometry.processors.processor_cores", lambda: 1)
    monkeypatch.setattr("nest.sidebyside.processor_cores", lambda: 1)
    cases, plan, found = whole_way((810, 811), 1400, "style,size,pairs\nLinden boot,38,8\n", 1, tmp_path)
    assert {hide.margin_mm for hide in plan.hides} == {hide.within_mm for hide in plan.hides}
    assert {one.hide for one in found} <= set(cases) and len(found) >= 16
    assert max(one.beyond_mm for one in found) == 0.0 and max(one.scar_mm2 for one in found) == 0.0
    assert all(hide.photograph and hide.backdrop is not None and len(hide.flaws) == 1 for hide in plan.hides)
    nest.write_plan(plan, tmp_path / "plan.json")
    assert nest.read_plan(tmp_path / "plan.json").hides[0].backdrop == plan.hides[0].backdrop
    bare = replace(plan, hides=tuple(replace(hide, backdrop=None) for hide in plan.hides))
    sizes = [sheet_size(one, tmp_path / "sheet.pdf") for one in (plan, bare)]
    assert sizes[0] > sizes[1] + 20_000


def sheet_size(plan, path) -> int:
    """Bytes of the first hide's cut sheet."""
    layout = plan.layouts[0]
    sheet = cut_sheet(plan, layout, cutting_yield=0.5)
    canvas = new_canvas(path, "sheet")
    cut_sheet_page(plan, layout, sheet, hide_work(plan, layout)).put(canvas)
    canvas.save()
    return path.stat().st_size


@pytest.mark.slow
def test_ten_photographs_to_a_plan_on_the_true_leather(tmp_path):
    """The same on ten, with an order that takes all of them."""
    order = "style,size,pairs\nLinden boot,38,340\n"
    cases, _, found = whole_way(range(820, 830), 1600, order, 1, tmp_path)
    assert {one.hide for one in found} == set(cases)
    # A scar is drawn along the middle of its chalk, 6 mm wide: slivers of it may lie outside what was found.
    assert max(one.beyond_mm for one in found) == 0.0 and max(one.scar_mm2 for one in found) <= 30.0


@pytest.mark.slow
def test_twelve_megapixels_take_less_than_a_gigabyte_and_six_seconds(tmp_path):
    """The whole command on a photograph of 4000 × 3000 pixels: memory below 1 GB, processor time below 6 s."""
    case = photographed(831, 4000, tmp_path)
    a, b, length = cross_distance(case)
    code = "import sys; from nest.cli import main; sys.exit(main(sys.argv[1:]))"
    asked = ["digitise", "hide", "H831.jpg", "-o", "H831.dxf", "--distance", f"{a} {b} {length:.1f}",
             "--stroke", "yellow=scar severity 2", "--rest", "butt class 1", "--stretch", "90"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", code, *asked], cwd=tmp_path, check=True, capture_output=True)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime
    assert used.ru_maxrss < 1_000_000 and seconds < 6.0
