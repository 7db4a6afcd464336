"""What the estimate asks of a job, from a plan: pieces, stock, order and settings are those that the plan keeps."""

from collections.abc import Hashable, Sequence

from nest.accounts.estimate import GroundOf
from nest.job.job import Job
from nest.perpair.use import KnownGround, ground_of
from nest.pieces.piece import Role
from nest.pieces.sizing import SIZE_SYSTEMS, SizeError, SizeSystem, size_label, size_system
from nest.pieces.style import Grading, OrderLine, Style
from nest.plan import Plan, PlannedStyle
from nest.stock.material import Hide, Leather


def as_job(plan: Plan) -> Job:
    """What the estimate asks of a job, from a plan; pieces are those of the plan."""
    styles = tuple(
        Style(style.name, style.leather, style.roll, style.templates,
              Grading(_system(style), _base_size(plan, style), 0.0, 0.0), style.allowances, style.widening_percent,
              style.reinforcement_inset_mm, style.reject_percent,
              style.reject_percent_by_quality, 0.0, style.rules, rates=style.rates)
        for style in plan.styles
    )
    vamps = {(piece.style, piece.size) for piece in plan.pieces if piece.role is Role.VAMP}
    order = tuple(OrderLine(line.style, line.size, line.pairs_wanted) for line in plan.order
                  if (line.style, line.size) in vamps)
    return Job(plan.name, styles, order, plan.leathers, plan.hides, plan.rolls, (), plan.settings)


def _system(style: PlannedStyle) -> str:
    """A size system that has all sizes of a style, for a plan does not keep its own; "" if none has."""
    return next((name for name in SIZE_SYSTEMS if _has_all(size_system(name), style)), "")


def _has_all(system: SizeSystem, style: PlannedStyle) -> bool:
    try:
        return all(size_label(system, template.size) == template.size for template in style.templates)
    except SizeError:
        return False


def _base_size(plan: Plan, style: PlannedStyle) -> str:
    """The size to look at ground with: the base size if it was ordered, else the middle one of those that were."""
    vamps = [piece for piece in plan.pieces if piece.style == style.name and piece.role is Role.VAMP]
    sizes = [*dict.fromkeys(piece.size for piece in vamps)]
    if style.base_size in sizes:
        return style.base_size
    return sizes[len(sizes) // 2] if sizes else ""


def ground_of_plan(plan: Plan) -> GroundOf:
    """Ground as the estimate has it, for the plan's own pieces; each is worked out once."""
    known: dict[tuple[Hashable, ...], KnownGround] = {}

    def ground(leather: Leather, hides: Sequence[Hide], style: Style, margin_mm: float) -> KnownGround:
        key = leather.name, style.name, tuple((hide.hide_id, hide.leather) for hide in hides)
        if key not in known:
            made = [piece for piece in plan.pieces if piece.style == style.name]
            known[key] = ground_of(leather, hides, style, margin_mm, made)
        return known[key]

    return ground
