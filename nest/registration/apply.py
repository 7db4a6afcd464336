"""A plan for one hide as it lies on the table: the fit is checked, then it takes the place of the table's own frame."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import shapely

from nest.cutplan.compose import registration_points
from nest.cutplan.frame import frame_of
from nest.cutplan.legend import POINT_NAMES
from nest.cutplan.work import found
from nest.errors import PlanProblem
from nest.job.cutting_table import Corner, MeasuredPoint, Registration
from nest.plan import HideLayout, Plan
from nest.registration.fit import RigidFit, error_at, rigid_fit
from nest.stock.material import Hide
from nest.units import MM_PER_LENGTH_UNIT, TABLE_UNITS

WITHIN = 0.002
"""Lengths may differ by this share, and points lie off by this share of the longest (common practice, no source)."""

LEAST_APART_MM = 50.0
"""Points nearer to each other tell no direction (common practice, no source)."""

_ONE_PLACE_MM = 0.5
_SAME_UNIT = 0.02
"""Lengths that differ by the ratio of two units, to this share, are taken to be in the wrong one."""


@dataclass(frozen=True, slots=True, eq=False)
class Registered:
    """What came of it: the plan whose table puts the hide where it lies, what was fitted, and what is to be known."""

    plan: Plan
    layout: HideLayout
    registration: Registration
    said: tuple[str, ...]


def drawn_points(plan: Plan, hide_id: str) -> dict[str, np.ndarray]:
    """The registration points of a hide by name, mm, where its drawing has them.

    Raises PlanProblem if there is no such hide, or the plan is laid out for another as it lies on the table.
    """
    hide = _hide(plan, hide_id)
    table = plan.settings.table
    if table.registered is not None and table.registered.hide_id != hide_id:
        raise PlanProblem(
            f"this plan is laid out for hide {table.registered.hide_id} as it lies on the table; register hide "
            f"{hide_id} from the plan itself"
        )
    frame = frame_of(table, hide.outline, turned_over=table.grain_down)
    return dict(zip(POINT_NAMES, frame.apply(registration_points(hide)), strict=False))


def registered(
    plan: Plan, hide_id: str, points: Mapping[str, tuple[float, float]], within: float = WITHIN
) -> Registered:
    """The plan for a hide that lies where `points` (by name, mm on the table) say; `within` as `WITHIN`.

    Raises
    ------
    PlanProblem
        If the plan cuts nothing from the hide, or the points do not fit it: in one place, another length, mirrored.
    """
    layout = next((one for one in plan.layouts_to_cut if one.hide_id == hide_id), None)
    if layout is None:
        raise PlanProblem(f"the plan has nothing to cut from a hide named {hide_id}; see the hides in its report")
    drawn = drawn_points(plan, hide_id)
    names = list(points)
    a, b = np.array([drawn[name] for name in names]), np.array([points[name] for name in names])
    _check_apart(names, a, b, _ONE_PLACE_MM)
    fit = rigid_fit(a, b)
    _check_unit(fit.scale, plan.settings.table.unit)
    _check_apart(names, a, b, LEAST_APART_MM)
    _check_fit(names, a, fit, within)
    table, hide = plan.settings.table, _hide(plan, hide_id)
    frame = frame_of(table, hide.outline, turned_over=table.grain_down)
    turn = float(np.round((frame.turn_deg + fit.turn_deg + 180.0) % 360.0 - 180.0, 9))
    at = np.round(fit.apply([(frame.x, frame.y)])[0], 4) + 0.0
    made = Registration(
        hide_id, tuple(MeasuredPoint(name, float(x), float(y), float(off))
                       for name, (x, y), off in zip(names, b, fit.residuals_mm, strict=True)),
        fit.turn_deg, float(fit.moved_mm[0]), float(fit.moved_mm[1]), fit.scale,
    )
    own = replace(
        table, origin=Corner.DIGITISED, origin_x_mm=float(at[0]), origin_y_mm=float(at[1]), turn_deg=turn,
        registered=made,
    )
    tips = frame.apply(shapely.get_coordinates(hide.outline))
    worst = max(error_at(a, tip) for tip in tips)
    said = [
        *made.told(),
        f"An error of 1 mm in every reading puts the hide's furthest edge wrong by {worst:.1f} mm (standard error).",
    ]
    if len(names) == 2:
        said.append(
            "Two points tell neither a hide that was turned over nor two names exchanged: compare the outline with the "
            "drawing, or measure a third."
        )
    return Registered(replace(plan, settings=replace(plan.settings, table=own)), layout, made, tuple(said))


def _hide(plan: Plan, hide_id: str) -> Hide:
    hide: Hide = found(plan.hides, "hide_id", hide_id)
    return hide


def _check_apart(names: list[str], drawn: np.ndarray, measured: np.ndarray, least_mm: float) -> None:
    for (i, one), (k, other) in combinations(enumerate(names), 2):
        apart, wanted = (float(np.hypot(*(side[i] - side[k]))) for side in (measured, drawn))
        if min(apart, wanted) < least_mm:
            where = "in one place" if least_mm < LEAST_APART_MM else f"{min(apart, wanted):.1f} mm apart"
            raise PlanProblem(
                f"points {one} and {other} lie {where}, at least {LEAST_APART_MM:g} mm are needed to tell how the hide "
                f"lies (the drawing has {wanted:.1f} mm); measure others, or correct the list"
            )


def _check_unit(scale: float, unit: str) -> None:
    """Lengths that are those of the drawing in another unit."""
    for other in TABLE_UNITS:
        ratio = MM_PER_LENGTH_UNIT[unit] / MM_PER_LENGTH_UNIT[other]
        if other != unit and abs(scale / ratio - 1.0) < _SAME_UNIT:
            raise PlanProblem(
                f"lengths on the table are {scale:.4g} times those of the drawing: the list seems to be in {other}, "
                f"the table's unit is {unit}; write the list in {unit}"
            )


def _check_fit(names: list[str], drawn: np.ndarray, fit: RigidFit, within: float) -> None:
    longest = max(float(np.hypot(*(one - other))) for one, other in combinations(drawn, 2))
    limit = within * longest
    if len(names) > 2 and fit.residuals_mm.max() > limit >= fit.if_mirrored_mm.max():
        raise PlanProblem(
            f"the points fit the hide mirrored ({fit.if_mirrored_mm.max():.1f} mm off at most, "
            f"{fit.residuals_mm.max():.0f} mm as drawn): it lies the other side up, or two names are exchanged; turn "
            "it over, set grain_down of the table, or correct the list"
        )
    if abs(fit.scale - 1.0) > within:
        raise PlanProblem(
            f"lengths on the table are {fit.scale:.4f} times those of the drawing, at most {within:.2%} either way is "
            "taken: measure again; a hide that has stretched is to be digitised and planned again"
        )
    if fit.residuals_mm.max() > limit:
        worst = int(np.argmax(fit.residuals_mm))
        raise PlanProblem(
            f"point {names[worst]} lies {fit.residuals_mm.max():.1f} mm off where the others put it, at most "
            f"{limit:.1f} mm is taken: measure again, and compare their names with the drawing"
        )
