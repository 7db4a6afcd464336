"""Charts of an account: yield by material, and where the area goes. Each draws on `ax` and returns it."""

from collections.abc import Mapping, Sequence

from nest.accounts.areas import MaterialUse
from nest.accounts.yields import yields
from nest.plan import Bound
from nest.report import palette

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
    return _rows(ax, uses, "% of the material: net yield, and with trim-off the cutting yield")


def draw_account(ax, uses: Sequence[MaterialUse]):
    """The five parts of each material's area as one bar, in % of the material."""
    for row, use in enumerate(uses):
        left = 0.0
        for name, field, colour in PARTS:
            share = 100.0 * getattr(use.account, field) / use.account.material_mm2
            ax.barh(row, share, left=left, height=0.72, color=colour, edgecolor="white", linewidth=0.8,
                    hatch="////" if name == "fault waste" else None, label=name if row == 0 else None)
            if share >= 4.0:
                ink = "white" if colour in (palette.NET, palette.TRIM_OFF) else palette.INK
                ax.text(left + 0.5 * share, row, f"{share:.1f}", ha="center", va="center", fontsize=7, color=ink)
            left += share
    return _rows(ax, uses, "% of the material")


def _rows(ax, uses, words: str):
    ax.set_yticks(range(len(uses)), [use.material_id.replace("$", r"\$") for use in uses], fontsize=7)
    ax.set_ylim(len(uses) - 0.4, -0.6)
    ax.set_xlim(0.0, 100.0)
    ax.tick_params(axis="x", labelsize=7, colors=palette.QUIET)
    ax.set_xlabel(words, fontsize=8, color=palette.QUIET)
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.tick_params(axis="y", length=0)
    if uses:
        ax.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=5, fontsize=7, frameon=False)
    return ax
