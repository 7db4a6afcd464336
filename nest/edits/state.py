"""A plan, and what is held fast in it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nest.edits.commands import EditProblem, Pressed
from nest.plan import HideLayout, Placed, Plan
from nest.stock.material import Hide


@dataclass(frozen=True, slots=True)
class State:
    """A plan as a hand left it.

    held : pieces that stay as they lie, as (hide, number).
    held_hides : hides that stay as they are.
    cut : pieces ticked off as cut at this desk, as (hide, number); spoiled : those of them that were lost, each with
        whether its reinforcement was. pressed : what the press made of pieces, one a piece.
    plies : plies of lays ticked off as cut at this desk, as (lay, how many of them).
    """

    plan: Plan
    held: frozenset[tuple[str, int]] = frozenset()
    held_hides: frozenset[str] = frozenset()
    cut: frozenset[tuple[str, int]] = frozenset()
    spoiled: frozenset[tuple[str, int, bool]] = frozenset()
    plies: frozenset[tuple[str, int]] = frozenset()
    pressed: frozenset[Pressed] = frozenset()

    def hide(self, hide_id: str) -> Hide:
        """The hide of this id; EditProblem if there is none."""
        for hide in self.plan.hides:
            if hide.hide_id == hide_id:
                return hide
        raise EditProblem(f"the plan has no hide named {hide_id}; see the hides in its report.")

    def layout(self, hide_id: str) -> HideLayout:
        """What lies on a hide, nothing if nothing does; EditProblem if there is no such hide."""
        self.hide(hide_id)
        return next((one for one in self.plan.layouts if one.hide_id == hide_id), HideLayout(hide_id, ()))

    def spot(self, hide_id: str, number: int) -> int:
        """Index of the piece with this number; EditProblem if there is none, or it is to stay."""
        layout = self.layout(hide_id)
        found = next((at for at in range(len(layout.placed)) if layout.number(at) == number), None)
        if found is None:
            raise EditProblem(f"hide {hide_id} holds no piece no. {number}; see its drawing.")
        if self.stays(hide_id, number):
            if (hide_id, number) in self.cut:
                raise EditProblem(f"piece no. {number} of hide {hide_id} is cut; it stays as it lies.")
            raise EditProblem(f"piece no. {number} of hide {hide_id} is held; free it first.")
        return found

    def stays(self, hide_id: str, number: int) -> bool:
        """Whether a piece is held, by itself or with its hide, or is cut."""
        held = hide_id in self.held_hides or (hide_id, number) in self.held
        return held or (hide_id, number) in self.cut or hide_id in self.plan.begun.cut_hides

    def check_there(self, hide_id: str) -> None:
        """EditProblem if the hide is not to be used, or there is none of this id."""
        self.hide(hide_id)
        if hide_id in self.plan.begun.withdrawn:
            raise EditProblem(f"hide {hide_id} is not to be used; allow it first.")

    def check_open(self, hide_id: str) -> None:
        """EditProblem if nothing on the hide may change: it is cut, held, or not to be used."""
        self.hide(hide_id)
        if hide_id in self.plan.begun.cut_hides:
            raise EditProblem(f"hide {hide_id} is cut; what lies on it stays.")
        if hide_id in self.held_hides:
            raise EditProblem(f"hide {hide_id} is held; free it first.")
        self.check_there(hide_id)

    def parts(self, hide_id: str) -> tuple[list[tuple[Placed, int]], list[tuple[Placed, int]]]:
        """Pieces of a hide that stay and those that need not, each with its number."""
        layout = self.layout(hide_id)
        numbered = [(one, layout.number(at)) for at, one in enumerate(layout.placed)]
        return (
            [one for one in numbered if self.stays(hide_id, one[1])],
            [one for one in numbered if not self.stays(hide_id, one[1])],
        )

    def with_hide(self, hide: Hide) -> "State":
        """The state with another drawing of one hide."""
        hides = tuple(hide if one.hide_id == hide.hide_id else one for one in self.plan.hides)
        return replace(self, plan=replace(self.plan, hides=hides))

    def with_pieces(self, hide_id: str, numbered: list[tuple[Placed, int]]) -> "State":
        """The state with these pieces on a hide, in the sequence of their numbers, and no others."""
        numbered = sorted(numbered, key=lambda one: one[1])
        numbers = tuple(number for _, number in numbered)
        plain = numbers == tuple(range(1, len(numbers) + 1))
        layout = HideLayout(hide_id, tuple(one for one, _ in numbered), () if plain else numbers)
        known = any(one.hide_id == hide_id for one in self.plan.layouts)
        layouts = tuple(layout if one.hide_id == hide_id else one for one in self.plan.layouts)
        layouts = layouts if known else (*layouts, layout)
        held = frozenset(one for one in self.held if one[0] != hide_id or one[1] in numbers)
        kept = tuple(one for one in layouts if one.placed or one.hide_id in self.plan.begun.cut_hides)
        return replace(self, plan=replace(self.plan, layouts=kept), held=held)


def check_whole(state: State) -> None:
    """EditProblem if something is cut or held, so that the order cannot be placed anew as a whole."""
    if state.plan.begun.hides or state.plan.begun.lays or state.cut or state.plies:
        raise EditProblem("the plan is cut in part; other allowances or rules are for a plan of which nothing is cut.")
    if state.held or state.held_hides:
        raise EditProblem("something is held; free it first, for the whole order is placed anew.")


def free_numbers(taken: set[int]) -> Iterator[int]:
    """Numbers that no piece of a hide has, from 1."""
    number = 0
    while True:
        number += 1
        if number not in taken:
            yield number
