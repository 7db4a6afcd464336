"""Room for what a whole plan is short of, hide by hide; and the plan with all of it put where it fits.

Hides that something is cut from already stay as they are, withdrawn ones are not looked at. Of the others those that
the plan opens come before whole ones. The most urgent units are put first, of those the larger, one after the other,
each beside all before it; so
what is short in the end has been looked for on every hide as it is left then (ground only ever gets less).
"""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace

from geometry.pose import Pose
from nest.pieces.piece import Foot, Piece
from nest.plan import HideLayout, Placed, Plan
from nest.room.answer import Answer
from nest.room.hide import NEVER, HideLeft, Wanted
from nest.room.scraps import class_under
from nest.room.search import STOPPED
from nest.room.shorts import Short, shorts
from nest.urgency import rank_of_next

Tell = Callable[[str, int, int], None]
"""Called with the hide that is looked at, how many are done, and how many there are."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One piece put on a hide."""

    hide_id: str
    piece: Piece
    pose: Pose


@dataclass(frozen=True, slots=True)
class LineRoom:
    """What was found for one thing that is short.

    units : the units that fit, each with the places of its pieces.
    answers : by hide, what was said of those on which no more has room, as far as they were looked at.
    """

    short: Short
    units: tuple[tuple[Spot, ...], ...]
    answers: Mapping[str, Answer]

    @property
    def left_short(self) -> int:
        """How many are short even so."""
        return self.short.count - len(self.units)

    @property
    def complete(self) -> bool:
        """Whether nothing was left out: what is short even so has room on no hide at any heading looked at."""
        return not self.left_short or all(answer.complete for answer in self.answers.values())

    @property
    def every_heading(self) -> bool:
        """Whether that is proved for all headings between, too."""
        return not self.left_short or all(answer.every_heading for answer in self.answers.values())

    @property
    def step_deg(self) -> float:
        """The narrowest range of headings that had to be looked at by itself on any hide; 0 if none had to."""
        return min((one.step_deg for one in self.answers.values() if one.step_deg > 0.0), default=0.0)

    @property
    def why_not_complete(self) -> str:
        """What was left out, in words, with the hides; empty if nothing was."""
        reasons: dict[str, list[str]] = {}
        for name, answer in self.answers.items():
            if not answer.complete:
                reasons.setdefault(answer.why, []).append(name)
        return "; ".join(f"{why} ({', '.join(names)})" for why, names in reasons.items())


@dataclass(frozen=True, slots=True)
class Room:
    """What a plan is short of, and the plan with everything that still fits.

    looked_at : ids of the hides that were looked at.
    """

    lines: tuple[LineRoom, ...]
    looked_at: tuple[str, ...]
    plan: Plan

    @property
    def fits(self) -> int:
        """How many units fit."""
        return sum(len(line.units) for line in self.lines)

    @property
    def complete(self) -> bool:
        """Whether nothing was left out of the search."""
        return all(line.complete for line in self.lines)


def room_in_plan(plan: Plan, *, cancelled: Callable[[], bool] = NEVER, tell: Tell | None = None) -> Room:
    """Look on every hide for room for what the plan is short of; nothing that is placed is moved.

    When `cancelled` turns true what is found by then is kept, and the answer says that it is not complete.
    """
    missing = shorts(plan)
    search = _Search(plan, missing, cancelled, tell or (lambda *_: None))
    search.by_hides()
    search.over_two_hides()
    lines = tuple(LineRoom(short, tuple(search.units[at]), search.answers[at]) for at, short in enumerate(missing))
    return Room(lines, tuple(search.looked_at), _with_units(plan, lines, search.partners))


@dataclass(eq=False)
class _Search:
    """One search over one plan."""

    plan: Plan
    missing: tuple[Short, ...]
    cancelled: Callable[[], bool]
    tell: Tell
    hides: dict[str, HideLeft] = field(default_factory=dict)
    left: list[int] = field(default_factory=list)
    units: list[list[tuple[Spot, ...]]] = field(default_factory=list)
    answers: list[dict[str, Answer]] = field(default_factory=list)
    partners: list[tuple[Spot, str, int]] = field(default_factory=list)
    """Pieces put as partners of ones that lay alone, with the hide and the index of these."""
    looked_at: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.left = [short.count for short in self.missing]
        self.units = [[] for _ in self.missing]
        self.answers = [{} for _ in self.missing]
        self.hides = _hides_left(self.plan, {short.leather for short in self.missing})

    def next_of(self, some: Collection[int]) -> int:
        """Which of what is missing is put next: the most urgent, of those the largest."""
        return min(some, key=lambda at: (
            rank_of_next(self.missing[at].tiers, self.left[at]), -self.missing[at].area_mm2, at))

    def by_hides(self) -> None:
        """Put all that fits on each hide, one after the other."""
        for done, name in enumerate(self.hides):
            mine = {
                at for at, short in enumerate(self.missing)
                if self.left[at] and short.leather == self.hides[name].hide.leather
            }
            self.tell(name, done, len(self.hides))
            if mine and not self.cancelled():
                self.looked_at.append(name)
            while mine:
                at = self.next_of(mine)
                wanted = Wanted(self.missing[at].pieces, self.missing[at].rules)
                answer = self._ask(name, wanted)
                if answer.found:
                    self._put(at, [Spot(name, *one) for one in zip(wanted.pieces, answer.poses, strict=True)])
                else:
                    self.answers[at][name] = answer
                if not answer.found or not self.left[at]:
                    mine.remove(at)

    def _ask(self, name: str, wanted: Wanted) -> Answer:
        if self.cancelled():
            return Answer((), False, False, 0.0, STOPPED)
        return self.hides[name].room_for(wanted, stop=self.cancelled)

    def _put(self, at: int, spots: list[Spot]) -> None:
        for spot in spots:
            self.hides[spot.hide_id] = self.hides[spot.hide_id].put([spot.pose.apply(spot.piece.cut_outline)])
        self.units[at].append(tuple(spots))
        self.left[at] -= 1

    def over_two_hides(self) -> None:
        """Pairs of one class whose two may come from two hides: partners of those that lie alone, then both anew."""
        open_ones = {at for at, short in enumerate(self.missing) if short.apart}
        while open_ones:
            at = self.next_of(open_ones)
            open_ones.remove(at)
            short = self.missing[at]
            for hide_id, index, foot, quality in _alone(self.plan, short):
                partner = next(piece for piece in short.pieces[::-1] if foot is Foot.EITHER or piece.foot is not foot)
                spot = self._somewhere(at, partner, quality) if self.left[at] else None
                if spot is not None:
                    self._put(at, [spot])
                    self.partners.append((spot, hide_id, index))
            while self.left[at] and (spots := self._both_somewhere(at)):
                self._put(at, spots)

    def _both_somewhere(self, at: int) -> list[Spot]:
        short = self.missing[at]
        qualities = {zone.quality for one in self.hides.values() for zone in one.hide.zones}
        for quality in sorted((q for q in qualities if q <= short.rules.net_quality), reverse=True):
            for name in self.hides:
                first = self._somewhere(at, short.pieces[0], quality, only=name)
                # where both lie on one hide they were looked for together before
                if first and (second := self._somewhere(at, short.pieces[1], quality, but=name)):
                    return [first, second]
        return []

    def _somewhere(self, at: int, piece: Piece, quality: int, only: str = "", but: str = "") -> Spot | None:
        """A place for one piece on ground that counts as of one class."""
        short = self.missing[at]
        for name, one in self.hides.items():
            if one.hide.leather == short.leather and name != but and only in ("", name):
                answer = self._ask(name, Wanted((piece,), short.rules, quality))
                if answer.found:
                    return Spot(name, piece, answer.poses[0])
                if not answer.every_heading:
                    self.answers[at][name] = answer
        return None


def _hides_left(plan: Plan, leathers: set[str]) -> dict[str, HideLeft]:
    """Hides that may still be cut, of some leathers, those that the plan opens first."""
    rings = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
    layouts = {layout.hide_id: layout.placed for layout in plan.layouts}
    closed = {*plan.begun.cut_hides, *plan.begun.withdrawn}
    one_way = {leather.name: leather.one_way for leather in plan.leathers}
    shapes: dict = {}
    hides = [hide for hide in plan.hides if hide.leather in leathers and hide.hide_id not in closed]
    return {
        hide.hide_id: HideLeft(
            hide, one_way.get(hide.leather, False), plan.settings.edge_room_mm, plan.settings.hide_apart_mm,
            tuple(one.pose.apply(rings[one.piece_id]) for one in layouts.get(hide.hide_id, ())), shapes,
        )
        for hide in sorted(hides, key=lambda hide: not layouts.get(hide.hide_id))
    }


def _alone(plan: Plan, short: Short) -> Iterator[tuple[str, int, Foot, int]]:
    """Vamps of a style and size that lie without a partner: hide, index there, foot, class under it."""
    hides = {hide.hide_id: hide for hide in plan.hides}
    kinds = {piece.piece_id: piece for piece in short.pieces}
    for layout in plan.layouts:
        for index, one in enumerate(layout.placed):
            if one.piece_id in kinds and not one.pair and layout.hide_id in hides:
                piece = kinds[one.piece_id]
                quality = class_under(hides[layout.hide_id], one.pose.apply(piece.net_outline))
                if quality > 0:
                    yield layout.hide_id, index, piece.foot, quality


def _with_units(plan: Plan, lines: tuple[LineRoom, ...], partners: list[tuple[Spot, str, int]]) -> Plan:
    """The plan with all units put, pairs numbered on."""
    number = max((one.pair for layout in plan.layouts for one in layout.placed), default=0)
    placed = {layout.hide_id: list(layout.placed) for layout in plan.layouts}
    beside = {id(spot): (hide_id, index) for spot, hide_id, index in partners}
    for line in lines:
        for spots in line.units:
            pair = 0
            alone = beside.get(id(spots[0]))
            if len(spots) == 2 or alone:
                number += 1
                pair = number
            if alone:
                placed[alone[0]][alone[1]] = replace(placed[alone[0]][alone[1]], pair=pair)
            for spot in spots:
                placed.setdefault(spot.hide_id, []).append(Placed(spot.piece.piece_id, spot.pose, pair))
    return replace(plan, layouts=tuple(HideLayout(name, tuple(own)) for name, own in placed.items()))
