"""What leave for bias does to yield, by lattice."""

from collections import Counter
from dataclasses import replace
from math import fsum

from nest.job.job import Job
from nest.perpair.measures import roll_rows
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Piece, Role


def bias_on_roll(job: Job, roll_id: str, stretch_deg: float) -> list[str]:
    """One sentence for each style cut from this roll: yield of the lattice across, with leave for bias, and at bias.

    Densities are means over the ordered sizes, weighted by pairs; the measured stretch takes the roll's own's place.
    """
    said = []
    for roll in job.rolls:
        if roll.roll_id != roll_id:
            continue
        roll = replace(roll, measured_stretch_deg=stretch_deg)
        for style in job.styles:
            pairs: Counter[str] = Counter()
            for line in job.order:
                if line.style == style.name and line.pairs:
                    pairs[line.size] += line.pairs
            if style.roll != roll_id or not pairs:
                continue
            pieces = [
                piece for piece in make_pieces(style, list(pairs))[0]
                if piece.role is Role.REINFORCEMENT and piece.foot is not Foot.RIGHT
            ]
            rules = replace(style.rules, bias_leave=False)
            leave = replace(style.rules, bias_leave=True)
            biased = [stretch_deg + 45.0, stretch_deg + 135.0]
            across, either, bias = (
                _density(pieces, pairs, roll, rule, job.settings.roll_apart_mm, headings)
                for rule, headings in ((rules, None), (leave, None), (rules, biased))
            )
            said.append(
                f"style {style.name} on roll {roll_id}, lattice: {across:.1%} of the width across, {bias:.1%} at bias, "
                f"{either:.1%} where both have leave."
            )
    return said


def bias_on_hides(job: Job, material: str) -> list[str]:
    """What leave does on hides of this name or leather: it only adds headings, so no layout is lost."""
    if any(material in (hide.hide_id, hide.leather) for hide in job.hides):
        return [
            f"hides {material}: leave for bias adds headings and takes none away, so the best yield cannot fall; place "
            "the job with and without bias_leave to see what it gains."
        ]
    return []


def _density(pieces: list[Piece], pairs: dict[str, int], roll, rules, gap_mm: float, headings) -> float:
    """Rough area ÷ strip area over the order; 0 if a size does not fit."""
    found = roll_rows(pieces, roll, rules, gap_mm, headings_deg=headings)
    rows = [one for one in found if one is not None]
    if len(rows) < len(found):
        return 0.0
    area = fsum(pairs[piece.size] * one.piece_mm2 for piece, one in zip(pieces, rows, strict=True))
    length = fsum(pairs[piece.size] * one.lattice.advance for piece, one in zip(pieces, rows, strict=True))
    return area / (length * roll.usable_width_mm)
