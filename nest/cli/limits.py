"""The part of `whatif` that weighs leather against spoilage: tolerance and class limit of least cost per good pair."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.job.job import Job
    from nest.whatif.limits import LimitAdvice, Limits


def show_limits(screen: Screen, job: "Job", plans: Sequence[Path], lists: Sequence[Path]) -> None:
    """Read what the press made of these plans, and show what other limits would cost a good pair of each style.

    Raises
    ------
    PlanProblem
        If plans and lists do not go together, or no piece of a style of the job is in them.
    """
    from functools import partial

    from nest.cli.costing_steps import by_estimate
    from nest.cli.teach import read_lists
    from nest.errors import PlanProblem
    from nest.teaching import taught_of
    from nest.whatif.limits import limit_advice

    if len(plans) != len(lists):
        raise PlanProblem("name a plan with --plan for each list that --outcomes names, in the same sequence.")
    pieces, _ = read_lists([path for pair in zip(plans, lists, strict=True) for path in pair])
    found = taught_of(pieces)
    estimate = by_estimate(job)

    def pair_price(style: str, changed: Job) -> float:
        return float(estimate(changed, 0).row(style, "").pair_price)

    advice = []
    for style in job.styles:
        if any(line.style == style.name and line.pairs for line in job.order):
            one = limit_advice(job, style, found, pieces, partial(pair_price, style.name))
            advice += [one] if one is not None else []
    if not advice:
        raise PlanProblem("the lists hold no piece of a style that the job orders; name the plans of this job.")
    data = {"currency": job.settings.currency, "styles": [_result(one) for one in advice]}
    screen.result(data, *(_table(one, job.settings.currency) for one in advice), *map(_said, advice),
                  "Wider limits than those in force were not pressed, so that nothing is known of them.")


def _result(one: "LimitAdvice") -> dict[str, Any]:
    return {
        "style": one.style, "pieces": one.pieces, "now": _row(one.now), "advised": _row(one.best),
        "changed": one.changed, "tried": [_row(limits) for limits in one.tried],
    }


def _row(one: "Limits") -> dict[str, Any]:
    return {
        "tolerance_deg": one.tolerance_deg, "net_quality": one.net_quality,
        "reject_percent": round(100.0 * one.reject, 2),
        "good_pair": [round(value, 4) for value in one.pair], "saving": [round(value, 4) for value in one.saving],
        "sure": round(one.sure, 3),
    }


def _table(one: "LimitAdvice", currency: str):
    from nest.cli.costing_tables import plain_table

    grid = plain_table(f"{one.style}: cost of a good pair, {currency}", "tolerance, class",
                       ("rejects %", "good pair", "95 % interval", "saved", "95 % interval"))
    for row in one.tried:
        mark = " (now)" if row is one.now else " (advised)" if row is one.best else ""
        grid.add_row(f"±{row.tolerance_deg:g}°, to class {row.net_quality}{mark}", f"{100.0 * row.reject:.1f}",
                     f"{row.pair[0]:.2f}", f"{row.pair[1]:.2f} to {row.pair[2]:.2f}", f"{row.saving[0]:.2f}",
                     f"{row.saving[1]:.2f} to {row.saving[2]:.2f}")
    return grid


def _said(one: "LimitAdvice") -> str:
    from nest.whatif.limits import LEAST_PIECES

    best = one.best
    if one.pieces < LEAST_PIECES:
        return (f"{one.style}: leave ±{best.tolerance_deg:g}° and class {best.net_quality} as they are; {one.pieces} "
                f"pieces are too few to change them by, {LEAST_PIECES} are asked for.")
    if not one.changed:
        return (f"{one.style}: leave ±{best.tolerance_deg:g}° and class {best.net_quality} as they are; by "
                f"{one.pieces} pieces no other limits are cheaper beyond doubt.")
    mean, low, high = best.saving
    return (f"{one.style}: ±{best.tolerance_deg:g}° and ground to class {best.net_quality} save {mean:.2f} "
            f"({low:.2f} to {high:.2f}) of a good pair, by {one.pieces} pieces.")
