"""The command `cost`: a saved plan costed."""

import typer

from nest.cli import options
from nest.cli.codes import code_of
from nest.cli.screen import Screen


def cost(plan: options.PlanFile, quiet: options.Quiet = False, as_json: options.AsJson = False) -> None:
    """Cost a saved plan by style and size: material, spoilage, and what the trim-off costs."""
    from nest.cli import steps
    from nest.cli.result import plan_result
    from nest.cli.standard import standard_tables
    from nest.cli.tables import cost_table, summary_table

    found, screen = steps.read_saved(plan), Screen(quiet, as_json)
    verdict = steps.verify(found)
    data = plan_result(found, steps.account(found), verdict)
    screen.say(*data["notes"])
    standard = standard_tables(data["standard"], data["cost"]["currency"], "in this plan")
    screen.result(data, cost_table(data["cost"]), *standard, summary_table(data))
    raise typer.Exit(code_of(verdict))
