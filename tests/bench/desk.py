"""How quick the desk is: first paint with 200 hides, a drop judged and frames of a drag beside 60 pieces, hides placed
again in 3 s.

    python tests/bench/desk.py [PLAN ...] [--cases 20] [--seconds 3] [--processor-time] [--record SLUG]

Prints a line each; needs Chromium for paint and frames. PLAN are saved plans, or their folders, whose hides are placed
again one by one with nothing held; then nothing else is measured. With --processor-time the seconds are those that a
core spends on it, for a machine that is busy with other work. All data but PLAN's are invented.
"""

import argparse
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

sys.path += [str(Path(__file__).parent), str(Path(__file__).parents[1] / "nest")]
if "--processor-time" in sys.argv:
    time.monotonic = time.process_time  # before anything of the program takes the clock
from record import Value, add_record_option, mean_of, write_record
from shapely.geometry import box
from tiny_plans import box_plan, hide, in_pairs, spots, zone

from geometry.polygon import area
from nest.desk.app import Writers
from nest.desk.serve import serve
from nest.desk.session import Desk, hide_told
from nest.edits import State, changed, placed_anew
from nest.edits.commands import MovePiece, PlaceAgain
from nest.plan import CutLine, HideLayout, Plan
from nest.planfile import read_plan
from nest.planning.run import Engine

FRAME_MS = 17.5
"""A frame of a screen of 60 a second, and a little."""


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


@contextmanager
def served(plan: Plan) -> Iterator[tuple]:
    """A browser, and the address of a desk with this plan."""
    import shutil

    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        told, ready = [], threading.Event()
        writers = Writers(lambda plan, begun: {}, lambda plan, hide_id, table: b"")
        threading.Thread(target=serve, daemon=True, args=(
            plan, Path(folder), writers, lambda url: (told.append(url), ready.set()))).start()
        ready.wait(60)
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        yield browser, told[0]
        browser.close()


def first_paint_ms(hides: int) -> tuple[list[float], list[float]]:
    """First contentful paint as the browser has it, and until the page is ready, ms each; its process is warm."""
    with served(many_hides(hides)) as (browser, address):
        painted, done = [], []
        for _ in range(4):
            page = browser.new_context().new_page()
            begin = time.perf_counter()
            page.goto(address)
            page.wait_for_selector("body[data-ready]")
            done.append(1e3 * (time.perf_counter() - begin))
            painted.append(page.evaluate(
                "performance.getEntriesByName('first-contentful-paint')[0].startTime"))
            page.close()
    return painted[1:], done[1:]


FRAMES = """
window.frames_at = [];
const tick = (at) => { window.frames_at.push(at); if (window.frames_at) requestAnimationFrame(tick); };
requestAnimationFrame(tick);
null;
"""


def frames_ms(pieces: int, seconds: float = 3.0) -> tuple[list[float], float]:
    """How long each frame takes while a piece among this many is dragged to and fro, and for how much of a frame the
    page's own thread is at work, ms.
    """
    with served(full_hide(pieces)) as (browser, address):
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(address)
        page.wait_for_selector("body[data-ready]")
        box_of = page.locator(".piece").first.bounding_box()
        x, y = box_of["x"] + 0.5 * box_of["width"], box_of["y"] + 0.5 * box_of["height"]
        page.mouse.move(x, y)
        with page.expect_response(lambda answer: "/places/" in answer.url):
            page.mouse.down()
        metrics = page.context.new_cdp_session(page)
        metrics.send("Performance.enable")

        def busy_s() -> float:
            found = metrics.send("Performance.getMetrics")["metrics"]
            return next(one["value"] for one in found if one["name"] == "TaskDuration")

        page.evaluate(FRAMES)
        begin, n, before = time.perf_counter(), 0, busy_s()
        while time.perf_counter() - begin < seconds:
            n += 1
            page.mouse.move(x + n % 90, y + n % 60)
        work = busy_s() - before
        at = page.evaluate("frames_at")
        page.mouse.up()
    return [b - a for a, b in pairwise(at[5:])], 1e3 * work / len(at)


@dataclass(frozen=True, slots=True)
class Again:
    """A hide placed again: rough area that it gained, mm²; seconds that it took beyond those asked for."""

    gained: float
    over: float


def placed_again(plans: Sequence[Plan], cases: int, seconds: float) -> list[Again]:
    """The hides of some plans, each searched alone.

    The order is taken twice: of a plan that meets its order no hide can hold more than it does.
    """
    engine, found = Engine.fresh(), []
    twice = [replace(plan, order=tuple(
        replace(line, pairs_wanted=2 * line.pairs_wanted, pairs_to_cut=2 * line.pairs_to_cut, rows=())
        for line in plan.order)) for plan in plans]
    for plan, layout in [(each, one) for each in twice for one in each.layouts_to_cut][:cases]:
        state = State(plan)
        begin = time.monotonic()
        new = changed(state, placed_anew(state, PlaceAgain((layout.hide_id,), seconds=seconds), engine=engine))
        took = time.monotonic() - begin
        found.append(Again(_placed(new.plan, layout.hide_id) - _placed(plan, layout.hide_id), took - seconds))
        print(f"  hide {layout.hide_id}: {found[-1].gained / 1e4:+.2f} dm² in {took:.1f} s", flush=True)
    return found


def _placed(plan: Plan, hide_id: str) -> float:
    rough = {piece.piece_id: area(piece.cut_outline) for piece in plan.pieces}
    return sum(rough[one.piece_id] for layout in plan.layouts if layout.hide_id == hide_id for one in layout.placed)


def _again_values(plans: Sequence[Plan], cases: int, seconds: float) -> list[Value]:
    found = placed_again(plans, cases, seconds)
    counts = {
        "fuller": sum(one.gained > 1.0 for one in found), "as full": sum(abs(one.gained) <= 1.0 for one in found),
        "less full": sum(one.gained < -1.0 for one in found),
    }
    print(f"placed again in {seconds:g} s, of {len(found)} hides: {counts}")
    return [
        *(Value(f"placed again in {seconds:g} s, {what}", number, n=len(found), unit="hides")
          for what, number in counts.items()),
        mean_of("gained by each", [one.gained / 1e4 for one in found], "dm²"),
        Value("beyond its seconds, at most", round(max(one.over for one in found), 2), n=len(found), unit="s"),
    ]


def _hand_values() -> list[Value]:
    took = drop_ms(60)
    print(f"a drop judged, 60 pieces: median {statistics.median(took):.0f} ms, at most {max(took[1:]):.0f} ms")
    painted, done = (statistics.median(one) for one in first_paint_ms(200))
    print(f"200 hides: first paint {painted:.0f} ms, ready {done:.0f} ms (medians of three)")
    frames, work = frames_ms(60)
    late = sum(one > FRAME_MS for one in frames)
    print(f"a piece dragged among 60: {1e3 / statistics.mean(frames):.1f} frames a second, {late} of {len(frames)} "
          f"longer than {FRAME_MS:g} ms, {work:.1f} ms of work in each")
    return [
        Value("a drop judged, 60 pieces, median", round(statistics.median(took), 1), n=len(took), unit="ms"),
        Value("a drop judged, 60 pieces, at most", round(max(took[1:]), 1), n=len(took) - 1, unit="ms"),
        Value("first paint, 200 hides", round(painted), n=3, unit="ms"),
        Value("page ready, 200 hides", round(done), n=3, unit="ms"),
        Value("frames a second of a drag among 60 pieces", round(1e3 / statistics.mean(frames), 1), n=len(frames),
              unit="1/s"),
        Value(f"frames longer than {FRAME_MS:g} ms", round(100.0 * late / len(frames), 1), n=len(frames), unit="%"),
        Value("work in a frame", round(work, 2), n=len(frames), unit="ms"),
    ]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("plans", nargs="*", type=Path, metavar="PLAN")
    parser.add_argument("--cases", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=3.0)
    parser.add_argument("--processor-time", action="store_true")
    add_record_option(parser)
    asked = parser.parse_args()
    if asked.plans:
        paths = [path / "plan.json" if path.is_dir() else path for path in asked.plans]
        found = _again_values([read_plan(path) for path in paths], asked.cases, asked.seconds)
        record = {"question": "Is a hide that is placed again fuller?", "module": "nest/edits/anew.py",
                  "baseline": "19 of 20 fuller, none less full", "metric": "rough area on a hide", "unit": "hides"}
    else:
        found = _hand_values()
        record = {"question": "Is the desk as quick as a hand?", "module": "nest/desk/app.py", "unit": "ms",
                  "baseline": "1 s to first paint, 100 ms a drop, 60 frames a second", "metric": "time"}
    if asked.record:
        write_record(asked.record, values=found, **record)


if __name__ == "__main__":
    main()
