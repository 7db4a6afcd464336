"""Arguments and options that several commands share."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class DxfVersion(StrEnum):
    """Version of the drawings: R2000 by layer name, or R12 for old tables."""

    R2000 = "R2000"
    R12 = "R12"


JobFile = Annotated[Path, typer.Argument(metavar="JOB", help="The job file (TOML).", show_default=False)]
PlanFile = Annotated[
    Path, typer.Argument(metavar="PLAN", help="A saved plan: plan.json, or the folder that holds it.",
                         show_default=False),
]
PlanOrDrawing = Annotated[
    Path, typer.Argument(metavar="PLAN", show_default=False,
                         help="A saved plan, its folder, or the cutting drawing (.dxf) of a hide or lay."),
]
Room = Annotated[
    bool, typer.Option("--room", help="Look exactly, hide by hide, for room for what the plan is short of.")
]
Against = Annotated[
    Path | None, typer.Option("--plan", metavar="PLAN", show_default=False,
                              help="The plan a drawing belongs to; by default plan.json above its folder drawings."),
]
From = Annotated[
    Path | None, typer.Option("--from", metavar="OUT", show_default=False,
                              help="Go on from this plan of the same job: never worse, better as time allows.")
]
Outside = Annotated[
    bool, typer.Option("--outside", help="Let the job name files that lie outside its folder.")
]
OutFolder = Annotated[
    Path, typer.Option("--out", "-o", metavar="OUT", show_default=False,
                       help="Folder to write: new, empty, or that of an earlier run, which is renamed aside."),
]
Seconds = Annotated[
    float | None, typer.Option(min=0.1, metavar="S", show_default=False,
                               help="Time for placing; by default what the job file says."),
]
Passes = Annotated[
    int | None, typer.Option(min=1, metavar="N", show_default=False,
                             help="Search passes, not time: the same job, seed and passes give the same plan."),
]
Seed = Annotated[
    int | None, typer.Option(min=0, metavar="N", show_default=False,
                             help="Seed of the search; by default what the job file says."),
]
Scheduler = Annotated[
    str | None, typer.Option("--scheduler", metavar="ADDRESS", show_default=False,
                             help="Search by the workers of this Dask scheduler, such as tls://10.0.0.5:8786."),
]
Certificates = Annotated[
    Path | None, typer.Option("--certificates", metavar="DIR", show_default=False,
                              help="Folder with ca.pem, cert.pem and key.pem, for a scheduler at tls://..."),
]
Local = Annotated[
    int | None, typer.Option("--local", min=1, metavar="N", show_default=False,
                             help="Search several hides at once, by this many worker processes on this machine."),
]
Dxf = Annotated[
    DxfVersion | None, typer.Option("--dxf", show_default=False,
                                    help="Version of the drawings; by default what the job or plan says."),
]
TableFile = Annotated[
    Path | None, typer.Option("--table", metavar="TABLE", show_default=False,
                              help="A file (TOML) with the keys of [table] of a job file; by default the plan's own "
                                   "table."),
]
Time = Annotated[
    str, typer.Option("--time", metavar="TIME", show_default=False,
                      help="The time of writing to state, such as 2026-03-02T05:50:00Z; by default now."),
]
Figures = Annotated[bool, typer.Option(help="Draw every hide and lay as a picture too; cut sheets are always written.")]
Open = Annotated[bool, typer.Option("--open", help="Open the page of the run in a browser when all is written.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No progress, notes or summary; errors only.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")]
Workbook = Annotated[
    Path | None, typer.Option("--out", "-o", metavar="FILE.xlsx", show_default=False,
                              help="New workbook to write, with formulas to change prices and pairs in."),
]
Seeds = Annotated[int, typer.Option(min=1, max=50, metavar="N", help="How many seeds to place with.")]
PlacementPasses = Annotated[
    int, typer.Option(min=1, metavar="N", help="Search passes of each placement; more is slower and surer."),
]
CutList = Annotated[
    Path | None, typer.Option("--cut", metavar="CUT", show_default=False,
                              help="What was cut, CSV or XLSX: material,state (cut, uncut, withdrawn),used,unit."),
]
SpoiledList = Annotated[
    Path | None, typer.Option("--spoiled", metavar="SPOILED", show_default=False,
                              help="All that was spoiled so far, CSV or XLSX: style,size,side,pieces,reinforcement; "
                                   "or hide,piece,outcome."),
]
