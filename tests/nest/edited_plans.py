"""Plans for tests of changes by hand, and what such tests ask of a state. All data are invented."""

from dataclasses import replace

from tiny_plans import box_plan, hide, in_pairs, spots

from nest.edits import State, changed
from nest.plan import CutLine, HideLayout
from nest.verify import verify


def two_hides():
    """Four pairs of the rectangle on two hides, a third hide whole."""
    return box_plan(
        hides=(hide("H1"), hide("H2"), hide("H3")), order=(CutLine("box", "38", 4, 4),),
        layouts=(HideLayout("H1", in_pairs(["V38"] * 4, spots(4))),
                 HideLayout("H2", in_pairs(["V38"] * 4, spots(4), first_pair=3))),
        lays=(), styles=(replace(box_plan().styles[0], roll=""),), rolls=(),
    )


def after(plan, *commands):
    """The state after some commands."""
    state = State(plan)
    for command in commands:
        state = changed(state, command)
    return state


def rules_broken(plan):
    """The rules that the judge finds broken."""
    return {finding.rule for finding in verify(plan).findings}


def lying(state, hide_id):
    """What lies on a hide: piece and pose by number."""
    layout = state.layout(hide_id)
    return {layout.number(at): (one.piece_id, one.pose) for at, one in enumerate(layout.placed)}
