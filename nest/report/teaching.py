"""What outcomes teach, drawn: reasons laid on one side, and rates by level with their intervals."""

from collections.abc import Sequence
from math import fsum
from pathlib import Path

from nest.outcomes import Reason
from nest.report import palette
from nest.stock.material import Hide
from nest.teaching import Seen, Taught
from nest.teaching.cells import cells_of
from nest.teaching.frame import frame_of

_MARKS = {
    Reason.PLEATS: ("o", "#d55e00"), Reason.MARKS: ("s", "#0072b2"), Reason.BONDING: ("^", "#009e73"),
    Reason.CRACK: ("X", "#b3261e"), Reason.SHORT: ("D", "#7a4b9a"), Reason.OTHER: ("P", "#1b1b1b"),
}
"""Form and colour of each reason: the form tells them apart in print (colours after Okabe & Ito, from memory)."""


def draw_map(ax, hides: Sequence[Hide], pieces: Sequence[Seen]):
    """Every piece on one side: a dot where it is good, the mark of its reason where it failed; cells that stand out."""
    import shapely
    from matplotlib.patches import Rectangle

    outline, ways = frame_of(hides)
    spots = [ways[one.hide_id](one.spot) for one in pieces]
    ax.plot(*shapely.get_coordinates(outline.exterior).T, color=palette.INK, linewidth=1.2)
    for cell in cells_of(spots, [one.failed for one in pieces], outline.bounds):
        if not cell.told:
            continue
        size = cell.x1 - cell.x0, cell.y1 - cell.y0
        worse = cell.told > 0
        ax.add_patch(Rectangle((cell.x0, cell.y0), *size, fill=worse, facecolor="#f3c9b5", edgecolor=palette.QUIET,
                               linestyle="-" if worse else "--", linewidth=1.0, zorder=0))
        ax.annotate(f"{100.0 * cell.share.mean:.0f} %", (cell.x0, cell.y1), (3, -9), textcoords="offset points",
                    fontsize=7, color=palette.INK)
    good = [spot for one, spot in zip(pieces, spots, strict=True) if not one.failed]
    if good:
        ax.scatter(*zip(*good, strict=True), s=5, color="#9a9a9a", linewidths=0, label=f"good ({len(good)})")
    for reason, (mark, colour) in _MARKS.items():
        mine = [spot for one, spot in zip(pieces, spots, strict=True) if one.reason is reason]
        if mine:
            ax.scatter(*zip(*mine, strict=True), s=34, marker=mark, color=colour, edgecolors="white", linewidths=0.5,
                       label=f"{reason} ({len(mine)})", zorder=3)
    ax.set_aspect("equal")
    ax.axis("off")
    ax.set_title("Where pieces failed, all sides in the frame of the largest", loc="left", fontsize=10)
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, 0.0), ncols=4, frameon=False, fontsize=8)
    return ax


def draw_rates(ax, found: Taught):
    """Rates all else equal, a row a level, with 95 % intervals; factors that cannot be told apart are grey."""
    row, names, ticks = 0.0, [], []
    whole = 100.0 * found.overall.mean
    shown = [one for one in found.factors if len(one.levels) > 1]
    for factor in shown:
        colour = palette.NET if factor.told else "#9a9a9a"
        said = "differ" if factor.told else "cannot tell"
        ax.text(0.0, row, f" {factor.name}: {said}", fontsize=8, fontweight="bold", va="center", color=palette.INK)
        row += 1.0
        for level in factor.levels:
            low, mean, high = (100.0 * value for value in (level.low, level.mean, level.high))
            ax.plot((low, high), (row, row), color=colour, linewidth=1.6)
            ax.plot(mean, row, marker="o", color=colour, markersize=4.5)
            ticks.append(row)
            names.append(f"{level.level}  ({level.failed} of {level.tried})")
            row += 1.0
        row += 0.4
    ax.axvline(whole, color=palette.ALARM, linewidth=0.8, linestyle="--", label=f"all pieces, {whole:.1f} %")
    ax.set_yticks(ticks, names, fontsize=7)
    ax.set_ylim(row, -1.0)
    ax.set_xlim(left=0.0)
    ax.set_xlabel("% of the pieces fail, all else equal, with 95 % interval")
    ax.legend(loc="lower right", frameon=False, fontsize=8)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def write_teaching_figures(folder: Path, hides: Sequence[Hide], pieces: Sequence[Seen], found: Taught) -> None:
    """Write the map and the chart as `map.png` and `rates.png` in a folder."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 5.6), layout="constrained")
    draw_map(figure.add_subplot(), hides, pieces)
    figure.savefig(folder / "map.png", dpi=130)
    rows = fsum(len(one.levels) + 1.4 for one in found.factors if len(one.levels) > 1)
    figure = Figure(figsize=(7.5, max(3.0, 0.19 * rows + 1.2)), layout="constrained")
    draw_rates(figure.add_subplot(), found)
    figure.savefig(folder / "rates.png", dpi=130)
