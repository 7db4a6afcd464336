"""How a style is crimped, as far as its job states it: what the paper that goes with its vamps says."""

from dataclasses import dataclass
from enum import StrEnum


class SpraySide(StrEnum):
    """Which side of a vamp is sprayed; UNSTATED where the job does not say."""

    UNSTATED = ""
    GRAIN = "grain"
    FLESH = "flesh"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class Crimping:
    """Values of one style from bonding to trimming; None and "" where the job states none, and none is made up then.

    batch_pairs : most pairs that go through together.
    heel_mm, plate : height of the heel, and the plate that the job names for it.
    bond_celsius, bond_bar, bond_s : bonding of the reinforcement: temperature, pressure, seconds.
    bond_set_h : least hours from the end of bonding to spraying.
    spray, spray_side, spray_ml : what softens the vamps, on which side, ml on one vamp.
    bag_least_h, bag_most_h : hours in the bag, from spraying to the press.
    crimp_celsius, crimp_bar, crimp_s : as for bonding.
    check_mm, check_later_mm : how far the edge may lie off the template at once, and after the wait.
    wait_h : hours from crimping to the later check.
    trim_leave_mm : left beyond the template line when trimmed.
    """

    batch_pairs: int | None = None
    heel_mm: float | None = None
    plate: str = ""
    bond_celsius: float | None = None
    bond_bar: float | None = None
    bond_s: float | None = None
    bond_set_h: float | None = None
    spray: str = ""
    spray_side: SpraySide = SpraySide.UNSTATED
    spray_ml: float | None = None
    bag_least_h: float | None = None
    bag_most_h: float | None = None
    crimp_celsius: float | None = None
    crimp_bar: float | None = None
    crimp_s: float | None = None
    check_mm: float | None = None
    wait_h: float | None = None
    check_later_mm: float | None = None
    trim_leave_mm: float | None = None


PLAIN_CRIMPING = Crimping()
"""Nothing is stated."""
