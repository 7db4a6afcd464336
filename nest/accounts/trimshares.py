"""How much of what is cut is trimmed off, by style and size, as shares of the rough area."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import shapely

from geometry.polygon import area, polygon
from geometry.pose import mirror
from nest.job.job import Job
from nest.pieces.grading import template_of_size
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Part, Piece, Role, Template
from nest.pieces.remembered import Make
from nest.pieces.rough import rough_outline
from nest.pieces.style import Allowances
from nest.plan import Plan, PlannedStyle


@dataclass(frozen=True, slots=True)
class TrimShare:
    """Shares of the rough area of one style and size (0..1).

    leather, reinforcement : trim-off; the latter 0 where there is no reinforcement.
    avoidable : of the leather, what lies beyond the least allowances; None where that is not known.
    """

    style: str
    size: str
    leather: float
    reinforcement: float
    avoidable: float | None


def plan_trim_shares(plan: Plan) -> tuple[TrimShare, ...]:
    """Shares of every style and size whose pieces a plan holds."""
    styles = {style.name: style for style in plan.styles}
    return _shares(plan.pieces, lambda piece: avoidable_mm2(styles[piece.style], piece))


def job_trim_shares(job: Job, make: Make = make_pieces) -> tuple[TrimShare, ...]:
    """Shares of every style and size that a job orders; errors as `nest.pieces.make.make_pieces`."""
    styles = {style.name: style for style in job.styles}
    pieces: list[Piece] = []
    for style in job.styles:
        sizes = [*dict.fromkeys(line.size for line in job.order if line.style == style.name)]
        pieces += make(style, sizes)[0] if sizes else ()

    def avoidable(piece: Piece) -> float:
        style = styles[piece.style]
        template = template_of_size(style.templates, piece.size, style.grading)
        fine = rough_outline(template, _least(style.allowances))
        return float(shapely.difference(polygon(piece.cut_outline), polygon(fine)).area)

    return _shares(pieces, avoidable)


def avoidable_mm2(style: PlannedStyle, piece: Piece) -> float | None:
    """Area of the rough vamp `piece` beyond the outline that the least allowances would give, mm².

    That outline is made around the plan's template of this size; without one only if the least allowance is the
    same all round, which needs no parts. None otherwise.
    """
    rough, net = piece.cut_outline, piece.net_outline
    if piece.foot is Foot.RIGHT:
        rough, net = mirror(rough), mirror(net)
    least = _least(style.allowances)
    template = next((one for one in style.templates if one.size == piece.size), None)
    if template is None:
        if len({least.toe_mm, least.side_mm, least.back_mm}) > 1:
            return None
        template = Template(style.name, piece.size, net, (Part.SIDE,) * len(net))
    return float(shapely.difference(polygon(rough), polygon(rough_outline(template, least))).area)


def _least(given: Allowances) -> Allowances:
    least = (given.least_toe_mm, given.least_side_mm, given.least_back_mm)
    return Allowances(*least, *least, blend_mm=given.blend_mm)


def _shares(pieces: Iterable[Piece], avoidable: Callable[[Piece], float | None]) -> tuple[TrimShare, ...]:
    found: dict[tuple[str, str], dict[Role, Piece]] = {}
    for piece in pieces:
        if piece.foot is not Foot.RIGHT:
            found.setdefault((piece.style, piece.size), {})[piece.role] = piece
    shares = []
    for (style, size), by_role in sorted(found.items()):
        trim = {role: 1.0 - area(piece.net_outline) / area(piece.cut_outline) for role, piece in by_role.items()}
        vamp = by_role.get(Role.VAMP)
        beyond = None if vamp is None else avoidable(vamp)
        shares.append(TrimShare(
            style, size, trim.get(Role.VAMP, 0.0), trim.get(Role.REINFORCEMENT, 0.0),
            None if vamp is None or beyond is None else beyond / area(vamp.cut_outline),
        ))
    return tuple(shares)
