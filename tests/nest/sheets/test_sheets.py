"""Cut sheets and lay sheets: one page each, every text legible and clear of others, everything found on it."""

import re
import shutil
import subprocess
from dataclasses import replace
from functools import partial
from itertools import combinations
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from legible import hold_legible, words_of
from reportlab.pdfgen.canvas import Canvas
from tiny_plans import box_plan, moved
from vamp_plans import vamp_pieces, vamp_plan

import nest
from geometry.pose import Pose
from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.compose import registration_points
from nest.cutplan.order import cut_route
from nest.cutplan.sheet import cut_sheet
from nest.cutplan.stamp import stamp_of
from nest.cutplan.work import hide_work, lay_work
from nest.job.cutting_table import Corner, CuttingTable
from nest.output import write_again
from nest.plan import HideLayout, Placed
from nest.report.checks import right_and_wrong
from nest.sheets.code import QUIET_MODULES, modules
from nest.sheets.cutsheet import cut_sheet_page
from nest.sheets.cutwords import NOT_VERIFIED
from nest.sheets.hidepicture import table_place
from nest.sheets.laysheet import lay_sheet_page
from nest.sheets.lists import INDEX_COLUMNS, INDEX_HEAD, list_pages, more_line
from nest.sheets.page import Page, as_many, width
from nest.verify import verify

TABLES = {
    "plain": CuttingTable(),
    "turned over": CuttingTable(origin=Corner.LOWER_LEFT, turn_deg=90.0, grain_down=True, unit="in"),
    "slanted": CuttingTable(origin=Corner.UPPER_RIGHT, turn_deg=33.3, grain_down=True, unit="cm"),
}
QUICK = partial(cut_route, effort=0.01)
TIME = "2026-03-02T05:50:00Z"


def hide_page(plan, table=None, findings=()):
    """The sheet of the first hide and the work on it."""
    plan = plan if table is None else replace(plan, settings=replace(plan.settings, table=table))
    layout = plan.layouts[0]
    work = hide_work(plan, layout, QUICK)
    sheet = cut_sheet(plan, layout, cutting_yield=0.5, work=work, checks=("Cut lines inside the material",) * 7,
                      findings=findings)
    return cut_sheet_page(plan, layout, sheet, work, stamp_of(plan, TIME)), work, plan


def crowded_plan(count):
    """The box plan with its four pieces again and again: a hide of very many pieces, not to be judged."""
    plan = box_plan()
    hide = replace(plan.hides[0], outline=shapely.box(0.0, 0.0, 2400.0, 1200.0))
    across = int(np.ceil(np.sqrt(2 * count)))
    ring = shapely.get_coordinates(shapely.box(0.0, 0.0, 2000.0 / across, 1800.0 / across))[:-1]
    small = replace(plan.pieces[0], cut_outline=ring, net_outline=ring[:4] * 0.9 + 3.0)
    placed = tuple(
        Placed(small.piece_id, Pose(2300.0 / across * (i % across), 2100.0 / across * (i // across), 0.0), i // 2 + 1)
        for i in range(count)
    )
    layouts = (replace(plan.layouts[0], placed=placed),)
    return replace(plan, hides=(hide,), pieces=(small, *plan.pieces[1:]), layouts=layouts)


@pytest.mark.parametrize("table", TABLES)
def test_a_stranger_finds_every_piece_and_flaw(table):
    """The number of each piece stands within its outline as it lies on the table; flaws are named in picture and list.

    Where a piece lies on the page is worked out from all the numbers by least squares.
    """
    plan = vamp_plan(1)
    page, work, plan = hide_page(plan, TABLES[table])
    hold_legible(page)
    hide, layout = plan.hides[0], plan.layouts[0]
    numbers = {box.text: box for box in page.boxes if box.text.isdigit() and box.size > 8.0}
    assert len(numbers) == len(layout.placed)
    middles = np.array([shapely.get_coordinates(shapely.polygons(
        work.frame.apply(one.pose.apply(plan.piece(one.piece_id).net_outline))).centroid)[0] for one in layout.placed])
    seen = np.array([(0.5 * (b.x0 + b.x1), 0.5 * (b.y0 + b.y1)) for i in range(len(layout.placed))
                     for b in (numbers[str(i + 1)],)])
    fit, *_ = np.linalg.lstsq(np.column_stack((middles, np.ones(len(middles)))), seen, rcond=None)
    # Seen on the table: x to the right, y up (down on the page), one scale, not turned; numbers keep off
    # darts and flaws.
    assert fit[0, 0] == pytest.approx(-fit[1, 1], rel=0.02) and fit[0, 0] > 0.0
    assert abs(fit[0, 1]) < 0.04 * fit[0, 0] and abs(fit[1, 0]) < 0.04 * fit[0, 0]
    for i, one in enumerate(layout.placed):
        ring = work.frame.apply(one.pose.apply(plan.piece(one.piece_id).cut_outline))
        on_page = shapely.polygons(np.column_stack((ring, np.ones(len(ring)))) @ fit)
        assert shapely.contains(on_page.buffer(3.0), shapely.Point(seen[i]))
    unit = {"mm": 1.0, "cm": 10.0, "in": 25.4}[plan.settings.table.unit]
    for flaw in hide.flaws:
        told = [box.text for box in page.boxes if box.text.split()[0] == flaw.flaw_id]
        assert flaw.flaw_id in told and len(told) == 2, "once in the picture, once in the list"
        place = work.frame.apply(shapely.get_coordinates(flaw.outline.centroid))[0] / unit
        x, y = map(float, re.search(r"\((-?[\d.]+), (-?[\d.]+)\)", max(told, key=len)).groups())
        assert (x, y) == pytest.approx(tuple(place), abs=0.51)


@pytest.mark.parametrize("table", TABLES)
def test_a_sheet_has_all_an_operator_asks_for(table):
    """Side, points, ends, pairs, order, plan and time, cautions and signatures."""
    page, work, plan = hide_page(vamp_plan(1), TABLES[table])
    words = words_of(page)
    down = plan.settings.table.grain_down
    assert ("GRAIN SIDE DOWN" in words) is down and ("GRAIN SIDE UP" in words) is not down
    assert "BUTT" in words and "NECK" not in words, "the ends that the zones name, and no others"
    hide = plan.hides[0]
    unit, digits = {"mm": (1.0, 0), "cm": (10.0, 1), "in": (25.4, 2)}[plan.settings.table.unit]
    for name, (x, y) in zip("ABCD", work.frame.apply(registration_points(hide)) / unit, strict=False):
        assert f"{name} ({x + 0.0:.{digits}f}, {y + 0.0:.{digits}f})" in words
    for said in ("pair 1", "Order of cutting", "Plan ", TIME, "First piece checked", "Cautions", "EN 12203", "Z1"):
        assert said in words
    for caution in CAUTIONS:
        assert caution in words.replace("• ", "")
    order = " ".join(str(path.index + 1) for path in work.paths)
    assert order in words.replace("• ", "")


def test_the_gauge_line_is_100_mm_long(tmp_path):
    """In the page's own code: 283.46 points (72 to the inch), beside the words that say what it is for."""
    page, _, _ = hide_page(box_plan())
    canvas = Canvas(str(tmp_path / "a.pdf"), pageCompression=0, invariant=1)
    page.put(canvas)
    canvas.save()
    code = (tmp_path / "a.pdf").read_bytes().decode("latin-1")
    strokes = re.findall(r"([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l\s+S", code)
    assert any(y1 == y2 and float(x2) - float(x1) == pytest.approx(283.46, abs=0.02) for x1, y1, x2, y2 in strokes)
    assert "This line is 100 mm long" in words_of(page)


@pytest.mark.parametrize("count", [60, 330, 900])
def test_very_many_pieces_stay_on_one_page(count):
    """However many pieces lie on a hide, lists shrink and cautions stay."""
    page, _, _ = hide_page(crowded_plan(count))
    hold_legible(page)
    assert all(caution.split(":")[0] in words_of(page) for caution in CAUTIONS)
    numbers = {box.text for box in page.boxes if box.text.isdigit()}
    assert count > 330 or {str(i + 1) for i in range(count)} <= numbers


def test_all_twelve_sides_of_the_demo_are_legible():
    """Without pieces, so that all zones, flaws and points are named: nothing stands on anything else."""
    job = nest.read_job(Path(__file__).parents[3] / "demo_data" / "job.toml")
    plan = box_plan()
    for hide in job.hides:
        bare = replace(plan, hides=(hide,), layouts=(HideLayout(hide.hide_id, ()),))
        page, _, _ = hide_page(bare)
        hold_legible(page)
        named = {box.text for box in page.boxes}
        assert {flaw.flaw_id for flaw in hide.flaws} <= named


def test_findings_never_push_a_sheet_over_its_page():
    """Hundreds of findings: the sheet says do not cut, names some, and says how many more there are."""
    page, _, _ = hide_page(vamp_plan(1), findings=tuple(f"finding {i} of a plan that is wrong" for i in range(400)))
    hold_legible(page)
    assert NOT_VERIFIED in words_of(page) and re.search(r"39\d more: see report.html", words_of(page))


@pytest.mark.parametrize("plies, splices, one_sided", [(1, (), True), (6, (1200.0, 30_000.0), True), (2, (), False)])
def test_a_lay_sheet_says_how_to_spread(plies, splices, one_sided):
    """Side up, plies, sizes with their marks, splices, in words; one page, cautions on it."""
    plan = vamp_plan(1)
    roll = replace(plan.rolls[0], splices_mm=splices, adhesive_one_side=one_sided)
    lay = replace(plan.lays[0], plies=plies)
    plan = replace(plan, rolls=(roll,), lays=(lay,))
    page = lay_sheet_page(plan, lay, lay_work(plan, lay, QUICK), ("checked",), (), stamp_of(plan, TIME))
    hold_legible(page)
    words = words_of(page)
    assert ("ADHESIVE SIDE UP" in words) is one_sided
    assert ("EITHER SIDE UP" in words) is not one_sided
    assert (f"{plies} plies" in words) is (plies > 1)
    assert "Size nicks:" in words and "Splice" in words.replace("splice", "Splice")
    assert ("at 1.2, 30 m" in words) is bool(splices)
    assert all(caution in words.replace("• ", "") for caution in CAUTIONS)


def test_a_lay_is_spread_the_side_up_that_its_vamps_need():
    """A left reinforcement covers a left vamp seen grain up, with its adhesive to the flesh side: so it looks up.

    The outlines themselves say so: a reinforcement lies within its own vamp as drawn, and turned over it does not.
    """
    plan = vamp_plan(1)
    pieces = {(piece.foot, piece.role): piece for piece in vamp_pieces(lean=20.0, sizes=("39",))}
    for foot in ("left", "right"):
        vamp = shapely.polygons(pieces[foot, "vamp"].cut_outline)
        back = np.asarray(pieces[foot, "reinforcement"].cut_outline)
        assert shapely.contains(vamp, shapely.polygons(back))
        assert not shapely.contains(vamp.buffer(1.0), shapely.polygons(back * (1.0, -1.0)))
    page = lay_sheet_page(plan, plan.lays[0], lay_work(plan, plan.lays[0], QUICK), (), ())
    assert "ADHESIVE SIDE UP, in every ply" in words_of(page)


@pytest.mark.parametrize("name", ["H02", "S-014/b", "Häute 12", "шкура 7", "a rather long name of a hide, lot 12"])
def test_codes_are_read_by_another_library(name):
    """OpenCV's reader of QR codes (ISO/IEC 18004) reads what was put in."""
    light = ~np.pad(modules(name), QUIET_MODULES)
    picture = np.kron(light, np.ones((8, 8), dtype=bool)).astype(np.uint8) * 255
    assert cv2.QRCodeDetector().detectAndDecode(picture)[0] == name


def test_all_sheets_come_in_one_file_and_the_same_twice(tmp_path, monkeypatch):
    """`print.pdf` holds index, issue list and every sheet; two writes at one time are alike byte for byte.

    So they are where the environment states the time (SOURCE_DATE_EPOCH, reproducible-builds.org).
    """
    plan = vamp_plan(2)
    plan = replace(plan, lays=())
    verdict = verify(plan)
    for name in ("one", "two"):
        write_again(plan, verdict, tmp_path / name, time=TIME)
        monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772430600")
    prefix = "" if verdict.ok else "NOT-VERIFIED-"
    files = [f"{prefix}print.pdf", *(f"sheets/{prefix}hide-{layout.hide_id}.pdf" for layout in plan.layouts)]
    for file in files:
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()
    data = (tmp_path / "one" / files[0]).read_bytes()
    assert len(re.findall(rb"/Type /Page\b", data)) == 2 + len(plan.layouts)


def test_an_index_cuts_no_name_short():
    """A batch of forty hides takes several lines of the index, whole; rows go on to the next page where one is full."""
    names = [f"K{i:02d}" for i in range(1, 41)]
    cells = ("batch T-1", f"from {', '.join(names)}", "80 pairs", "160", "")
    rows = [INDEX_HEAD, *(more_line(cells, page, "") for page in range(1, 15))]
    pages = list_pages("Sheets of this plan", rows, INDEX_COLUMNS, box_plan(), stamp_of(box_plan(), TIME), "Planned by")
    for page in pages:
        hold_legible(page)
    words = " ".join(map(words_of, pages))
    assert len(pages) == 2 and "…" not in words
    assert words.count("from " + ", ".join(names)) == 14


def test_names_in_a_row_say_how_many_more_there_are():
    """As many as fit, and the count of the others; all of them where they fit."""
    names = [f"K{i:02d}" for i in range(1, 41)]
    said = as_many(names, 200.0, 8.5)
    shown = said.split(" and ")[0].split(", ")
    assert shown == names[: len(shown)] and said.endswith(f" and {40 - len(shown)} more")
    assert width(said, 8.5) <= 200.0 < width(", ".join(names[: len(shown) + 1]) + f" and {39 - len(shown)} more", 8.5)
    assert as_many(names[:3], 200.0, 8.5) == "K01, K02, K03"


def test_a_wrong_plan_is_not_cut_by_its_sheets():
    """What the judge found stands on the sheet, in words and above the picture."""
    plan = moved(box_plan(), 1, dx=-100.0)
    _, wrong = right_and_wrong(plan, verify(plan), plan.layouts[0].hide_id)
    page, _, _ = hide_page(plan, findings=wrong)
    assert wrong and sum(box.text == NOT_VERIFIED for box in page.boxes) == 2


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler is not installed")
def test_another_reader_sees_the_same_words_apart(tmp_path):
    """Poppler finds one page of A4, its words inside, none on another (halos are drawn as the same word twice)."""
    page, _, _ = hide_page(vamp_plan(1))
    canvas = Canvas(str(tmp_path / "a.pdf"), invariant=1)
    page.put(canvas)
    canvas.save()
    subprocess.run(["pdftotext", "-bbox", "a.pdf", "a.html"], cwd=tmp_path, check=True, timeout=60)
    text = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert text.count("<page ") == 1 and 'width="595.' in text and 'height="841.' in text
    found = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>', text)
    words = list({(*(round(float(n), 1) for n in one[:4]), one[4]) for one in found})
    assert len(words) > 150
    for a, b in combinations(words, 2):
        # Its boxes reach from the typeface's highest ascender to its lowest descender: their middles tell.
        high_a, high_b = a[3] - a[1], b[3] - b[1]
        apart = min(a[2], b[2]) - max(a[0], b[0]) <= 0.3 or \
            min(a[3] - 0.2 * high_a, b[3] - 0.2 * high_b) - max(a[1] + 0.2 * high_a, b[1] + 0.2 * high_b) <= 0.0
        assert apart, (a, b)


def test_a_page_is_drawn_once_and_put_anywhere(tmp_path):
    """The same page in two files, and its boxes are those of its texts."""
    page = Page()
    box = page.text(100.0, 100.0, "Hide H01", 12.0)
    assert page.boxes == [box] and box.x1 - box.x0 > 40.0
    for name in ("a.pdf", "b.pdf"):
        canvas = Canvas(str(tmp_path / name), invariant=1)
        page.put(canvas)
        canvas.save()
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_no_zero_is_negative():
    """A point a fraction of a millimetre below the origin's line lies on it, in words."""
    assert table_place((431.2, -0.3), "mm") == "(431, 0)"
