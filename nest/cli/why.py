"""Why one pair is dearer than another, and the handbook's way, for the command `price`: names, data, tables."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rich.table import Table
from rich.text import Text

from nest.accounts.estimate import GroundMemory, JobEstimate, estimate_job
from nest.accounts.handbook import HandbookLine
from nest.accounts.standard import plan_standard
from nest.accounts.why import Subject, Why, why
from nest.cli.costing_tables import plain_table
from nest.errors import PlanProblem
from nest.job.read import read_job
from nest.text import shown

ORDER = "order"
"""Names the whole order that is costed."""


def why_of(names: tuple[str, str], estimate: JobEstimate, outside: bool) -> Why:
    """Compare two sizes, styles, jobs or plans by their names; PlanProblem if one is not known."""
    return why(*(_subject(name, estimate, outside) for name in names))


def _subject(name: str, estimate: JobEstimate, outside: bool) -> Subject:
    """What a name means: the order, a style, a size of a style, a size of one style alone, another job or plan."""
    sizes = [(row.style, row.size) for row in estimate.standard.sizes]
    said = " ".join(name.split())
    if said.casefold() == ORDER:
        return Subject(ORDER, estimate)
    found = [(style, "") for style in dict.fromkeys(style for style, _ in sizes) if style == said]
    found = found or [key for key in sizes if " ".join(key) == said] or [key for key in sizes if key[1] == said]
    if len(found) == 1:
        return Subject(" ".join(filter(None, found[0])), estimate, *found[0])
    if found:
        more = " or ".join(f'"{style} {size}"' for style, size in found)
        raise PlanProblem(f"several styles have a size {shown(said)}; write {more}.")
    path = Path(name)
    if path.suffix.lower() == ".toml":
        job = read_job(path, outside=outside)
        return Subject(name, estimate_job(job, title=job.name, ground=GroundMemory(job)))
    if path.exists():
        from nest.cli import steps

        other = plan_standard(steps.read_saved(path))
        if other is None:
            raise PlanProblem(f"{name}: there is no estimate of the standard cost of this plan; name its job instead.")
        return Subject(name, other)
    known = ", ".join(dict.fromkeys(style for style, _ in sizes))
    raise PlanProblem(
        f"{shown(name)} is no size, style, job or plan; write a style ({known}), a size such as "
        f'"{" ".join(sizes[0])}", {ORDER}, or the path of another job or plan.'
    )


def why_result(found: Why) -> dict[str, Any]:
    """The difference and its causes."""
    return {
        "before": {"name": found.names[0], "good_pair": str(found.before)},
        "after": {"name": found.names[1], "good_pair": str(found.after)},
        "difference": str(found.difference),
        "causes": {str(cause): str(amount) for cause, amount in found.causes},
    }


def why_table(data: dict[str, Any], currency: str) -> Table:
    """The causes; they add up to the difference."""
    before, after = data["before"], data["after"]
    name = "costs otherwise than" if data["difference"].startswith("-") else "is dearer than"
    table = plain_table(f"Why {after['name']} {name} {before['name']}", "", (f"a good pair,\n{currency}",))
    table.add_row(Text(before["name"]), before["good_pair"], end_section=True)
    for cause, amount in data["causes"].items():
        if float(amount):
            table.add_row(cause, f"+{amount}" if float(amount) > 0 else amount)
    table.add_row(Text("difference", style="bold"), data["difference"], end_section=True)
    table.add_row(Text(after["name"]), after["good_pair"])
    return table


def handbook_result(lines: Sequence[HandbookLine]) -> list[dict[str, Any]]:
    """The handbook's way beside ours: dm² and money of a pair cut, line by line."""
    return [
        {"style": one.style, "size": one.size, "line": one.line, "book_dm2": one.book_mm2 / 1e4,
         "here_dm2": one.here_mm2 / 1e4, "difference_dm2": one.difference_mm2 / 1e4, "book": str(one.book),
         "here": str(one.here), "difference": str(one.difference), "reason": one.reason}
        for one in lines
    ]


def handbook_table(rows: Sequence[dict[str, Any]], currency: str, here: str) -> Table:
    """Line by line for the middle size of each style, totals for the others; then why they differ."""
    table = plain_table(f"Leather of a pair cut by the handbook's parallelogram, beside {here}, in {currency}", "",
                        ("book\ndm²", "here\ndm²", "difference\ndm²", "book", "here", "difference"))
    middles = {}
    for style in dict.fromkeys(row["style"] for row in rows):
        sizes = [row["size"] for row in rows if row["style"] == style and row["line"] == "total"]
        middles[style] = sizes[len(sizes) // 2]
    for row in rows:
        total = row["line"] == "total"
        if total or row["size"] == middles[row["style"]]:
            name = f"{row['style']} {row['size']}" if total else f"  {row['line']}"
            table.add_row(
                Text(name, style="bold" if total else ""),
                *(f"{row[key]:.2f}" for key in ("book_dm2", "here_dm2", "difference_dm2")),
                *(row[key] for key in ("book", "here", "difference")),
            )
    return table


def reasons_table(rows: Sequence[dict[str, Any]]) -> Table:
    """Why each line differs."""
    table = Table(show_header=False, box=None, padding=(0, 2, 0, 0))
    for line, reason in dict.fromkeys((row["line"], row["reason"]) for row in rows if row["reason"]):
        table.add_row(line, reason)
    return table
