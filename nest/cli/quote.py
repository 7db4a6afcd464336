"""The command `quote`: a quotation for a customer, by the standard cost."""

from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen


def quote(
    job: options.JobFile,
    *,
    out: Annotated[list[Path], typer.Option("--out", "-o", metavar="FILE",
                                            help="New file to write, .pdf (one page of A4) or .xlsx; may be given for "
                                                 "both.")],
    pairs: Annotated[list[int] | None, typer.Option("--pairs", min=1, max=10**9, metavar="N",
                                                    help="Quantity of a style; may be given more than once. By default "
                                                         "once, twice and five times the order.")] = None,
    customer: Annotated[str, typer.Option("--for", metavar="NAME", help="Whom it is for.")] = "",
    number: Annotated[str, typer.Option("--number", metavar="TEXT", help="Number of the quotation.")] = "",
    day: Annotated[str, typer.Option("--date", metavar="DATE", show_default="today",
                                     help="Its date, as 2026-11-30.")] = "",
    valid_days: Annotated[int, typer.Option("--valid", min=1, max=3650, metavar="DAYS", help="Days it is valid.")] = 30,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Quotation for a customer: each style in several quantities, one page; no cost, yield or margin is shown.

    Prices are the standard cost with the overhead and margin of [costing], so they do not rest on the luck of a lot.
    """
    from nest.accounts.estimate import GroundMemory, estimate_job
    from nest.accounts.quotation import quotation
    from nest.cli.costing_steps import new_file
    from nest.cli.costing_tables import plain_table
    from nest.clock import today
    from nest.errors import PlanProblem
    from nest.job.read import read_job
    from nest.report.quotation import write_quotation

    screen = Screen(quiet, as_json)
    for path in out:
        if path.suffix.lower() not in (".pdf", ".xlsx"):
            raise PlanProblem(f"{path}: a quotation is a .pdf or an .xlsx; name the file so.")
        new_file(path)
    on = options.stated_day(day, "--date") if day else today().isoformat()
    loaded = read_job(job, outside=outside)
    screen.say(*loaded.warnings)
    found = quotation(
        loaded, estimate_job(loaded, title=loaded.name, ground=GroundMemory(loaded)), quantities=pairs or (),
        customer=customer, number=number, day=on, valid_days=valid_days,
    )
    for path in out:
        write_quotation(found, path)
    if not found.with_margin:
        screen.say("The job states no margin_percent in [costing]: this offers at cost.")
    tables = []
    for offer in found.offers:
        table = plain_table(f"{offer.style}, {found.currency}", "", ("pairs", "a pair", "together"))
        for step in offer.steps:
            table.add_row("", f"{step.pairs:,}", str(step.pair), str(step.total))
        tables.append(table)
    data = {
        "currency": found.currency, "date": found.day, "valid_until": found.valid_until, "terms": list(found.terms),
        "with_margin": found.with_margin, "files": [str(path) for path in out],
        "offers": [
            {"style": offer.style, "materials": list(offer.materials), "sizes": dict(offer.sizes),
             "steps": [{"pairs": step.pairs, "pair": str(step.pair), "together": str(step.total)}
                       for step in offer.steps]}
            for offer in found.offers
        ],
    }
    screen.result(data, *tables, f"Valid until {found.valid_until}. Written to {', '.join(map(str, out))}.")
