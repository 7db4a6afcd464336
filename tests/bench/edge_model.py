"""Second waste: fit the edge model of `nest.perpair.yield_model` on simulated hides filled with short placements.

    python tests/bench/edge_model.py place ROWS.jsonl [--first 0] [--count 8] [--passes 250] [--small]
    python tests/bench/edge_model.py fit ROWS.jsonl [--least 5]

`place` draws invented styles (the demo's two templates, stretched at random) and one simulated side each, fills it,
and appends a line to ROWS; sample i is the same whenever it is drawn, so a long series can be made in parts. Search
passes are in proportion to the vamps that a side's fit ground holds by area, so that small vamps on a large side
come as near to a full placement as large ones on a small side. With `--small` only those of the samples are placed
whose ground is fit for few vamps, for these are rare. `fit` prints the coefficients of several forms of the model
beside each other, each with its error on samples left out of its fit one at a time; sides with ground for fewer vamps
than `--least` are left out altogether. The model's own: samples 0 to 263, and of 1000 to 1684 the small ones; where
figures alone are known, 0 to 263 with `--least 8`.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from record import Value, add_record_option, write_record

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.polygon import area
from geometry.precision import on_grid
from nest.job.job import Settings
from nest.job.read import read_job
from nest.perpair.reach import reach
from nest.pieces.make import make_pieces
from nest.pieces.piece import Foot, Role
from nest.pieces.quantities import CutLine
from nest.pieces.style import Style
from nest.placement.budget import Budget
from nest.placement.solve import solve_region
from nest.planning.fill import limits_for
from nest.planning.offer import HideGrounds, make_offer, see_hide
from nest.planning.wants import Want, vamp_wants
from nest.stock.distribution import SIDES
from nest.stock.ground import fit_ground
from nest.stock.material import Hide
from nest.stock.simulate import simulate_hides

DEMO = Path(__file__).parents[2] / "demo_data" / "job.toml"
SIZES = ("37", "39", "41")
PLENTY = 400

SMALL_PIECES = 5.0, 17.0
"""Ground of a small sample is fit for more vamps of the base size than the first, and for fewer than the second."""

SMALL_MM2, SMALL_QUALITY = 1.5e6, 2
"""A sample of a larger supply, or of a style that takes worse ground, does not count as small whatever it holds."""


def invented_style(rng: np.random.Generator) -> Style:
    """One of the demo's styles, its template stretched along and across, another limit of quality and tolerance."""
    styles = read_job(DEMO).styles
    style = styles[rng.integers(len(styles))]
    stretch = rng.uniform(0.80, 1.20) * np.array((rng.uniform(0.92, 1.08), rng.uniform(0.92, 1.08)))
    templates = tuple(replace(template, outline=on_grid(template.outline * stretch)) for template in style.templates)
    rules = replace(style.rules, net_quality=int(rng.integers(1, 4)), trim_quality=4,
                    tolerance_deg=float(rng.choice((5.0, 10.0, 15.0))))
    return replace(style, name="invented", templates=templates, rules=rules)


def passes_on(seen: HideGrounds, wants: Sequence[Want], each: int) -> int:
    """Search passes on one side: `each` for every vamp that its fit ground holds by area."""
    rough = np.mean([want.area_mm2 / len(want.pieces) for want in wants])
    return max(1, round(each * seen.usable_mm2 / rough))


def drawn(number: int) -> tuple[Style, Hide, float]:
    """Style and side of a sample, and mean area of the supply the side is from, mm²."""
    rng = np.random.default_rng((20, number))
    style = invented_style(rng)
    mean = rng.uniform(0.9, 2.6) * 1e6
    supply = replace(SIDES, area_mean_mm2=mean, area_sd_mm2=0.08 * mean, area_range_mm2=(0.8 * mean, 1.2 * mean))
    return style, simulate_hides(supply, 1, seed=1000 + number, leather=style.leather)[0], mean


def is_small(number: int) -> bool:
    """Whether the ground of a sample is fit for few vamps."""
    style, hide, mean = drawn(number)
    if mean > SMALL_MM2 or style.rules.net_quality > SMALL_QUALITY:
        return False
    vamp = make_pieces(style, SIZES[1:2])[0][0]
    held = fit_ground(hide, style.rules, Settings().edge_margin_mm).area / area(vamp.cut_outline)
    return SMALL_PIECES[0] < held < SMALL_PIECES[1]


def sample(number: int, each: int) -> dict:
    """Fill one simulated side with one invented style."""
    style, hide, _ = drawn(number)
    pieces, _ = make_pieces(style, SIZES)
    quantities = [CutLine(style.name, size, PLENTY, PLENTY) for size in SIZES]
    wants = vamp_wants(quantities, pieces, {style.name: style.rules})
    settings = Settings()
    seen = see_hide(hide, wants, settings, one_way=False)
    limits = limits_for(wants, [want.count for want in wants], seen.rooms_of_styles)
    offer = make_offer(seen, wants, limits, settings.hide_gap_mm)
    passes = passes_on(seen, wants, each)
    layout = solve_region(offer.problem, Budget(passes=passes), seed=number)[0]
    rough = [area(offer.problem.kinds[item.kind].outline) for item in layout.items]
    vamps = [piece for piece in pieces if piece.role is Role.VAMP and piece.foot is not Foot.RIGHT]
    middle = next(piece for piece in vamps if piece.size == SIZES[1])
    within = reach(hide, middle, style.rules, settings.edge_margin_mm, one_way=False)
    density = {piece.size: densest_double_lattice(piece.cut_outline, settings.hide_gap_mm).density for piece in vamps}
    return {
        "sample": number,
        "passes": passes,
        "yield": sum(rough) / hide.outline.area,
        "pieces": len(rough),
        "hide_mm2": hide.outline.area,
        "fit_mm2": seen.usable_mm2,
        "rough_mm2": float(np.mean([area(piece.cut_outline) for piece in vamps])),
        "density": float(np.mean(list(density.values()))),
        "straight": float(np.mean([
            densest_translation_lattice(piece.cut_outline, settings.hide_gap_mm).density for piece in vamps
        ])),
        "feet_differ": middle.foot is not Foot.EITHER,
        "quality": style.rules.net_quality,
        "tolerance_deg": style.rules.tolerance_deg,
        "reach_mm2": within.area_mm2,
        "play_mm2": within.play_mm2,
    }


def place(args) -> int:
    """Append samples to the file."""
    for number in range(args.first, args.first + args.count):
        if args.small and not is_small(number):
            continue
        row = sample(number, args.passes)
        with open(args.rows, "a", encoding="utf-8") as stream:
            stream.write(json.dumps(row) + "\n")
        print(f"{number:>4} {row['yield']:.3f} of {row['hide_mm2'] / 1e6:.2f} m², fit "
              f"{row['fit_mm2'] / row['hide_mm2']:.3f}, {row['pieces']} pieces", file=sys.stderr, flush=True)
    return 0


def forms(rows: list[dict]) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Each form's fixed part (n,) and regressors (n, k): yield of a hide = fixed part + regressors · coefficients."""
    density, straight, fit, hide, rough, reach, play, tolerance, differ = (
        np.array([row[name] for row in rows]) for name in
        ("density", "straight", "fit_mm2", "hide_mm2", "rough_mm2", "reach_mm2", "play_mm2", "tolerance_deg",
         "feet_differ")
    )
    share, more, none = fit / hide, tolerance - 10.0, np.zeros(len(rows))
    fourth, root = share * (rough / fit) ** 0.25, share * (rough / fit) ** 0.5
    reached, piece = straight * reach / hide, rough / hide
    return {
        "density − b ÷ ⁴√W (textbook's exponent)": (share * density, np.column_stack((fourth,))),
        "density × a − b ÷ ⁴√W": (none, np.column_stack((share * density, fourth))),
        "straight × a − b ÷ √W": (none, np.column_stack((share * straight, root))),
        "straight × a − b ÷ ⁴√W": (none, np.column_stack((share * straight, fourth))),
        "the same + c × unfit": (none, np.column_stack((share * straight, fourth, share * (1.0 - share)))),
        "the same + d × tolerance": (
            none, np.column_stack((share * straight, fourth, share * (1.0 - share), share * straight * more))
        ),
        "the same + pieces": (
            none,
            np.column_stack((share * straight, fourth, share * (1.0 - share), share * straight * more, rough / hide)),
        ),
        "reach": (none, reached[:, None]),
        "reach, pieces": (none, np.column_stack((reached, piece))),
        "reach, play": (none, np.column_stack((reached, play / hide))),
        "reach, play, pieces": (none, np.column_stack((reached, play / hide, piece))),
        "reach, play, pieces, tolerance": (none, np.column_stack((reached, play / hide, piece, reached * more))),
        "reach, play, pieces, tolerance, feet": (
            none, np.column_stack((reached, play / hide, piece, reached * more, reached * differ))
        ),
        "reach, play, pieces, tolerance, √pieces": (
            none, np.column_stack((reached, play / hide, piece, reached * more, np.sqrt(rough * reach) / hide))
        ),
    }


def fit(args) -> int:
    """Fit every form and print it with its error."""
    rows = [json.loads(line) for line in args.rows.read_text(encoding="utf-8").splitlines()]
    rows = list({row["sample"]: row for row in rows}.values())
    rows = [row for row in rows if row["fit_mm2"] >= args.least * row["rough_mm2"]]
    share = np.array([row["fit_mm2"] / row["hide_mm2"] for row in rows])
    density = np.array([row["density"] for row in rows])
    found = np.array([row["yield"] for row in rows])
    ratio = np.array([row["hide_mm2"] / row["rough_mm2"] for row in rows])
    print(f"{len(rows)} samples: hides {min(r['hide_mm2'] for r in rows) / 1e6:.2f} to "
          f"{max(r['hide_mm2'] for r in rows) / 1e6:.2f} m², rough {min(r['rough_mm2'] for r in rows) / 1e4:.1f} to "
          f"{max(r['rough_mm2'] for r in rows) / 1e4:.1f} dm², fit share {share.min():.2f} to {share.max():.2f}, "
          f"W {ratio.min():.0f} to {ratio.max():.0f}")
    print(f"{'form':<45}{'left-out error %':>18}{'worst %':>10}  coefficients")
    values = []
    for name, (fixed, regressors) in forms(rows).items():
        # Each sample weighs alike by its ground; poor hides would weigh most by their own yield.
        scaled, target = regressors / share[:, None], (found - fixed) / share
        misses = []
        for out in range(len(rows)):
            keep = np.arange(len(rows)) != out
            solved = np.linalg.lstsq(scaled[keep], target[keep], rcond=None)[0]
            misses.append((scaled[out] @ solved - target[out]) * share[out] / found[out])
        solved = np.linalg.lstsq(scaled, target, rcond=None)[0]
        error = float(100.0 * np.sqrt(np.mean(np.square(misses))))
        values.append(Value(name, round(error, 2), n=len(rows)))
        print(f"{name:<45}{error:>18.2f}{100.0 * np.abs(misses).max():>10.1f}  {np.round(solved, 4).tolist()}")
    textbook = (density - 0.39 / ratio**0.25) * share
    miss = textbook / found - 1.0
    print(f"{'textbook: (density − 0.39 ÷ ⁴√(hide ÷ piece)) × fit':<45} bias {100.0 * miss.mean():.1f} %, "
          f"spread {100.0 * miss.std():.1f} %")
    if args.record:
        write_record(args.record, question="Which form of the edge model errs least?",
                     module="nest/perpair/yield_model.py", baseline="the textbook's fourth root", unit="%",
                     values=values, metric="root mean square error on samples left out of the fit one at a time")
    return 0


def main() -> int:
    """Place or fit."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    commands = parser.add_subparsers(required=True)
    placing = commands.add_parser("place")
    placing.add_argument("rows", type=Path)
    placing.add_argument("--first", type=int, default=0)
    placing.add_argument("--count", type=int, default=8)
    placing.add_argument("--passes", type=int, default=250, help="search passes of each of two workers for each vamp")
    placing.add_argument("--small", action="store_true", help="only samples with ground for few vamps")
    placing.set_defaults(run=place)
    fitting = commands.add_parser("fit")
    fitting.add_argument("rows", type=Path)
    fitting.add_argument("--least", type=float, default=5.0, help="vamps that a side must have fit ground for")
    add_record_option(fitting)
    fitting.set_defaults(run=fit)
    args = parser.parse_args()
    return args.run(args)


if __name__ == "__main__":
    sys.exit(main())
