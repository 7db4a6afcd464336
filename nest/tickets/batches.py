"""Batches: the vamps of one style that go through bonding, softening, crimping and trimming together."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from nest.pieces.piece import Foot
from nest.plan import Plan, PlannedStyle


@dataclass(frozen=True, slots=True)
class Vamp:
    """One vamp of a batch: its hide and its number there, as on the cut sheet; `pair` is 0 for a single one."""

    hide_id: str
    number: int
    size: str
    foot: Foot
    pair: int


@dataclass(frozen=True, slots=True)
class Batch:
    """Vamps of a style, in the order of cutting; `number` of `count` batches of that style, from 1."""

    style: str
    number: int
    count: int
    vamps: tuple[Vamp, ...]

    @property
    def name(self) -> str:
        """What it is called by on paper."""
        return f"{self.style} {self.number}"

    @property
    def pairs(self) -> float:
        """Pairs, a single vamp counting half."""
        return len(self.vamps) / 2.0

    @property
    def hides(self) -> tuple[str, ...]:
        """The hides it comes from, in the order of cutting."""
        return tuple(dict.fromkeys(vamp.hide_id for vamp in self.vamps))


def batches_of(plan: Plan) -> tuple[Batch, ...]:
    """The batches of what a plan still has to cut, style by style, in the order of cutting.

    Partners stay together, so a pair counts as cut with its later vamp. A style whose job states no `batch_pairs` is
    one batch; else there are as few as that allows, and they differ by a pair.
    """
    return tuple(batch for style in plan.styles for batch in _of_style(plan, style))


def _of_style(plan: Plan, style: PlannedStyle) -> Iterator[Batch]:
    together: dict[tuple, list[Vamp]] = {}
    pieces = {piece.piece_id: piece for piece in plan.pieces}
    for at, layout in enumerate(plan.layouts_to_cut):
        for index, one in enumerate(layout.placed):
            piece = pieces[one.piece_id]
            if piece.style == style.name:
                vamp = Vamp(layout.hide_id, layout.number(index), piece.size, piece.foot, one.pair)
                # A later partner moves its pair to its own place in the order.
                key = ("pair", one.pair) if one.pair else ("single", at, index)
                together[key] = [*together.pop(key, ()), vamp]
    total = sum(map(len, together.values()))
    if not total:
        return
    most = 2 * style.crimping.batch_pairs if style.crimping.batch_pairs else total + total % 2
    count, done = ceil(total / most), 0
    shares: list[list[Vamp]] = [[]]
    for vamps in together.values():
        full = len(shares[-1]) + len(vamps) > most
        even = done + len(vamps) > total * len(shares) / count and total - done <= (count - len(shares)) * most
        if shares[-1] and (full or even):
            shares.append([])
        shares[-1] += vamps
        done += len(vamps)
    order = {layout.hide_id: at for at, layout in enumerate(plan.layouts_to_cut)}
    for number, share in enumerate(shares, start=1):
        in_order = tuple(sorted(share, key=lambda vamp: (order[vamp.hide_id], vamp.number)))
        yield Batch(style.name, number, len(shares), in_order)
