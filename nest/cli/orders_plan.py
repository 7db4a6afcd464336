"""The command `orders plan`: all orders due, planned together on all stock that is free, and reserved."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import ledger as shared
from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.kept import kept_until_written
from nest.cli.progress import shown_progress
from nest.cli.screen import Screen
from nest.cli.stopping import stop_on_interrupt
from nest.cli.workers import place_of_work
from nest.text import count_words

if TYPE_CHECKING:
    from nest.job.job import Job
    from nest.ledger.offer import Offer
    from nest.ledger.store import Ledger
    from nest.plan import Plan

TRIES = 3
"""Times that a plan is made anew because others took something of it."""


def plan(
    out: options.OutFolder,
    until: Annotated[str, typer.Option("--until", metavar="DATE", show_default=False,
                                       help="Orders due by this day; left out, all of them.")] = "",
    order: Annotated[list[str] | None, typer.Option("--order", metavar="ORDER", show_default=False,
                                                    help="This order alone; may be given again.")] = None,
    compare: Annotated[bool, typer.Option("--compare", help="Plan order by order too, and say what planning them "
                                                            "together saves; takes as long again.")] = False,
    whole_stock: Annotated[bool, typer.Option("--whole-stock", help="Look at every free hide, not only at the oldest "
                                                                    "that give a choice.")] = False,
    job: shared.JobToUse = shared.JOB,
    ledger: shared.LedgerAddress = shared.LEDGER,
    by: shared.By = "",
    seconds: options.Seconds = None,
    passes: options.Passes = None,
    seed: options.Seed = None,
    outside: options.Outside = False,
    scheduler: options.Scheduler = None,
    certificates: options.Certificates = None,
    local: options.Local = None,
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Plan all orders that are due, together, on the stock that is free; write the plan and reserve what it uses.

    What others book meanwhile is not used: then the plan is made again from what is free.
    """
    from nest.cli import steps
    from nest.errors import Taken
    from nest.ledger.plans import reserve
    from nest.verify import verify

    screen, day = Screen(quiet, as_json), shared.day_of(until, "--until") if until else ""
    where = place_of_work(screen.say, scheduler, local, certificates)
    loaded, opened = shared.job_of(job, outside=outside), shared.opened(ledger)
    steps.try_folder(out)
    screen.say(*loaded.warnings)
    time = steps.seconds_for(loaded, seconds, passes)
    with (
        stop_on_interrupt(screen.complain) as cancelled, shown_progress(screen, time) as watch,
        kept_until_written(out, screen.say, where) as engine,
    ):
        def made(asked: "Job", **more: Any) -> "Plan":
            from nest.planning.make import make_plan

            return make_plan(asked, passes=passes, seed=seed, cancelled=cancelled, listener=watch.heard,
                             **{"seconds": time, "engine": engine} | more)

        for last in (False,) * (TRIES - 1) + (True,):
            offered, found = _planned(opened, loaded, day, tuple(order or ()), whole_stock, made, screen)
            verdict = verify(found)
            code = ""
            if not verdict.ok:
                break
            try:
                code, found = reserve(opened, offered, found, by=shared.who(by), until=day)
                break
            except Taken as error:
                if last or cancelled():
                    raise
                screen.complain(f"{error} Planning again from what is free.")
        saved = together(offered, found, made, time) if compare and code and not cancelled() else None
        data, verdict = steps.judged_and_written(found, out, watch, dxf, figures, (), cancelled)
    steps.show_written(screen, data | {"reserved_as": code or None, "saved": saved}, verdict, loaded.warnings)
    screen.say(*said_of(offered, found, code, saved))
    raise typer.Exit(Exit.STOPPED if cancelled() else code_of(verdict))


def _planned(
    ledger: "Ledger", job: "Job", until: str, orders: tuple[str, ...], whole_stock: bool, made: Callable,
    screen: Screen,
) -> "tuple[Offer, Plan]":
    """A plan on the oldest hides; where these do not do, on all."""
    from nest.ledger.offer import offer
    from nest.verify import verify

    offered = offer(ledger, job, until=until, orders=orders, whole_stock=whole_stock)
    found = made(offered.job)
    if offered.left_out and not verify(found).order_met:
        screen.say(f"The {len(offered.hides)} oldest hides do not do: planning again with all "
                   f"{len(offered.hides) + offered.left_out} that are free.")
        offered = offer(ledger, job, until=until, orders=orders, whole_stock=True)
        found = made(offered.job)
    return offered, found


def together(offered: "Offer", found: "Plan", made: Callable, seconds: float | None) -> dict[str, Any] | None:
    """What planning together costs, and order by order, the most urgent first; None where there is one order."""
    from nest.ledger.offer import order_lines
    from nest.planning.run import Engine

    orders = dict.fromkeys(row.order_no for row in offered.lines)
    if len(orders) < 2:
        return None
    left, plans = list(offered.job.hides), []
    whole = sum(row.short for row in offered.lines)
    for name in orders:
        mine = [row for row in offered.lines if row.order_no == name]
        part = seconds and seconds * sum(row.short for row in mine) / whole
        wanted = {row.style for row in mine}
        styles = tuple(style for style in offered.job.styles if style.name in wanted)
        asked = replace(offered.job, order=order_lines(mine), hides=tuple(left), styles=styles)
        plans.append(made(asked, engine=Engine.fresh(), seconds=part))
        used = {layout.hide_id for layout in plans[-1].layouts if layout.placed}
        left = [hide for hide in left if hide.hide_id not in used]
    (hides, cost), apart = _opened([found]), _opened(plans)
    return {"orders": len(orders), "hides": hides, "cost": str(cost), "hides_one_by_one": apart[0],
            "cost_one_by_one": str(apart[1]), "pairs_short_one_by_one": sum(map(_short, plans))}


def _opened(plans: "list[Plan]") -> tuple[int, Decimal]:
    """Hides that some plans open, and what these cost whole."""
    from nest.ledger.stock import cost_of

    number, cost = 0, Decimal(0)
    for one in plans:
        leathers = {leather.name: leather for leather in one.leathers}
        used = {layout.hide_id for layout in one.layouts if layout.placed}
        for hide in one.hides:
            if hide.hide_id in used:
                number, cost = number + 1, cost + cost_of(hide, leathers[hide.leather])
    return number, cost


def _short(one: "Plan") -> int:
    from nest.begun.rows import rows_met

    return sum(row.short for row in rows_met(one))


def said_of(offered: "Offer", found: "Plan", code: str, saved: dict[str, Any] | None) -> list[str]:
    """What was reserved, and what planning together saves, in words."""
    if not code:
        return ["Nothing is reserved, for the plan has not passed its checks."]
    used = [layout.hide_id for layout in found.layouts if layout.placed]
    remnants = sum(row.state == "remnant" for row in offered.hides if row.code in used)
    orders = list(dict.fromkeys(row.order_no for row in offered.lines))
    said = [
        f"Reserved as plan {code}: {count_words(len(used), 'hide')}"
        f"{f' ({remnants} of them remnants)' * bool(remnants)} for {count_words(len(orders), 'order')}: "
        f"{', '.join(orders[:12])}{' …' * (len(orders) > 12)}."
    ]
    if saved:
        currency = found.settings.currency
        missing = saved["pairs_short_one_by_one"]
        apart = Decimal(saved["cost_one_by_one"])
        less = apart - Decimal(saved["cost"])
        also = f", and {count_words(missing, 'pair')} short" * bool(missing)
        said.append(
            f"Planned together the {saved['orders']} orders open {saved['hides']} hides for "
            f"{Decimal(saved['cost']):.2f} {currency}; one by one {saved['hides_one_by_one']} for {apart:.2f} "
            f"{currency}{also}: {abs(less):.2f} {currency} ({abs(less) / apart:.1%}) "
            f"{'saved' if less >= 0 else 'more, for the search differs'}."
        )
    return said
