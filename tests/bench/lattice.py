"""Time and density of the densest lattices of invented vamps.

    python tests/bench/lattice.py [DATA] [--gap 0 1] [--repeats 5]

For every outline and gap: corners, share of its convex hull, density by translations alone and by the double lattice,
and the median processor time of each search (one thread, loops compiled before). With DATA, the outlines of
`DATA/hides/hide1.json` come first; the others are those the tests plan with.
"""

import argparse
import json
import sys
import time
from pathlib import Path
from statistics import median

import numpy as np

sys.path.append(str(Path(__file__).parents[1] / "nest"))

from record import Value, add_record_option, write_record
from vamp_plans import vamp_pieces

from geometry.lattice import densest_double_lattice, densest_translation_lattice
from geometry.polygon import area, convex_hull
from geometry.precision import as_ring
from nest.pieces.piece import Role


def outlines(data: Path | None) -> dict[str, np.ndarray]:
    """Outlines by name."""
    found = {}
    if data is not None:
        hide = json.loads((data / "hides" / "hide1.json").read_text(encoding="utf-8"))
        found = {f"hide1 size {piece['size']}": as_ring(piece["outline"]) for piece in hide["pieces"]}
    for lean in (0.0, 8.0):
        pieces = vamp_pieces("leaning" if lean else "even", lean=lean, sizes=("36", "39", "42"))
        found |= {p.piece_id: p.cut_outline for p in pieces if p.role is Role.VAMP and not p.piece_id.endswith("-R")}
    return found


def timed(densest, ring: np.ndarray, gap: float, repeats: int) -> tuple[float, float]:
    """Density, and median processor time in ms."""
    took = []
    for _ in range(repeats):
        begin = time.thread_time()
        lattice = densest(ring, gap)
        took.append(1e3 * (time.thread_time() - begin))
    return lattice.density, median(took)


def main() -> int:
    """Search and print; 1 if a double lattice took 200 ms of it or more."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("data", type=Path, nargs="?")
    parser.add_argument("--gap", type=float, nargs="+", default=[0.0, 1.0], help="mm")
    parser.add_argument("--repeats", type=int, default=5)
    add_record_option(parser)
    args = parser.parse_args()
    rings = outlines(args.data)
    for densest in (densest_translation_lattice, densest_double_lattice):
        densest(next(iter(rings.values())))
    slow, values = False, []
    print(f"{'outline':<16}{'corners':>8}{'convex':>8}{'gap':>6}{'translations':>14}{'ms':>7}{'double':>9}{'ms':>7}")
    for name, ring in rings.items():
        for gap in args.gap:
            single, single_ms = timed(densest_translation_lattice, ring, gap, args.repeats)
            double, double_ms = timed(densest_double_lattice, ring, gap, args.repeats)
            slow |= double_ms >= 200.0
            case = f"{name}, gap {gap:g} mm"
            values += [Value(f"{case}, translations", round(single, 5)), Value(f"{case}, double", round(double, 5)),
                       Value(f"{case}, double, median time", round(double_ms, 1), n=args.repeats, unit="ms")]
            print(
                f"{name:<16}{len(ring):>8}{area(ring) / area(convex_hull(ring)):>8.3f}{gap:>6.1f}"
                f"{single:>14.5f}{single_ms:>7.1f}{double:>9.5f}{double_ms:>7.1f}"
            )
    if args.record:
        write_record(args.record, question="How dense are the densest lattices, and how long do they take?", unit="1",
                     module="geometry/lattice.py", baseline="none", metric="density", values=values)
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
