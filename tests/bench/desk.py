"""How quick the desk is: first paint with 200 hides, a drop judged beside 60 pieces, hides placed again in 3 s.

    python tests/bench/desk.py [PLAN] [--cases 20] [--seconds 3]

Prints a line each; needs Chromium for the first. PLAN is a saved plan, or its folder, whose hides are placed again one
by one with nothing held; without it that part is left out. All data but PLAN's are invented.
"""

import argparse
import statistics
import sys
import tempfile
import threading
import time
from dataclasses import replace
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "nest"))
from shapely.geometry import box
from tiny_plans import box_plan, hide, in_pairs, spots, zone

from nest.desk.app import Writers
from nest.desk.serve import serve
from nest.desk.session import Desk, hide_told
from nest.edits import State, changed, placed_anew
from nest.edits.commands import MovePiece, PlaceAgain
from nest.plan import CutLine, HideLayout, Plan
from nest.planfile import read_plan


def many_hides(count: int) -> Plan:
    """A plan of this many hides with two pairs on each."""
    ids = [f"H{number:03d}" for number in range(count)]
    return replace(
        box_plan(), hides=tuple(map(hide, ids)), order=(CutLine("box", "38", 2 * count, 2 * count),), lays=(), rolls=(),
        layouts=tuple(HideLayout(name, in_pairs(["V38"] * 4, spots(4), first_pair=1 + 2 * n))
                      for n, name in enumerate(ids)),
        styles=(replace(box_plan().styles[0], roll=""),),
    )


def full_hide(pieces: int) -> Plan:
    """A plan of one large hide with this many pieces."""
    ground = box(0.0, 0.0, 2500.0, 1400.0)
    large = replace(hide(), outline=ground, zones=(zone(outline=ground),), measured_area_mm2=ground.area)
    return replace(
        box_plan(), hides=(large,), order=(CutLine("box", "38", pieces // 2, pieces // 2),), lays=(), rolls=(),
        layouts=(HideLayout("H1", in_pairs(["V38"] * pieces, spots(pieces, columns=10))),),
        styles=(replace(box_plan().styles[0], roll=""),),
    )


def drop_ms(pieces: int, drops: int = 30) -> list[float]:
    """From the step to the judge's findings on the hide, kept on the disk, ms each."""
    with tempfile.TemporaryDirectory() as folder:
        desk, took = Desk(full_hide(pieces), Path(folder)), []
        for n in range(drops):
            begin = time.perf_counter()
            desk.do(MovePiece("H1", 1, 120.0 + 0.1 * (n % 2), 70.0, 0.0), n)
            found = hide_told(desk, "H1")["findings"]
            took.append(1e3 * (time.perf_counter() - begin))
            assert not found
        desk.close()
    return took


def first_paint_ms(hides: int) -> tuple[float, float]:
    """First contentful paint as the browser has it, and until the page is ready, ms; its process is warm."""
    import shutil

    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        told, ready = [], threading.Event()
        writers = Writers(lambda plan: {}, lambda plan, hide_id, table: b"")
        threading.Thread(target=serve, daemon=True, args=(
            many_hides(hides), Path(folder), writers, lambda url: (told.append(url), ready.set()))).start()
        ready.wait(60)
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        painted, done = [], []
        for _ in range(4):
            page = browser.new_context().new_page()
            begin = time.perf_counter()
            page.goto(told[0])
            page.wait_for_selector("body[data-ready]")
            done.append(1e3 * (time.perf_counter() - begin))
            painted.append(page.evaluate(
                "performance.getEntriesByName('first-contentful-paint')[0].startTime"))
            page.close()
        browser.close()
    return statistics.median(painted[1:]), statistics.median(done[1:])


def placed_again(plan: Plan, cases: int, seconds: float) -> tuple[int, int, int]:
    """Of how many hides the layout became fuller, stayed, or became less full (never), each searched alone.

    The order is taken twice: of a plan that meets its order no hide can hold more than it does.
    """
    better = same = worse = 0
    plan = replace(plan, order=tuple(
        replace(line, pairs_wanted=2 * line.pairs_wanted, pairs_to_cut=2 * line.pairs_to_cut, rows=())
        for line in plan.order))
    state = State(plan)
    for layout in [one for one in plan.layouts_to_cut][:cases]:
        new = changed(state, placed_anew(state, PlaceAgain((layout.hide_id,), seconds=seconds)))
        gain = _placed(new.plan, layout.hide_id) - _placed(plan, layout.hide_id)
        better, same, worse = better + (gain > 1.0), same + (abs(gain) <= 1.0), worse + (gain < -1.0)
    return better, same, worse


def _placed(plan: Plan, hide_id: str) -> float:
    from geometry.polygon import area

    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    return sum(rough[one.piece_id] for layout in plan.layouts if layout.hide_id == hide_id for one in layout.placed)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("plan", nargs="?", type=Path)
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=3.0)
    asked = parser.parse_args()
    if asked.plan is not None:
        path = asked.plan / "plan.json" if asked.plan.is_dir() else asked.plan
        better, same, worse = placed_again(read_plan(path), asked.cases, asked.seconds)
        print(f"placed again in {asked.seconds:g} s: {better} of {better + same + worse} hides fuller, {same} the "
              f"same, {worse} less full")
    took = drop_ms(60)
    print(f"a drop judged, 60 pieces: median {statistics.median(took):.0f} ms, at most {max(took[1:]):.0f} ms")
    painted, done = first_paint_ms(200)
    print(f"200 hides: first paint {painted:.0f} ms, ready {done:.0f} ms (medians of three)")


if __name__ == "__main__":
    main()
