"""How long a table takes for the tour it drives, from its speeds and, if it states them, acceleration and corners."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from nest.cutplan.path import CutPath, Mark
from nest.job.cutting_table import CuttingTable

HOME = (0.0, 0.0)
"""Where the head waits: the table's origin."""

CORNER_DEG = 30.0
"""Where a line turns by more than this, the head comes to a stop (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class CutTime:
    """An estimate of one tour from home through every mark and cut and back; lengths mm."""

    cut_mm: float
    mark_mm: float
    travel_mm: float
    lifts: int
    seconds: float
    slowed: bool = False
    """Whether speeding up, slowing down and corners are counted."""

    def told(self) -> str:
        """The estimate in words."""
        minutes, seconds = divmod(round(self.seconds), 60)
        return (
            f"Estimated time {minutes} min {seconds:02d} s: {self.cut_mm / 1000:.2f} m cut, "
            f"{self.mark_mm / 1000:.2f} m marked, {self.travel_mm / 1000:.2f} m travel from the origin and back, "
            f"tool lowered {self.lifts} times; speeding up and corners {'' if self.slowed else 'not '}counted."
        )


def cutting_time(steps: Iterable[Mark | CutPath], table: CuttingTable, home=HOME) -> CutTime:
    """Time for marks and cuts as they follow each other, from `home` and back."""
    here, travel, seconds, lifts = np.asarray(home, dtype=np.float64), 0.0, 0.0, 0
    done = {Mark: 0.0, CutPath: 0.0}
    for step in steps:
        speed = table.mark_mm_s if isinstance(step, Mark) else table.cut_mm_s
        for line in step.strokes(table.overcut_mm):
            away = float(np.hypot(*(line[0] - here)))
            travel += away
            seconds += _run_s(away, table.travel_mm_s, table.accel_mm_s2) + table.lift_s
            runs = _straight_runs(line)
            done[type(step)] += float(runs.sum())
            seconds += float(_run_s(runs, speed, table.accel_mm_s2).sum()) + (len(runs) - 1) * table.corner_s
            here, lifts = line[-1], lifts + 1
    away = float(np.hypot(*(here - home)))
    seconds += _run_s(away, table.travel_mm_s, table.accel_mm_s2)
    slowed = table.accel_mm_s2 is not None or table.corner_s > 0.0
    return CutTime(done[CutPath], done[Mark], travel + away, lifts, float(seconds), slowed)


def _run_s(length, speed: float, accel: float | None):
    """Time for runs of these lengths from stand to stand, s: at even speed, or with a ramp at each end."""
    length = np.asarray(length, dtype=np.float64)
    if accel is None:
        return length / speed
    ramps = speed * speed / accel
    return np.where(length >= ramps, length / speed + speed / accel, 2.0 * np.sqrt(length / accel))


def _straight_runs(line: np.ndarray) -> np.ndarray:
    """Lengths of what lies between the corners of a line (n, 2), mm."""
    steps = np.diff(line, axis=0)
    length = np.hypot(*steps.T)
    steps, length = steps[length > 0.0], length[length > 0.0]
    if not len(length):
        return np.zeros(1)
    x, y = (steps / length[:, None]).T
    turn = np.degrees(np.arctan2(x[:-1] * y[1:] - y[:-1] * x[1:], x[:-1] * x[1:] + y[:-1] * y[1:]))
    first = np.concatenate(((0,), np.flatnonzero(np.abs(turn) > CORNER_DEG) + 1))
    return np.add.reduceat(length, first)
