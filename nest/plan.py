"""What a plan is: pieces, stock, rules and where every piece lies.

A plan is self-contained: it is judged, costed and cut from its file alone.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from geometry.pose import Pose
from nest.job.job import Settings
from nest.pieces.crimping import PLAIN_CRIMPING, Crimping
from nest.pieces.piece import Piece, Template
from nest.pieces.quantities import CutLine, DueRow
from nest.pieces.rejects import RejectRates
from nest.pieces.style import Allowances, OrderLine, WeightRow
from nest.rules import Rules
from nest.stock.material import Hide, Leather, Roll

SCHEMA_VERSION = 1

CUT_BY_PLAN = "cut by the plan"
"""Kind of the flaws that stand for pieces that a plan cuts, the gap included, where another is placed beside them."""


@dataclass(frozen=True, slots=True)
class PlannedStyle:
    """What a plan keeps of a style."""

    name: str
    leather: str
    roll: str
    rules: Rules
    allowances: Allowances
    reject_percent: float
    widening_percent: float
    reinforcement_inset_mm: float
    notes: tuple[str, ...]
    templates: tuple[Template, ...] = ()
    """Graded template of each size in the order; the cost of avoidable allowance needs them."""
    base_size: str = ""
    """Size whose vamp was looked at hides with for the estimate; "" where an older plan does not say."""
    reject_percent_by_quality: tuple[tuple[int, float], ...] = ()
    thickness_mm: float | None = None
    """Of the upper; None where an older plan does not say."""
    weight_table: tuple[WeightRow, ...] = ()
    """Which reinforcement suits which upper."""
    crimping: Crimping = PLAIN_CRIMPING
    rates: RejectRates | None = None
    """Reject rates by class and deviation, where the job had them."""


@dataclass(frozen=True, slots=True)
class Placed:
    """One piece on a material. Pieces with the same `pair` (from 1, per plan) belong together; 0 is unpaired."""

    piece_id: str
    pose: Pose
    pair: int = 0


@dataclass(frozen=True, slots=True)
class HideLayout:
    """What is cut from one hide; `numbers` of its pieces where they are not 1, 2, 3 ... as they stand."""

    hide_id: str
    placed: tuple[Placed, ...]
    numbers: tuple[int, ...] = ()

    @property
    def material_id(self) -> str:
        """What it is cut from: the hide."""
        return self.hide_id

    def number(self, index: int) -> int:
        """The number of a piece on the hide, as on the label of its drawing; `index` counts from 0."""
        return self.numbers[index] if self.numbers else index + 1


@dataclass(frozen=True, slots=True)
class Lay:
    """What is cut from one spread of a roll: `length_mm` long (end losses not counted), `plies` deep.

    x runs along the roll from 0 to `length_mm`; y from 0 to the usable width.
    """

    lay_id: str
    roll_id: str
    length_mm: float
    plies: int
    placed: tuple[Placed, ...]

    @property
    def material_id(self) -> str:
        """What it is cut from: the lay."""
        return self.lay_id


@dataclass(frozen=True, slots=True)
class Bound:
    """Proved upper bound on the cutting yield of one hide or lay (0..1), and the reference beside it."""

    material_id: str
    cutting_yield_at_most: float
    reference_yield: float


@dataclass(frozen=True, slots=True)
class GreedyIssue:
    """The same candidate layouts taken in a greedy order: hides opened, their cost, rough area missing, mm²."""

    order: str
    hides: int
    cost: Decimal
    missing_mm2: float


@dataclass(frozen=True, slots=True)
class HideIssue:
    """What the hides opened of one leather cost, whole and at list price, and what that is to be compared with.

    greedy : greedy orders of the same layouts.
    least_of_layouts : the solver's bound, among the layouts found; least_by_area : proved whatever the layouts.
    reference : least cost at the density of the best lattices; no bound.
    """

    leather: str
    hides: int
    cost: Decimal
    greedy: tuple[GreedyIssue, ...]
    least_of_layouts: Decimal
    least_by_area: Decimal
    reference: Decimal

    @property
    def gap(self) -> float:
        """How far the cost may at most lie above the least possible, as a share of that."""
        return float(self.cost / self.least_by_area) - 1.0 if self.least_by_area else 0.0


class Side(StrEnum):
    """Which vamps of a size were spoiled: those of a `Foot`, of the same name, or both of a pair."""

    LEFT = "left"
    RIGHT = "right"
    EITHER = "either"
    PAIR = "pair"


@dataclass(frozen=True, slots=True)
class Spoiled:
    """Vamps of one style and size that were cut and then lost, all since cutting began; pairs where `side` is PAIR.

    backed : whether the reinforcement of each was lost with it.
    """

    style: str
    size: str
    side: Side
    count: int
    backed: bool = True


@dataclass(frozen=True, slots=True)
class CutHide:
    """A hide that is cut; its area as measured then, if it was, mm²."""

    hide_id: str
    measured_mm2: float | None = None


@dataclass(frozen=True, slots=True)
class UsedRoll:
    """A roll that something is cut from: length taken off it in all, mm; None for all that its lays need.

    withdrawn : whether what is left of it is not to be used.
    """

    roll_id: str
    length_mm: float | None = None
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Begun:
    """How far the cutting of an order had come when its plan was made; empty for a plan made before any.

    lays : ids of the lays that are cut; their layouts, like those of `hides`, are not to be cut again.
    withdrawn : hides that are not to be used.
    rejects_cover : whether spoiled pieces count against the rejects expected; else they are cut on top of those.
    """

    hides: tuple[CutHide, ...] = ()
    rolls: tuple[UsedRoll, ...] = ()
    lays: tuple[str, ...] = ()
    spoiled: tuple[Spoiled, ...] = ()
    withdrawn: tuple[str, ...] = ()
    rejects_cover: bool = False

    @property
    def cut_hides(self) -> tuple[str, ...]:
        """Ids of the hides that are cut."""
        return tuple(one.hide_id for one in self.hides)


@dataclass(frozen=True, slots=True)
class ExpectedLeather:
    """What the pairs to cut of one leather were estimated to take before anything was placed; areas in mm².

    error_percent : how far that may be off.
    """

    leather: str
    material_mm2: float
    rough_mm2: float
    error_percent: float


@dataclass(frozen=True, slots=True)
class Step:
    """The best plan of one leather at one time: hides opened, their cost at list price, rough area missing, mm².

    spent : effort by then: seconds where time is limited; by passes alone, searches of hides.
    """

    spent: float
    hides: int
    cost: Decimal
    missing_mm2: float = 0.0


@dataclass(frozen=True, slots=True)
class Course:
    """Every time the plan of one leather became better, from `begin` to `end`, counted as in its steps."""

    leather: str
    begin: float
    end: float
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Search:
    """The search that made a plan.

    seconds, passes : its limits; None for none.
    spent_s : seconds it took; None by passes alone, so that equal runs give equal plans.
    stopped : whether it was stopped before its limit.
    courses : of each leather, how its plan became better.
    """

    seconds: float | None
    spent_s: float | None
    passes: int | None
    stopped: bool
    expected: tuple[ExpectedLeather, ...] = ()
    courses: tuple[Course, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan. `hides` holds every hide that was on offer; those without a layout stay whole."""

    name: str
    styles: tuple[PlannedStyle, ...]
    order: tuple[CutLine, ...]
    pieces: tuple[Piece, ...]
    leathers: tuple[Leather, ...]
    hides: tuple[Hide, ...]
    rolls: tuple[Roll, ...]
    settings: Settings
    layouts: tuple[HideLayout, ...]
    lays: tuple[Lay, ...]
    bounds: tuple[Bound, ...] = ()
    warnings: tuple[str, ...] = ()
    begun: Begun = Begun()
    """What was cut already when the plan was made."""
    issues: tuple[HideIssue, ...] = ()
    """What the choice of hides is worth, by leather."""
    search: Search | None = None
    """The search that made it; None where the plan does not say."""

    @property
    def groups(self) -> tuple[HideLayout | Lay, ...]:
        """All that is cut together: the layout of every hide, and every lay."""
        return (*self.layouts, *self.lays)

    @property
    def groups_to_cut(self) -> tuple[HideLayout | Lay, ...]:
        """Those that are still to be cut."""
        return (*self.layouts_to_cut, *self.lays_to_cut)

    @property
    def layouts_to_cut(self) -> tuple[HideLayout, ...]:
        """Layouts of the hides that something is still to be cut from."""
        cut = set(self.begun.cut_hides)
        return tuple(layout for layout in self.layouts if layout.placed and layout.hide_id not in cut)

    @property
    def lays_to_cut(self) -> tuple[Lay, ...]:
        """Lays that are still to be cut."""
        cut = set(self.begun.lays)
        return tuple(lay for lay in self.lays if lay.placed and lay.lay_id not in cut)

    def piece(self, piece_id: str) -> Piece:
        """The piece of this id; KeyError if there is none."""
        for piece in self.pieces:
            if piece.piece_id == piece_id:
                return piece
        raise KeyError(piece_id)


__all__ = [
    "SCHEMA_VERSION", "PlannedStyle", "DueRow", "CutLine", "Placed", "HideLayout", "Lay", "Bound", "GreedyIssue",
    "HideIssue", "Side", "Spoiled", "CutHide", "UsedRoll", "Begun", "ExpectedLeather", "Step", "Course", "Search",
    "Plan", "OrderLine",
]
