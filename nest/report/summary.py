"""The page of a run: one HTML file with its own style sheet, read without a network, printed on A4."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from nest.accounts import Accounts, AreaAccount, MaterialUse, yields
from nest.cutplan.cautions import CAUTIONS, STANDARDS
from nest.cutplan.sheet import CutSheet, cut_sheet
from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.work import Work
from nest.pieces.piece import Role
from nest.plan import Plan
from nest.report import palette
from nest.report.charts import PARTS
from nest.report.checks import checks_on, verdict_words
from nest.units import dm2, ft2, m2, metres
from nest.verify.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Figures:
    """Where the page finds its pictures and drawings: paths relative to the page, "" or absent for none."""

    yields: str = ""
    account: str = ""
    hides: Mapping[str, str] = field(default_factory=dict)
    """Picture of each hide by id."""
    lays: Mapping[str, str] = field(default_factory=dict)
    """Picture of each lay by id."""
    hide_drawings: Mapping[str, str] = field(default_factory=dict)
    """Cutting drawing of each hide by id."""
    lay_drawings: Mapping[str, str] = field(default_factory=dict)
    """Cutting drawing of each lay by id."""
    pieces: tuple[tuple[str, str], ...] = ()
    """Caption and picture."""
    files: tuple[tuple[str, str], ...] = ()
    """Other files beside the page: what it is, path."""


@dataclass(frozen=True, slots=True)
class SizeRow:
    """One line of the size run: pairs wanted and to cut, pairs of vamps and of reinforcements planned."""

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
    material: object
    pieces: int
    cutting: float
    net: float
    bound: float | None
    reference: float | None
    amount: Decimal


def summary_html(
    plan: Plan, accounts: Accounts, verdict: Verdict, figures: Figures, works: Mapping[str, Work] | None = None
) -> str:
    """The whole page. Everything that comes from the plan is escaped; `works` by hide tell cut order and time."""
    environment = Environment(
        loader=PackageLoader("nest.report"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    environment.filters |= {
        "dm2": lambda area: f"{dm2(area):,.2f}",
        "m2": lambda area: f"{m2(area):,.3f}",
        "ft2": lambda area: f"{ft2(area):,.2f}",
        "metres": lambda length: f"{metres(length):,.2f}",
        "percent": lambda share: f"{100.0 * share:.1f}",
        "count": lambda number: f"{float(number):g}",
        "href": quote,
    }
    run = size_run(plan)
    return environment.get_template("summary.html.j2").render(
        plan=plan,
        accounts=accounts,
        verdict=verdict,
        words=verdict_words(verdict),
        checks=checks_on(plan, verdict),
        figures=figures,
        run=run,
        backed=any(row.reinforcements is not None for row in run),
        hides=_material_rows(plan, accounts, Role.VAMP),
        lays=_material_rows(plan, accounts, Role.REINFORCEMENT),
        whole=_left_whole(plan),
        metres_used=sum(use.length_mm for use in accounts.uses),
        leather_yields=yields(accounts.leather),
        order_pair=next((pair for pair in accounts.cost.pairs if not pair.style), None),
        order_trim=next((trim for trim in accounts.trim if not trim.style), None),
        parts=[(name, colour, _shares(accounts, name_of)) for name, name_of, colour in PARTS],
        sheets=cut_sheets(plan, accounts, verdict, works or {}),
        cautions=CAUTIONS,
        standards=STANDARDS,
        palette=palette,
    )


def size_run(plan: Plan) -> tuple[SizeRow, ...]:
    """The order line by line, sizes in their order, with what the plan places."""
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    placed: Counter = Counter()
    for group, plies in [(layout, 1) for layout in plan.layouts] + [(lay, lay.plies) for lay in plan.lays]:
        for one in group.placed:
            piece = pieces[one.piece_id]
            placed[piece.style, piece.size, piece.role] += plies
    rank = {size: i for i, size in enumerate(sizes_in_order(plan))}
    backed = {style.name for style in plan.styles if style.roll}
    rows = []
    for line in sorted(plan.order, key=lambda line: (line.style, rank.get(line.size, len(rank)))):
        vamps = placed[line.style, line.size, Role.VAMP] / 2.0
        backs = placed[line.style, line.size, Role.REINFORCEMENT] / 2.0 if line.style in backed else None
        rows.append(SizeRow(line.style, line.size, line.pairs_wanted, line.pairs_to_cut, vamps, backs))
    return tuple(rows)


def _material_rows(plan: Plan, accounts: Accounts, role: Role) -> list[MaterialRow]:
    stock = {hide.hide_id: hide for hide in plan.hides} if role is Role.VAMP else {lay.lay_id: lay for lay in plan.lays}
    bounds = {bound.material_id: bound for bound in plan.bounds}
    amounts = {cost.material_id: cost.amount for cost in accounts.cost.materials if cost.role is role}
    rows = []
    for use in accounts.uses:
        if use.role is role:
            found, bound = yields(use.account), bounds.get(use.material_id)
            rows.append(
                MaterialRow(
                    use,
                    stock[use.material_id],
                    sum(size.pieces for size in use.sizes),
                    found.cutting,
                    found.net,
                    bound and bound.cutting_yield_at_most,
                    bound and bound.reference_yield,
                    amounts[use.material_id],
                )
            )
    return rows


def _left_whole(plan: Plan) -> list:
    """Hides on offer that nothing is cut from."""
    used = {layout.hide_id for layout in plan.layouts if layout.placed}
    return [hide for hide in plan.hides if hide.hide_id not in used]


def _shares(accounts: Accounts, field_name: str) -> list[tuple[float, float]]:
    """Area of one part of leather and of reinforcement, and its share of the material (0 where there is none)."""

    def share(account: AreaAccount) -> tuple[float, float]:
        area = getattr(account, field_name)
        return area, area / account.material_mm2 if account.material_mm2 else 0.0

    return [share(accounts.leather), share(accounts.reinforcement)]


def cut_sheets(plan: Plan, accounts: Accounts, verdict: Verdict, works: Mapping[str, Work]) -> list[CutSheet]:
    """One cut sheet for each hide that something is cut from."""
    cutting = {use.material_id: yields(use.account).cutting for use in accounts.uses if use.role is Role.VAMP}
    sheets = []
    for layout in plan.layouts:
        if layout.placed:
            checks = checks_on(plan, verdict, layout.hide_id)
            sheets.append(
                cut_sheet(
                    plan,
                    layout,
                    cutting_yield=cutting[layout.hide_id],
                    checks=tuple(check.words for check in checks if check.passed),
                    findings=tuple(sentence for check in checks for sentence in check.wrong),
                    work=works.get(layout.hide_id),
                )
            )
    return sheets
