"""The folder of a revision: the revised job with the files it names, its new pieces, and what the trial found."""

import shutil
from collections.abc import Sequence
from pathlib import Path

from nest.atomic import atomic_folder
from nest.job.job import Job
from nest.job.read import read_job
from nest.piecefiles import write_piece_drawings
from nest.pieces.make import pieces_of_lines
from nest.report.tables import Table, write_csv
from nest.trial.jobfiles import files_of_job
from nest.trial.revise import StyleRevision, revised_job

TRIAL_FILE = "trial.csv"
"""What the trial found; a folder that holds it was written by an earlier trial."""

JOB_FILE = "job.toml"


def write_revision(job: Job, revisions: Sequence[StyleRevision], path: Path, text: str, out: Path) -> None:
    """Write the revised job, whose file has this `text`, beside copies of what the job at `path` names.

    Raises
    ------
    InputProblems
        If a revised piece cannot be made, or the revised job not be read.
    PlanProblem
        If the folder holds other files.
    """
    header = ("style", "size", "part", "pieces", "mean_mm", "own_sd_mm", "sd_mm", "worst_mm", "wanted_mm", "factor",
              "short", "lean", "now_mm", "new_mm")
    rows = tuple(
        (one.style.name, row.size, str(row.part), row.count, row.mean_mm, row.own_sd_mm, row.sd_mm, row.worst_mm,
         row.wanted_mm, row.factor, str(row.short), str(row.lean), row.now_mm, row.new_mm)
        for one in revisions for row in one.results
    )
    revised = revised_job(job, revisions)
    pieces = [piece for _, made, _ in pieces_of_lines(revised.styles, revised.order) for piece in made]
    with atomic_folder(out, marker=TRIAL_FILE) as folder:
        for file in files_of_job(path):
            (folder / file).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path.resolve().parent / file, folder / file)
        (folder / JOB_FILE).write_text("# Revised after a crimping trial.\n" + text, encoding="utf-8", newline="")
        read_job(folder / JOB_FILE)
        write_csv(Table("trial", header, rows), folder / TRIAL_FILE)
        (folder / "new-pieces").mkdir()
        write_piece_drawings(pieces, job, folder / "new-pieces", job.settings.dxf_version)
