"""The pieces of a job as files: a drawing each, as the cutting table wants it, and an index of their areas."""

from collections.abc import Sequence
from pathlib import Path

from geometry.polygon import area
from nest.atomic import atomic_folder
from nest.cutplan.dxf import write_piece_dxf
from nest.job.job import Job
from nest.output import file_names
from nest.pieces.piece import Piece
from nest.report.tables import Table, write_csv
from nest.units import dm2

PIECES_FILE = "pieces.csv"
"""The index beside the drawings; a folder that holds it was written by an earlier run."""


def pieces_index(pieces: Sequence[Piece]) -> Table:
    """One row a piece: what it is for, and its areas."""
    header = ("piece", "style", "size", "foot", "role", "cut_dm2", "net_dm2", "trim_off_dm2")
    rows = []
    for piece in pieces:
        cut, net = dm2(area(piece.cut_outline)), dm2(area(piece.net_outline))
        rows.append((piece.piece_id, piece.style, piece.size, str(piece.foot), str(piece.role),
                     round(cut, 4), round(net, 4), round(cut - net, 4)))
    return Table("pieces", header, tuple(rows))


def write_piece_drawings(pieces: Sequence[Piece], job: Job, folder: Path, dxf_version: str) -> None:
    """Write one drawing a piece of a job into `folder`, which is there, as the cutting table wants them."""
    names = file_names(piece.piece_id for piece in pieces)
    for piece in pieces:
        path = folder / f"{names[piece.piece_id]}.dxf"
        write_piece_dxf(piece, path, dxf_version, table=job.settings.table, styles=job.styles)


def write_pieces(pieces: Sequence[Piece], job: Job, folder: Path, dxf_version: str) -> Table:
    """Write a drawing a piece and their index, which is returned, into `folder`, whole or not at all.

    Raises
    ------
    PlanProblem
        If the folder holds other files or cannot be written to.
    """
    index = pieces_index(pieces)
    with atomic_folder(folder, marker=PIECES_FILE) as out:
        write_csv(index, out / PIECES_FILE)
        write_piece_drawings(pieces, job, out, dxf_version)
    return index
