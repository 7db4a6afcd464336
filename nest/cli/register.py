"""The command `register`: a drawing laid on a hide as it lies on the table."""

from pathlib import Path
from typing import Annotated, Any

import typer
from rich.box import SIMPLE_HEAD
from rich.table import Table

from nest.cli import options
from nest.cli.codes import Exit
from nest.cli.screen import Screen


def register(
    plan: options.PlanFile,
    *,
    hide: Annotated[str, typer.Option("--hide", metavar="ID", help="The hide on the table.")],
    points: Annotated[Path, typer.Option("--points", metavar="MEASURED",
                                         help="Points measured on the table, point,x,y: A, B, C, D as on the drawing, "
                                              "two to four of them, in the table's unit.")],
    out: options.OutFolder,
    table: options.TableFile = None,
    within: Annotated[float, typer.Option("--within", metavar="PERCENT", min=0.0, max=5.0,
                                          help="How much lengths on the table may differ from the drawing.")] = 0.2,
    time: options.Time = "",
    dxf: options.Dxf = None,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """Write the drawing of one hide again, turned and moved as the hide lies on the table, and its cut sheet.

    The motion is the best rigid one by least squares; how well it fits is shown, and a hide that is stretched, lies the
    other side up, or is another one, is refused.
    """
    from nest.cli import steps
    from nest.cutplan.reach import table_notes
    from nest.output import part_of, write_registered
    from nest.registration import read_measured, registered
    from nest.registration.apply import drawn_points

    screen = Screen(quiet, as_json)
    whole = steps.for_table(steps.read_saved(plan), table)
    steps.try_folder(out)
    drawn = drawn_points(whole, hide)
    measured = read_measured(points, whole.settings.table.unit, list(drawn))
    made = registered(whole, hide, measured, within / 100.0)
    verdict = steps.verify(made.plan)
    write_registered(made.plan, made.layout, verdict, out, made.said, dxf_version=dxf, time=time)
    notes = [*made.said, *table_notes(part_of(made.plan, hide))]
    data: dict[str, Any] = {
        "hide": hide, "turn_deg": made.registration.turn_deg,
        "moved_mm": [made.registration.x_mm, made.registration.y_mm], "scale": made.registration.scale,
        "points": [{"point": one.name, "drawn_mm": drawn[one.name].tolist(), "measured_mm": [one.x_mm, one.y_mm],
                    "residual_mm": one.residual_mm} for one in made.registration.points],
        "notes": notes, "ok": verdict.ok, "folder": str(out),
    }
    screen.say(*notes)
    screen.result(data, _points_table(data), f"Written to {out}.")
    steps.show_cautions(screen)
    raise typer.Exit(Exit.DONE if verdict.ok else Exit.WRONG)


def _points_table(data: dict[str, Any]) -> Table:
    """Where each point is drawn and measured, and by how much it is off."""
    table = Table(title=f"Hide {data['hide']} on the table, mm", title_justify="left", box=SIMPLE_HEAD)
    for heading in ("point", "drawn", "measured", "off"):
        table.add_column(heading, justify="left" if heading == "point" else "right")
    for one in data["points"]:
        places = (f"{x:.1f}, {y:.1f}" for x, y in (one["drawn_mm"], one["measured_mm"]))
        table.add_row(one["point"], *places, f"{one['residual_mm']:.2f}")
    return table
