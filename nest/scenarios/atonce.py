"""What a job that is moved by hand costs, takes and saves, at once: millimetres move along lines made beforehand.

What a pair takes is estimated at four steps of every part of every style; between them it moves along straight lines.
Two parts moved together do more or less than one by one, by a share of what their ends together do: these are
estimated when two parts are first moved, and remembered. Everything behind that is worked out as for any estimate:
shared hides, prices and their breaks, rejects, overhead. A rule, a gap or a leather changes the ground as a whole: it
is estimated when it is first asked for, and remembered.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import combinations
from math import fsum

from nest.accounts.candidates import Changed
from nest.accounts.estimate import GroundMemory, JobEstimate, estimate_job
from nest.accounts.pair_charges import PairEstimate
from nest.errors import PlanProblem
from nest.job.job import Job
from nest.pieces.piece import Part
from nest.pieces.remembered import PieceMemory
from nest.scenarios.combine import Scenario
from nest.scenarios.cost import Costed, costed
from nest.scenarios.moved import Moved, moved_job
from nest.whatif.between import BetweenSizes
from nest.whatif.between import moved as moved_along
from nest.whatif.changes import with_allowance

STEPS_MM = (2.0, 4.0)
"""Lines bend at these distances from the allowance as it is, and end at the last, or where nothing is left of it."""

TOGETHER = 0.1
"""Parts that are moved together may still do this much more or less: up to 8 % on the styles of the demo one by one."""

CURVE_POINTS = 9


@dataclass(frozen=True, slots=True)
class StyleAtOnce:
    """One style, or the order (""): a good pair now and as moved, exact; leather for it in mm²; what a pair saves.

    half : half the 95 % interval of the saving. a_year : what a year saves, None where pairs a year are not known.
    """

    style: str
    now: Fraction
    pair: Fraction
    takes_now_mm2: float
    takes_mm2: float
    half: float
    a_year: float | None

    @property
    def saving(self) -> float:
        """Of a good pair; below 0 where it is dearer."""
        return float(self.now - self.pair)


@dataclass(frozen=True, slots=True)
class AtOnceCosts:
    """The order first, then its styles; `half` is half the 95 % interval of a good pair of the order."""

    currency: str
    rows: tuple[StyleAtOnce, ...]
    half: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A good pair of the order at one number of mm, and half the 95 % interval of what it differs from now."""

    mm: float
    pair: float
    half: float


@dataclass(frozen=True, slots=True)
class _Knot:
    """What a pair of every size takes at `mm` from the job as it is."""

    mm: float
    takes: Sequence[PairEstimate]


class AtOnce:
    """The lines of one job, made when it is; asked as often as a hand moves."""

    def __init__(self, job: Job):
        """Estimate the job, and every part of every style ordered at both ends of its range.

        Raises
        ------
        PlanProblem, InputProblems
            If the job cannot be estimated.
        """
        self.job = job
        make = PieceMemory()
        self._ground = GroundMemory(job)
        self._between = BetweenSizes(job, make)
        self.own = estimate_job(job, ground=self._ground, estimates=self._between)
        self._sizes = {
            name: [key[1] for key in self.own.takes if key[0] == name]
            for name in dict.fromkeys(key[0] for key in self.own.takes)
        }
        self._bases: dict[Moved, dict[str, list[PairEstimate]]] = {Moved(): self._estimated(job, self._ground)}
        self._knots = {(name, part): self._tried(name, part) for name in self._sizes for part in Part}
        self._corners: dict[tuple, Sequence[PairEstimate]] = {}
        self._now = self._costed(Moved())

    @property
    def ranges(self) -> dict[tuple[str, Part], tuple[float, float]]:
        """By style and part: least and most mm more that the lines are trusted for."""
        return {key: (knots[0].mm, knots[-1].mm) for key, knots in self._knots.items()}

    def at(self, moved: Moved) -> AtOnceCosts:
        """The costs with everything moved so far.

        Raises
        ------
        PlanProblem
            If it is moved beyond what is trusted, or cannot be estimated so.
        """
        runs, rows = self._costed(moved), []
        for style, run in runs.items():
            now = self._now[style]
            # Prices and rejects move both alike: what is unsure of the leather is unsure of the difference.
            same = moved == Moved()
            saving = float(now.pair - run.pair)
            rows.append(StyleAtOnce(
                style, now.pair, run.pair, _takes_mm2(now, style), _takes_mm2(run, style),
                0.0 if same else run.half_width_beside(now), self._a_year(style, saving),
            ))
        return AtOnceCosts(self.job.settings.currency, tuple(rows), runs[""].half_width, runs[""].notes)

    def curve(self, moved: Moved, style: str, part: Part) -> tuple[CurvePoint, ...]:
        """A good pair of the order over the range of one part, everything else as moved; errors as `at`."""
        if (style, part) not in self._knots:
            raise PlanProblem(f"no pairs of {style!r} are ordered; name a style of the order.")
        low, high = self.ranges[style, part]
        others = tuple(one for one in moved.more_mm if one[:2] != (style, part))
        points = []
        for n in range(CURVE_POINTS):
            mm = low + (high - low) * n / (CURVE_POINTS - 1)
            run = self._costed(replace(moved, more_mm=(*others, (style, part, mm))), ("",))[""]
            points.append(CurvePoint(mm, float(run.pair), run.half_width_beside(self._now[""])))
        return tuple(points)

    def _costed(self, moved: Moved, styles: Sequence[str] = ()) -> dict[str, Costed]:
        """The order ("") and its styles, or those asked for."""
        self._check_trusted(moved)
        mm = {(style, part): more for style, part, more in moved.more_mm if more}
        changed, base = moved_job(self.job, moved, self._ground), self._base(moved.boxes)
        found, plain = self._estimate(changed, base, mm), moved_job(self.job, replace(moved, more_mm=()), self._ground)
        own = self._estimate(plain, base, {}) if mm else found
        scenario = Scenario(("moved by hand",), changed, plain)
        runs = {style: costed(scenario, own, found, style) for style in styles or ("", *self._sizes)}
        return {style: replace(run, gap=run.gap + self._unsure(found, mm, style)) for style, run in runs.items()}

    def _estimate(self, changed: Changed, base: dict[str, list[PairEstimate]], mm: dict) -> JobEstimate:
        def along(job, style, sizes, cell, notes, ground) -> list[PairEstimate]:
            return self._along(base[style.name], style.name, mm) if sizes else []

        return estimate_job(changed.job, title="moved by hand", ground=changed.ground, priced_as=changed.priced_as,
                            estimates=along)

    def _base(self, boxes: Moved) -> dict[str, list[PairEstimate]]:
        if boxes not in self._bases:
            changed = moved_job(self.job, boxes, self._ground)
            self._bases[boxes] = self._estimated(changed.job, changed.ground)
        return self._bases[boxes]

    def _estimated(self, job: Job, ground) -> dict[str, list[PairEstimate]]:
        """What a pair of every style and size takes where its style has the hides to itself."""
        found: list[PairEstimate] = []

        def heard(*asked) -> list[PairEstimate]:
            mine = self._between(*asked)
            found.extend(mine)
            return mine

        estimate_job(job, ground=ground, estimates=heard)
        return {name: [one for one in found if one.style == name] for name in self._sizes}

    def _tried(self, style: str, part: Part) -> tuple[_Knot, ...]:
        """The steps of one part, from least to most; the job as it is among them."""
        own = next(one for one in self.job.styles if one.name == style).allowances
        least = min(own.for_size(size).of(part) for size in (self._sizes[style] or ("",)))
        less = sorted({-min(step, least) for step in STEPS_MM if least > 0.0})
        knots = []
        for mm in (*less, 0.0, *STEPS_MM):
            changed = with_allowance(self.job, style, part, mm) if mm else self.job
            takes = self._estimated(changed, self._ground)[style] if mm else self._bases[Moved()][style]
            knots.append(_Knot(mm, takes))
        return tuple(knots)

    def _along(self, base: Sequence[PairEstimate], style: str, mm: dict) -> list[PairEstimate]:
        """What pairs of every size take, moved along the lines."""
        found, own = list(base), self._bases[Moved()][style]
        for (name, part), more in mm.items():
            if name == style:
                low, high = _around(self._knots[name, part], more)
                share = (more - low.mm) / (high.mm - low.mm)
                found = [
                    moved_along(
                        moved_along(one, ((one, one), (own[i], low.takes[i])), 1.0 - share),
                        ((one, one), (own[i], high.takes[i])), share,
                    )
                    for i, one in enumerate(found)
                ]
        parts = [(part, more) for (name, part), more in mm.items() if name == style]
        for first, second in combinations(sorted(parts), 2):
            found = self._together(found, style, first, second)
        return found

    def _together(self, found: list[PairEstimate], style: str, *two: tuple[Part, float]) -> list[PairEstimate]:
        """What two parts do together beyond what each does alone: as at the ends they move to, by the lesser share."""
        ends = [self._end(style, part, more) for part, more in two]
        share = min(more / end.mm for (_, more), end in zip(two, ends, strict=True))
        key = style, *((part, end.mm) for (part, _), end in zip(two, ends, strict=True))
        own = self._bases[Moved()][style]
        if key not in self._corners:
            changed = self.job
            for (part, _), end in zip(two, ends, strict=True):
                changed = with_allowance(changed, style, part, end.mm)
            self._corners[key] = self._estimated(changed, self._ground)[style]
        first, second = (end.takes for end in ends)
        return [
            moved_along(
                moved_along(one, ((one, one), (first[i], own[i])), share), ((one, one), (second[i], corner)), share,
            )
            for i, (one, corner) in enumerate(zip(found, self._corners[key], strict=True))
        ]

    def _end(self, style: str, part: Part, mm: float) -> _Knot:
        """The last step of a part on the side that it is moved to."""
        knots = self._knots[style, part]
        return knots[-1] if mm > 0.0 else knots[0]

    def _unsure(self, found: JobEstimate, mm: dict, of_style: str) -> float:
        """How far a good pair may lie beside the lines, money: half of what they bend by, more for several parts."""
        bends = 0.0
        effects: dict[str, list[float]] = {}
        for (style, part), more in mm.items():
            knots, own = self._knots[style, part], self._bases[Moved()][style]
            side = [one for one in knots if one.mm * more > 0.0]
            inner, outer = min(side, key=lambda one: abs(one.mm)), max(side, key=lambda one: abs(one.mm))
            for i, one in enumerate(own):
                cost = float(found.standard.row(style, one.size).exact) / one.leather_mm2
                near, far = (knot.takes[i].leather_mm2 - one.leather_mm2 for knot in (inner, outer))
                if of_style in ("", style):
                    bends += 0.5 * cost * abs(near - far * inner.mm / outer.mm) * min(1.0, more / inner.mm)
                    effects.setdefault(style, []).append(cost * abs(far / outer.mm * more))
        together = fsum(TOGETHER * fsum(mine) for style, mine in effects.items()
                       if sum(key[0] == style for key in mm) > 1)
        return (bends + together) / float(found.standard.row(of_style).pairs.good)

    def _check_trusted(self, moved: Moved) -> None:
        for style, part, mm in moved.more_mm:
            if (style, part) not in self._knots:
                raise PlanProblem(f"no pairs of {style!r} are ordered; name a style of the order.")
            low, high = self.ranges[style, part]
            if not low <= mm <= high:
                raise PlanProblem(f"{style}: {mm:+g} mm at the {part} lies beyond what the estimate is trusted for, "
                                  f"{low:+g} to {high:+g} mm; move it less.")

    def _a_year(self, style: str, saving: float) -> float | None:
        asked = [style] if style else list(self._sizes)
        pairs = [self.job.settings.costing.pairs_a_year(name, self.job.order) for name in asked]
        known = [float(one) for one in pairs if one]
        return fsum(known) * saving if len(known) == len(pairs) else None


def _around(knots: Sequence[_Knot], mm: float) -> tuple[_Knot, _Knot]:
    """The two steps that a number of mm lies between."""
    at = next(i for i, one in enumerate(knots) if one.mm >= mm)
    at = max(at, 1)
    return knots[at - 1], knots[at]


def _takes_mm2(run: Costed, style: str) -> float:
    """Leather for a good pair, mm²."""
    mine = [(key, one) for key, one in run.takes.items() if style in ("", key[0])]
    taken = fsum(float(run.sheet.row(*key).pairs.cut) * one.leather_mm2 for key, one in mine)
    return taken / float(run.sheet.row(style).pairs.good)
