"""Lines of the page's tables: the size run, and what each hide and lay gave."""

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from nest.accounts import Accounts, AreaAccount, MaterialUse, yields
from nest.accounts.charges import ChargeKind
from nest.begun.rows import RowMet, rows_met
from nest.cutplan.sizes import sizes_in_order
from nest.pieces.piece import Role
from nest.plan import Lay, Plan, Side
from nest.report.charts import PARTS
from nest.stock.material import Hide
from nest.urgency import row_words, urgency


@dataclass(frozen=True, slots=True)
class SizeRow:
    """One line of the size run: pairs wanted and to cut, pairs of vamps and of reinforcements planned, less spoiled."""

    style: str
    size: str
    wanted: int
    to_cut: int
    vamps: float
    reinforcements: float | None
    """None where the style is not backed."""

    @property
    def short(self) -> float:
        """Pairs that are missing."""
        least = self.vamps if self.reinforcements is None else min(self.vamps, self.reinforcements)
        return max(0.0, self.to_cut - least)


@dataclass(frozen=True, slots=True)
class MaterialRow:
    """One hide or lay as the page shows it."""

    use: MaterialUse
    material: Hide | Lay
    pieces: int
    cutting: float
    net: float
    bound: float | None
    reference: float | None
    amount: Decimal
    shares: tuple[float, ...]
    """The five parts of its area, 0..1, as in `nest.report.charts.PARTS`."""


def size_run(plan: Plan) -> tuple[SizeRow, ...]:
    """The order line by line, sizes in their order, with what the plan places."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    placed: Counter = Counter()
    for group, plies in [(layout, 1) for layout in plan.layouts] + [(lay, lay.plies) for lay in plan.lays]:
        for one in group.placed:
            piece = pieces[one.piece_id]
            placed[piece.style, piece.size, piece.role] += plies
    for lost in plan.begun.spoiled:
        for role in (Role.VAMP, Role.REINFORCEMENT) if lost.backed else (Role.VAMP,):
            placed[lost.style, lost.size, role] -= lost.count * (2 if lost.side is Side.PAIR else 1)
    rank = {size: i for i, size in enumerate(sizes_in_order(plan))}
    backed = {style.name for style in plan.styles if style.roll}
    rows = []
    for line in sorted(plan.order, key=lambda line: (line.style, rank.get(line.size, len(rank)))):
        vamps = placed[line.style, line.size, Role.VAMP] / 2.0
        backs = placed[line.style, line.size, Role.REINFORCEMENT] / 2.0 if line.style in backed else None
        rows.append(SizeRow(line.style, line.size, line.pairs_wanted, line.pairs_to_cut, vamps, backs))
    return tuple(rows)


@dataclass(frozen=True, slots=True)
class RowTable:
    """Rows of the order by due date and priority, the most urgent first; none where the order names neither."""

    rows: tuple[RowMet, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """How many rows are met, and each that is short, the most urgent first."""
        if not self.rows:
            return ()
        short = [row for row in self.rows if row.short]
        return (
            f"Rows of the order met in full: {len(self.rows) - len(short)} of {len(self.rows)}.",
            *(f"Short: {row.short} of {row.pairs} pairs of style {row.style}, size {row.size}, "
              f"{row_words(row.due, row.priority)}." for row in short),
        )


def row_table(plan: Plan) -> RowTable:
    """What the plan meets of each row of the order."""
    if not any(line.rows for line in plan.order):
        return RowTable(())
    return RowTable(tuple(sorted(rows_met(plan), key=urgency)))


def material_rows(plan: Plan, accounts: Accounts, role: Role) -> tuple[MaterialRow, ...]:
    """Every hide, or every lay, that something is cut from."""
    stock = {hide.hide_id: hide for hide in plan.hides} if role is Role.VAMP else {lay.lay_id: lay for lay in plan.lays}
    bounds = {bound.material_id: bound for bound in plan.bounds}
    kind = ChargeKind.LEATHER if role is Role.VAMP else ChargeKind.REINFORCEMENT
    amounts = {cost.of: cost.amount for cost in accounts.cost.materials if cost.kind is kind}
    rows = []
    for use in accounts.uses:
        if use.role is role:
            found, bound = yields(use.account), bounds.get(use.material_id)
            rows.append(
                MaterialRow(
                    use, stock[use.material_id], sum(size.pieces for size in use.sizes), found.cutting, found.net,
                    None if bound is None else bound.cutting_yield_at_most,
                    None if bound is None else bound.reference_yield, amounts[use.material_id], shares(use.account),
                )
            )
    return tuple(rows)


def left_whole(plan: Plan) -> tuple[Hide, ...]:
    """Hides on offer that nothing is cut from."""
    used = {layout.hide_id for layout in plan.layouts if layout.placed}
    return tuple(hide for hide in plan.hides if hide.hide_id not in used)


def shares(account: AreaAccount) -> tuple[float, ...]:
    """The five parts of an account as shares of the material, 0..1; all 0 where there is none."""
    whole = account.material_mm2
    return tuple(getattr(account, field) / whole if whole else 0.0 for _, field, _ in PARTS)
