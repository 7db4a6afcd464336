"""Room for what a plan is short of: the search behind `verify --room`, and how its result is shown."""

from collections import Counter
from typing import Any

from rich.table import Table
from rich.text import Text

from nest.cli.codes import Exit, code_of
from nest.cli.costing_tables import plain_table
from nest.cli.progress import shown_progress
from nest.cli.screen import Screen
from nest.cli.stopping import stop_on_interrupt
from nest.plan import Plan
from nest.room.answer import Answer
from nest.room.plan import LineRoom, Room, room_in_plan
from nest.verify import Verdict

KEPT = "what is found so far is shown"


def looked_for_room(
    screen: Screen, plan: Plan, verdict: Verdict
) -> tuple[dict[str, Any] | None, list[str | Table], Exit]:
    """Look for room: the result as plain data, what is printed of it, and the exit code.

    The code is that of the verdict, but DONE where the order is short and no more of it has room, proved.
    """
    code = code_of(verdict)
    if not verdict.ok:
        return None, ["The plan is wrong; room is not looked for on it."], code
    with stop_on_interrupt(screen.complain, KEPT) as cancelled, shown_progress(screen) as watch:
        room = room_in_plan(
            plan, cancelled=cancelled,
            tell=lambda name, done, total: watch.counted(f"looking for room on hide {name}", done, total),
        )
    if cancelled():
        code = Exit.STOPPED
    elif room.lines and not room.fits and room.complete:
        code = Exit.DONE
    return room_result(room), room_shown(room), code


def room_result(room: Room) -> dict[str, Any]:
    """What was found, as plain data; lengths mm, angles degrees."""
    return {
        "fits": room.fits,
        "complete": room.complete,
        "looked_at": list(room.looked_at),
        "lines": [_line_result(line) for line in room.lines],
    }


def _line_result(line: LineRoom) -> dict[str, Any]:
    return {
        "style": line.short.style,
        "size": line.short.size,
        "unit": line.short.unit,
        "short": line.short.count,
        "left_short": line.left_short,
        "complete": line.complete,
        "every_heading": line.every_heading,
        "step_deg": line.step_deg,
        "why_not_complete": line.why_not_complete,
        "units": [
            [
                {"hide": spot.hide_id, "piece": spot.piece.piece_id, "x": spot.pose.x, "y": spot.pose.y,
                 "heading_deg": spot.pose.heading_deg}
                for spot in spots
            ]
            for spots in line.units
        ],
        "no_more_on": [
            {"hide": name, "complete": one.complete, "every_heading": one.every_heading, "step_deg": one.step_deg,
             "why": one.why}
            for name, one in line.answers.items()
        ],
    }


def room_shown(room: Room) -> list[str | Table]:
    """Tables by hide, and a sentence for each thing that is short."""
    if not room.lines:
        return ["Room: nothing is short."]
    grid = plain_table("Room for what is short", "hide", ("fits", "no more of it fits"))
    for column in grid.columns[1:]:
        column.justify, column.no_wrap, column.overflow = "left", False, "fold"
    for name in room.looked_at:
        fits = Counter(
            (at, len(spots)) for at, line in enumerate(room.lines) for spots in line.units for spot in spots[:1]
            if spot.hide_id == name
        )
        put = [_counted(room.lines[at], number) for (at, _), number in fits.items()]
        why: dict[str, list[str]] = {}
        for line in room.lines:
            if name in line.answers:
                why.setdefault(_reason(line.answers[name]), []).append(f"{line.short.style} {line.short.size}")
        grid.add_row(
            Text(name), Text("; ".join(put) or "none"),
            Text("; ".join(f"{', '.join(names)}: {reason}" for reason, names in why.items()) or "–"),
        )
    return [grid, *(_sentence(line, len(room.looked_at)) for line in room.lines)]


def _counted(line: LineRoom, number: int) -> str:
    return f"{number} {line.short.unit}{'s' * (number != 1)} of {line.short.style} {line.short.size}"


def _reason(answer: Answer) -> str:
    if not answer.complete:
        return f"not settled, {answer.why}"
    return answer.why if answer.every_heading else f"{answer.why} (by {answer.step_deg:.2g}°)"


def _sentence(line: LineRoom, hides: int) -> str:
    short, fits, left = line.short, len(line.units), line.left_short
    text = f"Room: of {_counted(line, short.count)} short, {fits or 'none'} would still fit"
    if not left:
        return f"{text}."
    others = "it" if left == 1 else f"the {'other ' * bool(fits)}{left}"
    if not line.complete:
        return f"{text}; {others} may: not all was looked at, {line.why_not_complete}."
    proved = "at any heading" if line.every_heading else (
        f"at headings 1° apart, and {line.step_deg:.2g}° where it comes near"
    )
    return f"{text}; for {others} no hide of {hides} has room {proved}."
