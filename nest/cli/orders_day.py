"""The commands `orders close`, `release`, `plans`, `write` and `used`: what becomes of a plan, day by day."""

from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nest.cli import ledger as shared
from nest.cli import options
from nest.cli.screen import Screen
from nest.errors import LedgerProblem
from nest.text import count_words

if TYPE_CHECKING:
    from nest.report.tables import Table

CENT = Decimal("0.01")

PlanCode = Annotated[str, typer.Argument(metavar="PLAN",
                                         help="The plan, such as P0007; needless where one alone is open.")]


def close(
    plan: PlanCode = "",
    *,
    cut: options.CutList = None,
    spoiled: options.SpoiledList = None,
    withdrawn: options.Withdrawn = None,
    cutter: Annotated[str, typer.Option("--cutter", metavar="NAME",
                                        help="Who cut it; a column cutter of the list says it hide by hide.")] = "",
    job: shared.JobToUse = shared.JOB,
    ledger: shared.LedgerAddress = shared.LEDGER,
    by: shared.By = "",
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Close of day: book what was cut, spoiled and withdrawn of a plan, take remnants back, say what is open.

    The lists are those of replan and used: they count from the plan's beginning, and booking one again changes nothing.
    """
    from nest.cli.progress import shown_progress
    from nest.ledger.closing import close_day

    screen, loaded, opened = Screen(quiet, as_json), shared.job_of(job, outside=outside), shared.opened(ledger)
    with shown_progress(screen) as watch:
        closed = close_day(
            opened, loaded, plan_code(plan), cut=cut, spoiled=spoiled, withdrawn=tuple(withdrawn or ()), cutter=cutter,
            by=shared.who(by), tell=watch.counted,
        )
    screen.say(*closed.said)
    with opened.reading() as connection:
        used, still = _used_table(connection, "size", closed.plan.code), open_table(connection)
        hides, lengths = _to_cut(connection).get(closed.plan.code, ((), ""))
    rolls = "".join(f", {length / 1e3:.2f} m of {name}" for name, length in closed.rolls_mm.items())
    words = [
        f"Plan {closed.plan.code}: {count_words(len(closed.cut), 'hide')} cut, "
        f"{count_words(closed.pairs_cut, 'pair')}, {closed.pairs_spoiled} spoiled, {len(closed.withdrawn)} "
        f"withdrawn{rolls}; it is {closed.state}.",
    ]
    if closed.cut:
        words.append(f"Back on the rack: {', '.join(closed.remnants)}." if closed.remnants else
                     "No remnant that a vamp fits on.")
    if to_cut := ", ".join(filter(None, (*hides, lengths))):
        words.append(f"Still to cut of it: {to_cut}.")
    words += shared.said_of_lacking(shared.lacking_now(opened))
    more = {"plan": closed.plan.code, "state": closed.state, "cut": closed.cut, "withdrawn": closed.withdrawn,
            "remnants": closed.remnants}
    shared.listed(screen, used, words, more=more, also=(still,))


def plan_code(text: str) -> str:
    """The code of a plan, from it or from the folder or file of the plan."""
    path = Path(text)
    if not text or not path.exists():
        return text
    from nest.cli.steps import read_saved

    return read_saved(path).name.split()[0]


def release(
    plan: Annotated[str, typer.Argument(metavar="PLAN", help="The plan, such as P0007.")],
    why: shared.Why = "", by: shared.By = "", ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
) -> None:
    """Give a plan up: what is not cut of it is free again. Collect its sheets, so that nothing is cut by them."""
    from nest.ledger.plans import release as book

    row = book(shared.opened(ledger), plan_code(plan), by=shared.who(by), why=why)
    Screen(quiet).say(f"Plan {row.code} is given up; collect its sheets, so that nothing is cut by them.")


def plans(
    every: Annotated[bool, typer.Option("--all", help="Those that are done or given up too.")] = False,
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """List the plans that are open, with the hides and the metres of rolls that are still to cut."""
    from nest.ledger.plans import plan_rows
    from nest.report.tables import Table

    with shared.opened(ledger).reading() as connection:
        rows = [row for row in plan_rows(connection) if every or row.state == "open"]
        to_cut = _to_cut(connection)
    header = ("plan", "until", "made", "by", "state", "to_cut", "hides", "rolls")
    table = Table("plans", header, tuple(
        (row.code, row.until, row.at[:16].replace("T", " "), row.by, row.state, len(hides), ", ".join(hides), rolls)
        for row in rows for hides, rolls in (to_cut.get(row.code, ((), "")),)
    ))
    shared.listed(Screen(quiet, as_json), table, (), out)


def _to_cut(connection) -> "dict[str, tuple[list[str], str]]":
    """Hides that each plan still has to cut, and lengths of rolls in words."""
    from nest.ledger.rows import held_by_plan, hide_rows

    hides: dict[str, list[str]] = {}
    for hide in hide_rows(connection, states=("reserved",)):
        hides.setdefault(hide.plan, []).append(hide.code)
    held = held_by_plan(connection)
    return {
        code: (hides.get(code, []), ", ".join(f"{name} {mm / 1e3:.2f} m" for name, mm in held.get(code, {}).items()))
        for code in {*hides, *held}
    }


def write(
    plan: PlanCode = "",
    out: options.OutFolder = Path("out"),
    dxf: options.Dxf = None,
    figures: options.Figures = True,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Write a plan from the ledger again: drawings, sheets, tables, and plan.json as it was reserved."""
    from nest.cli import steps
    from nest.cli.codes import code_of
    from nest.cli.progress import shown_progress
    from nest.ledger.plans import plan_of, plan_row

    screen, opened = Screen(quiet, as_json), shared.opened(ledger)
    steps.try_folder(out)
    with opened.reading() as connection:
        found, _ = plan_of(opened, connection, plan_row(connection, plan_code(plan)))
    with shown_progress(screen) as watch:
        data, verdict = steps.judged_and_written(found, out, watch, dxf, figures)
    steps.show_written(screen, data, verdict)
    raise typer.Exit(code_of(verdict))


def used(
    by: Annotated[str, typer.Option("--by", metavar="WHAT", help="order, lot, supplier, style, size, cutter or plan.")]
    = "order",
    *,
    plan: Annotated[str, typer.Option("--plan", metavar="PLAN", help="Of this plan alone.")] = "",
    since: Annotated[str, typer.Option("--since", metavar="DATE", help="Booked on this day or later.")] = "",
    until: Annotated[str, typer.Option("--until", metavar="DATE", help="Booked by this day.")] = "",
    out: shared.OutFile = None,
    ledger: shared.LedgerAddress = shared.LEDGER,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Used against planned of all that was booked as cut: leather, rolls and money, by order, lot, style or cutter."""
    from nest.job.findings import meant
    from nest.ledger.plans import plan_row
    from nest.ledger.used import BY

    if by not in BY:
        raise LedgerProblem(f"--by: expected what to add up by, found {by!r}; {meant(by, BY)}.")
    with shared.opened(ledger).reading() as connection:
        code = plan_row(connection, plan_code(plan)).code if plan else ""
        table = _used_table(
            connection, by, code, shared.day_of(since, "--since") if since else "",
            shared.day_of(until, "--until") if until else "",
        )
    shared.listed(Screen(quiet, as_json), table, (), out)


def _used_table(connection, by: str, plan: str = "", since: str = "", until: str = "") -> "Table":
    """Used against planned as a list; money to the cent."""
    from nest.ledger.used import used_by
    from nest.report.tables import Table

    header = (by, "hides", "vamps", "leather_dm2_planned", "leather_dm2_used", "yield_percent", "roll_m_planned",
              "roll_m_used", "cost_planned", "cost_used")
    return Table("used against planned", header, tuple(
        (name or "no order", round(one.hides, 2), round(one.vamps), round(one.planned_mm2 / 1e4, 1),
         round(one.used_mm2 / 1e4, 1), round(100.0 * one.rough_mm2 / one.used_mm2, 1) if one.used_mm2 else None,
         round(one.planned_mm / 1e3, 2), round(one.used_mm / 1e3, 2), one.planned_cost.quantize(CENT),
         one.used_cost.quantize(CENT))
        for name, one in used_by(connection, by, plan=plan, since=since, until=until).items()
    ))


def open_table(connection) -> "Table":
    """What is open: of each order that is not finished, the pairs still to cut and those that no plan has yet."""
    from nest.ledger.rows import line_rows
    from nest.ledger.summary import orders_summed
    from nest.report.tables import Table

    found = orders_summed(line_rows(connection), unfinished=True)
    header = ("order", "due", "wanted", "finished", "to_cut", "not_planned")
    return Table("open work", header, tuple(
        (name, one.due, one.wanted, one.finished, one.planned, one.short) for name, one in found.items()
    ))

