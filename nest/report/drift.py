"""The record of trim: its file, and how trim left drifts, drawn week by week."""

from collections.abc import Sequence
from pathlib import Path

from nest.drift import COLUMNS, Advice, Drift, Measured, PartDrift
from nest.report import palette
from nest.report.tables import Table, write_csv

_GREY = "#9a9a9a"


def write_record(record: Sequence[Measured], path: Path) -> None:
    """Write the record of trim; errors as `nest.atomic.atomic_path`."""
    write_csv(Table("record", COLUMNS, tuple(one.cells for one in record)), path)


def draw_drift(ax, part: PartDrift, style: str, advice: Sequence[Advice]):
    """Trim left at one part of one style: a dot a week, larger the more pieces, and the estimate with its
    95 % band; the trim wanted, and the mean less k standard deviations of a piece at the sizes measured."""
    weeks = [one for one in part.weeks if one.style == style]
    days = [one.monday for one in weeks]
    colour = palette.PARTS[str(part.part)]
    bands = [one.mean.interval for one in weeks]
    ax.fill_between(days, *zip(*bands, strict=True), color=colour, alpha=0.18, linewidth=0)
    ax.plot(days, [one.mean.mean for one in weeks], color=colour, linewidth=1.6, label="estimate (95 %)")
    ax.scatter(days, [one.measured_mm for one in weeks], s=[12.0 + 2.0 * one.pieces ** 0.8 for one in weeks],
               facecolors="white", edgecolors=palette.INK, linewidths=1.0, zorder=3, label="mean of the week")
    mine = [one for one in advice if one.style == style and one.part is part.part]
    ax.axhline(mine[0].wanted_mm, color=palette.ALARM, linewidth=0.9, linestyle="--", label="wanted")
    ax.axhline(min(one.low_mm for one in mine), color=palette.QUIET, linewidth=0.9, linestyle=":",
               label="low end of the pieces to come")
    drift = next((one for one in part.effects if one.what == "week"), None)
    said = "weeks too few to tell" if drift is None else (
        f"{drift.value:+.2f} mm a week" if drift.told else "drift: cannot tell")
    ax.set_title(f"{style}, {part.part}: {said}", loc="left", fontsize=9)
    ax.set_xticks(days[:: max(1, len(days) // 5)])
    ax.set_xticklabels([f"{day:%d %b}" for day in days[:: max(1, len(days) // 5)]], fontsize=7)
    ax.tick_params(axis="y", labelsize=7)
    ax.spines[["top", "right"]].set_visible(False)
    return ax


def write_drift_chart(folder: Path, found: Drift, advice: Sequence[Advice]) -> None:
    """Write the chart as `drift.png` in a folder: a panel for each style and part."""
    from matplotlib.figure import Figure

    panels = [(part, style) for part in found.parts for style in dict.fromkeys(one.style for one in part.sizes)]
    across = min(3, len(panels))
    down = -(-len(panels) // across)
    figure = Figure(figsize=(3.6 * across + 0.6, 2.7 * down + 0.7), layout="constrained")
    axes = figure.subplots(down, across, squeeze=False).ravel()
    for ax, (part, style) in zip(axes, panels, strict=False):
        draw_drift(ax, part, style, advice)
    for ax in axes[len(panels):]:
        ax.axis("off")
    for ax in axes[:: across]:
        ax.set_ylabel("trim left, mm", fontsize=8)
    figure.legend(*axes[0].get_legend_handles_labels(), loc="outside lower center", ncols=2 if across == 1 else 4,
                  frameon=False, fontsize=8)
    figure.suptitle("Trim left at today's allowances, by week of pressing", fontsize=10, x=0.01, ha="left")
    figure.savefig(folder / "drift.png", dpi=130)
