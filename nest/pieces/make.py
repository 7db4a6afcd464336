"""The pieces of a style: a rough vamp and its reinforcement for every size and foot."""

from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from geometry.polygon import why_not_simple
from geometry.precision import CHORD_ERROR_MM, GeometryError, on_grid
from geometry.processors import processor_cores
from geometry.thinning import thin_outwards
from nest.errors import InputProblems, Problem
from nest.pieces.grading import nearest_template, template_of_size
from nest.pieces.mirror import for_other_foot, is_own_mirror, symmetrical
from nest.pieces.piece import Foot, Piece, Role
from nest.pieces.quantities import CutLine
from nest.pieces.reinforcement import CoverGap, cover_gaps, lost_share, reinforcement_outline, staying_outline
from nest.pieces.rough import allowance_along, rough_outline
from nest.pieces.sizing import SizeError, ordered, size_label, size_system, steps_between
from nest.pieces.style import OrderLine, Style

NET_TOLERANCE_MM = CHORD_ERROR_MM
"""A net outline may lie this far outside the template, never inside it: no flaw can hide in the difference."""


def make_pieces(style: Style, sizes: Sequence[str]) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    """Make every piece of `style` in `sizes`.

    Smallest size first; in a size the vamps stand before the reinforcements, left before right. Ids
    are style-size-foot ("ankle-38-L", "ankle-38-R"), without the foot where one outline serves both
    ("derby-39"), with "-reinf" after it for a reinforcement. All outlines lie on the coordinate grid.

    Returns
    -------
    tuple of Piece
    tuple of str
        Warnings: sizes graded for want of a template of their own, reinforcements that fell apart or do not reach the
        template line.

    Raises
    ------
    InputProblems
        If the size system or a size is not known, a size is named twice, or an outline cannot be made.
    """
    sizes = _checked(style, sizes)
    pieces: list[Piece] = []
    warnings: list[str] = []
    problems: list[Problem] = []
    gaps: dict[str, tuple[CoverGap, ...]] = {}
    with ThreadPoolExecutor(processor_cores()) as pool:
        waiting = {size: pool.submit(_pieces_of_size, style, size) for size in sizes}
    for size, one in waiting.items():
        try:
            made, gaps[size], said = one.result()
        except ValueError as error:
            problems.append(_problem(f"style {style.name}, size {size}", error))
            continue
        pieces += made
        warnings += said
    if problems:
        raise InputProblems(problems)
    warnings += _cover_warnings(style, gaps)
    return tuple(pieces), tuple(warnings)


def pieces_of_lines(
    styles: Iterable[Style], lines: Sequence[OrderLine | CutLine]
) -> list[tuple[Style, tuple[Piece, ...], tuple[str, ...]]]:
    """Pieces and warnings of each style in the sizes of its lines; errors as `make_pieces`, of all styles together."""
    found: list[tuple[Style, tuple[Piece, ...], tuple[str, ...]]] = []
    problems: list[Problem] = []
    for style in styles:
        sizes = [*dict.fromkeys(line.size for line in lines if line.style == style.name)]
        try:
            if sizes:
                found.append((style, *make_pieces(style, sizes)))
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    return found


def _checked(style: Style, sizes: Sequence[str]) -> tuple[str, ...]:
    """Return `sizes` in ascending order, or raise everything that is wrong with them."""
    where = f"style {style.name}"
    try:
        system = size_system(style.grading.system)
    except SizeError as error:
        raise InputProblems([_problem(where, error)]) from None
    problems, labels = [], {}
    for size in [template.size for template in style.templates] + list(sizes):
        try:
            labels[size] = size_label(system, size)
        except SizeError as error:
            problems.append(_problem(where, error))
    if not problems:
        named = [labels[size] for size in sizes]
        for label in sorted({label for label in named if named.count(label) > 1}):
            problems.append(Problem(where, "every size once", f"size {label} twice", "name it once"))
    if problems:
        raise InputProblems(dict.fromkeys(problems))
    return ordered(system, sizes)


def _problem(where: str, error: ValueError) -> Problem:
    """Turn an error's "expected ..., found ..." into a problem."""
    if isinstance(error, SizeError):
        return Problem(where, error.expected, error.found, "correct the size or name its size system")
    expected, _, found = str(error).removeprefix("expected ").partition(", found ")
    return Problem(where, expected, found, "correct the style or its template")


def _pieces_of_size(style: Style, size: str) -> tuple[list[Piece], tuple[CoverGap, ...], list[str]]:
    """All pieces of one size, where the reinforcement leaves the template line bare, and other warnings."""
    warnings = []
    template = template_of_size(style.templates, size, style.grading)
    crossing = why_not_simple(template.outline)
    if crossing:
        raise GeometryError(f"expected a template that does not cross or touch itself, found {crossing}")
    given = nearest_template(style.templates, size, style.grading).size
    if len(style.templates) > 1 and steps_between(size_system(style.grading.system), given, size) != 0:
        warnings.append(f"style {style.name}: size {size} has no template of its own, graded from size {given}")
    allowances = style.allowances.for_size(template.size)
    points, widths = allowance_along(template, allowances, style.widening_percent)
    either = is_own_mirror(points, widths)
    # Thinning alone would leave one half unlike the other.
    foot, level = (Foot.EITHER, symmetrical) if either else (Foot.LEFT, np.asarray)
    rough = level(rough_outline(template, allowances, style.widening_percent))
    net = thin_outwards(template.outline, NET_TOLERANCE_MM)
    pieces = _for_both_feet(style, size, foot, Role.VAMP, rough, net)
    if not style.roll:
        return pieces, (), warnings
    backing, lost = reinforcement_outline(rough, style.reinforcement_inset_mm)
    if lost:
        warnings.append(
            f"style {style.name}: the reinforcement of size {size} falls into {len(lost) + 1} pieces at an inset "
            f"of {style.reinforcement_inset_mm:g} mm; the largest is cut, {lost_share(lost, backing):.1%} is lost"
        )
    else:
        backing = level(backing)
    pieces += _for_both_feet(style, size, foot, Role.REINFORCEMENT, backing, staying_outline(net, backing))
    return pieces, cover_gaps(template, backing), warnings


def _for_both_feet(style: Style, size: str, foot: Foot, role: Role, cut: np.ndarray, net: np.ndarray) -> list[Piece]:
    """One piece that serves both feet, or a left piece and its mirror image."""
    stem = f"{style.name}-{size_label(size_system(style.grading.system), size)}"
    suffix = "-reinf" if role is Role.REINFORCEMENT else ""
    cut, net = on_grid(cut), on_grid(net)
    if foot is Foot.EITHER:
        return [Piece(f"{stem}{suffix}", style.name, size, foot, role, cut, net)]
    left = Piece(f"{stem}-L{suffix}", style.name, size, foot, role, cut, net)
    return [left, for_other_foot(left, f"{stem}-R{suffix}")]


def _cover_warnings(style: Style, gaps: dict[str, tuple[CoverGap, ...]]) -> list[str]:
    """One sentence for each part the reinforcement leaves bare, with its worst place and size."""
    warnings = []
    for part in dict.fromkeys(gap.part for found in gaps.values() for gap in found):
        sizes = [size for size, found in gaps.items() if any(gap.part is part for gap in found)]
        size, worst = max(
            ((size, gap) for size in sizes for gap in gaps[size] if gap.part is part), key=lambda at: at[1].short_mm
        )
        of_sizes = f"size {size}" if len(sizes) == 1 else f"{len(sizes)} sizes, most in size {size}"
        warnings.append(
            f"style {style.name}: at the {part} the reinforcement does not reach the template line by up to "
            f"{worst.short_mm:.1f} mm ({of_sizes}, at x {worst.x:.0f}, y {worst.y:.0f} mm); a smaller inset or a "
            f"larger allowance there covers it"
        )
    return warnings


