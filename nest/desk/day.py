"""The day at the table, as the desk shows it: used against planned, what to cut again, and the way of the tool."""

from nest.accounts.used import used_against_planned
from nest.cutplan.path import CutPath
from nest.cutplan.work import hide_work
from nest.edits import EditProblem, State
from nest.edits.plies import begun_with_plies
from nest.plan import Plan, Spoiled
from nest.report.used import used_table

_SHOWN = (
    "style", "size", "hides_planned", "hides_used", "leather_dm2_planned", "leather_dm2_used", "roll_m_planned",
    "roll_m_used", "vamps_good",
    "vamps_spoiled", "pairs_expected", "pairs_finished",
)


def day_told(state: State, first: Plan) -> dict:
    """What was used against what was planned at first, what was spoiled, and which hides are cut in part.

    Money is without the time of cutting, which takes the route of every hide.
    """
    plan, plies = state.plan, dict(state.plies)
    table = used_table(used_against_planned(plan, begun_with_plies(state), first, {}), plan.settings.currency)
    at = [table.header.index(name) for name in (*_SHOWN, table.header[-1])]
    return {
        "currency": plan.settings.currency,
        "used": [[_plain(row[i]) for i in at] for row in table.rows],
        "again": [_again(one) for one in plan.begun.spoiled],
        "part": [f"{hide_id}: {cut} of {whole} pieces" for hide_id, (cut, whole) in cut_in_part(state).items()],
        "lays": [
            {"id": lay.lay_id, "roll": lay.roll_id, "plies": lay.plies, "pieces": len(lay.placed),
             "cut": plies.get(lay.lay_id, lay.plies if lay.lay_id in plan.begun.lays else 0),
             "before": lay.lay_id in plan.begun.lays and lay.lay_id not in plies}
            for lay in plan.lays
        ],
    }


def cut_in_part(state: State) -> dict[str, tuple[int, int]]:
    """Hides of which some pieces are ticked off as cut and others are not: how many of how many."""
    done = set(state.plan.begun.cut_hides)
    counts = {}
    for layout in state.plan.layouts:
        cut = sum((layout.hide_id, layout.number(at)) in state.cut for at in range(len(layout.placed)))
        if cut and layout.hide_id not in done:
            counts[layout.hide_id] = cut, len(layout.placed)
    return counts


def way_told(state: State, hide_id: str) -> dict:
    """The way of the tool on a hide in its own coordinates, step by step, mm.

    Raises
    ------
    EditProblem
        If nothing lies on the hide.
    PlanProblem
        As `nest.cutplan.work.hide_work`.
    """
    layout = state.layout(hide_id)
    if not layout.placed:
        raise EditProblem(f"nothing lies on hide {hide_id}; its tool has no way to go.")
    work = hide_work(state.plan, layout)
    overcut = work.table.overcut_mm
    steps = [
        {"kind": "cut" if isinstance(step, CutPath) else "mark", "number": layout.number(step.index),
         "points": [[round(float(x), 1), round(float(y), 1)] for x, y in work.frame.undo(stroke)]}
        for step in work.steps for stroke in step.strokes(overcut)
    ]
    return {"steps": steps, "seconds": round(work.time.seconds), "home": _point(work.frame.undo([(0.0, 0.0)])[0])}


def _again(one: Spoiled) -> str:
    return f"{one.count} × {one.style} {one.size}, {one.side}"


def _point(at) -> list[float]:
    return [round(float(at[0]), 1), round(float(at[1]), 1)]


def _plain(cell):
    return cell if cell is None or isinstance(cell, (int, float, str)) else str(cell)
