"""The pieces of a job, made and written without placing them."""

from pathlib import Path
from typing import Any

from geometry.polygon import area
from nest.atomic import atomic_folder
from nest.cutplan.dxf import write_piece_dxf
from nest.errors import InputProblems
from nest.job.job import Job
from nest.output import file_names
from nest.pieces.make import make_pieces
from nest.pieces.piece import Piece
from nest.report.tables import Table, write_csv
from nest.units import dm2

PIECES_FILE = "pieces.csv"
"""The index beside the drawings; a folder that holds it was written by an earlier run."""


def pieces_of_order(job: Job) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    """Every piece of every style and size that is ordered, and the warnings said on the way.

    Raises
    ------
    InputProblems
        Every piece of every style that cannot be made, reported together.
    """
    pieces: list[Piece] = []
    warnings: list[str] = []
    problems = []
    for style in job.styles:
        sizes = tuple(dict.fromkeys(line.size for line in job.order if line.style == style.name))
        try:
            made, said = make_pieces(style, sizes)
        except InputProblems as error:
            problems += error.problems
        else:
            pieces += made
            warnings += said
    if problems:
        raise InputProblems(problems)
    return tuple(pieces), tuple(warnings)


def pieces_index(pieces: tuple[Piece, ...]) -> Table:
    """One row a piece: what it is for, and its areas."""
    header = ("piece", "style", "size", "foot", "role", "cut_dm2", "net_dm2", "trim_off_dm2")
    rows = []
    for piece in pieces:
        cut, net = dm2(area(piece.cut_outline)), dm2(area(piece.net_outline))
        rows.append((piece.piece_id, piece.style, piece.size, str(piece.foot), str(piece.role),
                     round(cut, 4), round(net, 4), round(cut - net, 4)))
    return Table("pieces", header, tuple(rows))


def pieces_result(pieces: tuple[Piece, ...], notes: tuple[str, ...], folder: Path) -> dict[str, Any]:
    """The index as plain data, with what was said on the way and where it was written."""
    index = pieces_index(pieces)
    return {
        "pieces": [dict(zip(index.header, row, strict=True)) for row in index.rows],
        "notes": list(notes),
        "folder": str(folder),
    }


def write_piece_drawings(pieces: tuple[Piece, ...], job: Job, folder: Path, dxf_version: str) -> None:
    """Write one drawing a piece of a job into `folder`, which is there, as the cutting table wants them."""
    names = file_names(piece.piece_id for piece in pieces)
    for piece in pieces:
        path = folder / f"{names[piece.piece_id]}.dxf"
        write_piece_dxf(piece, path, dxf_version, table=job.settings.table, styles=job.styles)


def write_pieces(pieces: tuple[Piece, ...], job: Job, folder: Path, dxf_version: str) -> None:
    """Write one drawing a piece, as the cutting table wants it, and their index into `folder`, whole or not at all.

    Raises
    ------
    PlanProblem
        If the folder holds other files or cannot be written to.
    """
    with atomic_folder(folder, marker=PIECES_FILE) as out:
        write_csv(pieces_index(pieces), out / PIECES_FILE)
        write_piece_drawings(pieces, job, out, dxf_version)
