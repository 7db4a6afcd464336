"""Plots in full size, held against the files themselves."""

import re
import zlib

import pytest
import shapely
from tiny_plans import box_plan

from nest.cutplan.compose import hide_drawing
from nest.report.tiles import OVERLAP_MM, PAPER_MM, tile_size, tiles_of, write_plot_svg, write_tiles_pdf


def pages(path):
    """Width and height of every page of a PDF, mm."""
    boxes = re.findall(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+) ?\]", path.read_bytes())
    return [(float(w) / 72 * 25.4, float(h) / 72 * 25.4) for w, h in boxes]


def test_plots_are_in_full_size(tmp_path):
    """Pages are A4; the SVG's size in points is that of the hide in mm (72 points to 25.4 mm), 2 mm around."""
    plan = box_plan()
    drawing = hide_drawing(plan, plan.layouts[0])
    write_tiles_pdf(drawing, tmp_path / "a.pdf", "Hide $H1")
    assert len(pages(tmp_path / "a.pdf")) == 1 + len(tiles_of(drawing))
    assert all(page == pytest.approx(PAPER_MM, abs=0.01) for page in pages(tmp_path / "a.pdf"))
    write_plot_svg(drawing, tmp_path / "a.svg")
    text = (tmp_path / "a.svg").read_text(encoding="utf-8")
    width, height = (float(re.search(rf'{side}="([\d.]+)pt"', text)[1]) / 72 * 25.4 for side in ("width", "height"))
    plotted = [e.points for e in drawing.entities if hasattr(e, "points") and e.use not in ("legend", "heading")]
    low_x, low_y, high_x, high_y = shapely.total_bounds([shapely.LineString(points) for points in plotted])
    assert (width, height) == (pytest.approx(high_x - low_x + 4, abs=0.01), pytest.approx(high_y - low_y + 4, abs=0.01))


def test_a_millimetre_is_a_millimetre_on_paper(tmp_path):
    """The line of 100 mm is 283.46 points long in the page's own code (72 points to the inch)."""
    plan = box_plan()
    write_tiles_pdf(hide_drawing(plan, plan.layouts[0]), tmp_path / "a.pdf", "H1")
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", (tmp_path / "a.pdf").read_bytes(), re.DOTALL):
        try:
            code = zlib.decompress(stream).decode("latin-1")
        except zlib.error:
            continue
        for x1, y1, x2, y2 in re.findall(r"([\d.]+) ([\d.]+) m\n([\d.]+) ([\d.]+) l", code):
            if y1 == y2:
                found.append(float(x2) - float(x1))
    assert any(length == pytest.approx(100.0 / 25.4 * 72.0, abs=0.01) for length in found)


def test_tiles_cover_the_drawing_and_overlap():
    """Every plotted line lies on the pages together, and neighbours share 10 mm."""
    plan = box_plan()
    drawing = hide_drawing(plan, plan.layouts[0])
    tiles, (width, height) = tiles_of(drawing), tile_size()
    shown = shapely.union_all([shapely.box(t.x, t.y, t.x + width, t.y + height) for t in tiles])
    for use in ("cut", "net", "material"):
        assert all(shown.buffer(1e-6).covers(shapely.LineString(one.points)) for one in drawing.outlines(use))
    by_place = {(tile.row, tile.column): tile for tile in tiles}
    assert by_place[1, 2].x - by_place[1, 1].x == pytest.approx(width - OVERLAP_MM)
    assert by_place[2, 1].y - by_place[1, 1].y == pytest.approx(height - OVERLAP_MM)
