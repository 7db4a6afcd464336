"""The last step for what is still short: units are put wherever the exact search finds room; nothing else is moved."""

from collections.abc import Sequence
from dataclasses import dataclass

from nest.pieces.piece import Piece
from nest.planning.fill import LeatherTask, UnitsByHide
from nest.planning.run import TimeShare
from nest.planning.wants import Unit
from nest.room.answer import Answer
from nest.room.hide import HideLeft, Wanted
from nest.room.shape import Shape
from nest.urgency import rank_of_next


@dataclass(frozen=True, slots=True)
class Completed:
    """Units of each hide with those put, and units still missing of each want.

    complete : whether what is missing has room on no hide at any heading looked at, and nothing was left out.
    every_heading : whether that is proved for the headings between, too.
    """

    placed: UnitsByHide
    short: tuple[int, ...]
    complete: bool
    every_heading: bool


def complete_exactly(
    task: LeatherTask, placed: UnitsByHide, short: Sequence[int], share: TimeShare | None = None, *,
    opened_only: bool = False,
) -> Completed:
    """Put what is short on the hides as they are left, opened ones first, then whole ones in rank.

    The most urgent units come first, of those the larger ones. Headings at bias are used where the rules of a style
    give leave and there is no other room. It stops when the run is cancelled or its `share` of time is used up: what is
    being looked at then is given up at its next step, no other hide or unit is begun, and it is not complete.
    """

    def stop() -> bool:
        return task.run.cancelled() or (share is not None and share.left == 0.0)

    result, left = dict(placed), list(short)
    answers: list[list[Answer]] = [[] for _ in left]
    shapes: dict[Piece, Shape] = {}
    watch = task.run.watch
    watch.here = sum(map(task.pieces, placed.values()))
    whole_ones = () if opened_only else tuple(hide for hide in task.ranked if hide not in placed)
    halted = False
    for hide in (*sorted(placed), *whole_ones):
        if halted or not any(left):
            break
        whole = task.seen[hide].hide
        rings = [
            pose.apply(piece.cut_outline) for unit in result.get(hide, ())
            for piece, pose in zip(task.wants[unit.want].pieces, unit.poses, strict=True)
        ]
        margin, gap = task.settings.edge_room_mm, task.settings.hide_apart_mm
        room = HideLeft(whole, task.one_way, margin, gap, tuple(rings), shapes)
        watch.tell("room", whole.hide_id)
        asked = {w for w, n in enumerate(left) if n}
        while asked:
            halted = stop()
            if halted:
                break
            at = min(asked, key=lambda w: (rank_of_next(task.wants[w].tiers, left[w]), -task.wants[w].area_mm2, w))
            wanted = Wanted(task.wants[at].pieces, task.wants[at].rules)
            answer = room.room_for(wanted, stop=stop)
            if not answer.found:
                answers[at].append(answer)
                asked.remove(at)
                continue
            room = room.put(room.placed(wanted, answer.poses))
            result[hide] = (*result.get(hide, ()), Unit(at, answer.poses))
            left[at] -= 1
            if not left[at]:
                asked.remove(at)
            watch.here += len(answer.poses)
            watch.tell("room", whole.hide_id)
    said = [answer for at, mine in enumerate(answers) if left[at] for answer in mine]
    return Completed(
        result, tuple(left), not halted and all(one.complete for one in said),
        not halted and all(one.every_heading for one in said),
    )
