"""How long a plan was searched for, how far it lies above the estimate, and whether more time would pay, in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from nest.accounts.areas import MaterialUse
from nest.accounts.beside import BesideEstimate, beside_estimate
from nest.accounts.money import minor_digits, rounded
from nest.accounts.moretime import MoreTime, more_time
from nest.plan import Plan, Search
from nest.units import m2


@dataclass(frozen=True, slots=True)
class SearchSaid:
    """The search in one sentence, each leather beside its estimate in another, what to do, and what more time brings.

    "" for nothing.
    """

    search: str
    leathers: tuple[str, ...]
    advice: str
    more: tuple[str, ...] = ()

    @property
    def sentences(self) -> tuple[str, ...]:
        """All of it."""
        return tuple(said for said in (self.search, *self.leathers, self.advice, *self.more) if said)


def search_said(plan: Plan, uses: Sequence[MaterialUse]) -> SearchSaid:
    """What there is to say of the search behind a plan; nothing for a plan that keeps no word of it."""
    if plan.search is None:
        return SearchSaid("", (), "")
    beside = beside_estimate(plan, uses)
    dear = {one.leather for one in beside if one.worth_more_time}
    more = tuple(
        _more(more_time(course), plan, above=course.leather in dear)
        for course in plan.search.courses if not plan.search.stopped
    )
    return SearchSaid(_search(plan.search), tuple(map(_leather, beside)), _advice(plan.search, beside), more)


def _search(search: Search) -> str:
    if search.seconds is None:
        said = f"Searched by passes, {search.passes} for every hide and roll."
    else:
        said = f"Searched for {search.spent_s:g} s; {search.seconds:g} s were asked for."
    return said + (" The run was stopped by hand." if search.stopped else "")


def _leather(one: BesideEstimate) -> str:
    way = "above" if one.above >= 0.0 else "below"
    return (
        f"{one.leather}: what is placed takes {m2(one.placed_mm2):.2f} m², {abs(one.above):.0%} {way} the "
        f"{m2(one.expected_mm2):.2f} m² estimated without placing, which may be {one.error_percent:g} % off."
    )


def _more(one: MoreTime, plan: Plan, *, above: bool) -> str:
    """What more time brings; `above` where the plan lies above the estimate by more than that may be off."""
    if one.saved is None or one.likely is None:
        return f"{one.leather}: half of the search was over before there was a plan as complete as this; what a " \
               "search twice as long would save cannot be told from it."
    if one.saved <= 0:
        likely = "what a search twice as long would save cannot be told from it" if above else \
            "a search twice as long would likely save little"
        return f"{one.leather}: the second half of the search saved nothing; {likely}."
    digits, currency = minor_digits(plan.settings.currency), plan.settings.currency
    fewer = f"{one.hides_saved} hide{'s' * (one.hides_saved != 1)}, " if one.hides_saved > 0 else ""
    saved, most = (rounded(Fraction(amount), digits) for amount in (one.saved, one.likely))
    return f"{one.leather}: the second half of the search saved {fewer}{saved} {currency}; one twice as long would " \
           f"likely save {most} {currency} or less."


def _advice(search: Search, beside: Sequence[BesideEstimate]) -> str:
    dear = [one.leather for one in beside if one.worth_more_time]
    if dear:
        key = "passes" if search.seconds is None else "time"
        return f"More {key} would pay: {', '.join(dear)} {'lies' if len(dear) == 1 else 'lie'} above the estimate by " \
               f"more than its error. Costs of this plan are too high by as much."
    return "What the run had no time for is missing from this plan; plan again to finish it." if search.stopped else ""
