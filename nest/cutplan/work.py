"""What a table does with one hide or lay, in one tour from home and back: every mark and every cut."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import shapely

from geometry.precision import as_ring
from nest.cutplan.cuttime import HOME, CutTime, cutting_time
from nest.cutplan.frame import Frame, frame_of
from nest.cutplan.grid import rounded, tidy
from nest.cutplan.holding import cut_before
from nest.cutplan.knife import bare_starts, knife_way, needs_way
from nest.cutplan.marks import marks_of
from nest.cutplan.nickcode import NickCode, StyleNumbers, code_of, style_numbers
from nest.cutplan.order import cut_route
from nest.cutplan.path import (
    CutPath,
    Mark,
    begun_at,
    check_room,
    chords,
    leads,
    placed_chain,
    smooth_chain,
    tool_ring,
)
from nest.cutplan.piecenumber import written
from nest.cutplan.register import register_ticks
from nest.errors import PlanProblem
from nest.job.cutting_table import TRAILS_TO_TURN, CuttingTable, NumberTool
from nest.pieces.piece import Piece
from nest.plan import HideLayout, Lay, Placed, Plan
from nest.sidebyside import side_by_side
from nest.stock.material import Hide, Roll

Router = Callable[..., tuple[np.ndarray, np.ndarray]]

_MANY = 600
"""With this many pieces whose order is to be found another process has more to do than to start."""


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """Everything for one material, in the table's coordinates.

    steps : marks and cuts as the table makes them, one after another.
    before : pairs of placed pieces, cut in this order because the first must still be held.
    numbers : those of the placed pieces, on their labels and on the material.
    """

    frame: Frame
    table: CuttingTable
    placed: tuple[Placed, ...]
    steps: tuple[Mark | CutPath, ...]
    before: tuple[tuple[int, int], ...]
    time: CutTime
    numbers: tuple[int, ...] = ()

    @property
    def marks(self) -> tuple[Mark, ...]:
        """The marks in their order."""
        return tuple(step for step in self.steps if isinstance(step, Mark))

    @property
    def paths(self) -> tuple[CutPath, ...]:
        """The cuts in their order."""
        return tuple(step for step in self.steps if isinstance(step, CutPath))


def hide_work(plan: Plan, layout: HideLayout, router: Router = cut_route) -> Work:
    """The work on one hide. Raises PlanProblem if the plan holds no such hide or piece, or the tool needs more room."""
    table = plan.settings.table
    _check_registered(table, layout.hide_id)
    outline = found(plan.hides, "hide_id", layout.hide_id).outline
    frame = frame_of(table, outline, turned_over=table.grain_down)
    with _named(f"hide {layout.hide_id}"):
        return work_of(
            plan.pieces, layout.placed, frame, table, outline, style_numbers(plan.styles), router,
            numbers=layout.numbers,
        )


def lay_work(plan: Plan, lay: Lay, router: Router = cut_route) -> Work:
    """The work on one lay, which is never turned over; raises as `hide_work`."""
    _check_registered(plan.settings.table, None)
    roll = found(plan.rolls, "roll_id", lay.roll_id)
    strip = shapely.box(0.0, 0.0, lay.length_mm, roll.usable_width_mm)
    frame = frame_of(plan.settings.table, strip, turned_over=False)
    with _named(f"lay {lay.lay_id}"):
        return work_of(plan.pieces, lay.placed, frame, plan.settings.table, strip, style_numbers(plan.styles), router)


def priced_seconds(
    plan: Plan, hides: Mapping[str, Work] | None = None, lays: Mapping[str, Work] | None = None
) -> dict[str, float]:
    """What the table takes for each lay and hide by id, where the plan prices labour; none otherwise.

    hides, lays : work that is known already, by id. Raises as `hide_work`.
    """
    if not plan.settings.costing.labour_per_hour:
        return {}
    known = {of: work.time.seconds for of, work in {**(hides or {}), **(lays or {})}.items()}
    groups: dict[str, HideLayout | Lay] = {one.lay_id: one for one in plan.lays if one.placed}
    groups |= {one.hide_id: one for one in plan.layouts if one.placed}
    unknown = [of for of in groups if of not in known]
    with side_by_side(plan, worth_it=sum(len(groups[of].placed) for of in unknown) >= _MANY) as do_all:
        known |= zip(unknown, do_all([(_seconds_of, groups[of]) for of in unknown]), strict=True)
    return {of: known[of] for of in groups}


def _seconds_of(plan: Plan, group: HideLayout | Lay) -> float:
    return (lay_work(plan, group) if isinstance(group, Lay) else hide_work(plan, group)).time.seconds


def work_of(
    pieces: Iterable[Piece], placed: Iterable[Placed], frame: Frame, table: CuttingTable, material=None,
    styles: StyleNumbers = MappingProxyType({}), router: Router = cut_route, *, numbers: Sequence[int] = (),
) -> Work:
    """The work of cutting `placed` from `material` (a shapely region of the hide's own coordinates, or None).

    `styles` tell styles of one material apart by nicks; `router` finds the order and where each line is begun, as
    `nest.cutplan.order.cut_route` does; `numbers` are those of the placed pieces, by default 1, 2, 3 ...
    """
    placed = tuple(placed)
    known = {piece.piece_id: piece for piece in pieces}
    unknown = {one.piece_id for one in placed} - known.keys()
    if unknown:
        raise PlanProblem(f"the plan places pieces that it does not hold: {', '.join(sorted(unknown))}; plan again")
    wanted = [tidy(frame.apply(one.pose.apply(known[one.piece_id].cut_outline))) for one in placed]
    nets = [as_ring(frame.apply(one.pose.apply(known[one.piece_id].net_outline))) for one in placed]
    on_table = None if material is None else frame.region(material)
    check_room(wanted, table, on_table)
    chains = _chains(placed, known, frame, table)
    around = [(tool_ring(ring, table), None) if chain is None else chords(chain, table.curve_mm)
              for ring, chain in zip(wanted, chains, strict=True)]
    rings = [ring for ring, _ in around]
    numbers = tuple(numbers) or tuple(range(1, len(placed) + 1))
    runs, taken = _mark_runs(placed, known, frame, styles, table, numbers)
    entries = [leads(ring, net, table, own) for ring, net, own in zip(rings, nets, taken, strict=True)]
    choices = [_choices(entry, joints) for entry, (_, joints) in zip(entries, around, strict=True)]
    if table.knife_offset_mm > 0.0:
        names = [f"{one.piece_id} no. {n}" for one, n in zip(placed, numbers, strict=True)]
        choices = _for_knife(choices, entries, rings, nets, table, names)
    asked = cut_before(wanted, on_table)
    starts = [np.array([way[0][0] for way in ways]) for _, _, ways in runs]
    ends = [np.array([way[-1][-1] for way in ways]) for _, _, ways in runs]
    for ring, entry, choice in zip(rings, entries, choices, strict=True):
        starts.append(np.array([ring[v] if entry[v] is None else entry[v][0] for v in choice]))
        ends.append(ring[choice])
    before = _before([i for i, _, _ in runs], asked, len(placed), table.marks_first)
    order, picks = router(starts, HOME, before, ends=ends, back=True)
    steps: list[Mark | CutPath] = []
    for stop in order:
        i = int(stop) - len(runs)
        if i < 0:
            index, use, ways = runs[stop]
            steps += (Mark(index, use, line) for line in ways[picks[stop]])
        else:
            vertex = int(choices[i][picks[stop]])
            chain, joints = chains[i], around[i][1]
            arcs = None if chain is None or joints is None else begun_at(chain, int(np.searchsorted(joints, vertex)))
            ring, lead = begun_at(rings[i], vertex), entries[i][vertex]
            knife = knife_way(ring, lead, nets[i], table, _marked(runs, i, taken[i])) if needs_way(table) else None
            steps.append(CutPath(i, wanted[i], ring, lead, arcs, knife))
    return Work(frame, table, placed, tuple(steps), asked, cutting_time(steps, table), numbers)


def found(stock: Iterable[Hide] | Iterable[Roll], key: str, wanted: str):
    """The hide or roll of this id. Raises PlanProblem if there is none."""
    for item in stock:
        if getattr(item, key) == wanted:
            return item
    raise PlanProblem(f"the plan holds no {key.removesuffix('_id')} named {wanted}; plan again")


@contextmanager
def _named(material: str) -> Iterator[None]:
    """A problem says on which material it was met."""
    try:
        yield
    except PlanProblem as error:
        raise PlanProblem(f"{material}: {error}") from error


def _check_registered(table: CuttingTable, hide_id: str | None) -> None:
    """A table that is laid out for one hide as it lies there serves for no other, and for no lay."""
    own = table.registered
    if own is not None and own.hide_id != hide_id:
        raise PlanProblem(
            f"this plan is laid out for hide {own.hide_id} alone, as it lies on the table; use the plan it was made "
            "from, or another table"
        )


def _choices(entries, joints: np.ndarray | None) -> np.ndarray:
    """Vertices where a cut may begin: those with the longest lead-in, or all without one; of arcs only their ends."""
    length = np.array([0.0 if entry is None else float(np.hypot(*(entry[1] - entry[0]))) for entry in entries])
    if joints is not None:
        length[np.setdiff1d(np.arange(len(length)), joints)] = -1.0
    return np.flatnonzero(length >= length.max() - 1e-3)


def _chains(placed: Sequence[Placed], pieces: dict[str, Piece], frame: Frame, table: CuttingTable):
    """The way around each placed piece as arcs, where the table wants them and they hold; None elsewhere."""
    if table.curve_mm <= 0.0:
        return [None] * len(placed)
    used = {one.piece_id for one in placed}
    made = {piece_id: smooth_chain(np.asarray(pieces[piece_id].cut_outline), table) for piece_id in used}
    return [
        None if (chain := made[one.piece_id]) is None else placed_chain(
            chain, lambda points, one=one: frame.apply(one.pose.apply(points)), frame.mirrored
        ) for one in placed
    ]


def _for_knife(choices, entries, rings, nets, table: CuttingTable, names: Sequence[str]) -> list[np.ndarray]:
    """The same, where a cut without a lead-in begins where a blade that comes down askew does no harm.

    Raises PlanProblem if there is no such place.
    """
    found = []
    for i, (choice, entry) in enumerate(zip(choices, entries, strict=True)):
        if entry[choice[0]] is None:
            others = shapely.polygons([shapely.linearrings(ring) for k, ring in enumerate(rings) if k != i])
            choice = choice[bare_starts(rings[i], nets[i], others, table)[choice]]
            if not len(choice):
                raise PlanProblem(
                    f"a blade that trails by {table.knife_offset_mm:g} mm has no place to begin on {names[i]}: its "
                    f"trim-off band has no room for a lead-in of {TRAILS_TO_TURN * table.knife_offset_mm:g} mm, and "
                    f"everywhere its net area or a neighbour lies within {2.0 * table.knife_offset_mm:g} mm; plan "
                    "again with a wider gap, or let the table see to the offset"
                )
        found.append(choice)
    return found


def _marked(runs, index: int, taken):
    """What lies on a piece that no loop may cut through: its marks, and the place of its number."""
    lines = [shapely.linestrings(line) for i, _, ways in runs if i == index for line in ways[0]]
    return shapely.union_all([*lines, *(() if taken is None else (taken,))]) if lines or taken is not None else None


def _mark_runs(
    placed: Sequence[Placed], pieces: dict[str, Piece], frame: Frame, styles: StyleNumbers, table: CuttingTable,
    numbers: Sequence[int],
):
    """Every run of marks: which of the placed pieces it is on, the use of its layer, and the ways it may be made.

    Then for each piece the box of its number on the table, or None.
    """
    made, runs, taken = {}, [], []
    for index, (one, number) in enumerate(zip(placed, numbers, strict=True)):
        piece = pieces[one.piece_id]
        if one.piece_id not in made:
            made[one.piece_id] = _runs_of(piece, pieces, styles)

        def there(points, pose=one.pose):
            return frame.apply(pose.apply(points))

        for use, lines in made[one.piece_id]:
            runs.append((index, use, _ways([rounded(there(line)) for line in lines])))
        box = None
        if table.number is not NumberTool.NONE:
            marks = [line for _, lines in made[one.piece_id] for line in lines]
            lines, box = written(number, piece, marks, table, there)
            runs += [(index, "number", _ways(lines))] if lines else []
        taken.append(box)
    return runs, taken


def _runs_of(piece: Piece, pieces: dict[str, Piece], numbers: StyleNumbers):
    """The runs of marks of a piece, with the ticks by which it is bonded to its partner, if that is known."""
    marks = marks_of(piece, code_of(piece, numbers))
    partner = next((one for one in pieces.values() if one.role is not piece.role and
                    (one.style, one.size, one.foot) == (piece.style, piece.size, piece.foot)), None)
    if partner is None:
        return marks.runs
    ticks = _bonding_ticks(piece, partner, code_of(piece, numbers), code_of(partner, numbers))
    return marks.runs + tuple(("axis", (tick,)) for tick in ticks)


@lru_cache(maxsize=1024)
def _bonding_ticks(piece: Piece, partner: Piece, code: NickCode, other: NickCode) -> tuple[np.ndarray, ...]:
    """As `register_ticks`; every hide that the piece lies on asks, so they are kept."""
    return register_ticks(piece, partner, (marks_of(piece, code), marks_of(partner, other)))


def _ways(lines: list[np.ndarray]) -> tuple[list[np.ndarray], ...]:
    """Lines of a row one after another, there and back by turns: from each end of each outer line."""
    from_outside = [line[:: (-1) ** i] for i, line in enumerate(lines)]
    from_inside = [line[::-1] for line in from_outside]
    if len(lines) == 1:
        return from_outside, from_inside
    return from_outside, from_inside, *([line[::-1] for line in way[::-1]] for way in (from_outside, from_inside))


def _before(marked: Sequence[int], asked, pieces: int, marks_first: bool) -> np.ndarray:
    """What is made before what, as stops of the tour: runs of marks come first, then one stop a piece; (m, 2)."""
    first, runs = len(marked), np.arange(len(marked))
    if marks_first:
        own = np.column_stack((np.repeat(runs, pieces), np.tile(first + np.arange(pieces), first)))
    else:
        own = np.column_stack((runs, first + np.asarray(marked, dtype=np.int64)))
    return np.concatenate((own, first + np.asarray(asked, dtype=np.int64).reshape(-1, 2)))
