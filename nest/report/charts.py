"""Charts of an account: yield by material, where the area goes, consumption by size, the price of an allowance.

Each draws on the `ax` it is given and returns it.
"""

from collections.abc import Mapping, Sequence

from nest.accounts.areas import MaterialUse
from nest.accounts.consumption import Consumption
from nest.accounts.yields import yields
from nest.plan import Bound
from nest.report import palette
from nest.units import dm2

PARTS = (
    ("net", "net_mm2", palette.NET),
    ("trim-off", "trim_off_mm2", palette.TRIM_OFF),
    ("interlock waste", "interlock_mm2", palette.INTERLOCK),
    ("fault waste", "fault_mm2", palette.FAULT),
    ("edge waste", "edge_mm2", palette.EDGE),
)
"""Name, field and colour of the five parts of an account."""

ROW_IN = 0.32
"""Height of one bar's row, inches."""


def draw_yields(ax, uses: Sequence[MaterialUse], bounds: Sequence[Bound] = ()):
    """Cutting and net yield of each hide or lay in %, with its proved bound where there is one."""
    limit: Mapping[str, float] = {bound.material_id: bound.cutting_yield_at_most for bound in bounds}
    for row, use in enumerate(uses):
        found = yields(use.account)
        ax.barh(row, 100.0 * found.cutting, height=0.72, color=palette.TRIM_OFF, label="trim-off" if row == 0 else None)
        ax.barh(row, 100.0 * found.net, height=0.72, color=palette.NET, label="net" if row == 0 else None)
        ax.text(100.0 * found.cutting + 0.8, row, f"{100.0 * found.cutting:.1f}", va="center", fontsize=7)
        if found.net > 0.08:
            inside = {"va": "center", "ha": "right", "fontsize": 7, "color": "white"}
            ax.text(100.0 * found.net - 0.8, row, f"{100.0 * found.net:.1f}", **inside)
        if use.material_id in limit:
            at = 100.0 * limit[use.material_id]
            ax.plot((at, at), (row - 0.42, row + 0.42), color=palette.ALARM, linewidth=2.0)
    shown = [use for use in uses if use.material_id in limit]
    if shown:
        ax.plot([], [], color=palette.ALARM, linewidth=2.0, label="no layout can be above (proved)")
    words = "% of the material: net yield, and with trim-off the cutting yield"
    return _rows(ax, uses, "Yield of each hide and lay", words)


def draw_account(ax, uses: Sequence[MaterialUse]):
    """The five parts of each material's area as one bar, in % of the material."""
    for row, use in enumerate(uses):
        left, small = 0.0, []
        for name, field, colour in PARTS:
            share = 100.0 * getattr(use.account, field) / use.account.material_mm2
            ax.barh(row, share, left=left, height=0.72, color=colour, edgecolor="white", linewidth=0.8,
                    hatch="////" if name == "fault waste" else None, label=name if row == 0 else None)
            if share >= 4.0:
                ink = "white" if colour in (palette.NET, palette.TRIM_OFF) else palette.INK
                ax.text(left + 0.5 * share, row, f"{share:.1f}", ha="center", va="center", fontsize=7, color=ink)
            elif share >= 0.05:
                small.append(f"{name.removesuffix(' waste')} {share:.1f}")
            left += share
        ax.text(101.0, row, ", ".join(small), va="center", fontsize=6, color=palette.QUIET)
    return _rows(ax, uses, "Where the area of each hide and lay goes", "% of the material")


def _rows(ax, uses, title: str, words: str):
    ax.set_yticks(range(len(uses)), [use.material_id.replace("$", r"\$") for use in uses], fontsize=7)
    ax.set_ylim(len(uses) - 0.4, -0.6)
    ax.set_xlim(0.0, 100.0)
    ax.tick_params(axis="x", labelsize=7, colors=palette.QUIET)
    ax.set_xlabel(words, fontsize=8, color=palette.QUIET)
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.tick_params(axis="y", length=0)
    ax.set_title(title, fontsize=10, loc="left", pad=22)
    if uses:
        ax.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=5, fontsize=7, frameon=False)
    return ax


def draw_consumption(ax, rows: Sequence[Consumption], title: str = "Material of a pair cut, by style and size"):
    """Material of one pair cut, dm², by style and size: the parts of its area one on the other.

    Of `rows` (one kind of material, as `nest.accounts.consumption` gives them) only those of single sizes are drawn.
    What is paid for beyond the digitised outline, where it is not below zero, stands on top.
    """
    sizes = [row for row in rows if row.size and row.pairs > 0]
    top = [0.0] * len(sizes)
    beyond = ("beyond outline", "measure_mm2", "white")
    for name, field, colour in (*PARTS, beyond):
        heights = [max(0.0, dm2(getattr(row.per_pair(), field))) for row in sizes]
        if name != "beyond outline" or any(height > 0.005 for height in heights):
            look = {"hatch": "////" if name == "fault waste" else None, "edgecolor": palette.INK, "linewidth": 0.5}
            ax.bar(range(len(sizes)), heights, bottom=top, width=0.76, color=colour, label=name, **look)
        top = [low + height for low, height in zip(top, heights, strict=True)]
    for at, (row, height) in enumerate(zip(sizes, top, strict=True)):
        paid = dm2(row.per_pair().gross_mm2)
        ax.text(at, height, f"{paid:.1f}", ha="center", va="bottom", fontsize=7, color=palette.INK)
    styles = list(dict.fromkeys(row.style for row in sizes))
    ax.set_xticks(range(len(sizes)), [row.size.replace("$", r"\$") for row in sizes], fontsize=7)
    for style in styles if len(styles) > 1 else ():
        mine = [at for at, row in enumerate(sizes) if row.style == style]
        below = {"xycoords": ax.get_xaxis_transform(), "xytext": (0, -18), "textcoords": "offset points"}
        middle = (0.5 * (mine[0] + mine[-1]), 0.0)
        ax.annotate(style.replace("$", r"\$"), middle, ha="center", va="top", fontsize=8, **below)
    ax.set_ylim(0.0, 1.08 * max(top, default=1.0))
    ax.set_ylabel("dm² a pair cut", fontsize=8, color=palette.QUIET)
    return _plain(ax, title, bool(sizes))


def draw_allowance_prices(ax, curves: Mapping[str, Sequence[tuple[float, float, float | None]]], currency: str):
    """What a good pair costs more or less against the change of an allowance, one curve for each name.

    Each curve is points of (mm more than now, difference of cost, half its 95 % interval or None), in any order; the
    allowance as it is stands at (0, 0).
    """
    for i, (name, points) in enumerate(curves.items()):
        mm, cost, half = zip(*sorted(points, key=lambda point: point[0]), strict=True)
        colour, dashes, marker = _CURVES[i % len(_CURVES)]
        look = {"color": colour, "linestyle": dashes, "marker": marker, "markersize": 4.5, "linewidth": 1.6}
        ax.errorbar(mm, cost, yerr=[one or 0.0 for one in half], capsize=3, label=name.replace("$", r"\$"), **look)
    ax.axhline(0.0, color=palette.QUIET, linewidth=0.8)
    ax.axvline(0.0, color=palette.QUIET, linewidth=0.8)
    ax.set_xlabel("mm more of allowance than now", fontsize=8, color=palette.QUIET)
    ax.set_ylabel(f"difference of a good pair, {currency}".replace("$", r"\$"), fontsize=8, color=palette.QUIET)
    return _plain(ax, "", bool(curves))


_CURVES = tuple(zip((*palette.PARTS.values(), palette.INK, palette.INTERLOCK, palette.QUIET),
                    ("-", "--", ":", "-.", (0, (5, 1)), (0, (1, 1))), "os^Dvx", strict=True))
"""Colour, line and marker, so that curves can be told apart without colour."""


def _plain(ax, title: str, key: bool):
    ax.tick_params(labelsize=7, colors=palette.QUIET)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    if title:
        ax.set_title(title.replace("$", r"\$"), fontsize=10, loc="left", pad=22)
    if key:
        ax.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=6, fontsize=7, frameon=False)
    return ax
