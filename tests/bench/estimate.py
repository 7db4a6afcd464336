"""Quick estimate beside the full placement: leather per pair on invented styles and lots of simulated sides.

    python tests/bench/estimate.py [--first 0] [--lots 20] [--hides 12] [--passes 250] [--gain 0] [--rows ROWS.jsonl]

Each lot is one invented style (`edge_model.invented_style`, of other seeds than the model's own) and a dozen simulated
sides, filled one after the other with three sizes; the estimate sees the sides but places nothing. Beside it
the estimate that knows no more than their mean area and the share of unfit ground. Printed for each lot: the yields and
the estimates' errors; at the end the distribution of errors, of the lots and of their first sides alone, and how often
the leather needed lies within the interval that is stated. With `--gain` a short search counts as if it held this many
percent more, as the mean of the lots placed with more passes. With `--rows` every lot is kept in a file when it is
done, and not placed again, so that a long run can be made in parts.
"""

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parent))

from edge_model import PLENTY, SIZES, invented_style, passes_on
from record import Value, add_record_option, mean_of, write_record

from geometry.polygon import area
from nest.job.job import Settings
from nest.perpair.measures import interlocks
from nest.perpair.needs import interval_percent
from nest.perpair.use import ground_of, leather_use
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Role
from nest.pieces.quantities import CutLine
from nest.placement.budget import Budget
from nest.placement.solve import solve_region
from nest.planning.fill import limits_for
from nest.planning.offer import make_offer, see_hide
from nest.planning.wants import vamp_wants
from nest.stock.distribution import SIDES
from nest.stock.material import Leather
from nest.stock.simulate import simulate_hides


def one_lot(number: int, count: int, each: int) -> list[tuple[float, float, float]]:
    """Yield placed, estimated from the sides and from figures alone: of the first side of a lot, the first two, ..."""
    rng = np.random.default_rng((77, number))
    style, settings = invented_style(rng), Settings()
    mean = rng.uniform(1.0, 2.5) * 1e6
    supply = replace(SIDES, area_mean_mm2=mean, area_sd_mm2=0.08 * mean, area_range_mm2=(0.8 * mean, 1.2 * mean))
    hides = simulate_hides(supply, count, seed=9000 + number, leather=style.leather)
    pieces, _ = make_pieces(style, SIZES)
    wants = vamp_wants([CutLine(style.name, size, PLENTY, PLENTY) for size in SIZES], pieces,
                       {style.name: style.rules})
    vamps = [piece for piece in pieces if piece.role is Role.VAMP and piece.foot is not Foot.RIGHT]
    locked = interlocks(vamps, settings.hide_gap_mm, half_turns=True)
    leather = Leather(style.leather, 0, "m2")
    placed, found = 0.0, []
    for n, hide in enumerate(hides, start=1):
        seen = see_hide(hide, wants, settings, one_way=False)
        offer = make_offer(seen, wants, limits_for(wants, [want.count for want in wants], seen.rooms_of_styles),
                           settings.hide_gap_mm)
        layout = solve_region(offer.problem, Budget(passes=passes_on(seen, wants, each)), seed=number)[0]
        placed += sum(area(offer.problem.kinds[item.kind].outline) for item in layout.items)
        ground = ground_of(leather, hides[:n], style, settings.edge_margin_mm)
        yields = [_mean_yield(locked, known) for known in (ground, replace(ground, reach=None))]
        found.append((placed / sum(hide.outline.area for hide in hides[:n]), *yields))
    return found


def _mean_yield(locked, ground) -> float:
    """Cutting yield by estimate, mean of the sizes; not a number where one cannot be estimated."""
    uses = [leather_use(one, ground) for one in locked]
    return float(np.mean([use.cutting_yield if use else np.nan for use in uses]))


def kept_lots(path: Path | None, args) -> dict[int, list]:
    """Lots that a file holds, of as many sides and passes, by number."""
    lines = path.read_text(encoding="utf-8").splitlines() if path is not None and path.exists() else []
    rows = map(json.loads, lines)
    return {row["lot"]: row["yields"] for row in rows if (row["hides"], row["passes"]) == (args.hides, args.passes)}


def spread(name: str, mine: np.ndarray, stated: float) -> list[Value]:
    """Print how errors in percent are spread and how many lie within what is stated; the values of a record."""
    least, *quartiles, most = np.percentile(mine, (0, 25, 50, 75, 100))
    square, needed = float(np.sqrt(np.mean(mine**2))), 100.0 * (100.0 / (100.0 + mine) - 1.0)
    within = 100.0 * float(np.mean(np.abs(needed) <= stated))
    print(f"{name}, error of leather per pair: {least:.1f} to {most:.1f} %, quartiles "
          f"{', '.join(f'{one:.1f}' for one in quartiles)}, mean {mine.mean():.2f}, root mean square {square:.2f}; "
          f"95 % of {len(mine)} lots within {np.percentile(np.abs(mine), 95):.2f} %; within the ±{stated:g} % that is "
          f"stated (95 %): {within:.1f} %")
    return [Value(f"{name}, within ±{stated:g} %", round(within, 1), n=len(mine)),
            mean_of(f"{name}, mean", mine.tolist()),
            Value(f"{name}, root mean square", round(square, 2), n=len(mine)),
            Value(f"{name}, range", (round(float(least), 2), round(float(most), 2)), n=len(mine))]


def main() -> int:
    """Fill, estimate, print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--lots", type=int, default=20)
    parser.add_argument("--hides", type=int, default=12)
    parser.add_argument("--passes", type=int, default=250)
    parser.add_argument("--gain", type=float, default=0.0, help="percent that a long search holds more")
    parser.add_argument("--rows", type=Path, help="file that keeps the lots that are done")
    add_record_option(parser)
    args = parser.parse_args()
    kept, errors = kept_lots(args.rows, args), []
    print(f"{'lot':>4}{'placed %':>10}{'estimated %':>13}{'leather error %':>17}{'from figures %':>16}{'error %':>9}")
    for number in range(args.first, args.first + args.lots):
        yields = kept.get(number)
        if yields is None:
            yields = one_lot(number, args.hides, args.passes)
            if args.rows is not None:
                row = {"lot": number, "hides": args.hides, "passes": args.passes, "yields": yields}
                with args.rows.open("a", encoding="utf-8") as stream:
                    stream.write(json.dumps(row) + "\n")
        longer = 1.0 + args.gain / 100.0
        errors.append([[100.0 * (longer * placed / one - 1.0) for one in estimated] for placed, *estimated in yields])
        placed, *estimated = yields[-1]
        print(f"{number:>4}{100 * placed:>10.1f}{100 * estimated[0]:>13.1f}{errors[-1][-1][0]:>17.1f}"
              f"{100 * estimated[1]:>16.1f}{errors[-1][-1][1]:>9.1f}", flush=True)
    values = []
    for sides in range(1, args.hides + 1):
        for name, mine in zip(("sides seen", "figures alone"), np.array(errors)[:, sides - 1].T, strict=True):
            values += spread(f"{name}, {sides} sides", mine[~np.isnan(mine)],
                             interval_percent(name == "sides seen", 1, sides))
    if args.record:
        write_record(args.record, question="How near does the quick estimate come to a full placement?", unit="%",
                     module="nest/perpair/yield_model.py",
                     baseline=f"full placement, {args.passes} passes for every vamp, +{args.gain:g} %",
                     metric="error of leather a pair", values=values)
    return 0


if __name__ == "__main__":
    sys.exit(main())
