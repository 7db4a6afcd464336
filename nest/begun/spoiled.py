"""What was spoiled since cutting began, one row a style, size and side: `style,size,side,pieces`, and `reinforcement`
(*lost*, the rule, or *kept*). The side is *left*, *right* or *pair*, empty where one outline serves both feet; `pieces`
counts vamps, of *pair* the pairs. A list of outcomes, piece by piece (`nest.outcomes`), serves in its place.
"""

from collections import Counter
from collections.abc import Sequence

from nest.begun.needs import lost_pieces
from nest.job.files import Source
from nest.job.findings import Findings, meant
from nest.job.table import Row, read_table
from nest.job.values import whole
from nest.outcomes import is_outcome_list, read_outcomes, spoiled_in
from nest.pieces.piece import Foot, Role
from nest.plan import Plan, Side, Spoiled


def read_spoiled(
    plan: Plan, part: Plan | None, source: Source | None, again: Sequence[Plan], findings: Findings
) -> tuple[Spoiled, ...]:
    """The list of what was spoiled, by numbers or piece by piece.

    Parameters
    ----------
    part : what is cut, None if that is not known.
    again : what was cut again of the plan, for a list of outcomes.
    """
    if source is not None and is_outcome_list(source.path):
        return _of_outcomes(plan, part, source, again, findings)
    return _by_numbers(plan, part, source, findings)


def _by_numbers(plan: Plan, part: Plan | None, source: Source | None, findings: Findings) -> tuple[Spoiled, ...]:
    styles = {style.name: style for style in plan.styles}
    needed = ("size", "pieces") if len(styles) == 1 else ("style", "size", "pieces")
    optional = [name for name in ("style", "side", "reinforcement") if name not in needed]
    rows = source and read_table(source, needed, optional, findings)
    feet: dict[tuple[str, str], set[Foot]] = {}
    for piece in plan.pieces:
        if piece.role is Role.VAMP:
            feet.setdefault((piece.style, piece.size), set()).add(piece.foot)
    found: dict[tuple[str, str, Side, bool], int] = {}
    for row in rows or ():
        style = row["style"] or (next(iter(styles)) if len(styles) == 1 else "")
        sizes = [size for name, size in feet if name == style]
        if style not in styles:
            row.refuse("style", "a style of the plan", meant(style, styles), findings)
            continue
        if row["size"] not in sizes:
            row.refuse("size", f"a size of {style} in the plan", meant(row["size"], sizes), findings)
            continue
        either = Foot.EITHER in feet[style, row["size"]]
        side = _side(row, either, findings)
        kept = row["reinforcement"].casefold()
        if kept not in ("", "lost", "kept"):
            row.refuse("reinforcement", "lost or kept", "correct it", findings)
        count = row.value("pieces", lambda text: whole(text, "a number of vamps"), findings)
        if side is None or count is None:
            continue
        key = style, row["size"], side, kept != "kept"
        found[key] = found.get(key, 0) + count
        if part is not None:
            _check_cut(part, row, key, found, either, findings)
    return tuple(Spoiled(*key[:3], count, key[3]) for key, count in found.items() if count)


def _of_outcomes(plan: Plan, part: Plan | None, source, again, findings: Findings) -> tuple[Spoiled, ...]:
    """What a list of outcomes says was spoiled; its pieces must come from hides that are cut."""
    outcomes = read_outcomes(plan, source.path, again, findings)
    cut = {layout.hide_id for layout in part.layouts} if part else {one.hide_id for one in outcomes}
    cut |= {layout.hide_id for one in again for layout in one.layouts}
    for hide_id in dict.fromkeys(one.hide_id for one in outcomes):
        if hide_id not in cut:
            findings.refuse(f"{source.name}, hide", "hides that are cut", f"{hide_id}, which is not",
                            "list it as cut, or take its pieces out")
    return spoiled_in(outcomes)


def _side(row: Row, either: bool, findings: Findings) -> Side | None:
    text = row["side"].casefold()
    if text == "pair":
        return Side.PAIR
    if either and text in ("", "left", "right", "either"):
        return Side.EITHER
    if text in ("left", "right"):
        return Side(text)
    row.refuse("side", "left, right or pair", "say which vamps were spoiled", findings)
    return None


def _check_cut(part: Plan, row: Row, key, found, either: bool, findings: Findings) -> None:
    """No more may be spoiled of a size than is cut of it."""
    style, size = key[:2]
    cut = cut_vamps(part)[style, size]
    lost = lost_pieces(
        (Spoiled(style, size, other[2], count) for other, count in found.items() if other[:2] == (style, size)),
        either=either,
    )
    for foot, number in lost.items():
        if number > cut[foot]:
            which = "vamps" if foot is Foot.EITHER else f"{foot} vamps"
            findings.refuse(
                f"{row.where}, pieces", f"at most the {cut[foot]} {which} of {style} {size} that are cut", str(number),
                "correct the number, or list the hide they came from as cut",
            )
            return


def cut_vamps(part: Plan) -> dict[tuple[str, str], Counter]:
    """Vamps on the hides of a plan by style and size, and by foot."""
    pieces = {piece.piece_id: piece for piece in part.pieces}
    counts: dict[tuple[str, str], Counter] = {(piece.style, piece.size): Counter() for piece in part.pieces}
    for layout in part.layouts:
        for one in layout.placed:
            piece = pieces[one.piece_id]
            counts[piece.style, piece.size][piece.foot] += 1
    return counts
