"""The command `shortfall`, and what other commands say of a plan that is short: rows sacrificed, the least to buy."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nest.cli import options
from nest.cli.codes import Exit, code_of
from nest.cli.screen import Screen
from nest.text import count_words

if TYPE_CHECKING:
    from nest.cli.progress import Watch
    from nest.estimate.purchase import HidesToBuy, Purchase
    from nest.plan import Plan
    from nest.verify import Verdict

BRIEF_HIDES, BRIEF_PASSES = 12, 200
"""Hides drawn, and passes on each, where another command says it in passing; as many passes as the plan had, where it
was made by fewer. Few passes ask for more hides."""

Hides = Annotated[int, typer.Option("--hides", min=3, max=1000, metavar="N", help="Hides to draw of each class.")]


def shortfall(
    plan: options.PlanFile,
    hides: Hides = 24,
    passes: options.HidePasses = 1000,
    seed: options.HideSeed = None,
    sure: options.HideSure = 0.95,
    quiet: options.Quiet = False,
    as_json: options.AsJson = False,
) -> None:
    """What a saved plan is short of, which rows of the order that hits, and the least to buy for it.

    Hides are drawn like those of each class in stock and filled with what is missing: it says how many more cover it
    as surely as asked, class by class, the cheapest first, and how many metres of roll. Nothing is changed. Ctrl-C once
    shows what is known by then.
    """
    from nest.cli import steps
    from nest.cli.costing_steps import watched
    from nest.estimate.purchase import least_purchase
    from nest.placement.solve import warm_up
    from nest.report.rows import row_table

    screen, found = Screen(quiet, as_json), steps.read_saved(plan)
    verdict = steps.verify(found)
    with watched(screen) as (cancelled, watch, _):
        if verdict.short:
            watch.stage("preparing")
            warm_up()
        bought = least_purchase(
            found, sample=hides, passes=passes, seed=seed, confidence=sure, cancelled=cancelled, tell=watch.counted
        )
        stopped = cancelled()
    currency = found.settings.currency
    data = {
        "plan": found.name, "short": [one.sentence for one in verdict.short], "rows": rows_result(found),
        "to_buy": purchase_result(bought, currency), "seed": found.settings.seed if seed is None else seed,
        "passes": passes,
    }
    said = [one.sentence for one in verdict.short] or ["Nothing is short."]
    screen.result(data, *row_table(found).sentences, *said, *purchase_said(bought, currency, brief=False))
    raise typer.Exit(Exit.STOPPED if stopped else code_of(verdict))


def brief_purchase(
    plan: "Plan", verdict: "Verdict", watch: "Watch", cancelled: Callable[[], bool] = lambda: False
) -> "Purchase":
    """The least to buy from a small sample; nothing for a plan that is wrong, not short, or was stopped."""
    from nest.estimate.purchase import Purchase, least_purchase

    if not verdict.ok or not verdict.short or cancelled():
        return Purchase((), ())
    passes = min(BRIEF_PASSES, (plan.search and plan.search.passes) or BRIEF_PASSES)
    return least_purchase(
        plan, sample=BRIEF_HIDES, passes=passes, cancelled=cancelled,
        tell=lambda name, done, total: watch.counted(f"what to buy: {name}", done, total),
    )


def shortfall_of(
    plan: "Plan", verdict: "Verdict", watch: "Watch", cancelled: Callable[[], bool]
) -> tuple[dict[str, Any], list[str]]:
    """Rows met and the least to buy, briefly: as plain data and in words."""
    from nest.report.rows import row_table

    currency = plan.settings.currency
    bought = brief_purchase(plan, verdict, watch, cancelled)
    data = {"rows": rows_result(plan), "to_buy": purchase_result(bought, currency)}
    return data, [*row_table(plan).sentences, *purchase_said(bought, currency)]


def rows_result(plan: "Plan") -> list[dict[str, Any]]:
    """Rows of the order by urgency, met and short; none where the order names no due date and no priority."""
    from nest.report.rows import row_table

    return [
        {"style": row.style, "size": row.size, "due": row.due or None, "priority": row.priority or None,
         "pairs": row.pairs, "met": row.met, "short": row.short} for row in row_table(plan).rows
    ]


def purchase_result(bought: "Purchase", currency: str) -> dict[str, Any]:
    """The least to buy, as plain data; hides of one leather are alternatives, the cheapest first."""
    from nest.accounts.money import minor_digits, rounded

    digits = minor_digits(currency)
    return {
        "hides": [
            {"leather": one.leather, "class": one.quality or None, "hides": one.hides, "on_the_mean": one.on_the_mean,
             "area_m2": one.area_mm2 / 1e6, "cost": None if one.cost is None else str(rounded(one.cost, digits)),
             "confidence": one.confidence, "hides_simulated": len(one.held), "supply": one.supply}
            for one in bought.hides
        ],
        "rolls": [
            {"roll": one.roll, "metres": one.length_mm / 1e3, "cost": str(rounded(one.cost, digits)),
             "reinforcements": one.pieces, "too_wide": one.too_wide} for one in bought.rolls
        ],
        "currency": currency,
    }


def purchase_said(bought: "Purchase", currency: str, *, brief: bool = True) -> list[str]:
    """The least to buy, in words; the cheapest first. `brief` where it was looked at in passing."""
    from nest.accounts.money import minor_digits, rounded

    digits, said, seen = minor_digits(currency), [], set()
    for one in bought.hides:
        begin = "Or" if one.leather in seen else "To buy"
        seen.add(one.leather)
        said.append(f"{begin}: {_hides_said(one)}" if one.cost is None else
                    f"{begin}: {_hides_said(one)}, {rounded(one.cost, digits)} {currency}.")
    for goods in bought.rolls:
        if goods.length_mm:
            said.append(f"To buy: {goods.length_mm / 1e3:.1f} m of {goods.roll} for "
                        f"{count_words(goods.pieces - goods.too_wide, 'reinforcement')}, {rounded(goods.cost, digits)} "
                        f"{currency}.")
        if goods.too_wide:
            number = "1 reinforcement is" if goods.too_wide == 1 else f"{goods.too_wide} reinforcements are"
            said.append(f"{goods.roll}: {number} too wide for it; buy wider goods.")
    if bought.hides:
        more = "; this was looked at briefly, the command shortfall takes longer and may need fewer" if brief else ""
        said.append(f"Hides bought are taken to be like those simulated{more}.")
    return said


def _hides_said(one: "HidesToBuy") -> str:
    like = f"of class {one.quality}, like those in stock" if one.quality else "of usual sides, for none is in stock"
    sure = f"{100.0 * one.confidence:g} %"
    if one.hides is None:
        return (f"no number of hides of {one.leather} {like}, can be promised: the {len(one.held)} simulated hold too "
                "little of what is missing, or too unequally.")
    return (
        f"{one.hides} hide{'s' * (one.hides != 1)} of {one.leather} {like}, {one.area_mm2 / 1e6:.1f} m², cover what is "
        f"missing with {sure} confidence ({one.on_the_mean} on the mean of {len(one.held)} simulated)"
    )
