"""Figures of a plan. Every function draws on the `ax` it is given and returns it; nothing is shown on a screen.

    ax = new_axes(10, 6)
    save_figure(draw_hide(ax, plan, layout).figure, "hide.png")
"""

from collections import Counter
from typing import Any

import numpy as np
import shapely

from geometry.pose import Pose, rotation
from nest.atomic import atomic_path
from nest.cutplan.drawing import piece_name
from nest.cutplan.sizes import sizes_in_order
from nest.pieces.piece import Piece, Template
from nest.plan import HideLayout, Lay, Plan
from nest.report import palette
from nest.report.arrows import MOST_LABELS, ground_taken, stretch_arrow
from nest.report.pointed import label_lines
from nest.text import count_words

_FLAW_HATCHES = ("////", "\\\\\\\\", "xxxx", "....", "++++", "oooo")
_PART_STYLES = {"toe": "-", "side": (0, (6, 2)), "back": (0, (1.5, 1.5))}
_SMALL_FLAW_MM = 35.0


def new_axes(width_in: float, height_in: float):
    """Axes that fill a new figure of this size in inches; title, numbers and key are added around it when saved."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in))
    FigureCanvasAgg(figure)
    return figure.add_axes((0.0, 0.0, 1.0, 1.0))


def save_figure(figure, path, dpi: int = 110) -> None:
    """Write `figure` to `path`, atomically; the suffix (.png, .svg, .pdf) decides the format."""
    from matplotlib import rc_context, rcParams

    # A fixed salt and no date: the same figure is the same file.
    plain = {".png": {"Software": None}, ".svg": {"Date": None}, ".pdf": {"CreationDate": None}}
    with atomic_path(path) as part, rc_context({"svg.hashsalt": "vampyield", "svg.fonttype": "none"}):
        metadata = plain.get(part.suffix.lower())
        box, more = "tight", {}
        if part.suffix.lower() == ".png":  # where the box is found as it is, without drawing all of it twice
            figure.dpi = dpi
            box = figure.get_tightbbox(figure.canvas.get_renderer()).padded(rcParams["savefig.pad_inches"])
            more = {"pil_kwargs": {"compress_level": 3}}  # as small as by the usual 6, a third sooner
        figure.savefig(part, dpi=dpi, facecolor="white", bbox_inches=box, metadata=metadata, **more)


def draw_hide(ax, plan: Plan, layout: HideLayout, title: str | None = None):
    """One hide: outline, zones by class with stretch arrows, flaws by kind, pieces coloured by size."""
    from matplotlib.patches import Patch

    hide = next(hide for hide in plan.hides if hide.hide_id == layout.hide_id)
    handles = []
    for zone in hide.zones:
        _add_region(ax, zone.outline, facecolor=palette.zone_tint(zone.quality), edgecolor="#8a7a58", linewidth=0.6)
    for quality in sorted({zone.quality for zone in hide.zones}):
        tint = palette.zone_tint(quality)
        handles.append(Patch(facecolor=tint, edgecolor="#8a7a58", label=f"ground of class {quality}"))
    _add_region(ax, hide.outline, facecolor="none", edgecolor=palette.INK, linewidth=1.6, zorder=4)
    handles += _draw_placed(ax, plan, layout.placed)
    handles += _draw_flaws(ax, hide.flaws)
    if hide.zones:
        zones = [(zone.outline, zone.stretch_deg) for zone in hide.zones if zone.stretch_deg is not None]
        handles.append(_draw_stretch(ax, plan, layout.placed, zones, [flaw.outline for flaw in hide.flaws]))
    words = f"Hide {hide.hide_id}: {count_words(len(layout.placed), 'piece')}, grain side up"
    _frame(ax, hide.outline.bounds, title or words)
    return _key(ax, handles)


def draw_lay(ax, plan: Plan, lay: Lay, title: str | None = None):
    """One lay: the usable strip with its selvedges, pieces coloured by size, the stretch of the goods."""
    from matplotlib.patches import Patch

    roll = next(roll for roll in plan.rolls if roll.roll_id == lay.roll_id)
    width, margin = roll.usable_width_mm, roll.selvedge_mm
    whole = shapely.box(0.0, -margin, lay.length_mm, width + margin)
    strip = shapely.box(0.0, 0.0, lay.length_mm, width)
    edge: dict[str, Any] = {"facecolor": palette.ZONES[2], "edgecolor": palette.INK, "linewidth": 1.0}
    _add_region(ax, whole, **edge)
    _add_region(ax, strip, facecolor=palette.ZONES[0], edgecolor="#8a7a58", linewidth=0.8)
    handles = [Patch(label="selvedge, not used", **edge)] if margin > 0.0 else []
    handles += _draw_placed(ax, plan, lay.placed)
    handles.append(_draw_stretch(ax, plan, lay.placed, [(strip, roll.stretch_deg)]))
    metres, plies = f"{lay.length_mm / 1000.0:.3f} m", count_words(lay.plies, "ply", "plies")
    words = f"Lay {lay.lay_id} of roll {lay.roll_id}: {metres}, {count_words(len(lay.placed), 'piece')} a ply, {plies}"
    _frame(ax, whole.bounds, title or words)
    return _key(ax, handles)


def draw_piece(ax, vamp: Piece, reinforcement: Piece | None = None, template: Template | None = None):
    """One vamp in its own frame: rough outline, trim-off band, net outline, reinforcement.

    With `template`, the net outline shows which part (toe, side, back) each edge belongs to.
    """
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    rough, net = shapely.polygons(vamp.cut_outline), shapely.polygons(vamp.net_outline)
    _add_region(ax, rough, facecolor=palette.EDGE, edgecolor=palette.INK, linewidth=1.5)
    _add_region(ax, net, facecolor="#cfe0ee", edgecolor=palette.NET, linewidth=1.2)
    handles: list[Any] = [
        Patch(facecolor=palette.EDGE, edgecolor=palette.INK, label="rough vamp: trim-off band"),
        Patch(facecolor="#cfe0ee", edgecolor=palette.NET, label="template: stays in the shoe"),
    ]
    if reinforcement is not None:
        inner = np.vstack((reinforcement.cut_outline, reinforcement.cut_outline[:1]))
        ax.plot(*inner.T, color=palette.QUIET, linestyle=(0, (4, 3)), linewidth=1.3, zorder=3)
        handles.append(Line2D([], [], color=palette.QUIET, linestyle=(0, (4, 3)), label="reinforcement"))
    if template is not None:
        handles += _draw_parts(ax, template)
    low, high = np.min(vamp.cut_outline, axis=0), np.max(vamp.cut_outline, axis=0)
    ax.plot((low[0] - 8.0, high[0] + 8.0), (0.0, 0.0), color=palette.QUIET, linewidth=0.8, linestyle="-.", zorder=2)
    length, width = high - low
    _frame(ax, (*low, *high), f"{piece_name(vamp)}: rough vamp {length:.0f} × {width:.0f} mm")
    return _key(ax, handles, columns=2)


def _draw_parts(ax, template: Template):
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D

    edges = np.stack((template.outline, np.roll(template.outline, -1, axis=0)), axis=1)
    handles = []
    for part, style in _PART_STYLES.items():
        chosen = [edge for edge, name in zip(edges, template.parts, strict=True) if name == part]
        if chosen:
            look: dict[str, Any] = {"color": palette.PARTS[part], "linestyle": style, "linewidth": 2.6}
            ax.add_collection(LineCollection(_joined(chosen), zorder=5, **look))
            handles.append(Line2D([], [], label=f"{part} allowance", **look))
    return handles


def _joined(edges):
    """Edges that follow each other as one line, so that dashes run on."""
    lines = [list(edges[0])]
    for start, end in edges[1:]:
        if np.array_equal(lines[-1][-1], start):
            lines[-1].append(end)
        else:
            lines.append([start, end])
    return [np.array(line) for line in lines]


def _draw_placed(ax, plan: Plan, placed):
    """Pieces filled by size, net line inside, a tick on the heading from the toe, size and pair as label."""
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.patches import Patch

    pieces = {piece.piece_id: piece for piece in plan.pieces}
    colours = palette.by_size(sizes_in_order(plan))
    cuts = _cut_rings(plan, placed)
    nets = [p.pose.apply(pieces[p.piece_id].net_outline) for p in placed]
    fills = [colours[pieces[p.piece_id].size][0] for p in placed]
    inks = [colours[pieces[p.piece_id].size][1] for p in placed]
    rough: dict[str, Any] = {"edgecolors": palette.INK, "linewidths": 0.8, "alpha": 0.9}
    ax.add_collection(PolyCollection(cuts, facecolors=fills, zorder=5, **rough))
    dashes: dict[str, Any] = {"facecolors": "none", "linewidths": 0.6, "linestyles": "--"}
    ax.add_collection(PolyCollection(nets, edgecolors=inks, zorder=6, **dashes))
    toes = [_toe_tick(pieces[p.piece_id], p.pose) for p in placed]
    ax.add_collection(LineCollection(toes, colors=inks, linewidths=2.2, zorder=6))
    if len(placed) <= MOST_LABELS:
        for p, net, ink in zip(placed, nets, inks, strict=True):
            middle = shapely.centroid(shapely.polygons(net))
            text = "\n".join(label_lines(pieces[p.piece_id].size, pieces[p.piece_id].foot, p.pair))
            ax.text(middle.x, middle.y, text, color=ink, ha="center", va="center", fontsize=6.5, zorder=8)
    counts = Counter(pieces[p.piece_id].size for p in placed)
    return [
        Patch(facecolor=colours[size][0], edgecolor=palette.INK, label=f"size {size}: {counts[size]}")
        for size in colours
        if counts[size]
    ]


def _cut_rings(plan: Plan, placed) -> list[np.ndarray]:
    outlines = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
    return [p.pose.apply(outlines[p.piece_id]) for p in placed]


def _toe_tick(piece: Piece, pose: Pose) -> np.ndarray:
    toe = float(np.max(np.asarray(piece.net_outline)[:, 0]))
    return pose.apply(np.array(((toe, 0.0), (toe - 18.0, 0.0))))


def _draw_flaws(ax, flaws):
    from matplotlib.patches import Patch

    handles = []
    kinds = sorted({(flaw.kind, flaw.tears) for flaw in flaws})
    for i, (kind, tears) in enumerate(kinds):
        look = {
            "facecolor": "#00000055" if tears else "#ffffff99",
            "edgecolor": palette.FLAW,
            "hatch": _FLAW_HATCHES[i % len(_FLAW_HATCHES)],
            "linewidth": 2.0 if tears else 1.0,
        }
        for flaw in flaws:
            if (flaw.kind, flaw.tears) == (kind, tears):
                _add_region(ax, flaw.outline, zorder=7, **look)
                _ring_if_small(ax, flaw.outline)
        handles.append(Patch(label=f"{kind}, tears" if tears else kind, **look))
    return handles


def _ring_if_small(ax, region) -> None:
    """A ring around a flaw too small to be seen at the scale of a hide."""
    from matplotlib.patches import Circle
    from matplotlib.patheffects import withStroke

    x_min, y_min, x_max, y_max = region.bounds
    if max(x_max - x_min, y_max - y_min) < _SMALL_FLAW_MM:
        middle = (0.5 * (x_min + x_max), 0.5 * (y_min + y_max))
        look = {"fill": False, "edgecolor": palette.FLAW, "linewidth": 1.2}
        ring = ax.add_patch(Circle(middle, 0.5 * _SMALL_FLAW_MM, zorder=7, **look))
        ring.set_path_effects([withStroke(linewidth=2.8, foreground="white")])


def _draw_stretch(ax, plan: Plan, placed, zones, flaws=()):
    """A double arrow along the direction of most stretch in each (region, direction) of `zones`; returns their key."""
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import withStroke

    pieces, words = ground_taken(plan, placed)
    for region, stretch_deg in zones:
        if (found := stretch_arrow(region, stretch_deg, pieces, words, flaws)) is not None:
            x, y, half = found
            middle, way = np.array((x, y)), rotation(stretch_deg) @ np.array((half, 0.0))
            look = {"arrowstyle": "<->", "color": palette.STRETCH, "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0}
            arrow = ax.annotate("", xy=tuple(middle + way), xytext=tuple(middle - way), arrowprops=look, zorder=7.5)
            arrow.arrow_patch.set_path_effects([withStroke(linewidth=3.6, foreground="white")])
    return Line2D([], [], color=palette.STRETCH, marker="d", markersize=4, label="direction of most stretch")


def _add_region(ax, region, zorder: float = 1, **look) -> None:
    """A shapely polygon or multipolygon as one patch with its holes."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    parts = [
        Path(shapely.get_coordinates(ring), closed=True)
        for polygon in shapely.get_parts(region)
        for ring in shapely.get_rings(shapely.orient_polygons(polygon))
    ]
    if parts:
        ax.add_patch(PathPatch(Path.make_compound_path(*parts), zorder=zorder, **look))


def _frame(ax, bounds, title: str) -> None:
    x_min, y_min, x_max, y_max = bounds
    room = 0.02 * max(x_max - x_min, y_max - y_min)
    ax.set_xlim(x_min - room, x_max + room)
    ax.set_ylim(y_min - room, y_max + room)
    ax.set_aspect("equal")
    ax.set_title(title.replace("$", r"\$"), fontsize=10, loc="left")
    ax.tick_params(labelsize=7, colors=palette.QUIET)
    ax.set_xlabel("mm", fontsize=7, color=palette.QUIET)
    for side in ax.spines.values():
        side.set_color("#cccccc")


def _key(ax, handles, columns: int | None = None):
    """The legend below the drawing."""
    if handles:
        ax.legend(
            handles=handles, loc="upper center", bbox_to_anchor=(0.5, 0.0), ncols=columns or min(len(handles), 8),
            fontsize=7, frameon=False, handlelength=1.8, borderaxespad=4.5,
        )
    return ax
