"""Hides searched anew around what is held: never worse than before; what has no room any more goes elsewhere."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

from geometry.pose import Pose
from nest.edits.commands import EditProblem, PlaceAgain, SearchCommand, SetLayouts
from nest.edits.judged import findings_on
from nest.edits.state import State, free_numbers
from nest.pieces.piece import Foot, Piece, Role
from nest.placement.budget import Budget
from nest.plan import HideLayout, Placed, Plan
from nest.planning.fill import LEAST_KINDS, MOST_KINDS, LeatherTask, hide_cost, in_limits, solve_hide
from nest.planning.grounds import class_under
from nest.planning.lastroom import complete_exactly
from nest.planning.leftover import Leftover
from nest.planning.offer import looked_at, see_hide
from nest.planning.remaining import Kinds, vamps_left
from nest.planning.run import Engine, Run, TimeShare
from nest.planning.wants import Unit, Want, on_coordinate_grid
from nest.planning.watch import PlanProgress, Watch
from nest.room.roomiest import roomiest
from nest.rules import Rules
from nest.stock.material import Hide, Leather

MOST_SECONDS = 3600.0
"""A hand waits no longer."""

FIRST_ROUND_S = 1.0
"""Whoever watches sees a first layout of a hide after this long, and better ones as rounds of twice the time end."""

MORE_KINDS = 2
"""Kinds that are short and always on offer beside those that lie on a hide, however little time there is."""

ROOM_SHARE = 0.2
"""Share of the time kept for what has no room on the hides searched."""


def placed_anew(
    state: State, command: PlaceAgain, *, engine: Engine | None = None, cancelled: Callable[[], bool] = lambda: False,
    listener: Callable[[PlanProgress], None] | None = None, better: Callable[[SetLayouts], None] | None = None,
) -> SetLayouts:
    """The layouts that a search comes to, as the command that sets them.

    A search that is cancelled gives the best it has found. By passes alone equal calls give equal layouts. `better`
    gets what is found each time that it becomes more.

    Raises
    ------
    EditProblem
        If a hide may not change, or there is nothing to place.
    """
    check_limits(command)
    chosen = command.hides or _open_hides(state)
    if not chosen:
        raise EditProblem("every hide is cut or held; free one first.")
    for hide_id in chosen:
        state.check_open(hide_id)
    for hide_id in chosen:
        state = _with_partners_held(state, hide_id)
    run = Run(
        engine or Engine.fresh(), command.seed, Budget(command.seconds, command.passes, cancelled), Watch(listener))
    leathers = list(dict.fromkeys(state.hide(hide_id).leather for hide_id in chosen))
    pairs = count(1 + max((one.pair for layout in state.plan.layouts for one in layout.placed), default=0))
    layouts: dict[str, HideLayout] = {}
    for number, name in enumerate(leathers, start=1):
        until = None if command.seconds is None else command.seconds * number / len(leathers)
        mine = [hide_id for hide_id in chosen if state.hide(hide_id).leather == name]
        leather = next(one for one in state.plan.leathers if one.name == name)
        told = None if better is None else lambda found, before=dict(layouts): better(
            SetLayouts(tuple((before | found).values())))
        layouts |= _leather(state, leather, mine, run, TimeShare(run, until), pairs, told)
    return SetLayouts(tuple(layouts.values()))


def check_limits(command: SearchCommand) -> None:
    """EditProblem if a search is not limited, or not by what it may take."""
    if command.seconds is None and command.passes is None:
        raise EditProblem("a search needs a limit; give it seconds or passes.")
    if command.seconds is not None and not 0.0 < command.seconds <= MOST_SECONDS:
        raise EditProblem(f"a search takes up to {MOST_SECONDS:g} seconds, not {command.seconds:g}; correct it.")
    if command.passes is not None and command.passes < 1:
        raise EditProblem(f"a search takes at least one pass, not {command.passes}; correct it.")


def _open_hides(state: State) -> tuple[str, ...]:
    shut = {*state.plan.begun.cut_hides, *state.plan.begun.withdrawn, *state.held_hides}
    return tuple(layout.hide_id for layout in state.plan.layouts if layout.placed and layout.hide_id not in shut)


@dataclass(frozen=True, slots=True, eq=False)
class _Free:
    """What is free to be placed of one leather: units by want, and the plan without them."""

    without: Plan
    wants: tuple[Want, ...]
    before: Mapping[str, tuple[Unit, ...]]


def _leather(
    state: State, leather: Leather, chosen: Sequence[str], run: Run, share: TimeShare, pairs: Iterator[int],
    better: Callable[[dict[str, HideLayout]], None] | None,
) -> dict[str, HideLayout]:
    """New layouts of hides of one leather: the chosen ones, and those where what was left over went."""

    def found() -> dict[str, HideLayout]:
        touched = {*chosen, *(ids[at] for at, units in placed.items() if units)}
        return {
            hide_id: _layout(free, hide_id, placed.get(at, ()), pairs)
            for at, hide_id in enumerate(ids) if hide_id in touched
        }

    free = _free(state, leather, chosen)
    if not free.wants:
        return {hide_id: _layout(free, hide_id, (), pairs) for hide_id in chosen}
    others = [one.hide_id for one in free.without.layouts_to_cut if one.hide_id not in (*chosen, *state.held_hides)
              and state.hide(one.hide_id).leather == leather.name]
    ids = (*chosen, *others)
    left = Leftover(free.without)
    hides = [left.left(hide_id) for hide_id in ids]
    task = _task(hides, len(chosen), free.wants, leather, state.plan, run)
    placed = {at: free.before[hide_id] for at, hide_id in enumerate(chosen) if free.before.get(hide_id)}
    short = _short(task, placed)
    searching = TimeShare(run, None if share.until is None else run.elapsed + (1.0 - ROOM_SHARE) * (share.left or 0.0))
    order = sorted(range(len(chosen)), key=lambda at: task.area(placed.get(at, ())))
    for n, at in enumerate(order):
        for attempt, solves in enumerate(_rounds(searching, len(order) - n, watched=better is not None)):
            if run.cancelled() or searching.left == 0.0:
                break
            old = placed.get(at, ())
            limits = _on_offer(task, old, short, searching.limit(solves).seconds)
            layouts = solve_hide(task, at, limits, searching, solves, begin_from=old, attempt=attempt)
            best = max((in_limits(units, limits) for units in layouts), key=task.area, default=())
            if task.area(best) > task.area(old):
                placed[at] = best
                short = _short(task, placed)
                if better is not None:
                    better(found())
    if any(short) and not run.cancelled():
        everywhere = {at: placed.get(at, ()) for at in range(len(hides))}
        placed = complete_exactly(task, everywhere, short, share, opened_only=True).placed
    return found()


def _on_offer(task: LeatherTask, old: Sequence[Unit], short: Sequence[int], seconds: float | None) -> dict[int, int]:
    """How many units of each want a search of a hide may place: all that lie on it, and of what is short about as many
    kinds as there are seconds, the most area first; each kind takes time to prepare.
    """
    held = task.counts(old)
    limits = {w: n + short[w] for w, n in enumerate(held) if n}
    most = MOST_KINDS if seconds is None else min(MOST_KINDS, max(LEAST_KINDS, int(seconds)))
    room = max(most - sum(len(task.wants[w].distinct) for w in limits), MORE_KINDS)
    for w in sorted(range(len(short)), key=lambda w: (-short[w] * task.wants[w].area_mm2, w)):
        kinds = len(task.wants[w].distinct)
        if short[w] and w not in limits and kinds <= room:
            limits[w] = short[w]
            room -= kinds
    return limits


def _rounds(share: TimeShare, hides: int, *, watched: bool) -> Iterator[float]:
    """How many solves as long as the next one the time left would hold, for each round of one of some hides.

    One round where nobody watches, or passes limit it: then equal searches give equal layouts.
    """
    left = share.left
    if watched and left is not None and share.run.passes is None:
        end, length = share.run.elapsed + left / hides, FIRST_ROUND_S
        while end - share.run.elapsed > 2.0 * length:
            yield (share.left or 0.0) / length
            length *= 2.0
        yield (share.left or 0.0) / max(end - share.run.elapsed, 0.1)
    else:
        yield hides


def _free(state: State, leather: Leather, chosen: Sequence[str]) -> _Free:
    plan = state.plan
    styles = {style.name for style in plan.styles if style.leather == leather.name}
    pieces = {one.piece_id: one for one in plan.pieces}
    rules = {style.name: style.rules for style in plan.styles}
    without = state
    for hide_id in chosen:
        without = without.with_pieces(hide_id, state.parts(hide_id)[0])
    rates = {style.name: style.rates for style in plan.styles}
    mine = [one for one in plan.pieces if one.role is Role.VAMP and one.style in styles]
    kinds = Kinds.of(mine, rules, rates=rates)
    quantities = [line for line in plan.order if line.style in styles]
    layouts = _widowed(without.plan.layouts)
    rest = vamps_left(quantities, plan.begun, layouts, kinds, pieces)
    wants = kinds.wants(rest)
    before = {hide_id: _units(_sound(state, hide_id), wants, pieces) for hide_id in chosen}
    return _Free(replace(without.plan, layouts=layouts), wants, _within(wants, before))


def _sound(state: State, hide_id: str) -> list[tuple[Placed, int]]:
    """Free pieces of a hide that lie where they may."""
    wrong = {spot for finding in findings_on(state.plan, hide_id) for spot in finding.spots}
    layout = state.layout(hide_id)
    bad = {layout.number(at) for at in wrong}
    return [(one, number) for one, number in state.parts(hide_id)[1] if number not in bad]


def _with_partners_held(state: State, hide_id: str) -> State:
    """The state with the partner of each piece that stays on a hide held too: as it lies if it may lie so, else where
    there is most room for it.
    """
    staying = {one.pair for one, _ in state.parts(hide_id)[0] if one.pair}
    more = {(hide_id, number) for one, number in _sound(state, hide_id) if one.pair in staying}
    state = replace(state, held=state.held | more)
    stays, free = state.parts(hide_id)
    rules = {style.name: style.rules for style in state.plan.styles}
    pieces = {piece.piece_id: piece for piece in state.plan.pieces}
    members = Counter(one.pair for one, _ in stays)
    numbers = free_numbers({number for _, number in (*stays, *free)})
    for one, _ in [*stays]:
        piece = pieces[one.piece_id]
        if members[one.pair] == 1 and one.pair and rules[piece.style].pairs_from_one_hide:
            pose = _room_beside(state.with_pieces(hide_id, stays), hide_id, one, pieces, rules[piece.style])
            if pose is not None:
                stays.append((Placed(_partner(piece, pieces).piece_id, pose, one.pair), next(numbers)))
    put = [one for one in stays if not state.stays(hide_id, one[1])]
    dropped = {one.pair for one, _ in put}
    free = [one for one in free if one[0].pair not in dropped]
    held = state.held | {(hide_id, number) for _, number in put}
    return replace(state.with_pieces(hide_id, [*stays, *free]), held=held) if put else state


def _partner(piece: Piece, pieces: Mapping[str, Piece]) -> Piece:
    """The piece that makes a pair with this one."""
    feet = {Foot.LEFT: Foot.RIGHT, Foot.RIGHT: Foot.LEFT, Foot.EITHER: Foot.EITHER}
    key = piece.role, piece.style, piece.size, feet[piece.foot]
    return next(one for one in pieces.values() if (one.role, one.style, one.size, one.foot) == key)


def _room_beside(state: State, hide_id: str, one: Placed, pieces: Mapping[str, Piece], rules: Rules) -> Pose | None:
    """Where the partner of a piece has most room on its hide, beside what stays."""
    piece = pieces[one.piece_id]
    quality = None
    if rules.pairs_same_class:
        quality = class_under(state.hide(hide_id))(one.pose.apply(piece.net_outline))
    found = roomiest(Leftover(state.plan).room(hide_id), _partner(piece, pieces), rules, quality)
    return None if found is None else on_coordinate_grid(found.pose)


def _widowed(layouts: Sequence[HideLayout]) -> tuple[HideLayout, ...]:
    """The layouts; what lost its partner is alone."""
    held = Counter(one.pair for layout in layouts for one in layout.placed)
    return tuple(
        replace(layout, placed=tuple(replace(one, pair=one.pair if held[one.pair] == 2 else 0)
            for one in layout.placed))
        for layout in layouts
    )


def _units(parts: Sequence[tuple[Placed, int]], wants: Sequence[Want], pieces: Mapping[str, Piece]) -> tuple[Unit, ...]:
    """Free pieces of a hide as units of the wants; what makes none is searched for anew."""
    units: list[Unit] = []
    pairs: dict[int, list[Placed]] = {}
    for one, _ in parts:
        pairs.setdefault(one.pair or -len(pairs) - 1, []).append(one)
    for members in pairs.values():
        ids = sorted(one.piece_id for one in members)
        for w, want in enumerate(wants):
            if sorted(piece.piece_id for piece in want.pieces) == ids:
                left = list(members)
                poses = []
                for piece in want.pieces:
                    mine = next(one for one in left if one.piece_id == piece.piece_id)
                    left.remove(mine)
                    poses.append(mine.pose)
                units.append(Unit(w, tuple(poses)))
                break
            if len(want.pieces) == 1 and want.pieces[0].piece_id in ids:
                units += [Unit(w, (one.pose,)) for one in members if one.piece_id == want.pieces[0].piece_id]
    return tuple(units)


def _within(wants: Sequence[Want], before: Mapping[str, tuple[Unit, ...]]) -> dict[str, tuple[Unit, ...]]:
    """The units, no more of each want than there is."""
    left = {w: want.count for w, want in enumerate(wants)}
    kept = {}
    for hide_id, units in before.items():
        kept[hide_id] = in_limits(units, left)
        for unit in kept[hide_id]:
            left[unit.want] -= 1
    return kept


def _task(
    hides: Sequence[Hide], searched: int, wants: tuple[Want, ...], leather: Leather, plan: Plan, run: Run
) -> LeatherTask:
    """The task; the first of the hides are searched, on the others room is looked for."""
    seen = [see_hide(hide, wants, plan.settings, one_way=leather.one_way) for hide in hides[:searched]]
    seen += [looked_at(hide) for hide in hides[searched:]]
    costs = [hide_cost(hide, leather) for hide in hides]
    return LeatherTask(wants, seen, costs, plan.settings, run, leather.one_way, leather.name)


def _short(task: LeatherTask, placed: Mapping[int, Sequence[Unit]]) -> list[int]:
    held = task.counts([unit for units in placed.values() for unit in units])
    return [want.count - n for want, n in zip(task.wants, held, strict=True)]


def _layout(free: _Free, hide_id: str, units: Sequence[Unit], pairs: Iterator[int]) -> HideLayout:
    """What stays on a hide under its numbers, and the units under those that are free."""
    stays = next((one for one in free.without.layouts if one.hide_id == hide_id), HideLayout(hide_id, ()))
    numbered = [(one, stays.number(at)) for at, one in enumerate(stays.placed)]
    numbers = free_numbers({number for _, number in numbered})
    for unit in units:
        pair = next(pairs) if len(unit.poses) > 1 else 0
        for piece, pose in zip(free.wants[unit.want].pieces, unit.poses, strict=True):
            numbered.append((Placed(piece.piece_id, pose, pair), next(numbers)))
    numbered.sort(key=lambda one: one[1])
    return HideLayout(hide_id, tuple(one for one, _ in numbered), tuple(number for _, number in numbered))
