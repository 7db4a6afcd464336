"""The command `scenarios`: many changes of a job in one table."""

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any

import typer

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen


def scenarios(
    job: options.JobFile,
    *,
    choices: Annotated[Path, typer.Argument(metavar="SCENARIOS",
                                            help="Leathers, rolls, allowances, quantities and rules to try (TOML).")],
    out: Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE",
                                             help="New table to write: FILE.csv, or FILE.xlsx.")] = None,
    place: Annotated[int, typer.Option("--place", min=0, max=50, metavar="N",
                                       help="Place the best N, and the job as it is, too.")] = 0,
    passes: options.PlacementPasses = 40,
    outside: options.Outside = False,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Every way to combine leathers, rolls, allowances, quantities and rules, by standard cost, cheapest first.

    The job as it is belongs to every list. Figures are by estimate, with the error of the estimate.
    """
    from nest.accounts.estimate import GroundMemory
    from nest.cli.costing_steps import new_file, watched
    from nest.errors import PlanProblem
    from nest.job.read import read_job
    from nest.job.scenarios import read_scenarios
    from nest.report.scenarios import write_scenarios
    from nest.scenarios import combined, cost_scenarios

    if out is not None and out.suffix.lower() not in (".csv", ".xlsx"):
        raise PlanProblem(f"{out} is neither a .csv nor a .xlsx file; name one that is")
    new_file(out)
    screen = Screen(quiet, as_json)
    loaded = read_job(job, outside=outside)
    screen.say(*loaded.warnings)
    given = read_scenarios(choices, loaded)
    ground = GroundMemory(loaded)
    with watched(screen) as (cancelled, watch, tell):
        names = [one.section for one in given]
        found = cost_scenarios(loaded, names, combined(loaded, given, ground), ground, tell=tell, cancelled=cancelled)
        if found is not None and place:
            found = _placed(loaded, found, place, passes, cancelled, watch, tell)
    if found is None:
        screen.complain("Stopped before every scenario was costed.")
        raise typer.Exit(Exit.STOPPED)
    if out is not None:
        write_scenarios(found, out)
    data = _result(found)
    screen.say(*data["notes"], *(f"Left out: {', '.join(one['choices'])}: {one['why']}" for one in data["left_out"]))
    screen.result(data, *_tables(data), *([f"Written to {out}."] if out else []))
    raise typer.Exit(Exit.DONE)


def _placed(now, found, count: int, passes: int, cancelled, watch, tell):
    """The scenarios with the best of them, and the job `now`, placed; as far as that came before Ctrl-C.

    Placed on the hides in stock alone: an estimate may look at others in their place.
    """
    from nest.cli.costing_steps import by_placing
    from nest.errors import PlanProblem

    cost, ranked, notes = by_placing(passes, cancelled, watch), list(found.ranked), list(found.notes)
    asked = [i for i, one in enumerate(ranked) if i < count or one.costed.scenario.as_it_is]
    for done, i in enumerate(asked):
        scenario = ranked[i].costed.scenario
        job, words = replace(scenario.changed.job, hides=now.hides), ", ".join(scenario.names)
        if cancelled():
            break
        tell(f"placing {words}", done, len(asked))
        bare = [style.leather for style in job.styles
                if not any(hide.leather == style.leather for hide in job.hides)]
        if bare:
            notes.append(f"{words}: not placed, for there are no hides of {bare[0]} in stock.")
            continue
        try:
            sheet = cost(job, job.settings.seed)
        except PlanProblem as problem:
            notes.append(f"{words}: not placed: {problem}")
            continue
        if not cancelled():
            short = sum(line.pairs for line in job.order) - int(sheet.order.pairs.good)
            ranked[i] = replace(ranked[i], placed=sheet.order.exact_pair, short=max(0, short))
    notes.append(f"Placed with {passes} pass{'es' * (passes != 1)}; a part-used hide is charged up to its last cut.")
    return replace(found, ranked=tuple(ranked), notes=tuple(notes))


def _result(found) -> dict[str, Any]:
    """The table as plain data."""
    rows = []
    for rank, one in enumerate(found.ranked, start=1):
        run = one.costed
        rows.append({
            "rank": rank, "choices": dict(zip(found.sections, run.scenario.names, strict=True)),
            "as_it_is": run.scenario.as_it_is, "good_pair": float(run.pair), "half_width_95": run.half_width,
            "dearer": float(one.dearer), "dearer_half_width_95": one.dearer_error,
            "by_style": {style: float(pair) for style, pair in run.by_style.items()},
            "saving_per_year": dict(one.saving),
            "placed": None if one.placed is None else float(one.placed),
            "placed_short": one.short if one.placed is not None else None,
        })
    left_out = [{"choices": list(names), "why": why} for names, why in found.failed]
    return {"currency": found.currency, "scenarios": rows, "left_out": left_out, "notes": list(found.notes)}


def _tables(data: dict[str, Any]):
    from rich.text import Text

    from nest.accounts.money import minor_digits
    from nest.cli.costing_tables import NONE, plain_table
    from nest.job.scenarios import AS_IT_IS

    rows, digits = data["scenarios"], minor_digits(data["currency"])
    styles = list(rows[0]["by_style"])
    years = any(row["saving_per_year"] for row in rows)
    placed = any(row["placed"] is not None for row in rows)
    columns = ["good\npair", "±\n(95 %)", "dearer\nthan 1", "±\n(95 %)"]
    columns += [style.replace(" ", "\n", 1) for style in styles] if len(styles) > 1 else []
    columns += [f"saved a year,\n{style}" for style in styles] if years else []
    columns += ["placed", "pairs\nshort"] if placed else []
    table = plain_table(f"Scenarios by standard cost in {data['currency']}, by estimate", "", tuple(columns))
    for row in rows:
        changed = "; ".join(name for name in row["choices"].values() if name != AS_IT_IS) or "the job as it is"
        cells = [f"{row['good_pair']:.{digits}f}", f"{row['half_width_95']:.{digits}f}", f"{row['dearer']:.{digits}f}",
                 f"{row['dearer_half_width_95']:.{digits}f}"]
        cells += [f"{row['by_style'][style]:.{digits}f}" if style in row["by_style"] else NONE
                  for style in styles] if len(styles) > 1 else []
        cells += [f"{row['saving_per_year'][style]:,.0f}" if style in row["saving_per_year"] else NONE
                  for style in styles] if years else []
        cells += ([NONE, NONE] if row["placed"] is None else
                  [f"{row['placed']:.{digits}f}", str(row["placed_short"])]) if placed else []
        table.add_row(Text(f"{row['rank']}. {changed}", style="bold" if row["as_it_is"] else ""), *cells)
    alike = sum(row["dearer"] <= row["dearer_half_width_95"] for row in rows) - 1
    if alike < 1:
        return (table,)
    remedy = "" if placed else "; place them (--place)"
    return table, f"The estimate cannot tell the first from {alike} other{'s' * (alike > 1)}{remedy}."
