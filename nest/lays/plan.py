"""Plan the lays of every roll: sizes in ratio, plies, metres, and how far the result can at most be from the best."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from math import ceil

from nest.errors import PlanProblem
from nest.estimate.make import SizeEstimate, quick_estimate
from nest.job.job import Job
from nest.lays.spread import Spread
from nest.selection.lays import LayCosts, LayLimits, choose_lays
from nest.stock.material import Roll


@dataclass(frozen=True, slots=True)
class LayRules:
    """What the cutting table and the knife allow.

    most_pairs : pairs in the ratio of one lay; None for no limit.
    most_length_mm : length of one ply with its end losses; None for no limit but the roll.
    setup_cost : cost of one more lay, in the job's currency.
    most_over : pairs of each size that may be cut beyond what is to be cut.
    """

    most_plies: int = 40
    most_pairs: int | None = None
    most_length_mm: float | None = None
    most_lays: int = 6
    setup_cost: Decimal = Decimal("10")
    most_over: int = 0
    spread: Spread = Spread.FACE_UP


@dataclass(frozen=True, slots=True)
class PlannedLay:
    """One lay: pairs of each (style, size) in a ply or facing plies, plies, and length of a ply with end losses.

    from_stretch : (stretch of the roll, plies from it), from 1; a stretch is a length between splices.
    """

    ratio: tuple[tuple[str, str, int], ...]
    plies: int
    ply_mm: float
    from_stretch: tuple[tuple[int, int], ...]
    spread: Spread = Spread.FACE_UP

    def pairs_cut(self, pairs_in_ratio: int) -> int:
        """Pairs that all plies give of a size that is in the ratio this many times."""
        return pairs_in_ratio * self.plies // self.spread.plies_together

    @property
    def length_mm(self) -> float:
        """Length of all plies."""
        return self.plies * self.ply_mm


@dataclass(frozen=True, slots=True)
class RollLays:
    """Lays of one roll.

    material_cost, setup_cost, bound : in the job's currency; no lays within the rules cost less than `bound` in all.
    cut : pairs cut of each (style, size); over : pairs beyond those to cut.
    one_ply_mm : length of the whole order in one ply, as `nest.estimate` has it.
    ends_mm : length that each ply takes for its end losses and its ragged end.
    """

    roll_id: str
    lays: tuple[PlannedLay, ...]
    material_cost: Decimal
    setup_cost: Decimal
    bound: Decimal
    proved: bool
    cut: tuple[tuple[str, str, int], ...]
    over: int
    one_ply_mm: float
    ends_mm: float

    @property
    def plies(self) -> int:
        """Plies of all lays."""
        return sum(lay.plies for lay in self.lays)

    @property
    def cost(self) -> Decimal:
        """Material and set-ups."""
        return self.material_cost + self.setup_cost

    @property
    def gap(self) -> float:
        """Share of the cost that is at most above the least possible; 0 when proved."""
        return 0.0 if self.proved or not self.cost else float((self.cost - self.bound) / self.cost)

    @property
    def length_mm(self) -> float:
        """Length off the roll."""
        return sum(lay.length_mm for lay in self.lays)


def stretches_of(roll: Roll) -> tuple[float, ...]:
    """Lengths between the roll's ends and splices, mm."""
    marks = (0.0, *roll.splices_mm, roll.length_mm)
    return tuple(end - start for start, end in pairwise(marks))


def plan_lays(job: Job, rules: LayRules) -> tuple[RollLays, ...]:
    """Plan the lays of every roll that something is cut from.

    Lengths are those of `nest.estimate`, rounded up to whole mm; every ply adds its end losses and its ragged end, and
    has room for the longest outline. Exactly the pairs to cut are met, or at most `most_over` of each
    size more.

    Raises
    ------
    PlanProblem
        If no lays within the rules meet the order; with what stands in the way.
    InputProblems
        As `nest.estimate.make.quick_estimate`.
    """
    estimate = quick_estimate(job)
    by_style = {style.name: style.roll for style in job.styles}
    planned = []
    for roll in job.rolls:
        mine = [one for one in estimate.sizes if by_style[one.style] == roll.roll_id and one.backed]
        if not mine:
            continue
        total = next(one for one in estimate.rolls if one.roll_id == roll.roll_id)
        if total.length_mm is None:
            names = ", ".join(f"{style} {size}" for style, size in total.unknown)
            raise PlanProblem(f"roll {roll.roll_id}: it is too narrow for the reinforcement of {names}; use a wider "
                              "roll.")
        planned.append(_plan_roll(roll, mine, rules, total.length_mm))
    return tuple(planned)


def _plan_roll(roll: Roll, mine: Sequence[SizeEstimate], rules: LayRules, one_ply_mm: float) -> RollLays:
    together = rules.spread.plies_together
    # Face to face one outline serves a pair, so that a pair takes half the length in each of two plies.
    lengths = tuple(ceil(one.on_roll.length_mm / together - 1e-6) for one in mine)
    # A ply of one pair is no shorter than its outline.
    ragged = max(max(one.on_roll.end_mm, one.on_roll.long_mm - one.on_roll.length_mm / together) for one in mine)
    loss = ceil(2.0 * roll.end_loss_mm + ragged - 1e-6)
    stretches = tuple(int(length) for length in stretches_of(roll))
    longest = max(stretches) if rules.most_length_mm is None else min(max(stretches), int(rules.most_length_mm))
    if longest < max(lengths) + loss or rules.most_plies < together:
        raise PlanProblem(
            f"roll {roll.roll_id}: a ply of one pair of the largest size takes {(max(lengths) + loss) / 1e3:.2f} m, "
            f"the limits leave {longest / 1e3:.2f} m and {rules.most_plies} plies; raise them."
        )
    # Costs in mm of roll: money ÷ price a mm; goods without a price count their set-ups as 1 m each.
    price = roll.price_per_m / 1000
    setup = round(rules.setup_cost / price) if price else 1000
    demand = [one.pairs_to_cut for one in mine]
    limits = LayLimits(rules.most_plies // together, rules.most_pairs, longest, rules.most_lays)
    choice = choose_lays(
        demand, limits, LayCosts(lengths, loss, setup, together), over=[rules.most_over] * len(demand),
        stretches=stretches,
    )
    if choice is None:
        needed = sum(n * length for n, length in zip(demand, lengths, strict=True)) * together
        raise PlanProblem(
            f"roll {roll.roll_id}: no {rules.most_lays} lays of up to {rules.most_plies} plies and "
            f"{longest / 1e3:.2f} m were found that cut exactly these pairs; they take at least "
            f"{(needed + loss) / 1e3:.2f} m of {roll.length_mm / 1e3:.2f} m; allow more lays, more plies, or "
            "some pairs over."
        )
    lays = tuple(
        PlannedLay(
            tuple((one.style, one.size, n) for one, n in zip(mine, lay.items, strict=True) if n), lay.plies * together,
            float(sum(n * length for n, length in zip(lay.items, lengths, strict=True)) + loss),
            tuple((s + 1, plies) for s, plies in enumerate(lay.from_stretch) if plies), rules.spread,
        )
        for lay in choice.lays
    )
    cut = [sum(lay.items[k] * lay.plies for lay in choice.lays) for k in range(len(mine))]
    cent = Decimal("0.01")
    # Both in the same unit as the model's cost, so that their difference is the gap.
    bound = (Decimal(choice.bound) * price).quantize(cent)
    setups = (Decimal(setup * len(lays)) * price).quantize(cent)
    return RollLays(
        roll.roll_id, lays, (Decimal(choice.cost) * price - Decimal(setup * len(lays)) * price).quantize(cent), setups,
        bound, choice.proved, tuple((one.style, one.size, n) for one, n in zip(mine, cut, strict=True)),
        sum(cut) - sum(demand), one_ply_mm, float(loss),
    )
