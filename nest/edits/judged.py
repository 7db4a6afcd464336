"""What the judge says of one hide of a plan, in time to be shown while a hand is on it."""

from dataclasses import replace

from nest.plan import Begun, Plan
from nest.verify import verify
from nest.verify.verdict import Finding, Rule

_OF_ORDER = {Rule.SHORT, Rule.OVER}


def findings_on(plan: Plan, hide_id: str) -> tuple[Finding, ...]:
    """What is wrong on one hide by the judge's own rules; what the order lacks is not asked.

    Pairs that lie on two hides are judged with the whole plan alone.
    """
    layouts = tuple(one for one in plan.layouts if one.hide_id == hide_id)
    here = {one.piece_id for layout in layouts for one in layout.placed}
    pieces = tuple(piece for piece in plan.pieces if piece.piece_id in here)
    styles = {piece.style for piece in pieces}
    across = {style.name for style in plan.styles if not style.rules.pairs_from_one_hide}
    if across:
        ids = {piece.piece_id for piece in pieces if piece.style in across}
        layouts = tuple(
            replace(one, placed=tuple(replace(p, pair=0) if p.piece_id in ids else p for p in one.placed))
            for one in layouts
        )
    alone = replace(
        plan, layouts=layouts, lays=(), order=(), bounds=(), issues=(), search=None, begun=Begun(),
        styles=tuple(style for style in plan.styles if style.name in styles), pieces=pieces,
        hides=tuple(hide for hide in plan.hides if hide.hide_id == hide_id),
    )
    return tuple(finding for finding in verify(alone).findings if finding.rule not in _OF_ORDER)
