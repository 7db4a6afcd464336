"""The cost sheet: what a good pair costs, line by line, by size, by style and for the order.

Lines: leather, reinforcement, freight, duty, cutting, set-up, pressing, scrap credit, each for the good pairs alone;
and spoilage, what the pairs that fail cost by all those lines together. So the lines of a good pair are those of a pair
cut, and spoilage on top. Overhead is on all of these, margin on overhead too.

Rounding: charges are exact fractions. The order's total is rounded once to the currency's minor unit, halves to even.
Lines are rounded by largest remainder so that they add up to that total, and sizes so that they add up to their line;
the totals of sizes and styles are the sums of what is shown. An amount shown is off its exact value by less than one
minor unit for each amount it is the sum of. The price of a good pair is rounded on its own, its lines add up to it.

The same charges are shown by what they are for, and hide by hide and lay by lay, rounded so that they add up to the
same total.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nest.accounts.areas import MaterialUse
from nest.accounts.charges import WHOLE, Charge, ChargeKind, Pairs, plan_charges
from nest.accounts.expected import plan_pairs
from nest.accounts.money import apportioned, minor_digits, rounded
from nest.errors import PlanProblem
from nest.plan import Plan

SPOILAGE = "spoilage"
LINES = (*(str(kind) for kind in ChargeKind if kind not in WHOLE), SPOILAGE, *map(str, WHOLE))
"""Names of the lines, in their order."""


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One style and size; size "" for the style, style "" for the order.

    amounts : by line as in LINES, for all pairs; they add up to `total`.
    per_pair : by line, of one good pair; they add up to `good_pair`. None where no good pair is expected.
    exact, exact_pair : total and price of a good pair, not rounded.
    """

    style: str
    size: str
    pairs: Pairs
    amounts: tuple[Decimal, ...]
    total: Decimal
    per_pair: tuple[Decimal, ...] | None
    good_pair: Decimal | None
    exact: Fraction
    exact_pair: Fraction | None

    @property
    def pair_price(self) -> Fraction:
        """Price of a good pair, not rounded; PlanProblem where there is none."""
        if self.exact_pair is None:
            raise PlanProblem(f"{self.style} {self.size}: no pair of it is good, so that none has a price.")
        return self.exact_pair


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """What one hide or lay costs, or all cutting, or all scrap: `quantity` in `unit` at `price`, the break taken off.

    of : id of the hide or lay, else what is priced.
    """

    of: str
    kind: ChargeKind
    material: str
    quantity: Fraction
    unit: str
    price: Fraction
    amount: Decimal
    exact: Fraction


@dataclass(frozen=True, slots=True)
class CostSheet:
    """Rows by style and size, and their totals. `charges` are what every amount is the sum of."""

    title: str
    currency: str
    sizes: tuple[SheetRow, ...]
    styles: tuple[SheetRow, ...]
    order: SheetRow
    charges: tuple[Charge, ...]
    notes: tuple[str, ...] = ()

    def row(self, style: str = "", size: str = "") -> SheetRow:
        """The row of a size, a style or the order; KeyError if there is none."""
        for row in self.rows:
            if (row.style, row.size) == (style, size):
                return row
        raise KeyError((style, size))

    @property
    def total(self) -> Decimal:
        """What everything costs."""
        return self.order.total

    @property
    def rows(self) -> tuple[SheetRow, ...]:
        """Rows of sizes, of styles, then of the order."""
        return *self.sizes, *self.styles, self.order

    @property
    def lines(self) -> tuple[str, ...]:
        """Lines that anything is charged on, spoilage among them; material always."""
        always = {ChargeKind.LEATHER, ChargeKind.REINFORCEMENT, SPOILAGE}
        charged = {str(charge.kind) for charge in self.charges} | always
        return tuple(line for line in LINES if line in charged)

    @property
    def by_kind(self) -> dict[ChargeKind, Decimal]:
        """The total by what it is for, spoiled pairs in it."""
        digits = minor_digits(self.currency)
        parts = [sum((one.exact for one in self.charges if one.kind is kind), Fraction(0)) for kind in ChargeKind]
        return dict(zip(ChargeKind, apportioned(parts, self.total, digits), strict=True))

    @property
    def materials(self) -> tuple[MaterialCost, ...]:
        """The total hide by hide and lay by lay, then all cutting and all scrap; each kind adds up to `by_kind`."""
        groups: dict[tuple[ChargeKind, str, str, str, Fraction], list[Charge]] = {}
        for charge in self.charges:
            own = charge.kind in (ChargeKind.LEATHER, ChargeKind.REINFORCEMENT)
            name = (charge.of or charge.material) if own else charge.material
            groups.setdefault((charge.kind, name, charge.material, charge.unit, charge.paid_price), []).append(charge)
        found, digits = [], minor_digits(self.currency)
        for kind, amount in self.by_kind.items():
            mine = [(key, group) for key, group in groups.items() if key[0] is kind]
            exact = [sum((one.exact for one in group), Fraction(0)) for _, group in mine]
            for ((_, name, material, unit, price), group), part, shown in zip(
                mine, exact, apportioned(exact, amount, digits), strict=True
            ):
                quantity = sum((one.quantity for one in group), Fraction(0))
                found.append(MaterialCost(name, kind, material, quantity, unit, price, shown, part))
        return tuple(found)

    def of_stock(self, name: str) -> Decimal:
        """What all hides of a leather, or all lays of a roll, cost, as `materials` shows them."""
        mine = {(charge.kind, charge.of) for charge in self.charges if charge.stock == name}
        nil = rounded(Fraction(0), minor_digits(self.currency))
        return sum((row.amount for row in self.materials if (row.kind, row.of) in mine), nil)

    def behind(self, row: SheetRow, line: str) -> tuple[tuple[str, Fraction], ...]:
        """What an amount comes from: each layout or estimate with its exact part of it; the parts add up."""
        parts: dict[str, Fraction] = {}
        for charge in self.charges:
            if row.style not in ("", charge.style) or row.size not in ("", charge.size):
                continue
            if line not in (charge.kind, SPOILAGE) or (line == SPOILAGE and charge.kind in WHOLE):
                continue
            whole = charge.kind in WHOLE
            share = Fraction(1) if whole else _good_share(self.row(charge.style, charge.size).pairs)
            parts[charge.source] = parts.get(charge.source, Fraction(0)) + charge.exact * (
                1 - share if line == SPOILAGE else share
            )
        return tuple(parts.items())


def plan_sheet(
    plan: Plan, uses: Sequence[MaterialUse], seconds: Mapping[str, float] | None = None, notes: Sequence[str] = (),
) -> CostSheet:
    """The cost sheet of a plan; arguments and errors as `nest.accounts.charges.plan_charges`."""
    charges = plan_charges(plan, uses, seconds)
    return cost_sheet(charges, plan_pairs(plan, uses), plan.settings.currency, plan.name, notes)


def cost_sheet(
    charges: Iterable[Charge], pairs: Mapping[tuple[str, str], Pairs], currency: str, title: str = "",
    notes: Sequence[str] = (),
) -> CostSheet:
    """Add up `charges`; `pairs` by style and size, for every one that bears a charge."""
    charges, digits = tuple(charges), minor_digits(currency)
    mine: dict[tuple[str, str], list[Charge]] = {key: [] for key in pairs}
    for charge in charges:
        mine[charge.key].append(charge)
    exact = {key: _lines_of(mine[key], pairs[key]) for key in pairs}
    whole = [sum((lines[i] for lines in exact.values()), Fraction(0)) for i in range(len(LINES))]
    total = rounded(sum(whole, Fraction(0)), digits)
    shown = apportioned(whole, total, digits)
    columns = [
        apportioned([lines[i] for lines in exact.values()], amount, digits) if exact else ()
        for i, amount in enumerate(shown)
    ]
    sizes = tuple(
        _row(*key, pairs[key], tuple(column[i] for column in columns), exact[key], digits)
        for i, key in enumerate(exact)
    )
    styles = tuple(_added(style, [row for row in sizes if row.style == style], exact, digits)
                   for style in dict.fromkeys(row.style for row in sizes))
    order = _added("", sizes, exact, digits)
    return CostSheet(title, currency, sizes, styles, order, charges, tuple(notes))


def _good_share(pairs: Pairs) -> Fraction:
    """Share of what was cut that the good pairs bear; all of it where no vamp was cut."""
    return pairs.good / pairs.cut if pairs.cut else Fraction(1)


def _lines_of(charges: Iterable[Charge], pairs: Pairs) -> tuple[Fraction, ...]:
    """Exact amounts by line, of one style and size."""
    sums = dict.fromkeys(ChargeKind, Fraction(0))
    for charge in charges:
        sums[charge.kind] += charge.exact
    share = _good_share(pairs)
    costs = [amount for kind, amount in sums.items() if kind not in WHOLE]
    return (*(share * amount for amount in costs), (1 - share) * sum(costs), *(sums[kind] for kind in WHOLE))


def _row(
    style: str, size: str, pairs: Pairs, amounts: Iterable[Decimal], exact: Sequence[Fraction], digits: int
) -> SheetRow:
    whole = sum(exact, Fraction(0))
    each = good = exact_pair = None
    if pairs.good:
        exact_pair = whole / pairs.good
        good = rounded(exact_pair, digits)
        each = apportioned([one / pairs.good for one in exact], good, digits)
    return SheetRow(style, size, pairs, tuple(amounts), sum(amounts, Decimal(0)), each, good, whole, exact_pair)


def _added(
    style: str, rows: Sequence[SheetRow], exact: Mapping[tuple[str, str], Sequence[Fraction]], digits: int
) -> SheetRow:
    """The rows of sizes added up, as they are shown and exactly."""
    nil = rounded(Fraction(0), digits)
    amounts = [sum((row.amounts[i] for row in rows), nil) for i in range(len(LINES))]
    lines = [sum((exact[row.style, row.size][i] for row in rows), Fraction(0)) for i in range(len(LINES))]
    pairs = Pairs(sum((row.pairs.cut for row in rows), Fraction(0)), sum((row.pairs.good for row in rows), Fraction(0)))
    return _row(style, "", pairs, amounts, lines, digits)
