"""Plots of a cutting drawing in full size, for checking by hand: a PDF on tiles of A4, and an SVG in one piece.

Tiles overlap; the crosses in their corners lie on those of the neighbours. Every page has a line of 100 mm to be
measured before anything is compared with it: printers scale.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely

from nest.atomic import atomic_path
from nest.cutplan.cautions import CAUTIONS
from nest.cutplan.drawing import Drawing, Label, Outline
from nest.cutplan.dxf import write_lean_dxf
from nest.cutplan.hpgl import write_work_hpgl
from nest.cutplan.work import Work
from nest.job.cutting_table import FileKind
from nest.report import palette

PAPER_MM = (210.0, 297.0)
"""A4 upright (ISO 216)."""

MARGIN_MM = 12.0
"""Left blank on every side; printers do not reach the edge."""

OVERLAP_MM = 10.0

_MM_PER_IN = 25.4
_POINTS_PER_MM = 72.0 / _MM_PER_IN
_LINES = {
    "material": (palette.INK, 1.0), "zones": ("#8a7a58", 0.5), "flaws": (palette.ALARM, 0.8), "net": (palette.NET, 0.5),
    "rough": (palette.QUIET, 0.5), "axis": (palette.ALARM, 0.8), "size": (palette.ALARM, 0.8),
    "number": (palette.ALARM, 0.8), "points": (palette.ALARM, 0.8), "lead": (palette.QUIET, 0.8),
    "cut": (palette.INK, 0.8),
}
"""Colour and width in points of each use that is plotted; the rest is for the table's own screen."""

_TEXTS = ("labels", "zones", "flaws", "points")


@dataclass(frozen=True, slots=True)
class Tile:
    """One page: row from the bottom and column from the left, both from 1, and its lower left corner, mm."""

    row: int
    column: int
    x: float
    y: float

    @property
    def name(self) -> str:
        """Row and column."""
        return f"row {self.row}, column {self.column}"


def tile_size() -> tuple[float, float]:
    """Width and height of what one page shows, mm."""
    return PAPER_MM[0] - 2.0 * MARGIN_MM, PAPER_MM[1] - 2.0 * MARGIN_MM


def tiles_of(drawing: Drawing) -> tuple[Tile, ...]:
    """The pages that something of the drawing lies on, row by row."""
    lines = _plotted(drawing)
    if not lines:
        return ()
    shapes = np.array([shapely.LineString(points) for _, points in lines])
    tree = shapely.STRtree(shapes)
    x_min, y_min, x_max, y_max = shapely.total_bounds(shapes)
    width, height = tile_size()
    across, up = width - OVERLAP_MM, height - OVERLAP_MM
    columns = max(1, int(np.ceil((x_max - x_min - OVERLAP_MM) / across)))
    rows = max(1, int(np.ceil((y_max - y_min - OVERLAP_MM) / up)))
    every = (Tile(r + 1, c + 1, x_min + c * across, y_min + r * up) for r in range(rows) for c in range(columns))
    return tuple(
        tile for tile in every
        if len(tree.query(shapely.box(tile.x, tile.y, tile.x + width, tile.y + height), predicate="intersects"))
    )


def write_tiles_pdf(drawing: Drawing, path, title: str) -> None:
    """Write the drawing at 1 : 1 on A4 tiles to `path`, atomically; the first page shows how they lie."""
    from matplotlib.backends.backend_pdf import PdfPages

    tiles = tiles_of(drawing)
    with atomic_path(path) as part, PdfPages(part, metadata={"CreationDate": None}) as pages:
        pages.savefig(_overview(drawing, tiles, title))
        for tile in tiles:
            pages.savefig(_page(drawing, tile, title))


def write_plot_svg(drawing: Drawing, path) -> None:
    """Write the drawing at 1 : 1 in one piece to `path`, atomically."""
    from matplotlib import rc_context

    corners = np.vstack([points for _, points in _plotted(drawing)] or [np.zeros((1, 2))])
    low, high = corners.min(axis=0) - 2.0, corners.max(axis=0) + 2.0
    figure = _figure(*(high - low))
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    _draw(ax, drawing, (*low, *high))
    with atomic_path(path) as part, rc_context({"svg.hashsalt": "vampyield", "svg.fonttype": "none"}):
        figure.savefig(part, format="svg", metadata={"Date": None})


LEAN = "lean"
"""Folder, within that of the drawings, of those that hold cuts and marks alone."""


def write_table_files(work: Work, drawing: Drawing, path: Path, title: str, version: str) -> None:
    """Write what the table wants beside the DXF drawing at `path`: HP-GL, plots, a lean DXF, under the same name."""
    if FileKind.LEAN in work.table.files:
        lean = path.parent / LEAN
        lean.mkdir(exist_ok=True)
        write_lean_dxf(work, lean / path.name, version)
    if FileKind.HPGL in work.table.files:
        write_work_hpgl(work, path.with_suffix(".hpgl"))
    if FileKind.PLOT in work.table.files:
        write_tiles_pdf(drawing, path.with_suffix(".pdf"), title)
        write_plot_svg(drawing, path.with_suffix(".svg"))


def _figure(width_mm: float, height_mm: float):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_mm / _MM_PER_IN, height_mm / _MM_PER_IN))
    FigureCanvasAgg(figure)
    return figure


def _page(drawing: Drawing, tile: Tile, title: str):
    """One page at full size, with its name, crosses to lay it by, and the line of 100 mm."""
    figure = _figure(*PAPER_MM)
    width, height = tile_size()
    ax = figure.add_axes((MARGIN_MM / PAPER_MM[0], MARGIN_MM / PAPER_MM[1], width / PAPER_MM[0], height / PAPER_MM[1]))
    _draw(ax, drawing, (tile.x, tile.y, tile.x + width, tile.y + height))
    half = 0.5 * OVERLAP_MM
    for x in (tile.x + half, tile.x + width - half):
        for y in (tile.y + half, tile.y + height - half):
            ax.plot((x - 3.0, x + 3.0), (y, y), color=palette.QUIET, linewidth=0.4)
            ax.plot((x, x), (y - 3.0, y + 3.0), color=palette.QUIET, linewidth=0.4)
    words = f"{title}: {tile.name}; print at 100 %, cut the page at its frame, lay crosses on crosses"
    figure.text(0.5, 1.0 - 0.45 * MARGIN_MM / PAPER_MM[1], _plain(words), ha="center", va="center", fontsize=7)
    foot = figure.add_axes((MARGIN_MM / PAPER_MM[0], 0.0, 1.0 - MARGIN_MM / PAPER_MM[0], MARGIN_MM / PAPER_MM[1]))
    foot.set_xlim(0.0, PAPER_MM[0] - MARGIN_MM)
    foot.set_ylim(0.0, MARGIN_MM)
    foot.axis("off")
    foot.plot((0.0, 100.0), (8.0, 8.0), color=palette.INK, linewidth=0.8, marker="|", markersize=6)
    foot.text(103.0, 8.0, "this line is 100 mm long, or the print is not to scale", fontsize=7, va="center")
    return figure


def _overview(drawing: Drawing, tiles: tuple[Tile, ...], title: str):
    """All of the drawing, small, and where each page lies."""
    figure = _figure(*PAPER_MM)
    ax = figure.add_axes((0.08, 0.28, 0.84, 0.62))
    width, height = tile_size()
    corners = [(t.x, t.y) for t in tiles] + [(t.x + width, t.y + height) for t in tiles] or [(0.0, 0.0), (1.0, 1.0)]
    low, high = np.min(corners, axis=0), np.max(corners, axis=0)
    _draw(ax, drawing, (*low, *high), texts=False)
    for tile in tiles:
        square = shapely.box(tile.x, tile.y, tile.x + width, tile.y + height)
        ax.plot(*shapely.get_coordinates(square).T, color=palette.TRIM_OFF, linewidth=0.6, linestyle=":")
        middle = (tile.x + 0.5 * width, tile.y + 0.5 * height)
        ax.text(*middle, f"{tile.row}/{tile.column}", color=palette.TRIM_OFF, fontsize=7, ha="center", va="center")
    ax.set_aspect("equal")
    figure.text(0.08, 0.93, _plain(title), fontsize=12, weight="bold")
    figure.text(0.08, 0.905, f"Full-size plot on {len(tiles)} pages, named row/column from the lower left.", fontsize=8)
    figure.text(0.08, 0.06, "\n".join(CAUTIONS), fontsize=7, linespacing=1.6)
    return figure


def _draw(ax, drawing: Drawing, bounds, texts: bool = True) -> None:
    """What lies within the bounds, and a frame around it; one data unit is one mm of a full-size axes."""
    from matplotlib.collections import LineCollection

    x_min, y_min, x_max, y_max = bounds
    for use, (colour, width) in _LINES.items():
        lines = [
            points for other, points in _plotted(drawing)
            if other == use and (points.max(axis=0) >= (x_min, y_min)).all()
            and (points.min(axis=0) <= (x_max, y_max)).all()
        ]
        if lines:
            ax.add_collection(LineCollection(lines, colors=colour, linewidths=width))
    for label in (e for e in drawing.entities if texts and isinstance(e, Label) and e.use in _TEXTS):
        x, y = label.at
        if x_min <= x <= x_max and y_min <= y <= y_max:
            ax.text(
                x, y, _plain(label.text), fontsize=label.height_mm * _POINTS_PER_MM, rotation=label.turn_deg,
                rotation_mode="anchor", ha="center" if label.centred else "left", color=palette.QUIET,
                va="center" if label.centred else "baseline", clip_on=True,
            )
    ax.set_xlim(x_min, x_max)
    ax.set_ylim(y_min, y_max)
    ax.set_xticks([])
    ax.set_yticks([])
    for side in ax.spines.values():
        side.set_color("#cccccc")
        side.set_linewidth(0.4)


def _plotted(drawing: Drawing) -> list[tuple[str, np.ndarray]]:
    """Every line to plot with its use; closed ones with their first point repeated."""
    return list(_runs(drawing))


def _runs(drawing: Drawing) -> Iterator[tuple[str, np.ndarray]]:
    for entity in drawing.entities:
        if isinstance(entity, Outline) and entity.use in _LINES:
            points = entity.points
            yield entity.use, np.vstack((points, points[:1])) if entity.closed else points


def _plain(text: str) -> str:
    """Text that is not taken for a formula."""
    return text.replace("$", r"\$")
