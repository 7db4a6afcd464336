"""What is left of the hides of a plan when everything is cut that it says, and what was cut again since."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import shapely

from nest.errors import PlanProblem
from nest.plan import CUT_BY_PLAN, HideLayout, Plan, PlannedStyle
from nest.room.hide import HideLeft
from nest.stock.material import Flaw, Hide


@dataclass(frozen=True, eq=False)
class Leftover:
    """Hides as a plan leaves them, and as plans of pieces cut again do that were made of it `earlier`."""

    plan: Plan
    earlier: tuple[Plan, ...] = ()
    shapes: dict = field(default_factory=dict)

    def hide(self, hide_id: str) -> Hide:
        """The hide of this id.

        Raises
        ------
        PlanProblem
            If there is none.
        """
        for hide in self.plan.hides:
            if hide.hide_id == hide_id:
                return hide
        raise PlanProblem(f"the plan has no hide named {hide_id}; see the hides in its report")

    def fit(self, hide_id: str, style: PlannedStyle) -> Hide:
        """The hide of this id, which a style may be cut from; PlanProblem if it may not."""
        hide = self.hide(hide_id)
        if hide.leather != style.leather:
            raise PlanProblem(f"hide {hide_id} is {hide.leather}, but {style.name} is cut from {style.leather}; "
                              "name another hide")
        if hide_id in self.plan.begun.withdrawn:
            raise PlanProblem(f"hide {hide_id} is withdrawn; name another")
        return hide

    def others(self, leather: str, but: str) -> list[str]:
        """Hides of a leather but one: those that are still to be cut, those that are cut, last those left whole."""
        to_cut = {layout.hide_id for layout in self.plan.layouts_to_cut}
        used = {layout.hide_id for layout in self.plan.layouts if layout.placed}
        fit = [
            hide.hide_id for hide in self.plan.hides
            if hide.leather == leather and hide.hide_id not in (but, *self.plan.begun.withdrawn)
        ]
        return sorted(fit, key=lambda name: (name not in to_cut, name not in used))

    def left(self, hide_id: str) -> Hide:
        """The hide with everything that is cut from it as ground that tears, the gap around it included."""
        hide, gap = self.hide(hide_id), self.plan.settings.hide_apart_mm
        taken, flaws = {flaw.flaw_id for flaw in hide.flaws}, []
        for plan, layout in self._layouts(hide_id):
            outlines = {piece.piece_id: piece.cut_outline for piece in plan.pieces}
            for index, one in enumerate(layout.placed):
                shape = shapely.Polygon(one.pose.apply(outlines[one.piece_id]))
                name = f"no. {layout.number(index)}"
                while name in taken:
                    name += " again"
                taken.add(name)
                flaws.append(
                    Flaw(name, CUT_BY_PLAN, 0, True, False, shape.buffer(gap, quad_segs=8) if gap > 0.0 else shape))
        return replace(hide, flaws=(*hide.flaws, *flaws)) if flaws else hide

    def room(self, hide_id: str) -> HideLeft:
        """What is left of a hide, to look for room on."""
        hide, settings = self.left(hide_id), self.plan.settings
        one_way = any(leather.one_way for leather in self.plan.leathers if leather.name == hide.leather)
        return HideLeft(hide, one_way, settings.edge_room_mm, settings.hide_apart_mm, shapes=self.shapes)

    def next_number(self, hide_id: str) -> int:
        """The number after the last piece that is cut from a hide."""
        numbers = (layout.number(i) for _, layout in self._layouts(hide_id) for i in range(len(layout.placed)))
        return max(numbers, default=0) + 1

    def _layouts(self, hide_id: str) -> Iterator[tuple[Plan, HideLayout]]:
        for plan in (self.plan, *self.earlier):
            yield from ((plan, layout) for layout in plan.layouts if layout.hide_id == hide_id)
