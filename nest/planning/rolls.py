"""The shortest length of a roll that gives every reinforcement of the order, as one lay of one ply.

A strip is solved in one go as long as it holds about MOST_PIECES of no more than MOST_KINDS. More
sizes are laid in groups, one after the other; a larger group is cut into equal sections, each with the same
share of every size of it: the section is solved once and repeated along the roll, and a last one holds what is
left over. Sections are then pushed together until cut lines stand the gap apart, so that their ragged ends
interlock and end losses are paid once. All pieces lie the same face up: left and right are pieces of their
own, placed mirrored, never turned over.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geometry.nofit import inner_fit_strip, no_fit_polygon
from geometry.pose import Pose, rotate
from geometry.precision import as_ring
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine
from nest.placement.problem import StripProblem
from nest.plan import Lay, Placed
from nest.planning.grounds import roll_headings
from nest.planning.run import Run, TimeShare
from nest.planning.wants import kind_of, on_coordinate_grid
from nest.rules import Rules
from nest.stock.material import Roll

MOST_PIECES = 70
"""About this many pieces in one section, up to half as many again: as many as one solve packs well."""

MOST_KINDS = 8
"""About this many kinds of piece in one section: sizes next to each other interlock best, and are prepared fastest."""

LARGE_REST = 40
"""A rest of more pieces than this is a section of its own; a smaller one goes with the last section."""

SAFETY_MM = 0.02
"""Kept from both edges of the strip and added to its length: rounding, and gaps that grow corners unevenly."""


@dataclass(frozen=True, slots=True)
class RollPlan:
    """The lay of one roll, or None if nothing is cut from it; pieces missing, and what to tell the user."""

    lay: Lay | None
    short: tuple[tuple[Piece, int], ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """Part of a strip: pieces placed from x = 0, repeated `times` along the roll."""

    placed: tuple[tuple[Piece, Pose], ...]
    times: int


def reinforcements(quantities: Sequence[CutLine], pieces: Sequence[Piece]) -> dict[Piece, int]:
    """How many of each reinforcement an order needs: one of each foot for a pair, two where one serves both."""
    pairs = {(line.style, line.size): line.pairs_to_cut for line in quantities}
    needed = {}
    for piece in pieces:
        wanted = pairs.get((piece.style, piece.size), 0)
        if piece.role is Role.REINFORCEMENT and wanted:
            needed[piece] = 2 * wanted if piece.foot is Foot.EITHER else wanted
    return needed


def plan_roll(
    roll: Roll, needed: dict[Piece, int], rules: dict[str, Rules], gap_mm: float, run: Run, share: TimeShare,
    *, room_mm: float = 0.0,
) -> RollPlan:
    """Lay `needed` pieces of each kind on one roll, `room_mm` off the edges of the strip.

    What fits the width at no heading allowed, or lies beyond the end of the roll, is reported short.
    """
    styles = {piece.style: rules[piece.style] for piece in needed}
    if not needed:
        return RollPlan(None, (), ())
    edge = SAFETY_MM + room_mm
    width = roll.usable_width_mm - 2.0 * edge
    fitting = _fitting_headings(roll, needed, styles, width)
    warnings = []
    short = {piece: number for piece, number in needed.items() if not fitting[piece]}
    for piece in short:
        warnings.append(
            f"roll {roll.roll_id}: {piece.piece_id} is wider than the {roll.usable_width_mm:.0f} mm between the "
            "selvedges at every heading allowed; use a wider roll"
        )
    wanted = {piece: number for piece, number in needed.items() if fitting[piece]}
    if not wanted:
        return RollPlan(None, tuple(short.items()), tuple(warnings))
    parts = sections(wanted)
    solved = []
    run.watch.here = 0
    for at, (counts, times) in enumerate(parts):
        kinds = tuple(kind_of(piece, fitting[piece], number) for piece, number in counts.items())
        run.watch.tell("rolls", roll.roll_id)
        layout = run.engine.solve_strip(
            StripProblem(kinds, width, gap_mm), share.limit(len(parts) - at), seed=run.seed + at,
            listener=run.watch.hears("rolls", roll.roll_id),
        )
        pieces = list(counts)
        solved.append(Section(tuple((pieces[item.kind], item.pose) for item in layout.items), times))
        run.watch.here += times * len(layout.items)
    placed = joined(solved, gap_mm, edge)
    found = Counter(piece for piece, _ in placed)
    for piece, number in wanted.items():
        if found[piece] < number:
            short[piece] = number - found[piece]
    kept = _within_length(placed, roll.length_mm - 2.0 * roll.end_loss_mm - edge)
    if len(kept) < len(placed):
        needs = _end(placed) + edge + 2.0 * roll.end_loss_mm
        lost = Counter(piece for piece, _ in placed) - Counter(piece for piece, _ in kept)
        for piece, number in lost.items():
            short[piece] = short.get(piece, 0) + number
        warnings.append(
            f"roll {roll.roll_id}: the reinforcements need {needs / 1000.0:.2f} m, the roll holds "
            f"{roll.length_mm / 1000.0:.2f} m: {(needs - roll.length_mm) / 1000.0:.2f} m are short, "
            + ("1 piece is left out" if lost.total() == 1 else f"{lost.total()} pieces are left out")
        )
    if not kept:
        return RollPlan(None, tuple(short.items()), tuple(warnings))
    lay = Lay(
        f"{roll.roll_id}, lay 1", roll.roll_id, float(np.ceil((_end(kept) + edge) * 1e3) / 1e3), 1,
        tuple(Placed(piece.piece_id, pose) for piece, pose in kept),
    )
    return RollPlan(lay, tuple(short.items()), tuple(warnings))


def sections(needed: dict[Piece, int]) -> list[tuple[dict[Piece, int], int]]:
    """Sections as (pieces of each kind, how often the section is repeated); together they hold what is needed."""
    return [section for group in _groups(needed) for section in _repeated(group)]


def _groups(needed: dict[Piece, int]) -> list[dict[Piece, int]]:
    """Sizes next to each other together, no more than MOST_KINDS kinds if possible, about as many pieces each."""
    by_size: dict[tuple[str, str], dict[Piece, int]] = {}
    for piece, number in needed.items():
        by_size.setdefault((piece.style, piece.size), {})[piece] = number
    count = -(-len(needed) // MOST_KINDS)
    share = sum(needed.values()) / count
    groups: list[dict[Piece, int]] = [{}]
    for of_size in by_size.values():
        before = sum(map(sum, (group.values() for group in groups)))
        if groups[-1] and len(groups) < count and before + 0.5 * sum(of_size.values()) > len(groups) * share:
            groups.append({})
        groups[-1].update(of_size)
    return groups


def _repeated(needed: dict[Piece, int]) -> list[tuple[dict[Piece, int], int]]:
    """Equal sections of about MOST_PIECES, and what is left over."""
    times = round(sum(needed.values()) / MOST_PIECES)
    equal = {piece: number // max(1, times) for piece, number in needed.items() if number >= times}
    if times <= 1 or not equal:
        return [(dict(needed), 1)]
    rest = {piece: number % times for piece, number in needed.items() if number % times}
    if not rest:
        return [(equal, times)]
    if sum(rest.values()) > LARGE_REST:
        return [(equal, times), *_repeated(rest)]
    last = {piece: equal.get(piece, 0) + rest.get(piece, 0) for piece in needed}
    return [(equal, times - 1), (last, 1)]


def joined(parts: Sequence[Section], gap_mm: float, edge_mm: float = SAFETY_MM) -> list[tuple[Piece, Pose]]:
    """Pieces of all sections along one strip, each section pushed against those before it; ordered by x.

    Sections are as wide as the strip less `edge_mm` on either side.
    """
    placed: list[tuple[Piece, Pose]] = []
    for part in parts:
        section = [(piece, Pose(pose.x, pose.y + edge_mm, pose.heading_deg)) for piece, pose in part.placed]
        for _ in range(part.times):
            offset = push(placed, section, gap_mm) if placed else edge_mm
            placed += [
                (piece, on_coordinate_grid(Pose(pose.x + offset, pose.y, pose.heading_deg))) for piece, pose in section
            ]
    return sorted(placed, key=lambda one: (one[1].x, one[1].y))


def push(before: Sequence[tuple[Piece, Pose]], after: Sequence[tuple[Piece, Pose]], gap_mm: float) -> float:
    """How far along x the pieces `after` must be moved to stand the gap from all of `before`, and beyond them.

    For each two pieces the no-fit polygon says up to which x they meet while one is moved along the strip.
    """
    moving = [_ring(piece, pose) for piece, pose in after]
    start = min(float(ring[:, 0].min()) for ring in moving)
    step = 0.0
    # From the far end back: once boxes cannot meet beyond `step`, nor can those further back.
    for fixed in sorted((_ring(*one) for one in before), key=lambda ring: -ring[:, 0].max()):
        (_, low), (right, high) = fixed.min(axis=0), fixed.max(axis=0)
        if right - start + gap_mm <= step:
            break
        for ring in moving:
            reach = right - ring[:, 0].min() + gap_mm
            beside = ring[:, 1].min() >= high + gap_mm or ring[:, 1].max() <= low - gap_mm
            if reach <= step or beside:
                continue
            way = shapely.LineString(((step, 0.0), (reach + 1.0, 0.0)))
            meets = shapely.intersection(no_fit_polygon(fixed, ring, gap_mm), way)
            if not meets.is_empty:
                step = max(step, meets.bounds[2])
    return step


def _ring(piece: Piece, pose: Pose) -> np.ndarray:
    return as_ring(pose.apply(piece.cut_outline))


def _fitting_headings(roll: Roll, pieces: Iterable[Piece], rules: Mapping[str, Rules], width: float):
    """Headings at which each piece fits the width: across, or at bias with leave where none is across."""
    across = [replace(rule, bias_leave=False) for rule in rules.values()]
    ways = [dict(zip(rules, roll_headings(roll, these), strict=True)) for these in (across, list(rules.values()))]
    return {
        piece: next(filter(None, (_fitting(piece, way[piece.style], width) for way in ways)), ()) for piece in pieces
    }


def _fitting(piece: Piece, headings_deg: Sequence[float], width: float) -> tuple[float, ...]:
    return tuple(
        heading for heading in headings_deg if inner_fit_strip(width, rotate(piece.cut_outline, heading)) is not None
    )


def _end(placed: Sequence[tuple[Piece, Pose]]) -> float:
    return max(float(pose.apply(piece.cut_outline)[:, 0].max()) for piece, pose in placed)


def _within_length(placed: Sequence[tuple[Piece, Pose]], length: float) -> list[tuple[Piece, Pose]]:
    """The pieces that end within `length`."""
    return [one for one in placed if _end([one]) + SAFETY_MM <= length]

