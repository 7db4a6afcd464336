"""Resize: which size every item of a layout is, and exactly where it lies, chosen at once.

A mixed-integer programme (for such models of irregular shapes: Fischetti & Luzzi 2009, doi:10.1007/s10732-008-9088-9),
solved by SCIP through OR-Tools. Every item moves within a short reach and may become the next smaller or larger kind.
Around where two items lie the no-fit polygon of every two kinds they may be is kept off by lines, as in `settle.py`;
a line holds only if they are those kinds. So room that lies scattered over the whole layout is gathered for items that
grow by it, which small changes one after another do not find.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from functools import cache
from math import fsum
from typing import NamedTuple

import numpy as np
import shapely
from ortools.linear_solver import pywraplp
from shapely.ops import nearest_points

from geometry.nofit import joint_fit_polygon, no_fit_polygon
from geometry.polygon import area
from geometry.pose import Pose, rotate
from geometry.precision import Region, as_ring
from nest.placement.choose import Replacements
from nest.placement.model import grown
from nest.placement.problem import Item, Kind, RegionProblem, worth_of
from nest.placement.settle import SAFETY, keep_out

REACH_SHARE, FURTHER, FURTHEST_SHARE = 0.0125, 1.4, 0.05
"""Furthest move along either axis, as a share of a kind's mean width; 1.4 times as far once that brings nothing, up
to the last. What is near is found in a second or two, three times as far takes ten times as long (trial
037)."""

POLL_SECONDS = 0.1

Line = tuple[float, float, float]
"""Normal x, normal y, least value of normal . displacement."""


class _Form(NamedTuple):
    """An item as one of the kinds it may be: where it lies if it does not move, and whether it is."""

    kind: int
    ring: np.ndarray
    place: np.ndarray
    chosen: pywraplp.Variable


def resized(
    problem: RegionProblem,
    items: Sequence[Item],
    table: Replacements,
    left: Callable[[], float],
    stopped: Callable[[], bool] = lambda: False,
) -> tuple[Item, ...]:
    """The items with other sizes and places, of more area if that is found in time; else as they are.

    Once they have moved they are resized again from there, and further about where that brings nothing. Families stay
    complete, level by level, as far as the items keep their levels; limits of the kinds hold.

    Parameters
    ----------
    items : free of overlap, families complete
    table : which kind fits inside which, for items take sizes of which one fits inside the other
    left : tells the seconds left
    stopped : asked ten times a second; what is found by then is returned
    """
    share, beside = REACH_SHARE, sizes_beside(problem.kinds, table)
    if not any(beside[item.kind] for item in items):
        return tuple(items)

    def ended() -> bool:
        return left() <= 0.0 or stopped()

    while share <= FURTHEST_SHARE and not ended():
        found = _Programme(problem, items, beside, share, ended).solve(left(), stopped)
        share = share if _worth(problem, found) > _worth(problem, items) * (1.0 + 1e-9) else FURTHER * share
        items = found
    return tuple(items)


def _worth(problem: RegionProblem, items: Sequence[Item]) -> float:
    return fsum(worth_of(problem.kinds[item.kind]) for item in items)


def sizes_beside(kinds: Sequence[Kind], table: Replacements) -> Mapping[int, tuple[int, ...]]:
    """For each kind the next smaller and the next larger one of those that fit inside it, or it inside them."""
    sizes = [area(kind.outline) for kind in kinds]
    found = {}
    for k, kind in enumerate(kinds):
        like = [c for c, other in enumerate(kinds) if c != k and other.side == kind.side
                and bool(other.family) == bool(kind.family) and ((k, c) in table or (c, k) in table)]
        smaller = max((c for c in like if sizes[c] < sizes[k]), key=sizes.__getitem__, default=None)
        larger = min((c for c in like if sizes[c] > sizes[k]), key=sizes.__getitem__, default=None)
        found[k] = tuple(c for c in (smaller, larger) if c is not None)
    return found


def lines_off(forbidden: Region, place: np.ndarray, reach: float) -> list[Line] | None:
    """Lines that keep a place off forbidden ground while it moves by at most `reach` along either axis.

    They hold at `place`, or at the nearest one that is allowed; None if that is out of reach.
    """
    at, spot = place, shapely.Point(place)
    if shapely.contains_properly(forbidden, spot):
        edge = np.array(nearest_points(shapely.boundary(forbidden), spot)[0].coords[0])
        way = edge - place
        far = np.hypot(*way)
        if np.abs(way).max() > reach or far == 0.0:
            return None
        at = edge + 10.0 * SAFETY * way / far
    lines = keep_out(forbidden, place, reach, at)
    return None if any(nx == 0.0 and ny == 0.0 for nx, ny, _ in lines) else lines


class _Programme:
    """Variables and lines of one layout."""

    def __init__(
        self, problem: RegionProblem, items: Sequence[Item], beside: Mapping[int, tuple[int, ...]], reach_share: float,
        ended: Callable[[], bool],
    ):
        self._problem, self._items = problem, items
        self._worth = [worth_of(kind) for kind in problem.kinds]
        self._reach = reach_share * float(np.mean(np.sqrt([area(kind.outline) for kind in problem.kinds])))
        self._solver = pywraplp.Solver.CreateSolver("SCIP")
        self._solver.SetSolverSpecificParametersAsString("misc/catchctrlc = FALSE")  # the signal is the caller's
        self._moves = [
            tuple(self._solver.NumVar(-self._reach, self._reach, "") for _ in range(2)) for _ in items
        ]
        self._forms = [self._forms_of(item, (item.kind, *beside[item.kind])) for item in items]
        self._count()
        self._keep_on_ground()
        self._whole = self._keep_apart(ended)

    def solve(self, seconds: float, stopped: Callable[[], bool]) -> tuple[Item, ...]:
        """The best found; the items as they are if that is nothing."""
        items, solver = self._items, self._solver
        if not self._whole:
            return tuple(items)
        objective = solver.Objective()
        for form in (form for forms in self._forms for form in forms):
            objective.SetCoefficient(form.chosen, self._worth[form.kind] / max(self._worth))
        objective.SetMaximization()
        hint = {move: 0.0 for moves in self._moves for move in moves}
        hint |= {form.chosen: float(q == 0) for forms in self._forms for q, form in enumerate(forms)}
        solver.SetHint(list(hint), list(hint.values()))
        solver.SetTimeLimit(max(1, int(1000.0 * seconds)))
        with ThreadPoolExecutor(1) as pool:
            solving = pool.submit(solver.Solve)
            while wait([solving], timeout=POLL_SECONDS).not_done:
                if stopped():
                    solver.InterruptSolve()
        if solving.result() not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
            return tuple(items)
        found = []
        for item, forms, (x, y) in zip(items, self._forms, self._moves, strict=True):
            form = max(forms, key=lambda form: form.chosen.solution_value())
            pose = Pose(
                float(form.place[0]) + x.solution_value(), float(form.place[1]) + y.solution_value(),
                item.pose.heading_deg,
            )
            found.append(Item(form.kind, pose))
        return tuple(found)

    def _forms_of(self, item: Item, kinds: Sequence[int]) -> list[_Form]:
        """The item's own form first; the others have their bounding boxes about the same point."""
        forms: list[_Form] = []
        heading, centre = item.pose.heading_deg, np.array((item.pose.x, item.pose.y))
        for k in kinds:
            kind = self._problem.kinds[k]
            if heading in kind.headings_deg:
                ring = as_ring(rotate(grown(kind.outline, self._problem.gap_mm), heading))
                middle = 0.5 * (ring.min(axis=0) + ring.max(axis=0))
                centre = centre if forms else centre + middle
                forms.append(_Form(k, ring, centre - middle, self._solver.BoolVar("")))
        return forms

    def _count(self) -> None:
        """Every item is one of its forms; no kind beyond its limit; families complete on every level."""
        solver, kinds, level = self._solver, self._problem.kinds, self._problem.level
        of_kind: dict[int, list[pywraplp.Variable]] = {}
        sides: dict[tuple[str, int], dict[int, list[pywraplp.Variable]]] = {}
        for item, forms in zip(self._items, self._forms, strict=True):
            solver.Add(solver.Sum([form.chosen for form in forms]) == 1)
            at = 0 if level is None else level(item.kind, item.pose)
            for form in forms:
                kind = kinds[form.kind]
                of_kind.setdefault(form.kind, []).append(form.chosen)
                if kind.family:
                    sides.setdefault((kind.family, at), {}).setdefault(kind.side, []).append(form.chosen)
        for k, chosen in of_kind.items():
            if kinds[k].limit < len(chosen):
                solver.Add(solver.Sum(chosen) <= kinds[k].limit)
        for members in sides.values():
            if 0 in members:
                pairs = solver.IntVar(0, len(self._items), "")
                solver.Add(solver.Sum(members[0]) == 2 * pairs)
            else:
                solver.Add(solver.Sum(members.get(-1, [])) == solver.Sum(members.get(1, [])))

    def _keep_on_ground(self) -> None:
        @cache
        def allowed(k: int, heading: float) -> Region:
            kind = self._problem.kinds[k]
            ground = self._problem.grounds[k]
            return joint_fit_polygon([
                (ground.outline, rotate(kind.outline, heading)),
                (ground.core[kind.headings_deg.index(heading)], rotate(kind.core, heading)),
            ])

        for item, forms, moves in zip(self._items, self._forms, self._moves, strict=True):
            for form in forms:
                window = shapely.Point(form.place).buffer(2.0 * self._reach, cap_style="square")
                barred = window.difference(allowed(form.kind, item.pose.heading_deg))
                self._hold(lines_off(barred, form.place, self._reach), form.place, (form,), (moves,), form is forms[0])

    def _keep_apart(self, ended: Callable[[], bool]) -> bool:
        """Lines between items that can meet; whether there was time for all: with many items this takes seconds."""
        @cache
        def no_fit(one: tuple[int, float], other: tuple[int, float]) -> Region:
            return no_fit_polygon(rings[one], rings[other])

        rings: dict[tuple[int, float], np.ndarray] = {}
        boxes = []
        for item, forms in zip(self._items, self._forms, strict=True):
            rings |= {(form.kind, item.pose.heading_deg): form.ring for form in forms}
            low = np.min([form.place + form.ring.min(axis=0) for form in forms], axis=0) - self._reach
            high = np.max([form.place + form.ring.max(axis=0) for form in forms], axis=0) + self._reach
            boxes.append(shapely.box(*low, *high))
        meet = shapely.STRtree(boxes).query(boxes).T
        for i, j in meet[meet[:, 0] < meet[:, 1]].tolist():
            if ended():
                return False
            headings = self._items[i].pose.heading_deg, self._items[j].pose.heading_deg
            for one in self._forms[i]:
                for other in self._forms[j]:
                    apart = other.place - one.place
                    barred = no_fit((one.kind, headings[0]), (other.kind, headings[1]))
                    own = one is self._forms[i][0] and other is self._forms[j][0]
                    lines = lines_off(barred, apart, 2.0 * self._reach)
                    self._hold(lines, apart, (one, other), (self._moves[j], self._moves[i]), own)
        return True

    def _hold(
        self, lines: list[Line] | None, place: np.ndarray, forms: Sequence[_Form],
        moves: Sequence[tuple[pywraplp.Variable, ...]], own: bool,
    ) -> None:
        """Hold lines where these forms are chosen; the place moves with the first of `moves` and against the second.

        own : whether these are the forms the items have now; where they lie then is allowed, come what may.
        """
        solver = self._solver
        if lines is None and own:
            lines = [(x, y, x * place[0] + y * place[1]) for x, y in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))]
        if lines is None:
            solver.Add(solver.Sum([form.chosen for form in forms]) <= len(forms) - 1)
            return
        for nx, ny, least in lines:
            needed = least - float(nx * place[0] + ny * place[1])
            if own:  # what coordinates rounded to the grid overlap is no fault
                needed = min(needed, 0.0)
            free = needed + len(moves) * self._reach * (abs(nx) + abs(ny))
            if free <= 0.0:
                continue
            row = solver.Constraint(needed - len(forms) * free, solver.infinity())
            for (x, y), sign in zip(moves, (1.0, -1.0), strict=False):
                row.SetCoefficient(x, sign * nx)
                row.SetCoefficient(y, sign * ny)
            for form in forms:
                row.SetCoefficient(form.chosen, -free)
