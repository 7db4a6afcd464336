"""Is a measured stretch good enough to lay pieces across it, or is the material in doubt?"""

from dataclasses import dataclass
from math import inf, isfinite

from nest.stretch.fit import Stretch

LEAST_RATIO = 1.2
"""A material that gives less than this many times more one way than the other has no direction to speak of (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a material is in doubt; empty when it is not."""

    reasons: tuple[str, ...]

    @property
    def advised(self) -> str:
        """What to do about it, one sentence."""
        if not self.reasons:
            return "lay vamps across this direction."
        return (
            "in doubt: give this material leave for bias (bias_leave = true in the style's rules), so that toes may "
            "lie at 45°, where a wrong direction does least harm; or test more strips."
        )

    def __bool__(self) -> bool:
        return bool(self.reasons)


def doubt_about(found: Stretch, tolerance_deg: float, least_ratio: float = LEAST_RATIO) -> Doubt:
    """Weigh a measured stretch against the direction tolerance of the styles and the least ratio.

    Where the uncertainty is not known (three readings, no stated error) the material is in doubt: nothing says that it
    is not.
    """
    reasons = []
    if found.most_percent <= 0.0:
        reasons.append("the material does not stretch under this load")
    if found.isotropic:
        reasons.append("equal stretch in all directions is within the error of the readings")
    if found.direction_within_deg == inf:
        if not found.isotropic:
            reasons.append(
                "three readings alone do not say how sure they are; test more strips, or state the error of a reading"
            )
    elif found.direction_within_deg > tolerance_deg:
        reasons.append(
            f"the direction is uncertain by {found.direction_within_deg:.1f}°, more than the tolerance of "
            f"{tolerance_deg:g}°"
        )
    if isfinite(found.ratio):
        lower = found.ratio - (found.ratio_within if isfinite(found.ratio_within) else 0.0)
        if lower < least_ratio:
            reasons.append(f"the stretch ratio may be as small as {max(lower, 1.0):.2f}, below {least_ratio:g}")
    return Doubt(tuple(reasons))
