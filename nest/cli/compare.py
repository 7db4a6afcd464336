"""The command `compare`: what changed from one plan to another, cause by cause."""

from pathlib import Path
from typing import Annotated

import typer

from nest.cli import options
from nest.cli.screen import Screen


def compare(
    before: Annotated[Path, typer.Argument(metavar="PLAN_A", help="A saved plan, or its folder.")],
    after: Annotated[Path, typer.Argument(metavar="PLAN_B", help="The plan to compare with it.")],
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """What changed from one plan to another in yield, consumption and cost, cause by cause; the causes add up."""
    from nest.accounts.compare import compare as compared
    from nest.accounts.sheet import plan_sheet
    from nest.accounts.standard import standard_beside
    from nest.cli import steps
    from nest.cli.costing_result import comparison_result
    from nest.cli.costing_tables import comparison_tables
    from nest.cli.standard import standard_result
    from nest.report.searched import search_said
    from nest.whatif import quick_uses

    first, second = steps.read_saved(before), steps.read_saved(after)
    sides = (first, quick_uses(first)), (second, quick_uses(second))
    found = compared(*sides)
    data = comparison_result(found, (str(before), str(after)))
    said = []
    for name, (plan, uses) in zip(("before", "after"), sides, strict=True):
        standard = standard_result(standard_beside(plan, uses, plan_sheet(plan, uses)))
        data[name]["standard"] = standard and standard["rows"][-1]
        data[name]["search"] = list(search_said(plan, uses).sentences)
        said += [f"{data[name]['plan']}: {sentence}" for sentence in data[name]["search"]]
    screen = Screen(quiet, as_json)
    screen.say(*data["notes"])
    screen.result(data, *comparison_tables(data), *said)
