"""Pieces that a run remembers are those it would make anew."""

from dataclasses import replace

import pytest
from small_styles import EVEN, box, style

from nest.pieces import remembered
from nest.pieces.make import make_pieces
from nest.pieces.remembered import PieceMemory
from nest.rules import Rules


@pytest.fixture
def made(monkeypatch):
    """The styles that pieces were made for, in their order."""
    styles = []

    def noted(one, sizes):
        styles.append(one)
        return make_pieces(one, sizes)

    monkeypatch.setattr(remembered, "make_pieces", noted)
    return styles


def test_pieces_are_made_once(made):
    """A style with other rejects, rules, leather or roll has the same pieces."""
    memory, plain = PieceMemory(), style(box())
    first = memory(plain, ("38",))
    for change in ({}, {"rules": Rules(net_quality=3)}, {"leather": "kid"}, {"roll": "other"}, {"reject_percent": 9.0}):
        assert memory(replace(plain, **change), ("38",)) is first
    assert made == [plain]


@pytest.mark.parametrize("change", [
    {"allowances": EVEN}, {"widening_percent": 3.0}, {"reinforcement_inset_mm": 11.0}, {"roll": ""}, {"name": "other"},
    {"templates": (box(201.0),)},
], ids=lambda change: next(iter(change)))
def test_what_changes_a_piece_is_made_anew(made, change):
    """The pieces are then those of the changed style."""
    memory, plain = PieceMemory(), style(box())
    changed = replace(plain, **change)
    memory(plain, ("38",))
    pieces, _ = memory(changed, ("38",))
    assert [one.cut_outline.tolist() for one in pieces] == [
        one.cut_outline.tolist() for one in make_pieces(changed, ("38",))[0]]
    assert made == [plain, changed]
