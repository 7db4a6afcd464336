"""Arguments and options that several commands share."""

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nest.pieces.piece import Part


class DxfVersion(StrEnum):
    """Version of the drawings: R2000 by layer name, or R12 for old tables."""

    R2000 = "R2000"
    R12 = "R12"


JobFile = Annotated[Path, typer.Argument(metavar="JOB", help="The job file (TOML).")]
PlanFile = Annotated[Path, typer.Argument(metavar="PLAN", help="A saved plan: plan.json, or the folder that holds it.")]
PlanOrDrawing = Annotated[Path, typer.Argument(metavar="PLAN",
                                               help="A saved plan, its folder, or the cutting drawing (.dxf) of a hide "
                                                    "or lay.")]
Room = Annotated[bool, typer.Option("--room",
                                    help="Look exactly, hide by hide, for room for what the plan is short of.")]
Against = Annotated[Path | None, typer.Option("--plan", metavar="PLAN",
                                              help="The plan a drawing belongs to; by default plan.json above its "
                                                   "folder drawings.")]
From = Annotated[Path | None, typer.Option("--from", metavar="OUT",
                                           help="Go on from this plan of the same job: never worse, better as time "
                                                "allows.")]
Outside = Annotated[bool, typer.Option("--outside", help="Let the job name files that lie outside its folder.")]
OutFolder = Annotated[Path, typer.Option("--out", "-o", metavar="OUT",
                                         help="Folder to write: new, empty, or that of an earlier run, which is "
                                              "renamed aside.")]
Seconds = Annotated[float | None, typer.Option(min=0.1, metavar="S",
                                               help="Time for placing; by default what the job file says.")]
Passes = Annotated[int | None, typer.Option(min=1, metavar="N",
                                            help="Search passes, not time: the same job, seed and passes give the same "
                                                 "plan.")]
Seed = Annotated[int | None, typer.Option(min=0, metavar="N",
                                          help="Seed of the search; by default what the job file says.")]
Scheduler = Annotated[str | None, typer.Option("--scheduler", metavar="ADDRESS",
                                               help="Search by the workers of this Dask scheduler, such as "
                                                    "tls://10.0.0.5:8786.")]
Certificates = Annotated[Path | None, typer.Option("--certificates", metavar="DIR",
                                                   help="Folder with ca.pem, cert.pem and key.pem, for a scheduler at "
                                                        "tls://...")]
Local = Annotated[int | None, typer.Option("--local", min=1, metavar="N",
                                           help="Search several hides at once, by this many worker processes on this "
                                                "machine.")]
Dxf = Annotated[DxfVersion | None, typer.Option("--dxf",
                                                help="Version of the drawings; by default what the job or plan says.")]
TableFile = Annotated[Path | None, typer.Option("--table", metavar="TABLE",
                                                help="A file (TOML) with the keys of [table] of a job file; by default "
                                                     "the plan's own table.")]
Time = Annotated[str, typer.Option("--time", metavar="TIME",
                                   help="The time of writing to state, such as 2026-03-02T05:50:00Z; by default now.")]
Figures = Annotated[bool, typer.Option(help="Draw every hide and lay as a picture too; cut sheets are always written.")]
Open = Annotated[bool, typer.Option("--open", help="Open the page in a browser once it is there.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No progress, notes or summary; errors only.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")]
Workbook = Annotated[Path | None, typer.Option("--out", "-o", metavar="FILE.xlsx",
                                               help="New workbook to write, with formulas to change prices and pairs "
                                                    "in.")]
Seeds = Annotated[int, typer.Option(min=1, max=50, metavar="N", help="How many seeds to place with.")]
PlacementPasses = Annotated[int, typer.Option(min=1, metavar="N",
                                              help="Search passes of each placement; more is slower and surer.")]
CutList = Annotated[Path | None, typer.Option("--cut", metavar="CUT",
                                              help="What was cut, CSV or XLSX: material,state (cut, uncut, "
                                                   "withdrawn),used,unit.")]
SpoiledList = Annotated[Path | None, typer.Option("--spoiled", metavar="SPOILED",
                                                  help="All that was spoiled so far, CSV or XLSX: "
                                                       "style,size,side,pieces,reinforcement; or hide,piece,outcome.")]
Withdrawn = Annotated[list[str] | None, typer.Option("--withdrawn", metavar="ID",
                                                     help="A hide that is not to be cut; may be given again.")]
TablesFolder = Annotated[Path | None, typer.Option("--out", "-o", metavar="OUT",
                                                   help="Folder for the tables as CSV and workbook.")]
Into = Annotated[Path | None, typer.Option("--into", metavar="NEW_JOB",
                                           help="Write a new job beside JOB with what was found; JOB stays as it is.")]
HidePasses = Annotated[int, typer.Option("--passes", min=1, metavar="N",
                                         help="Search passes on each hide that is drawn; more finds more.")]
HideSeed = Annotated[int | None, typer.Option("--seed", min=0, metavar="N",
                                              help="Which hides are drawn; by default the seed of the job or plan.")]
HideSure = Annotated[float, typer.Option("--sure", min=0.5, max=0.999, metavar="SHARE",
                                         help="How sure the hides are to cover what is wanted.")]
MOST_LEFT = 100.0
Left = Annotated[float | None, typer.Option(min=0.0, max=MOST_LEFT, metavar="MM",
                                            help="Trim wanted there, in place of the style's least allowance.")]
Deviations = Annotated[float, typer.Option("--k", min=0.0, max=10.0, metavar="K",
                                           help="Safety: mean - K standard deviations of a piece.")]
Record = Annotated[Path | None, typer.Option("--record", metavar="RECORD.csv",
                                             help="Add the trim that was measured to this record; what it holds "
                                                  "already stays once.")]
Day = Annotated[str, typer.Option("--day", metavar="DATE",
                                  help="With --record: day of pressing of rows without a date, such as 2027-03-02.")]


def pressed_on(day: str) -> str:
    """The day of --day, "" where it is not given."""
    return stated_day(day, "--day") if day else ""


def stated_day(text: str, what: str) -> str:
    """A date as an option or a list states it, `what` in messages; PlanProblem for what is none."""
    from nest.errors import PlanProblem
    from nest.job.values import ValueFault, day

    try:
        return day(text, "a date")
    except ValueFault as fault:
        raise PlanProblem(f"{what}: expected {fault.expected}, found {fault.found}; {fault.remedy}.") from fault


def wanted_left(toe: float | None, side: float | None, back: float | None) -> "dict[Part, float]":
    """Trim wanted at the parts for which it is stated, mm."""
    from nest.pieces.piece import Part

    return {part: mm for part, mm in zip((Part.TOE, Part.SIDE, Part.BACK), (toe, side, back), strict=True)
            if mm is not None}
