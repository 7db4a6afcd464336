"""The command `orders plan`: all orders due, planned together on all stock that is free, and reserved."""

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import ledger as shared
from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.screen import Screen
from nest.cli.searching import NO_LIMITS, Search, Searching, searching, with_search_options
from nest.text import count_words

if TYPE_CHECKING:
    from nest.job.job import Job
    from nest.ledger.joint import Saved
    from nest.ledger.offer import StockOffer
    from nest.ledger.store import Ledger
    from nest.plan import Plan

TRIES = 3
"""Times that a plan is made anew because others took something of it."""


@with_search_options
def plan(
    out: options.OutFolder,
    *,
    until: Annotated[str, typer.Option("--until", metavar="DATE",
                                       help="Orders due by this day; left out, all of them.")] = "",
    order: Annotated[list[str] | None, typer.Option("--order", metavar="ORDER",
                                                    help="This order alone; may be given again.")] = None,
    compare: Annotated[bool, typer.Option("--compare", help="Plan order by order too, and say what planning them "
                                                            "together saves; takes as long again.")] = False,
    whole_stock: Annotated[bool, typer.Option("--whole-stock", help="Look at every free hide, not only at the oldest "
                                                                    "that give a choice.")] = False,
    reinforcements: Annotated[bool, typer.Option("--reinforcements", help="Only reinforcements that earlier plans are "
                                                                          "short of.")] = False,
    job: shared.JobToUse = shared.JOB,
    ledger: shared.LedgerAddress = shared.LEDGER,
    by: shared.By = "",
    search: Search = NO_LIMITS,
    outside: options.Outside = False,
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Plan all orders that are due, together, on the stock that is free; write the plan and reserve what it uses.

    What others book meanwhile is not used: then the plan is made again from what is free.
    """
    from nest.cli import steps
    from nest.errors import LedgerProblem

    screen, day = Screen(quiet, as_json), shared.day_of(until, "--until") if until else ""
    if reinforcements and (until or order or compare or whole_stock):
        raise LedgerProblem("--reinforcements lays all that are lacking; leave --until, --order, --compare and "
                            "--whole-stock out.")
    loaded, opened = shared.job_of(job, outside=outside), shared.opened(ledger)
    steps.try_folder(out)
    screen.say(*loaded.warnings)
    with searching(screen, out, search, loaded) as going:
        work = _Work(opened, loaded, screen, going, shared.who(by))
        offered, found, code = work.reserved_reinforcements() if reinforcements else work.reserved(
            day, tuple(order or ()), whole_stock)
        saved = work.saved(offered, found) if compare and code and not going.cancelled() else None
        data, verdict = steps.judged_and_written(found, out, going.watch, dxf, figures, (), going.cancelled)
    lacking = shared.lacking_now(opened)
    more = {"reserved_as": code or None, "saved": saved and _plain(saved),
            "reinforcements_lacking": [{"style": style, "size": size, "pairs": pairs} for (style, size), pairs
                                       in lacking.items()]}
    steps.show_written(screen, data | more, verdict, loaded.warnings)
    screen.say(*said_of(offered, found, code, saved), *shared.said_of_lacking(lacking))
    raise typer.Exit(Exit.STOPPED if going.cancelled() else code_of(verdict))


class _Work:
    """What making a plan from the ledger needs."""

    def __init__(self, ledger: "Ledger", job: "Job", screen: Screen, going: Searching, by: str):
        self.ledger, self.job, self.screen, self.going, self.by = ledger, job, screen, going, by

    def _make(self, asked: "Job", **more: Any) -> "Plan":
        from nest.planning.make import make_plan

        return make_plan(asked, **self.going.limits | more)

    def reserved(self, until: str, orders: tuple[str, ...], whole_stock: bool) -> "tuple[StockOffer, Plan, str]":
        """A plan of what is due, reserved; its code is "" where it did not pass its checks."""
        from nest.ledger.joint import plan_due

        return self._reserved(lambda: plan_due(
            self.ledger, self.job, self._make, until=until, orders=orders, whole_stock=whole_stock, say=self.screen.say
        ), until)

    def reserved_reinforcements(self) -> "tuple[StockOffer, Plan, str]":
        """A plan of the reinforcements that are lacking, reserved."""
        from nest.ledger.backing import offer_of_rolls
        from nest.planning.backing import plan_reinforcements

        def made() -> "tuple[StockOffer, Plan]":
            offered, pairs = offer_of_rolls(self.ledger, self.job)
            return offered, plan_reinforcements(offered.job, pairs, **self.going.limits)

        return self._reserved(made)

    def _reserved(self, made, until: str = "") -> "tuple[StockOffer, Plan, str]":
        from nest.errors import Taken
        from nest.ledger.plans import reserve
        from nest.verify import verify

        for left in range(TRIES - 1, -1, -1):
            offered, found = made()
            if not verify(found).ok:
                return offered, found, ""
            try:
                code, found = reserve(self.ledger, offered, found, by=self.by, until=until)
                return offered, found, code
            except Taken as error:
                if not left or self.going.cancelled():
                    raise
                self.screen.complain(f"{error} Planning again from what is free.")
        raise AssertionError

    def saved(self, offered: "StockOffer", found: "Plan") -> "Saved | None":
        """What planning together saves."""
        from nest.ledger.joint import beside_one_by_one

        return beside_one_by_one(offered, found, self._make, self.going.limits["seconds"])


def _plain(saved: "Saved") -> dict[str, Any]:
    return asdict(saved) | {"cost": str(saved.cost), "cost_one_by_one": str(saved.cost_one_by_one)}


def said_of(offered: "StockOffer", found: "Plan", code: str, saved: "Saved | None") -> list[str]:
    """What was reserved, and what planning together saves, in words."""
    if not code:
        return ["Nothing is reserved, for the plan has not passed its checks."]
    used = [layout.hide_id for layout in found.layouts if layout.placed]
    remnants = sum(row.state == "remnant" for row in offered.hides if row.code in used)
    orders = list(dict.fromkeys(row.order_no for row in offered.lines))
    if not orders:
        rolls = ", ".join(dict.fromkeys(lay.roll_id for lay in found.lays)) or "no roll"
        number = sum(lay.plies * len(lay.placed) for lay in found.lays)
        return [f"Reserved as plan {code}: {count_words(number, 'reinforcement')} on {rolls}."]
    said = [
        f"Reserved as plan {code}: {count_words(len(used), 'hide')}"
        f"{f' ({remnants} of them remnants)' * bool(remnants)} for {count_words(len(orders), 'order')}: "
        f"{', '.join(orders[:12])}{' …' * (len(orders) > 12)}."
    ]
    if saved:
        currency, less = found.settings.currency, saved.cost_one_by_one - saved.cost
        also = f", and {count_words(saved.pairs_short_one_by_one, 'pair')} short" * bool(saved.pairs_short_one_by_one)
        share = f" ({abs(less) / saved.cost_one_by_one:.1%})" if saved.cost_one_by_one else ""
        said.append(
            f"Planned together the {saved.orders} orders open {count_words(saved.hides, 'hide')} for {saved.cost:.2f} "
            f"{currency}; one by one {saved.hides_one_by_one} for {saved.cost_one_by_one:.2f} {currency}{also}: "
            f"{abs(less):.2f} {currency}{share} {'saved' if less >= 0 else 'more, for the search differs'}."
        )
    return said
