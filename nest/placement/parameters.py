"""What the search for strips and for regions goes by: values with their units and the trials they come from.

A search takes one of these and nothing else decides how it goes about; an ablation builds another value. Trials are
records in `tests/bench/trials`; where none is named the value was never tried against another.
Constants of the compiled loops (`anneal.py`, `_apart.py`, `_poses.py`) stay beside them, for they are compiled in.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from nest.placement.choose import Replacements, complete_families
from nest.placement.families import Families, families_of
from nest.placement.problem import Ground, Item, Kind, RegionProblem
from nest.placement.propose import lattice_start
from nest.placement.resize import resized
from nest.placement.settle import settle_strip


@dataclass(frozen=True, slots=True)
class StripParameters:
    """How the shortest strip is searched for. Shares are 0..1; a pass moves every item that overlaps once."""

    size_exponent: float = 0.7
    """Power of a kind's size by which its overlaps weigh (trial 031)."""
    looks: bool = True
    """Whether all places of a strip are looked at in rasters of depths (trial 008); else places are sampled."""
    headings_seen: int = 1
    """With rasters: headings of a piece at which all places are looked at (trial 011)."""
    near_seen: int = 10
    """With rasters: samples near by, at headings near by too (trial 012)."""
    wide_samples: int = 50
    """Without rasters: samples over the strip."""
    near_samples: int = 25
    """Without rasters: samples near by."""

    propose: Callable[[Sequence[Kind], float, float], tuple[Item, ...]] = lattice_start
    """Gives a layout to begin with, or none."""
    propose_share: float = 0.3
    """Share of the time in which the layout proposed is closed up."""
    start_density: float = 0.65
    """Items begin at random places of a strip of this density."""
    start_patience: int = 60
    """As `patience`, for the layout at random places."""

    patience: int = 100
    """Passes without 2 % less overlap before a strike (trial 010)."""
    strikes: int = 2
    """Strikes after which a separation has failed (trial 010)."""
    shrink: float = 0.005
    """Share by which the strip is shortened at first."""
    shrink_least: float = 0.001
    """After failures it is shortened by less, down to this share."""
    failures: int = 3
    """Failures of one length after which it is shortened by half as much."""
    pool: int = 20
    """Failures of one length that are kept to be kicked."""

    exchanges_large: bool = True
    """Whether a kick exchanges two large pieces (trial 024)."""
    look_after: int = 20
    """Passes after a kick before it is judged (trial 086)."""
    likely: float = 1.0 / 3.0
    """A kick is gone on with if its overlap is among this share of the last ones', least first (trials 087, 088)."""
    last_kicks: int = 40
    """Kicks that are looked back on."""
    least_kicks: int = 8
    """Until there are this many, every kick is gone on with."""
    fresh_after: tuple[int, ...] = (200, 60)
    """After this many kicks in vain a search begins anew, and after as many more it goes back to what it had, by turns.
    The first search goes by the first figure, the second by the second, and so on (trials 090, 091, 195)."""

    rounds: int = 12
    """After each of these rounds all searches go on from the best (trial 020)."""
    round_passes: int = 1000
    """With a limit on passes a round has no fewer than these."""
    compress_share: float = 0.1
    """Share of the time for closing the last gaps by ever smaller steps (trial 021)."""
    compress_from: float = 5e-4
    """Share of the length that these steps begin with."""
    compress_to: float = 1e-5
    """Share of the length that these steps end with."""

    settle: Callable[
        [Sequence[Item], Sequence[Kind], float, float, Callable[[], bool]], tuple[tuple[Item, ...], float]
    ] = settle_strip
    """Closes a whole strip up at once, and gives its length."""
    settle_share: float = 0.05
    """Share of the time, beyond the limit, that settling may take."""
    item_rounds: int = 6000
    """Rounds of settling × items: a few dozen for a hundred items, three for two thousand (trial 035)."""


@dataclass(frozen=True, slots=True)
class RegionParameters:
    """How a region is filled. Shares are 0..1; areas are shares of what the items are worth."""

    size_exponent: float = 0.7
    """Power of a kind's size by which its overlaps weigh (trial 031)."""
    wide_samples: int = 15
    """Poses sampled over all ground (trial 029)."""
    near_samples: int = 30
    """Poses sampled near by (trial 030)."""
    patience: int = 15
    """Passes without 2 % less overlap before a strike (trial 059)."""
    strikes: int = 1
    """Strikes after which a separation has failed (trial 059)."""
    capacity_factor: float = 1.25
    """Room for items: this many times the ground over the least item."""

    start_seconds: float = 15.0
    """One start for this many seconds that a search has, at least one; with a limit on passes one (trial 072)."""
    most_starts: int = 16
    """And no more than this many."""
    start_share: float = 0.5
    """A start scatters items of this share of the good ground."""
    start_time: float = 0.1
    """Share of a start's time after which no other layout is scattered (trial 028)."""
    start_patience: int = 40
    """As `patience`, for scattered items."""
    raise_by: float = 0.01
    """Share by which sizes are raised at once while that is easy."""
    failures: int = 2
    """Raises that fail in a row before annealing begins (trials 043, 055)."""
    pack_failures: int = 6
    """Units are inserted into a layout that is gone on from until this many in a row fail ..."""
    pack_patience: int = 6
    """... each given this many passes."""

    hot: float = 0.02
    """Temperature at the start of an annealing, as a share of the mean area of a kind (trials 051, 084)."""
    cold: float = 0.002
    """The same at its end (trials 051, 084)."""
    anneal_passes: float = 50
    """Passes of an annealing for each item (trials 050, 055, 059)."""
    passes_at_once: int = 5
    """Passes between two looks at the time."""
    odd_share: float = 0.005
    """Share of the area of items without any partner that is held against a layout when annealing begins; all of it
    when `paired` of the annealing is over. What larger items lose to smaller partners always counts."""
    paired: float = 0.8
    """Share of an annealing after which `odd_share` is all of that area."""
    threshold: float = 0.006
    """A layout worse by up to this share, drawn at random, is gone on from (trials 027, 050)."""

    inserts: float = 0.5
    """Share of the kicks that insert a unit (trials 026, 057)."""
    full_inserts: float = 0.8
    """The same when every item has the largest kind that is left for it."""
    removals: float = 0.03
    """Share of the kicks that remove a unit; all others only shuffle (trials 026, 057)."""
    give_up: float = 0.01
    """Share of the area given up by a kick before overlaps are parted (trial 059)."""
    insert_give_up: float = 0.05
    """The same where a unit was inserted (trial 059)."""
    odd_kicks: float = 0.2
    """Share of the kicks taken up although the number of items on some level of ground is odd (trials 034, 059)."""
    shuffle: tuple[int, int] = (3, 6)
    """Least and most items of a shuffled window (trial 047)."""
    few: int = 2
    """Up to this many items, kicks only insert."""

    cross_from: float = 0.88
    """Share of the search after which the layouts found are crossed (trial 072)."""
    cross_layouts: int = 64
    """This many of the best layouts are crossed."""
    cross_passes: float = 100
    """Passes of an annealing for each item, of a layout that two others make up."""
    cross_give_up: tuple[float, ...] = (0.01, 0.02, 0.03)
    """Shares of the area given up, one after the other until it helps, before overlaps of such a layout are parted."""
    cross_failures: int = 10
    """Crossing ends when this many in a row brought no record."""

    fine_share: float = 0.1
    """Share of the search that closes up with all headings, where only few of them were searched with (trial 083)."""
    fine_tables: float = 1.5
    """That share must be this many times what their tables are expected to take."""
    fine_passes: int = 3000
    """And a limit on passes be no less than this."""
    resize_share: float = 0.1
    """Share of the search that resizes what was found; none by passes alone, for it depends on time (trial 036)."""
    resize_seconds: float = 4.0
    """It must be this long, or nothing comes of it (trials 036, 085)."""
    starved_passes: int = 200
    """Where the time was over before this many passes, items are laid down one by one too."""

    partners: Callable[[Sequence[Kind], Sequence[Ground], Replacements | None], Families] = families_of
    """Says what is a pair while annealing."""
    complete: Callable[..., tuple[Item, ...]] = complete_families
    """Makes pairs whole."""
    resize: Callable[
        [RegionProblem, Sequence[Item], Replacements, Callable[[], float], Callable[[], bool]], tuple[Item, ...]
    ] = resized
    """Gives the items of a layout other sizes and places, all at once."""


STRIPS, REGIONS = StripParameters(), RegionParameters()
