"""Distances measured by tape held against the marks: a slip of the tape or of the printer would scale every hide."""

from collections.abc import Sequence

import numpy as np

from nest.digitise.solve import SCALE, Distance, Solution, tape_gaps
from nest.digitise.vision import PhotographProblem

FAR_OFF, OFF = 4.0, 2.5
"""Standard deviations by which a distance may miss: beyond the first it is refused, beyond the second warned of."""

PRINTED_OFF = 0.003
"""A printer whose rule was measured is off by less, as a share."""

_FITTED_TO_PAGE = (0.9, 1.1)
"""Scales at which office printers print what they fit to a page; another one is a slip of the tape."""


def refuse_distances(solution: Solution, distances: Sequence[Distance], bad: Sequence[int]) -> None:
    """Refuse distances that the marks contradict, or that end at a mark to be left out; `solution` knew none of them.

    `bad`: numbers of those marks.

    Raises
    ------
    PhotographProblem
        Naming the distance that is furthest off, and what the marks make of it.
    """
    if not distances:
        return
    for one in distances:
        for number in {one.first, one.second} & set(bad):
            raise PhotographProblem(
                f"The distance {one.first} to {one.second}: mark {number} does not fit the others; lay it flat, or "
                "measure to another one."
            )
    gaps, spread = tape_gaps(solution, distances)
    off = np.abs(gaps) / spread
    worst = int(np.argmax(off))
    if off[worst] <= FAR_OFF:
        return
    one = distances[worst]
    by_marks = one.length_mm + gaps[worst]
    words = (
        f"The distance {one.first} to {one.second} was given as {one.length_mm:.1f} mm, but is {by_marks:.0f} mm by "
        f"the marks (± {1.96 * spread[worst]:.0f}): measure it again"
    )
    scale = one.length_mm / by_marks
    if off.min() > FAR_OFF and _FITTED_TO_PAGE[0] <= scale <= _FITTED_TO_PAGE[1]:
        side = solution.layout.side_mm * scale
        words += f"; if it is right, the black squares are {side:.1f} mm wide, and --mark-mm must say so"
    raise PhotographProblem(f"{words}.")


def said_of_distances(solution: Solution, distances: Sequence[Distance]) -> list[str]:
    """What the user must know of distances that were solved with.

    Raises
    ------
    PhotographProblem
        If they contradict each other.
    """
    said = []
    for one, off in zip(distances, solution.distance_residuals, strict=True):
        words = (
            f"the distance {one.first} to {one.second} was given as {one.length_mm:.1f} mm, and all else makes it "
            f"{one.length_mm + off * one.spread_mm:.1f} mm"
        )
        if abs(off) > FAR_OFF:
            raise PhotographProblem(f"{words[0].upper()}{words[1:]}: measure the distances again.")
        if abs(off) > OFF:
            said.append(f"{words}; measure it again")
    off = float(solution.values[SCALE]) - 1.0
    if distances and abs(off) > PRINTED_OFF:
        said.append(
            f"by the tape the marks are printed {abs(off):.2%} too {'large' if off > 0.0 else 'small'}: measure the "
            "rule on the sheets, and the distance again"
        )
    return said
