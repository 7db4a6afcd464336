"""What a style is: its templates, how pieces are made of them and placed, and the pairs wanted of it."""

from dataclasses import dataclass, replace

from nest.pieces.crimping import PLAIN_CRIMPING, Crimping
from nest.pieces.piece import Part, Template
from nest.pieces.rejects import RejectRates
from nest.rules import Rules


@dataclass(frozen=True, slots=True)
class Allowances:
    """Trim allowance in mm by part of the outline, and the least the press needs there."""

    toe_mm: float
    side_mm: float
    back_mm: float
    least_toe_mm: float
    least_side_mm: float
    least_back_mm: float
    blend_mm: float = 60.0
    """Length along the outline over which one part's allowance passes into the next."""
    by_size: tuple[tuple[str, float, float, float], ...] = ()
    """Sizes with allowances of their own: size, toe, side, back, mm."""

    def for_size(self, size: str) -> "Allowances":
        """The allowances of one size."""
        for label, toe, side, back in self.by_size:
            if label == size:
                return replace(self, toe_mm=toe, side_mm=side, back_mm=back, by_size=())
        return replace(self, by_size=())

    def of(self, part: Part) -> float:
        """Allowance of one part, mm."""
        return {Part.TOE: self.toe_mm, Part.SIDE: self.side_mm, Part.BACK: self.back_mm}[part]

    def least_of(self, part: Part) -> float:
        """Least allowance the press needs at one part, mm."""
        return {Part.TOE: self.least_toe_mm, Part.SIDE: self.least_side_mm, Part.BACK: self.least_back_mm}[part]


@dataclass(frozen=True, slots=True)
class Grading:
    """How sizes follow from the base size: steps per size along the axis and across it, mm of template."""

    system: str
    """Size system: "paris", "english" or "mondopoint"."""
    base_size: str
    length_step_mm: float
    width_step_mm: float


@dataclass(frozen=True, slots=True)
class Style:
    """One style: its templates (base size alone, or one per size) and how pieces are made and placed."""

    name: str
    leather: str
    roll: str
    """Roll the reinforcement is cut from; "" when the vamp is not backed."""
    templates: tuple[Template, ...]
    grading: Grading
    allowances: Allowances
    widening_percent: float
    """How much wider a vamp comes out of the press, percent across; taken off the side allowance."""
    reinforcement_inset_mm: float
    reject_percent: float
    """Expected share of pairs that fail after crimping."""
    reject_percent_by_quality: tuple[tuple[int, float], ...]
    thickness_mm: float
    """Upper thickness, for the reinforcement weight table."""
    rules: Rules
    notes: tuple[str, ...] = ()
    """Preparation notes, carried to the cut sheet unchanged."""
    crimping: Crimping = PLAIN_CRIMPING
    rates: RejectRates | None = None
    """Reject rates by class and deviation; they take the place of the two above."""


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Pairs wanted of one style and size, of which there may be several rows.

    due : ISO 8601 date, "" for none; priority : 1 is the first, 0 for none. See `nest.urgency`.
    """

    style: str
    size: str
    pairs: int
    due: str = ""
    priority: int = 0


@dataclass(frozen=True, slots=True)
class WeightRow:
    """Uppers up to `upper_to_mm` thick want reinforcement between these weights, g/m²."""

    upper_to_mm: float
    least_g_m2: float
    most_g_m2: float
