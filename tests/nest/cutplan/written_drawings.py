"""Cutting drawings of many kinds, each beside its plan, for tests of `verify`. All data are invented."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import shapely
from table_jobs import TABLES, on_table
from tiny_plans import box_plan, flaw, hide, moved, slant_plan, vamp, zone
from vamp_plans import rows, side_hide, vamp_pieces, vamp_plan

from nest.cutplan.cautions import NOT_VERIFIED_WARNING
from nest.cutplan.dxf import write_hide_dxf, write_lay_dxf
from nest.cutplan.work import hide_work, lay_work
from nest.errors import PlanProblem
from nest.job.cutting_table import Corner, CuttingTable, NumberPlace, NumberTool
from nest.pieces.piece import Role
from nest.plan import Begun, CutHide, HideLayout, Plan
from nest.planfile import plan_from_text, plan_text, write_plan
from nest.planning.recut import again, lost_piece
from nest.verify import verify

MORE_TABLES = TABLES | {
    "numbers": CuttingTable(layer_numbers=True, turn_deg=180.0, origin=Corner.LOWER_RIGHT, origin_x_mm=50.0),
    "inches with lead-ins": CuttingTable(unit="in", lead_in_mm=5.0, grain_down=True, turn_deg=-12.5),
    "thinned": CuttingTable(thin_mm=0.2, unit="cm", layers=(("size", "NICKS"), ("lead", "WAYS"))),
    "one head": CuttingTable(
        marks_first=False, origin=Corner.LOWER_LEFT, length_mm=2600.0, width_mm=1800.0, accel_mm_s2=2000.0,
        corner_s=0.05,
    ),
    "digits": CuttingTable(number=NumberTool.PEN, origin=Corner.LOWER_LEFT, grain_down=True),
    "dots": CuttingTable(number=NumberTool.PUNCH, number_place=NumberPlace.INSIDE, marks_first=False, unit="in"),
    "wide tool": CuttingTable(tool_radius_mm=0.3, lead_in_mm=3.0, overcut_mm=5.0, origin=Corner.UPPER_LEFT),
}
"""Cutting tables that differ in all that a drawing shows."""


def leaning_plan() -> Plan:
    """A side with left and right vamps of three sizes in rows, nearly their own mirror images."""
    plan = vamp_plan(1)
    pieces = vamp_pieces(lean=2.0)
    vamps = [piece for piece in pieces if piece.role is Role.VAMP]
    side = side_hide("S-020", length=1600.0)
    placed = rows(side, vamps)
    return replace(plan, pieces=pieces, hides=(side,), layouts=(HideLayout(side.hide_id, placed),), lays=(), order=())


def holed_plan() -> Plan:
    """Two styles on a hide with a hole, a zone within another one, and a flaw in two parts' shape."""
    outer = zone("rest", 2, 90.0, shapely.box(0, 0, 1000, 500).difference(shapely.box(600, 300, 700, 400)))
    inner = zone("spot", 3, 80.0, shapely.box(600, 300, 700, 400))
    scar = flaw(shapely.box(900, 440, 990, 460).difference(shapely.box(940, 445, 950, 455)), "F1")
    plan = box_plan()
    other = replace(plan.styles[0], name="box 2", roll="", rules=replace(plan.styles[0].rules, net_quality=3))
    placed = (*plan.layouts[0].placed[:2], *(replace(one, piece_id="W38") for one in plan.layouts[0].placed[2:]))
    return replace(
        plan, styles=(replace(plan.styles[0], rules=replace(plan.styles[0].rules, net_quality=3)), other),
        pieces=(*plan.pieces, vamp("W38", "box 2")), order=(), layouts=(HideLayout("H1", placed),),
        hides=(hide(zones=(outer, inner), flaws=(scar,), holes=[[(800, 400), (830, 400), (830, 430), (800, 430)]]),),
    )


@cache
def plans() -> dict[str, Plan]:
    """Plans of many kinds: hides and lays, feet and none, cut again, begun, and one that fails its checks."""
    two = vamp_plan(2)
    return {
        "side": vamp_plan(1),
        "box": box_plan(),
        "slant": slant_plan(),
        "leaning": leaning_plan(),
        "holed": holed_plan(),
        "named": replace(box_plan(), name="Größe 38 % ^ 鞋"),
        "again": again(vamp_plan(1), [lost_piece(vamp_plan(1), "S-014", 3)]),
        "begun": replace(two, begun=Begun(hides=(CutHide(two.layouts[0].hide_id),))),
        "wrong": moved(box_plan(), 1, dx=-10.0),
        "wrong elsewhere": moved(two, 0, dx=-5000.0),
        "single": replace(slant_plan(), layouts=(HideLayout("H1", slant_plan().layouts[0].placed[:1]),), order=()),
    }


@dataclass(frozen=True)
class Written:
    """A drawing in `drawings`, its plan beside that folder."""

    path: Path
    plan: Plan
    table: CuttingTable
    version: str
    passed: bool


def _has_room(plan: Plan) -> bool:
    try:
        for layout in plan.layouts_to_cut:
            hide_work(plan, layout)
        for lay in plan.lays_to_cut:
            lay_work(plan, lay)
    except PlanProblem:
        return False
    return True


def write_drawings(folder: Path, name: str, table: str, version: str) -> Iterator[Written]:
    """Write every drawing of a plan on a table, and the plan, into `folder`."""
    kind = MORE_TABLES[table]
    if not _has_room(on_table(plans()[name], kind)):  # made for no tool, pieces may touch
        kind = replace(kind, tool_radius_mm=0.0, thin_mm=0.0)
    plan = plan_from_text(plan_text(on_table(plans()[name], kind)))
    (folder / "drawings").mkdir(parents=True)
    write_plan(plan, folder / "plan.json")
    passed = verify(plan).ok
    warning, prefix = ("", "") if passed else (NOT_VERIFIED_WARNING, "NOT-VERIFIED-")
    for layout in plan.layouts_to_cut:
        path = folder / f"drawings/{prefix}hide-{layout.hide_id}.dxf"
        write_hide_dxf(plan, layout, path, version, warning=warning)
        yield Written(path, plan, kind, version, passed)
    for lay in plan.lays_to_cut:
        path = folder / f"drawings/{prefix}lay-{lay.lay_id}.dxf"
        write_lay_dxf(plan, lay, path, version, warning=warning)
        yield Written(path, plan, kind, version, passed)


__all__ = ["MORE_TABLES", "Written", "plans", "write_drawings"]
