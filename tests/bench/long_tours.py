"""Tours of marks and cuts on the hides of a saved plan: how much longer the program's are than a long run of the same
search finds.

    python tests/bench/long_tours.py PLAN --hides H02 H05 [--seconds 60]

Seconds are processor time, so that other work on the machine does not matter. The long run is made with the same number
of searches as the program's; the shorter of both counts as the best.
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).parent))

from record import Value, add_record_option, write_record

from nest.cutplan.order import cut_route
from nest.cutplan.work import HOME, hide_work
from nest.planfile import plan_from_text

TRIED = 4.0
"""So many times the usual work is timed first, to know what the long run asks for."""


def asked(plan, layout):
    """What the router is asked for one hide."""
    calls = []

    def router(*places, **more):
        calls.append((places, more))
        return cut_route(*places, effort=0.01, **more)

    hide_work(plan, layout, router)
    return calls[0]


def tour_mm(places, more, order, picks) -> float:
    """The way of the head while nothing is marked or cut, from home and back."""
    starts, ends = ([np.asarray(one).reshape(-1, 2) for one in some] for some in (places[0], more["ends"]))
    begun = np.array([starts[i][picks[i]] for i in order])
    left = np.array([ends[i][picks[i]] for i in order])
    return float(np.hypot(*(np.vstack((begun, HOME)) - np.vstack((HOME, left))).T).sum())


def found(places, more, effort: float) -> tuple[float, float]:
    """Length of the tour, mm, and processor time, s."""
    begun = time.process_time()
    order, picks = cut_route(*places, effort=effort, **more)
    return tour_mm(places, more, order, picks), time.process_time() - begun


def main() -> None:
    """Print one row a hide, and the worst."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("plan", type=Path)
    parser.add_argument("--hides", nargs="+", required=True)
    parser.add_argument("--seconds", type=float, default=60.0)
    add_record_option(parser)
    arguments = parser.parse_args()
    plan = plan_from_text(arguments.plan.read_text(encoding="utf-8"))
    values = []
    print("hide     stops   usual mm (s)   long mm (s)   longer by", flush=True)
    for layout in plan.layouts_to_cut:
        if layout.hide_id not in arguments.hides:
            continue
        places, more = asked(plan, layout)
        found(places, more, 0.01)  # compiled, or loaded, before time is taken
        (usual, took), (_, tried) = found(places, more, 1.0), found(places, more, TRIED)
        long, longer = found(places, more, TRIED * arguments.seconds / tried)
        share = 100.0 * (usual / min(usual, long) - 1.0)
        values.append(Value(f"hide {layout.hide_id}, {len(places[0])} stops, {usual:,.0f} mm", round(share, 2), n=1))
        row = f"{layout.hide_id:8} {len(places[0]):5} {usual:10.0f} ({took:.2f}) {long:10.0f} ({longer:.0f})"
        print(f"{row} {share:10.2f} %", flush=True)
    if arguments.record:
        write_record(arguments.record, question="How near do tours come to what a minute of the same search finds?",
                     module="nest/cutplan/order.py", baseline=f"{arguments.seconds:g} s of processor time", unit="%",
                     metric="travel of the tour of marks and cuts, longer by", values=values)


if __name__ == "__main__":
    main()
