"""What the judge says: findings, what was checked, and the tolerances it allows.

Two tolerances, besides the depth `geometry.precision.OVERLAP_DEPTH_MM` that counts as an overlap:
distances may fall short of a gap or margin by `DISTANCE_TOLERANCE_MM`, for coordinates rounded to
the grid and offsets made of chords; ground is off limits, or without a zone, only where it is wider
than the same amount, so that hairlines between digitised zones are no finding. Small parts add up:
all the wrong ground under a piece together may be `WRONG_SHARE` of its net area.
"""

from dataclasses import dataclass
from enum import StrEnum

DISTANCE_TOLERANCE_MM = 0.01
"""A gap or a margin may be this much too small; hairlines of ground up to this width do not count."""

WRONG_SHARE = 1e-3
"""Wrong ground under a piece, of all kinds and in however many parts, may be this share of its net area."""

MIRROR_TOLERANCE_MM = 0.2
"""An outline is its own mirror image when it lies no further than this from it."""


class Rule(StrEnum):
    """What a finding is about."""

    IDS = "ids"
    """An id is unknown or given twice."""
    SHAPE = "shape"
    """An outline, a pose or a number cannot be used."""
    MATERIAL = "material"
    """A piece lies on a material that its style does not use."""
    OUTSIDE = "outside"
    """A cut line leaves the hide or the usable strip."""
    HOLE = "hole"
    """A piece lies over a hole of the hide."""
    MARGIN = "margin"
    """A cut line comes nearer to the hide's edge, or to a hole, than the edge margin."""
    OVERLAP = "overlap"
    """Two pieces overlap."""
    DUPLICATE = "duplicate"
    """The same piece lies twice in one place."""
    GAP = "gap"
    """Two cut lines are nearer than the gap."""
    DIRECTION = "direction"
    """The heading is not allowed on this stretch."""
    ONE_WAY = "one way"
    """The heading is right but for a half turn, on one-way goods."""
    NET_CLASS = "net class"
    """Net area lies in a zone not good enough."""
    NET_UNZONED = "net unzoned"
    """Net area lies outside every zone."""
    NET_FLAW = "net flaw"
    """Net area lies on a flaw."""
    TRIM_CLASS = "trim class"
    """The trim-off band lies in a zone not good enough for it, or outside every zone."""
    TRIM_FLAW = "trim flaw"
    """The trim-off band lies on a flaw that it may not cover."""
    PAIR = "pair"
    """Two pieces said to be a pair are none."""
    MIRROR = "mirror"
    """Right pieces are not left pieces mirrored, or a piece for either foot is not its own mirror image."""
    PIECE = "piece"
    """A piece is not what the plan's own template, size, foot, allowances and inset make it."""
    FIGURE = "figure"
    """A figure of the plan makes no sense, or two of them contradict each other."""
    WITHDRAWN = "withdrawn"
    """Something is to be cut from a hide or a roll that is withdrawn."""
    ROLL_LENGTH = "roll length"
    """The lays need more than the roll holds."""
    SHORT = "short"
    """Fewer pieces are placed than the order needs."""
    OVER = "over"
    """More pieces are placed than the order needs."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing the judge found.

    where : id of the hide, lay or roll; "order" for demand; "plan" for what belongs to no material.
    pieces : ids of the pieces concerned; `spots` their indices among what is placed there.
    amount, unit : by how much, in "mm", "deg", "%", "pairs" or "pieces".
    """

    where: str
    rule: Rule
    pieces: tuple[str, ...]
    spots: tuple[int, ...]
    amount: float
    unit: str
    sentence: str

    def __post_init__(self) -> None:
        # A name may hold line breaks; what is said of it is one sentence on one line.
        object.__setattr__(self, "sentence", " ".join(self.sentence.split()))


def in_plan(
    rule: Rule, sentence: str, pieces: tuple[str, ...] = (), amount: float = 1.0, unit: str = 'pieces'
) -> Finding:
    """A finding about the plan as a whole."""
    return Finding("plan", rule, pieces, (), float(amount), unit, sentence)


@dataclass(frozen=True, slots=True)
class Checks:
    """How much was checked, so that "no findings" is not taken for "nothing looked at"."""

    hides: int = 0
    lays: int = 0
    pieces: int = 0
    neighbours: int = 0
    """Pairs of pieces near enough to be measured against each other."""
    grounds: int = 0
    """Pieces held against the zones of their hide."""
    flaws: int = 0
    """Flaws held against the pieces of their hide."""
    templates: int = 0
    """Pieces held against the template of their size."""
    bias: int = 0
    """Pieces that lie at bias, with leave."""
    pairs: int = 0
    unpaired: int = 0
    """Vamps that belong to no pair."""
    order_lines: int = 0


@dataclass(frozen=True, slots=True)
class Verdict:
    """`ok` when nothing that may be cut is wrong; whether the order is met is `order_met`, apart from it."""

    ok: bool
    findings: tuple[Finding, ...]
    checks: Checks

    @property
    def order_met(self) -> bool:
        """Whether no size is short."""
        return not self.short

    @property
    def wrong(self) -> tuple[Finding, ...]:
        """What makes the layout wrong."""
        return tuple(finding for finding in self.findings if finding.rule not in (Rule.SHORT, Rule.OVER))

    @property
    def short(self) -> tuple[Finding, ...]:
        """Sizes with fewer pieces than the order needs."""
        return tuple(finding for finding in self.findings if finding.rule is Rule.SHORT)

    @property
    def over(self) -> tuple[Finding, ...]:
        """Sizes with more pieces than the order needs."""
        return tuple(finding for finding in self.findings if finding.rule is Rule.OVER)
