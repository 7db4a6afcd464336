"""Trim left at today's allowances, by style and size, and how it drifts with size, side, week and lot.

Each part of each leather is looked at by itself, all of its styles together. A piece cut with another allowance than
today's is taken to have that much more or less left now. Sizes of a style have a slope along the scale and deviations
from it, weeks a slope and deviations, lots and hides deviations: so a week that happened to go badly, or a lot, is not
taken for a drift. All the differences claimed of one record hold together with 95 % confidence.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

import numpy as np

from nest.drift.lots import lot_p
from nest.drift.mixture import Mixture
from nest.drift.model import KNOWN, Design, Posterior, posterior
from nest.drift.record import Measured
from nest.job.job import Job
from nest.pieces.piece import Part
from nest.pieces.sizing import SizeError, position, size_system
from nest.teaching.claims import claimed
from nest.trial.effective import effective_allowance

LEAST_WEEKS = 4
"""A drift over weeks is looked for from this many weeks on."""

LEVEL_SCALE, STYLE_SCALE, SIZE_SCALE, WEEK_SCALE, LOT_SCALE = 20.0, 2.0, 0.2, 0.25, 0.45
"""Before any data, mm: the level; spreads of styles about it, of sizes about their slope, of weeks, and of lots."""

SLOPE_SCALE, SIDE_SCALE = 0.5, 1.0
"""The same of a slope, mm a size or a week, and of left less right, mm."""

_STYLE, _SIZE, _WEEK, _LOT = range(4)


@dataclass(frozen=True, slots=True, eq=False)
class SizeTrim:
    """Trim left at one part of one size at today's allowance, mm.

    mean : of lots and weeks to come. spread : by point of `mean`, standard deviation of one piece to come.
    least_mm : of the pieces measured.
    """

    style: str
    size: str
    part: Part
    pieces: int
    now_mm: float
    least_mm: float
    mean: Mixture
    spread: np.ndarray

    def low(self, k: float) -> Mixture:
        """Mean less k standard deviations of one piece."""
        return replace(self.mean, middle=self.mean.middle - k * self.spread)


@dataclass(frozen=True, slots=True)
class Effect:
    """One way in which trim left differs, with its 95 % interval, mm.

    what : "size" (mm a size of `style`), "side" (left less right), "week" (mm a week), "lot" (spread of lots).
    told : whether it is so beyond doubt.
    """

    what: str
    style: str
    value: float
    low: float
    high: float
    p: float
    told: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class WeekTrim:
    """Trim left of one style in one week at today's allowances: the mean measured, and what it is taken for."""

    style: str
    monday: date
    pieces: int
    measured_mm: float
    mean: Mixture


@dataclass(frozen=True, slots=True, eq=False)
class PartDrift:
    """What the record says of one part of one leather; lots with their pieces and deviations."""

    leather: str
    part: Part
    pieces: int
    sizes: tuple[SizeTrim, ...]
    effects: tuple[Effect, ...]
    weeks: tuple[WeekTrim, ...]
    lots: tuple[tuple[str, int, Mixture], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """What a record says, part by part, and what of it was left out."""

    parts: tuple[PartDrift, ...]
    notes: tuple[str, ...]


def drift_of(record: Sequence[Measured], job: Job) -> Drift:
    """What the record says of the styles of a job at the allowances that they have there."""
    usable, notes = _usable(record, job)
    styles = {style.name: style for style in job.styles}
    parts = []
    order = sorted(usable, key=lambda one: (one.leather, [*Part].index(one.part)))
    for (leather, part), group in groupby(order, key=lambda one: (one.leather, one.part)):
        rows = [*group]
        allowance = {
            key: effective_allowance(styles[key[0]], key[1], part, styles[key[0]].widening_percent)
            for key in dict.fromkeys((one.style, one.size) for one in rows)
        }
        places = {key: float(position(size_system(styles[key[0]].grading.system), key[1])) for key in allowance}
        parts.append(_part(leather, part, rows, allowance, places))
    sure = iter(claimed([effect.p for part in parts for effect in part.effects]))
    return Drift(
        tuple(replace(part, effects=tuple(replace(effect, told=next(sure)) for effect in part.effects))
              for part in parts), tuple(notes),
    )


def _usable(record: Sequence[Measured], job: Job) -> tuple[list[Measured], list[str]]:
    """Rows of styles of the job on the leather that they have there, and a sentence for each reason to leave others."""
    styles = {style.name: style for style in job.styles}
    usable: list[Measured] = []
    left: Counter[str] = Counter()
    for one in record:
        style = styles.get(one.style)
        if style is None:
            left[f"of style {one.style}, which the job does not have"] += 1
        elif style.leather != one.leather:
            left[f"of {one.style} on {one.leather}, which the job cuts from {style.leather}"] += 1
        else:
            try:
                position(size_system(style.grading.system), one.size)
            except SizeError:
                left[f"of {one.style} in size {one.size}, which is none of its size system"] += 1
            else:
                usable.append(one)
    return usable, [f"{count} rows {why}, are left out." for why, count in left.items()]


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """Columns of the design: of each kind, which column a level has."""

    sizes: tuple[tuple[str, str], ...]
    places: dict[tuple[str, str], float]
    middle: dict[str, float]
    weeks: tuple[int, ...]
    lots: tuple[str, ...]
    both_sides: bool

    @property
    def styles(self) -> tuple[str, ...]:
        """All styles."""
        return tuple(dict.fromkeys(style for style, _ in self.sizes))

    @property
    def names(self) -> list[tuple]:
        """What each column stands for."""
        styles = self.styles
        sloped = [style for style in styles if sum(mine == style for mine, _ in self.sizes) > 1]
        return [
            ("level",), *(("style", style) for style in styles if len(styles) > 1), *(("slope", one) for one in sloped),
            *(("size", *one) for one in self.sizes if one[0] in sloped), *([("side",)] if self.both_sides else []),
            *([("drift",)] if len(self.weeks) >= LEAST_WEEKS else []), *(("week", week) for week in self.weeks),
            *(("lot", lot) for lot in self.lots),
        ]

    def row(self, style: str, size: str, side: str = "", week: int | None = None, lot: str | None = None) -> np.ndarray:
        """The row of a piece; without a week it is that of the last one, without its deviation."""
        on = self.weeks[-1] if week is None else week
        value = {
            ("level",): 1.0, ("style", style): 1.0, ("size", style, size): 1.0, ("week", week): 1.0, ("lot", lot): 1.0,
            ("slope", style): self.places[style, size] - self.middle[style],
            ("side",): {"left": 0.5, "right": -0.5}.get(side, 0.0), ("drift",): float(on - self.weeks[-1]),
        }
        return np.array([value.get(name, 0.0) for name in self.names])


_OWNERS = {"style": _STYLE, "size": _SIZE, "week": _WEEK, "lot": _LOT}
_SCALES = {"level": LEVEL_SCALE, "slope": SLOPE_SCALE, "drift": SLOPE_SCALE, "side": SIDE_SCALE}


def _part(
    leather: str, part: Part, rows: Sequence[Measured], allowance: dict[tuple[str, str], float],
    places: dict[tuple[str, str], float],
) -> PartDrift:
    trim = np.array([one.trim_mm - one.allowance_mm + allowance[one.style, one.size] for one in rows])
    week = [(date.fromisoformat(one.day).toordinal() - 1) // 7 for one in rows]
    of_style: dict[str, list[float]] = {}
    for one in rows:
        of_style.setdefault(one.style, []).append(places[one.style, one.size])
    columns = _Columns(
        tuple(sorted(allowance, key=lambda key: (key[0], places[key]))), places,
        {style: float(np.mean(mine)) for style, mine in of_style.items()}, tuple(sorted(set(week))),
        tuple(sorted({one.lot for one in rows})), {"left", "right"} <= {one.side for one in rows},
    )
    level = float(trim.mean())
    design = _design(columns, rows, week, trim - level)
    found = posterior(design)
    sizes = []
    spread = np.sqrt(found.piece_sd**2 + found.hide_sd**2 + found.group_sd[:, _WEEK]**2 + found.group_sd[:, _LOT]**2)
    for key in columns.sizes:
        mine = np.array([(one.style, one.size) == key for one in rows])
        mean = _raised(found.of(columns.row(*key)), level)
        sizes.append(SizeTrim(*key, part, int(mine.sum()), allowance[key], float(trim[mine].min()), mean, spread))
    lots = tuple(
        (lot, sum(one.lot == lot for one in rows), found.of(_unit(columns, ("lot", lot)))) for lot in columns.lots
    )
    return PartDrift(
        leather, part, len(rows), tuple(sizes), _effects(columns, design, found),
        _weeks(columns, rows, week, trim, found, level), lots,
    )


def _design(columns: _Columns, rows: Sequence[Measured], week: Sequence[int], trim: np.ndarray) -> Design:
    """Pieces alike in all that is known, and of one hide, are one row."""
    # of a trial it is not known which hides its pieces are of: they count as one, so that no interval is too narrow
    hides = {key: i for i, key in enumerate(dict.fromkeys(_hide(one) for one in rows))}
    alike: dict[tuple, list[int]] = {}
    for i, (one, on) in enumerate(zip(rows, week, strict=True)):
        alike.setdefault((one.style, one.size, one.side, on, one.lot, hides[_hide(one)]), []).append(i)
    values = [trim[mine] for mine in alike.values()]
    names = columns.names
    return Design(
        np.stack([columns.row(*key[:5]) for key in alike]), np.array([_OWNERS.get(name[0], KNOWN) for name in names]),
        np.array([_SCALES.get(name[0], 1.0) for name in names]),
        np.array([STYLE_SCALE, SIZE_SCALE, WEEK_SCALE, LOT_SCALE]),
        np.array([float(len(mine)) for mine in values]), np.array([mine.mean() for mine in values]),
        float(sum(((mine - mine.mean()) ** 2).sum() for mine in values)), np.array([key[5] for key in alike]),
    )


def _hide(one: Measured) -> tuple[str, ...]:
    return (one.plan, one.hide, one.lot) if one.hide else (one.plan, one.day, one.lot)


def _effects(columns: _Columns, design: Design, found: Posterior) -> tuple[Effect, ...]:
    effects = []
    for name in columns.names:
        if name[0] in ("slope", "side", "drift"):
            one = found.of(_unit(columns, name))
            what = {"slope": "size", "side": "side", "drift": "week"}[name[0]]
            effects.append(Effect(what, name[1] if len(name) > 1 else "", one.mean, *one.interval, one.p))
    if len(columns.lots) > 1:
        sd, order = found.group_sd[:, _LOT], np.argsort(found.group_sd[:, _LOT])
        below = np.cumsum(found.weight[order])
        low, high = (float(sd[order][min(int(np.searchsorted(below, share)), len(sd) - 1)]) for share in (0.025, 0.975))
        mine = np.array([name[0] == "lot" for name in columns.names])
        effects.append(Effect("lot", "", float(found.weight @ sd), low, high, lot_p(design, found, mine)))
    return tuple(effects)


def _weeks(
    columns: _Columns, rows: Sequence[Measured], week: Sequence[int], trim: np.ndarray, found: Posterior, level: float
) -> tuple[WeekTrim, ...]:
    """Style by style, week by week, at the mean of the sizes that were measured of the style."""
    weeks = []
    for style in columns.styles:
        of_style = [i for i, one in enumerate(rows) if one.style == style]
        for on in columns.weeks:
            mine = [i for i in of_style if week[i] == on]
            if mine:
                asked = np.mean([columns.row(style, rows[i].size, rows[i].side, on) for i in mine], axis=0)
                mean, measured = _raised(found.of(asked), level), float(trim[mine].mean())
                weeks.append(WeekTrim(style, date.fromordinal(7 * on + 1), len(mine), measured, mean))
    return tuple(weeks)


def _unit(columns: _Columns, name: tuple) -> np.ndarray:
    return np.array([float(one == name) for one in columns.names])


def _raised(one: Mixture, level: float) -> Mixture:
    return replace(one, middle=one.middle + level)
