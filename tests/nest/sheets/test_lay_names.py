"""On a lay sheet every piece is named: by its words, or by a key that the sheet explains."""

import re
from collections import Counter
from dataclasses import replace
from functools import partial
from string import ascii_lowercase

import pytest
from dense_hide import in_two_styles
from legible import hold_legible
from vamp_plans import SIZES, vamp_pieces, vamp_plan

from geometry.pose import Pose
from nest.cutplan.order import cut_route
from nest.cutplan.work import lay_work
from nest.plan import CutLine, Lay, Placed
from nest.sheets import laysheet
from nest.sheets.laypicture import draw_lay_picture, kind_words, kinds_of
from nest.sheets.laysheet import lay_sheet_page

QUICK = partial(cut_route, effort=0.01)


def lay_plan(columns, sizes=SIZES):
    """Left and right reinforcements of two styles and these sizes, five across; invented."""
    plan = in_two_styles(replace(vamp_plan(1), pieces=vamp_pieces(lean=20.0, sizes=tuple(sizes))))
    backs = [piece for piece in plan.pieces if piece.role == "reinforcement"]
    at = [(i, j) for i in range(columns) for j in range(5)]
    placed = tuple(Placed(backs[(5 * i + j) % len(backs)].piece_id, Pose(120.0 + 250.0 * i, 140.0 + 265.0 * j, 0.0))
                   for i, j in at)
    order = tuple(CutLine("river", size, 1, 1) for size in sizes)
    lay = Lay("L1", plan.rolls[0].roll_id, 250.0 * columns + 20.0, 1, placed)
    return replace(plan, layouts=(), order=order, lays=(lay,))


@pytest.mark.parametrize("columns, keyed", [(6, False), (62, True)])
def test_every_piece_has_a_name_that_the_sheet_explains(columns, keyed, monkeypatch):
    """Words where all have room; else small letters, each kind its own, in the list of counts."""
    plan, drawn = lay_plan(columns), []

    def picture(page, *more):
        drawn.append((page, draw_lay_picture(page, *more)))
        return drawn[-1][1]

    monkeypatch.setattr(laysheet, "draw_lay_picture", picture)
    lay, pieces = plan.lays[0], {piece.piece_id: piece for piece in plan.pieces}
    page = lay_sheet_page(plan, lay, lay_work(plan, lay, QUICK), ("checked",), ())
    hold_legible(page)
    shown, (_, unnamed) = drawn[-1]
    assert unnamed == 0 and len(drawn) == 1 + keyed
    kinds = kinds_of(plan, lay)
    assert sum(kinds.values()) == len(lay.placed)
    listed = {kind: re.escape(f"{kind_words(kind, kinds)} × {count}") for kind, count in kinds.items()}
    texts = [box.text for box in page.boxes]
    said = {kind: [text for text in texts if re.fullmatch(f"(?:[a-z]+  )?{entry}", text)]
            for kind, entry in listed.items()}
    assert all(len(found) == 1 for found in said.values())
    keys = {kind: found[0].split("  ")[0] for kind, found in said.items() if "  " in found[0]}
    assert len(set(keys.values())) == len(keys) == (len(kinds) if keyed else 0)
    names = Counter(box.text for box in shown.boxes)
    for kind, count in kinds.items():
        assert names[kind_words(kind, kinds)] + names[keys.get(kind, "-")] == count
    assert {pieces[one.piece_id].style for one in lay.placed} == {"river", "brook"}


def test_slim_pieces_have_the_short_keys():
    """Of thirty kinds four have two letters: the widest, which are those of the two largest sizes."""
    plan = lay_plan(6, [str(size) for size in range(30, 45)])
    keys = laysheet.keys_of(plan, plan.lays[0])
    assert list(keys.values()) == [*ascii_lowercase, "aa", "ab", "ac", "ad"]
    assert [size for _, size, _ in list(keys)[-4:]] == ["43", "43", "44", "44"]
