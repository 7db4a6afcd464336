"""What a table does with one hide or lay: marks first, then the cuts in their order; and how long it takes."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
import shapely

from geometry.precision import as_ring
from nest.cutplan.frame import Frame, frame_of
from nest.cutplan.grid import rounded, tidy
from nest.cutplan.holding import cut_before
from nest.cutplan.marks import marks_of
from nest.cutplan.nickcode import StyleNumbers, code_of, style_numbers
from nest.cutplan.order import cut_route
from nest.cutplan.path import CutPath, begun_at, check_room, leads, tool_ring
from nest.errors import PlanProblem
from nest.job.cutting_table import CuttingTable
from nest.pieces.piece import Piece
from nest.plan import HideLayout, Lay, Placed, Plan
from nest.stock.material import Hide, Roll

HOME = (0.0, 0.0)
"""Where the head waits: the table's origin."""

Router = Callable[..., tuple[np.ndarray, np.ndarray]]


@dataclass(frozen=True, slots=True)
class CutTime:
    """An estimate from the table's speeds; lengths mm. Speeding up and slowing down are not counted."""

    cut_mm: float
    mark_mm: float
    travel_mm: float
    lifts: int
    seconds: float

    def told(self) -> str:
        """The estimate in words."""
        minutes, seconds = divmod(round(self.seconds), 60)
        return (
            f"Estimated time {minutes} min {seconds:02d} s: {self.cut_mm / 1000:.2f} m cut, "
            f"{self.mark_mm / 1000:.2f} m marked, {self.travel_mm / 1000:.2f} m travel, "
            f"tool lowered {self.lifts} times."
        )


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """Everything for one material, in the table's coordinates.

    marks : (use of the layer, (2, 2) line), in their order.
    paths : cuts in their order; `before` are the pairs of placed pieces whose order was asked for.
    numbers : those of the placed pieces on their labels; empty for 1, 2, 3 ...
    """

    frame: Frame
    table: CuttingTable
    placed: tuple[Placed, ...]
    marks: tuple[tuple[str, np.ndarray], ...]
    paths: tuple[CutPath, ...]
    before: tuple[tuple[int, int], ...]
    time: CutTime
    numbers: tuple[int, ...] = ()


def hide_work(plan: Plan, layout: HideLayout, router: Router = cut_route) -> Work:
    """The work on one hide. Raises PlanProblem if the plan holds no such hide or piece, or the tool needs more room."""
    table = plan.settings.table
    outline = found(plan.hides, "hide_id", layout.hide_id).outline
    frame = frame_of(table, outline, turned_over=table.grain_down)
    work = work_of(plan.pieces, layout.placed, frame, table, outline, style_numbers(plan.styles), router)
    return replace(work, numbers=layout.numbers)


def lay_work(plan: Plan, lay: Lay, router: Router = cut_route) -> Work:
    """The work on one lay, which is never turned over; raises as `hide_work`."""
    roll = found(plan.rolls, "roll_id", lay.roll_id)
    strip = shapely.box(0.0, 0.0, lay.length_mm, roll.usable_width_mm)
    frame = frame_of(plan.settings.table, strip, turned_over=False)
    return work_of(plan.pieces, lay.placed, frame, plan.settings.table, strip, style_numbers(plan.styles), router)


def priced_seconds(plan: Plan) -> dict[str, float]:
    """What the table takes for each hide and lay by id, where the plan prices labour; none otherwise.

    Raises as `hide_work`.
    """
    if not plan.settings.costing.labour_per_hour:
        return {}
    hides = {one.hide_id: hide_work(plan, one).time.seconds for one in plan.layouts if one.placed}
    return hides | {one.lay_id: lay_work(plan, one).time.seconds for one in plan.lays if one.placed}


def work_of(
    pieces: Iterable[Piece], placed: Iterable[Placed], frame: Frame, table: CuttingTable, material=None,
    numbers: StyleNumbers = MappingProxyType({}), router: Router = cut_route,
) -> Work:
    """The work of cutting `placed` from `material` (a shapely region of the hide's own coordinates, or None).

    `numbers` tell styles of one material apart by nicks; `router` finds the order and where each outline is begun, as
    `nest.cutplan.order.cut_route` does.
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
    rings = [tool_ring(ring, table) for ring in wanted]
    entries = [leads(ring, net, table) for ring, net in zip(rings, nets, strict=True)]
    choices = [_choices(entry) for entry in entries]
    before = cut_before(wanted, on_table)
    order, picks = router([ring[choice] for ring, choice in zip(rings, choices, strict=True)], HOME, before)
    paths = []
    for i in order:
        vertex = int(choices[i][picks[i]])
        paths.append(CutPath(int(i), wanted[i], begun_at(rings[i], vertex), entries[i][vertex]))
    marks = tuple(_marks([placed[i] for i in order], known, frame, numbers))
    return Work(frame, table, placed, marks, tuple(paths), before, cutting_time(marks, paths, table))


def cutting_time(marks, paths: Iterable[CutPath], table: CuttingTable, home=HOME) -> CutTime:
    """Time for marks and cuts as they follow each other, from `home` and not back."""
    lines = [(line, table.mark_mm_s) for _, line in marks]
    lines += [(path.whole(table.overcut_mm), table.cut_mm_s) for path in paths]
    travel, here = 0.0, np.asarray(home, dtype=np.float64)
    done = {"mark": 0.0, "cut": 0.0}
    for number, (line, _) in enumerate(lines):
        travel += float(np.hypot(*(line[0] - here)))
        done["mark" if number < len(marks) else "cut"] += float(np.hypot(*np.diff(line, axis=0).T).sum())
        here = line[-1]
    seconds = done["mark"] / table.mark_mm_s + done["cut"] / table.cut_mm_s
    seconds += travel / table.travel_mm_s + len(lines) * table.lift_s
    return CutTime(done["cut"], done["mark"], travel, len(lines), seconds)


def found(stock: Iterable[Hide] | Iterable[Roll], key: str, wanted: str):
    """The hide or roll of this id. Raises PlanProblem if there is none."""
    for item in stock:
        if getattr(item, key) == wanted:
            return item
    raise PlanProblem(f"the plan holds no {key.removesuffix('_id')} named {wanted}; plan again")


def _choices(entries) -> np.ndarray:
    """Vertices where a cut may begin: those with the longest lead-in, or all where there is none."""
    length = np.array([0.0 if entry is None else float(np.hypot(*(entry[1] - entry[0]))) for entry in entries])
    return np.flatnonzero(length >= length.max() - 1e-3)


def _marks(placed: Iterable[Placed], pieces: dict[str, Piece], frame: Frame, numbers: StyleNumbers):
    """Ticks and nicks piece by piece."""
    made = {}
    for one in placed:
        if one.piece_id not in made:
            piece = pieces[one.piece_id]
            made[one.piece_id] = marks_of(piece, code_of(piece, numbers))
        marks = made[one.piece_id]
        for use, lines in (("axis", marks.ticks), ("size", marks.nicks)):
            for line in lines:
                yield use, rounded(frame.apply(one.pose.apply(line)))
