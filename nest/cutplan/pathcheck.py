"""The lines that a table follows, judged by what the legend says of the tool, without the code that made them."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from nest.cutplan.compare import SAME_MM
from nest.cutplan.drawn import Drawn
from nest.cutplan.marks import CLEARANCE_MM
from nest.cutplan.path import OFFSET_ERROR_MM
from nest.cutplan.regroup import PieceDrawn
from nest.errors import Problem
from nest.pieces.piece import Role

_ROUND = 64
"""Chords in a quarter circle: they lie 0.002 mm from it at a radius of 25 mm."""

_CHORD_SHARE = 1e-4


def path_problems(drawn: Drawn, pieces: Sequence[PieceDrawn], role: Role) -> list[Problem]:
    """Cut lines not moved out by the tool's radius, lead-ins out of place, marks that lie in no trim-off band."""
    problems = [*(one for piece in pieces for one in _path(drawn, piece)), *_marks(drawn, pieces, role)]
    led = sum(piece.lead is not None for piece in pieces)
    match = drawn.fact("lead")
    told = int(match["led"]) if match else 0
    if led != told:
        problems.append(drawn.problem(f"{told} lead-ins, as its legend says", str(led), "lead"))
    return problems


def _path(drawn: Drawn, piece: PieceDrawn) -> Iterator[Problem]:
    name, at, radius = piece.label.text, piece.label.at, drawn.length("radius")
    beyond = max(drawn.length("thin"), drawn.length("curves"), OFFSET_ERROR_MM if radius else 0.0)
    cut, wanted = shapely.Polygon(piece.cut), shapely.Polygon(piece.wanted)
    slack = SAME_MM + _CHORD_SHARE * radius
    least = shapely.buffer(wanted, radius - slack, quad_segs=_ROUND)
    most = shapely.buffer(wanted, radius + beyond + slack, quad_segs=_ROUND)
    if not shapely.covers(cut, least):
        told = f"a cut line {radius:g} mm or more outside the outline wanted"
        yield drawn.problem(told, "it nearer", "cut", at, name)
    if not shapely.covers(most, cut):
        told = f"a cut line at most {radius + beyond:g} mm outside the outline wanted"
        yield drawn.problem(told, "it further out", "cut", at, name)
    if piece.lead is not None:
        line = shapely.LineString(piece.lead)
        tip, net = piece.lead[0], shapely.Polygon(piece.net)
        if line.length > drawn.length("lead") + radius + 2.0 * SAME_MM:
            told = f"a lead-in of at most {drawn.length('lead') + radius:g} mm"
            yield drawn.problem(told, f"one of {line.length:.2f} mm", "lead", tip, name)
        if shapely.distance(line, net) < CLEARANCE_MM - SAME_MM:
            yield drawn.problem("a lead-in within the trim-off band", "one that leaves it", "lead", tip, name)


def _marks(drawn: Drawn, pieces: Sequence[PieceDrawn], role: Role) -> Iterator[Problem]:
    """Marks lie within one piece each; on a vamp clear of its net outline, but for numbers said to stand in it."""
    marks = [one for use in ("axis", "size", "number") for one in drawn.drawing.outlines(use)]
    if not marks:
        return
    numbers = drawn.fact("number")
    shapes = np.array([shapely.Polygon(piece.wanted) for piece in pieces], dtype=object)
    tree = shapely.STRtree(shapely.buffer(shapes, SAME_MM))
    for mark in marks:
        line, number = shapely.LineString(mark.points), mark.use == "number"
        within = tree.query(line, predicate="covered_by")
        if number and numbers is None:
            yield drawn.problem("no numbers, as its legend says nothing of them", "one", mark.use, mark.points[0])
        elif mark.closed or (len(mark.points) != 2 and not number) or not len(within):
            expected = "a line within a piece" if number else "a straight mark within a piece"
            yield drawn.problem(expected, "one that is not", mark.use, mark.points[0])
        elif role is Role.VAMP and not (
            number and numbers is not None and numbers["where"].startswith("inside")
        ) and all(shapely.distance(line, shapely.Polygon(pieces[i].net)) < CLEARANCE_MM - SAME_MM for i in within):
            yield drawn.problem(
                "a mark clear of the net outline", "one on it", mark.use, mark.points[0], pieces[within[0]].label.text
            )
