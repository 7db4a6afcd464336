"""Planning by reject rates of class and deviation against planning without them, on small orders.

python tests/bench/spoilage_orders.py --orders 20 --passes 4 --record SLUG

Hides of one price have more or less ground of class 2, where vamps fail more often; so do vamps that lie off across.
Both plans cut the same pairs; what counts is what the hides opened cost for each good pair to expect. All invented.
"""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely.geometry import box

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "nest" / "planning"))
sys.path.insert(0, str(Path(__file__).parents[1] / "nest"))

from box_jobs import hide, job, style, zone
from record import Value, bench_options, mean_of, write_record

from geometry.polygon import area
from nest.accounts.expected import good_shares
from nest.pieces.rejects import RejectRates
from nest.planning.make import make_plan
from nest.stock.prices import cost_of_hides

RATES = RejectRates((5.0, 10.0), ((1, (2.0, 4.0)), (2, (10.0, 16.0))), None, ((1, 0.6), (2, 0.4)))
LENGTH, WIDTH, HIDES = 1100.0, 560.0, 6


def order_of(seed: int):
    """A job of 8 to 14 pairs in two sizes on six hides, with rates by class and deviation."""
    rng = np.random.default_rng(seed)
    hides = []
    for n in range(HIDES):
        part = LENGTH * rng.uniform(0.2, 1.0)
        zones = [zone("butt", box(0.0, 0.0, part, WIDTH), 1, rng.uniform(84.0, 96.0))]
        if part < LENGTH - 1.0:
            zones.append(zone("belly", box(part, 0.0, LENGTH, WIDTH), 2, rng.uniform(80.0, 100.0)))
        hides.append(hide(f"H{n + 1}", LENGTH, WIDTH, zones=zones))
    one = style(rates=RATES)
    one = replace(one, rules=replace(one.rules, net_quality=2))
    pairs = rng.integers(4, 8, 2)
    return job(styles=(one,), order=(("box", "38", int(pairs[0])), ("box", "39", int(pairs[1]))), hides=hides)


def without_rates(asked):
    """The same with one rate, by which as many pairs are cut."""
    mine = asked.styles[0]
    rate = round(RATES.expected(mine.rules.net_quality, mine.rules.tolerance_deg), 3)
    return replace(asked, styles=(replace(mine, rates=None, reject_percent=rate),))


COSTS = ("hides by area", "hides opened whole", "the rest of the last hide to stock")


def good_pair_cost(asked, passes: int, plain: bool) -> tuple[float, ...] | None:
    """What hides cost for a good pair to expect, in the ways of COSTS; None of a plan that is short.

    By area, as the standard cost has part-used hides: by the rough area of what is cut. Last: the hide used least is
    charged up to its last cut, as what-ifs charge it.
    """
    made = make_plan(without_rates(asked) if plain else asked, passes=passes, seed=1)
    judged = replace(made, styles=tuple(replace(one, rates=RATES) for one in made.styles))
    opened = {layout.hide_id for layout in made.layouts if layout.placed}
    used = [one for one in made.hides if one.hide_id in opened]
    vamps = sum(len(layout.placed) for layout in made.layouts)
    if vamps < 2 * sum(line.pairs_to_cut for line in made.order):
        return None
    sizes = {piece.piece_id: piece.size for piece in made.pieces}
    shares = good_shares(judged)
    good = sum(shares["box", sizes[one.piece_id]] for layout in made.layouts for one in layout.placed) / 2.0
    least = min(made.layouts, key=lambda layout: (not layout.placed, len(layout.placed)))
    cuts = {piece.piece_id: piece.cut_outline for piece in made.pieces}
    reach = max(float(one.pose.apply(cuts[one.piece_id])[:, 0].max()) for one in least.placed)
    (rest,) = (one for one in used if one.hide_id == least.hide_id)
    whole = float(cost_of_hides(used, made.leathers[0]))
    spared = float(cost_of_hides([rest], made.leathers[0])) * (1.0 - reach / LENGTH)
    rough = {piece.piece_id: area(piece.cut_outline) for piece in made.pieces}
    cut = sum(rough[one.piece_id] for layout in made.layouts for one in layout.placed)
    by_area = cut * whole / sum(hide.outline.area for hide in used)
    return by_area / good, whole / good, (whole - spared) / good


def main() -> None:
    """Print a line an order, then the mean."""
    given = bench_options(__doc__, orders=20, passes=4)
    saved = []
    for seed in range(1, given.orders + 1):
        asked = order_of(seed)
        plain, by_rates = (good_pair_cost(asked, given.passes, plain) for plain in (True, False))
        if plain is None or by_rates is None:
            print(f"{seed:3}: short", flush=True)
            continue
        saved.append([100.0 * (1.0 - mine / other) for mine, other in zip(by_rates, plain, strict=True)])
        print(f"{seed:3}: saved " + ", ".join(f"{one:+.2f} % {what}" for one, what in zip(
            saved[-1], COSTS, strict=True)), flush=True)
    values = values_of(saved)
    print(values)
    if given.record:
        write_record(
            given.record, question="What does planning by reject rates of class and deviation save?",
            module="nest/planning/goodground.py", baseline="the same pairs planned without rates",
            metric=f"cost of hides a good pair to expect, {given.passes} passes", unit="%", values=values,
        )


def values_of(saved) -> list[Value]:
    """Means, and the worst and the best, of what was saved order by order, in each way."""
    values = []
    for what, mine in zip(COSTS, zip(*saved, strict=True), strict=True):
        values += [mean_of(f"saved of a good pair, mean, {what}", mine, "%"),
                   Value(f"at worst and at best, {what}", [round(min(mine), 2), round(max(mine), 2)], n=len(mine),
                         unit="%")]
    return values


if __name__ == "__main__":
    main()
