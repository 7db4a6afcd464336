"""How far a run is, on one line that goes away at the end; nothing where standard error is no terminal."""

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.progress import BarColumn, Progress, TaskID, TextColumn

from nest.cli.screen import Screen

if TYPE_CHECKING:
    from nest.planning.watch import PlanProgress

_STAGES = {
    "rolls": "placing on roll", "hides": "placing on hide", "choice": "choosing hides", "finish": "finishing the plan",
    "room": "looking for room on hide",
}


_WITH_BAR, _WITH_SHARE = 100, 78
"""Columns from which on a bar, and how much is covered, are shown too."""


@dataclass(frozen=True, slots=True)
class Watch:
    """Shows how far a run is; `seconds` is the time for placing, None where passes limit it."""

    bar: Progress
    task: TaskID
    seconds: float | None

    def stage(self, words: str) -> None:
        """Show a stage after placing."""
        self.bar.update(self.task, completed=1, total=1, stage=words, placed="", share="", left="")

    def counted(self, words: str, done: int, total: int) -> None:
        """Show how many of a number are done."""
        self.bar.update(self.task, completed=done, total=total, stage=words, placed=f"{done} of {total}", share="",
                        left="")

    def heard(self, told: "PlanProgress") -> None:
        """Show how far placing is: the listener of `make_plan`."""
        words = f"{_STAGES.get(told.stage, told.stage)} {told.material_id}".strip()
        placed = f"{told.done_pieces} of {told.total_pieces} placed"
        share = f"{told.yield_so_far:.1%} covered" if told.yield_so_far > 0.0 else ""
        if self.seconds is None:
            done, total = float(told.done_pieces), float(told.total_pieces)
            left = f"{clock(told.seconds)} so far"
        else:
            done, total, left = told.seconds, self.seconds, left_of(self.seconds - told.seconds)
        self.bar.update(self.task, completed=done, total=total, stage=words, placed=placed, share=share, left=left)


@contextmanager
def shown_progress(screen: Screen, seconds: float | None = None) -> Iterator[Watch]:
    """Yield a watch that shows progress on the screen's standard error, if that is a terminal and not quiet."""
    wide, middling = (screen.notes.width >= least for least in (_WITH_BAR, _WITH_SHARE))
    columns = (
        TextColumn("{task.fields[stage]}", markup=False), *((BarColumn(bar_width=20),) if wide else ()),
        *(TextColumn(f"{{task.fields[{name}]}}", markup=False)
          for name in ("placed", *(("share",) if middling else ()), "left")),
    )
    hidden = screen.quiet or not screen.notes.is_terminal
    bar = Progress(*columns, console=screen.notes, transient=True, disable=hidden)
    task = bar.add_task("", total=None, stage="reading", placed="", share="", left="")
    # A hidden bar is not started: older releases of rich print an empty line when it stops.
    with nullcontext() if hidden else bar:
        yield Watch(bar, task, seconds)


def left_of(seconds: float) -> str:
    """How much of the time for placing is left; what goes on after it counts as over time."""
    return f"{clock(seconds)} left" if round(seconds) > 0 else f"{clock(-seconds)} over time"


def clock(seconds: float) -> str:
    """Minutes and seconds."""
    minutes, rest = divmod(max(0, round(seconds)), 60)
    return f"{minutes}:{rest:02d}"
