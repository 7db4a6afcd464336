"""Figures show what is in the plan, and can be read in greyscale."""

import time
from dataclasses import replace
from itertools import pairwise

import matplotlib.pyplot
import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb
from PIL import Image
from tiny_plans import box_plan, hide, slant_plan
from vamp_plans import SIZES, vamp_plan

from nest.accounts.yields import yields
from nest.pieces.piece import Part, Template
from nest.plan import Bound, HideLayout
from nest.report import palette
from nest.report.charts import PARTS, draw_account, draw_allowance_prices, draw_consumption, draw_yields
from nest.report.figures import draw_hide, draw_lay, draw_piece, new_axes, save_figure

PLAN = vamp_plan(1)


def lightness(colour) -> float:
    """Relative luminance (WCAG 2.1, definition)."""
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def polygons(ax):
    """The filled collections of pieces on the axes."""
    return [c for c in ax.collections if isinstance(c, PolyCollection)]


def legend(ax):
    """Texts of the key."""
    return [text.get_text() for text in ax.get_legend().get_texts()]


def test_hide_shows_every_piece_at_its_place():
    """One polygon for each placed piece, with the vertices of its cut outline at its pose."""
    ax = new_axes(8, 5)
    layout = PLAN.layouts[0]
    assert draw_hide(ax, PLAN, layout) is ax
    cuts = polygons(ax)[0].get_paths()
    assert len(cuts) == len(layout.placed)
    for path, placed in zip(cuts, layout.placed, strict=True):
        ring = placed.pose.apply(PLAN.piece(placed.piece_id).cut_outline)
        assert path.vertices[: len(ring)] == pytest.approx(ring)


def test_hide_key_counts_sizes_and_names_classes_and_flaws():
    """The key tells each size with its count, each class of ground and each kind of flaw."""
    found = legend(draw_hide(new_axes(8, 5), PLAN, PLAN.layouts[0]))
    for size in SIZES:
        count = sum(PLAN.piece(p.piece_id).size == size for p in PLAN.layouts[0].placed)
        assert (f"size {size}: {count}" in found) == (count > 0)
    assert {"ground of class 1", "ground of class 4", "direction of most stretch"} <= set(found)
    assert {"cut, tears", "scratch"} <= set(found)


def test_lay_and_piece_are_drawn_on_the_axes_given():
    """Each returns its axes; the lay shows all pieces, the piece its parts."""
    ax = new_axes(6, 6)
    assert draw_lay(ax, PLAN, PLAN.lays[0]) is ax
    assert len(polygons(ax)[0].get_paths()) == len(PLAN.lays[0].placed)
    net = PLAN.pieces[0].net_outline
    parts = tuple(Part.TOE if x > 60 else Part.BACK if x < -40 else Part.SIDE for x in net[:, 0])
    ax = new_axes(6, 6)
    assert draw_piece(ax, PLAN.pieces[0], PLAN.pieces[1], Template("river", "36", net, parts)) is ax
    assert {"reinforcement", "toe allowance", "side allowance", "back allowance"} <= set(legend(ax))


def test_sizes_are_told_apart_in_greyscale():
    """From size to size the fill only grows lighter, by a visible step, and its label keeps a contrast of 3 : 1."""
    fills = palette.by_size(SIZES)
    shades = [lightness(fills[size][0]) for size in SIZES]
    assert all(b > a * 1.15 for a, b in pairwise(shades))
    for fill, ink in fills.values():
        low, high = sorted((lightness(fill), lightness(ink)))
        assert (high + 0.05) / (low + 0.05) >= 3.0


def test_parts_and_grounds_are_told_apart_in_greyscale():
    """The five parts of an account grow lighter, the classes of ground darker, each by a visible step."""
    shades = [lightness(colour) for _, _, colour in PARTS]
    assert all(b > a * 1.3 for a, b in pairwise(shades))
    grounds = [lightness(tint) for tint in palette.ZONES]
    assert all(b < a * 0.9 for a, b in pairwise(grounds))


def test_sixty_pieces_are_drawn_in_time(tmp_path):
    """A hide with 60 pieces is a PNG in less than 1.5 s of work."""
    layout = PLAN.layouts[0]
    many = HideLayout(layout.hide_id, (layout.placed * 4)[:60])
    draw_hide(new_axes(11, 6), PLAN, layout)  # imports
    begun = time.process_time()
    save_figure(draw_hide(new_axes(11, 6), PLAN, many).figure, tmp_path / "a.png")
    assert time.process_time() - begun < 1.5
    with Image.open(tmp_path / "a.png") as image:
        assert image.width > 900 and np.ptp(np.asarray(image.convert("L"))) > 200


@pytest.mark.parametrize("suffix", ["png", "svg"])
def test_same_plan_gives_the_same_file(tmp_path, suffix):
    """No date, no chance: two runs write the same bytes."""
    for name in ("a", "b"):
        save_figure(draw_lay(new_axes(5, 5), box_plan(), box_plan().lays[0]).figure, tmp_path / f"{name}.{suffix}")
    assert (tmp_path / f"a.{suffix}").read_bytes() == (tmp_path / f"b.{suffix}").read_bytes()


def test_nothing_global_is_left_behind(tmp_path):
    """No figure is registered with pyplot."""
    save_figure(draw_hide(new_axes(5, 3), PLAN, PLAN.layouts[0]).figure, tmp_path / "a.png")
    assert matplotlib.pyplot.get_fignums() == []


def test_odd_names_and_bare_hides_are_drawn(tmp_path):
    """Names with signs that mean mathematics, a hide without zones, flaws or pieces."""
    plan = slant_plan(hides=(hide("a$b_$^", zones=()),), layouts=(HideLayout("a$b_$^", ()),))
    save_figure(draw_hide(new_axes(5, 3), plan, plan.layouts[0]).figure, tmp_path / "a.svg")
    assert "a$b_$^" in (tmp_path / "a.svg").read_text()


def test_left_and_right_are_named():
    """The label of a piece for one foot tells which."""
    plan = slant_plan()
    texts = {text.get_text() for text in draw_hide(new_axes(5, 3), plan, plan.layouts[0]).texts}
    assert {"38 L\n·1", "38 R\n·1", "38 L\n·2", "38 R\n·2"} <= texts


def test_account_bars_add_up_to_the_material(run):
    """Each bar's five segments are the account's parts and end at 100 %."""
    ax = draw_account(new_axes(8, 3), run.accounts.uses)
    for row, use in enumerate(run.accounts.uses):
        segments = [bar for bar in ax.patches if round(bar.get_y() + bar.get_height() / 2) == row]
        assert [s.get_width() for s in segments] == pytest.approx(
            [100 * getattr(use.account, name) / use.account.material_mm2 for _, name, _ in PARTS]
        )
        assert segments[-1].get_x() + segments[-1].get_width() == pytest.approx(100.0)


def test_yield_bars_show_yields_and_proved_bounds(run):
    """The longer bar is the cutting yield, the shorter the net yield; a line where a bound is proved."""
    uses = run.accounts.uses
    bounds = (Bound(uses[0].material_id, 0.83, 0.74),)
    ax = draw_yields(new_axes(8, 3), uses, bounds)
    widths = [bar.get_width() for bar in ax.patches]
    wanted = [share for use in uses for share in (100 * yields(use.account).cutting, 100 * yields(use.account).net)]
    assert widths == pytest.approx(wanted)
    assert [list(line.get_xdata()) for line in ax.lines if len(line.get_xdata())] == [[83.0, 83.0]]
    plain = draw_yields(new_axes(8, 3), uses)
    assert not plain.lines


def test_zones_on_several_islands_are_drawn():
    """A zone of two parts, and one that pieces cover wholly, do not stop the drawing."""
    base = PLAN.hides[0]
    covered = replace(base.zones[0], outline=base.zones[0].outline.buffer(-200.0))
    plan = replace(PLAN, hides=(replace(base, zones=(covered, *base.zones[1:])),))
    assert draw_hide(new_axes(5, 3), plan, plan.layouts[0]).get_title(loc="left").startswith("Hide S-014")


def test_consumption_bars_are_as_high_as_what_is_paid_for(run):
    """One bar a size; its parts add up to dm² paid for a pair; sums by style and order are left out."""
    rows = run.accounts.leather_consumption
    ax = draw_consumption(new_axes(8, 4), rows)
    sizes = [row for row in rows if row.size]
    for at, row in enumerate(sizes):
        bars = [bar for bar in ax.patches if abs(bar.get_x() + bar.get_width() / 2 - at) < 1e-9]
        each = row.per_pair()
        assert sum(bar.get_height() for bar in bars) == pytest.approx(
            (each.gross_mm2 - min(0.0, each.measure_mm2)) / 1e4
        )
    assert [text.get_text() for text in ax.get_xticklabels()] == [row.size for row in sizes]
    assert len(draw_consumption(new_axes(8, 4), ()).patches) == 0


def test_allowance_curves_are_told_apart_without_colour():
    """Each curve has its points in order of mm, its error bars, and a line and marker of its own."""
    curves = {
        "toe": [(1.0, 0.08, 0.03), (-1.0, -0.07, 0.03), (0.0, 0.0, None)],
        "side": [(-1.0, -0.12, 0.04), (0.0, 0.0, None), (1.0, 0.11, 0.04)],
        "back $": [(0.0, 0.0, None), (2.0, 0.1, None)],
    }
    ax = draw_allowance_prices(new_axes(6, 4), curves, "EUR")
    lines = [bars.lines[0] for bars in ax.containers]
    assert list(lines[0].get_xdata()) == [-1.0, 0.0, 1.0] and list(lines[0].get_ydata()) == [-0.07, 0.0, 0.08]
    assert len({(line.get_linestyle(), line.get_marker()) for line in lines}) == 3
    assert legend(ax) == ["toe", "side", r"back \$"]
    (spans,) = ax.containers[0].lines[2]
    assert [np.ptp(span[:, 1]) for span in spans.get_segments()] == pytest.approx([0.06, 0.0, 0.06])


@pytest.mark.parametrize("suffix", ["png", "svg"])
def test_charts_are_written_in_both_formats(tmp_path, run, suffix):
    """A picture of dots and one of lines; the latter keeps its words as words."""
    ax = draw_consumption(new_axes(8, 4), run.accounts.leather_consumption, "Leather by size")
    save_figure(ax.figure, tmp_path / f"a.{suffix}")
    found = (tmp_path / f"a.{suffix}").read_bytes()
    assert found.startswith(b"\x89PNG") if suffix == "png" else b"Leather by size" in found
