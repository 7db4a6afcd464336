"""Pairs of a plan that are expected to come out well: by the ground and heading of each vamp, where rates are known."""

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction
from math import fsum

from nest.accounts.areas import MaterialUse
from nest.accounts.charges import Pairs
from nest.pieces.piece import Role
from nest.pieces.rejects import RejectRates
from nest.pieces.sizing import size_key
from nest.plan import CutLine, HideLayout, Plan
from nest.stock.under import class_of, heading_on, shares_under

SHARE_DIGITS = 6
"""Decimals of an expected share of good vamps, so that equal plans have equal sums."""


def reject_rates_placed(plan: Plan, layout: HideLayout) -> list[float | None]:
    """Reject rate of each piece of a layout, 0..1; None of a style that has no rates by class and deviation."""
    hide = next(one for one in plan.hides if one.hide_id == layout.hide_id)
    one_way = any(leather.one_way for leather in plan.leathers if leather.name == hide.leather)
    styles = {style.name: style for style in plan.styles}
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    found: list[float | None] = []
    for placed in layout.placed:
        piece = pieces[placed.piece_id]
        style = styles[piece.style]
        rates: RejectRates | None = style.rates
        if rates is None:
            found.append(None)
            continue
        shares = shares_under(hide, placed.pose.apply(piece.net_outline))
        deviation, bias = heading_on(hide, shares, placed.pose.heading_deg, style.rules, one_way)
        found.append(rates.at(class_of(hide, shares), deviation, bias) / 100.0)
    return found


def good_shares(plan: Plan) -> dict[tuple[str, str], float]:
    """Share of the vamps placed of each style and size that is expected to come out well; of styles with rates."""
    if all(style.rates is None for style in plan.styles):
        return {}
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    good: dict[tuple[str, str], list[float]] = defaultdict(list)
    for layout in plan.layouts:
        for placed, rate in zip(layout.placed, reject_rates_placed(plan, layout), strict=True):
            if rate is not None:
                piece = pieces[placed.piece_id]
                good[piece.style, piece.size].append(1.0 - rate)
    return {key: fsum(shares) / len(shares) for key, shares in good.items()}


def plan_pairs(plan: Plan, uses: Iterable[MaterialUse]) -> dict[tuple[str, str], Pairs]:
    """Pairs of each style and size: vamps cut ÷ 2, and what is expected to come out well of them."""
    lines = {(line.style, line.size): line for line in plan.order}
    cut: dict[tuple[str, str], Fraction] = {}
    for use in uses:
        for part in use.sizes:
            key = part.style, part.size
            cut[key] = cut.get(key, Fraction(0)) + (Fraction(part.pieces, 2) if use.role is Role.VAMP else 0)
    shares = good_shares(plan)
    return {
        key: Pairs(pairs, good_pairs(pairs, lines.get(key), shares.get(key)))
        for key, pairs in sorted(cut.items(), key=_in_order)
    }


def _in_order(item: tuple[tuple[str, str], object]) -> tuple[str, tuple[bool, Fraction, str]]:
    (style, size), _ = item
    return style, size_key(size)


def good_pairs(pairs_cut: Fraction, line: CutLine | None, share: float | None = None) -> Fraction:
    """Good pairs to expect of `pairs_cut`: all if the order says nothing, else their share, at most those wanted.

    share : of the vamps as they lie, where it is known; else that of the order.
    """
    if line is None or line.pairs_to_cut <= 0:
        return pairs_cut
    if share is not None:
        return min(Fraction(line.pairs_wanted), pairs_cut * Fraction(f"{share:.{SHARE_DIGITS}f}"))
    return min(Fraction(line.pairs_wanted), pairs_cut * line.pairs_wanted / line.pairs_to_cut)
