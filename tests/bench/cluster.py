"""The hides of one order on workers: traffic, memory and time on this machine, and what more workers would bring.

    python tests/bench/cluster.py measure [--hides 24] [--pairs 8] [--passes 20] [--workers 1 2 4] [--keep TIMES.json]
    python tests/bench/cluster.py simulate TIMES.json [--hides 100 400] [--workers 1 10 40 80 100] [--latency-ms 20]

`measure` gives as many searches of simulated sides, a different one each, to local worker processes, all at once, and
prints for each number of workers: seconds from the first task to the last, seconds of processor time of a search, bytes
that came back for each, and the peak of memory of the largest worker and of this process. The layouts must
be the same for every number of workers. `--keep` writes the times of the searches and of the master between two rounds.

`simulate` replays such times: rounds of hides, as the planner fills them, on workers that take one task after the other
in the sequence they come; the master's own work between two rounds and the way there and back (latency, and bytes over
a line of 100 Mbit/s that all share) count. Nothing in it is drawn but which of the recorded times a hide takes. Against
the clock a round is as many hides as there are workers; by passes a tenth of the hides to come.
"""

import argparse
import heapq
import json
import pickle
import random
import resource
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "nest"))
sys.path.append(str(Path(__file__).parent))

LINE_BYTES_S = 100e6 / 8


@dataclass(frozen=True, slots=True)
class Times:
    """What was recorded: seconds of each search, seconds of the master for each hide, bytes out and back for each."""

    searches_s: tuple[float, ...]
    master_s: float
    bytes_each: float


def spans(times: Times, hides: int, workers: int, latency_s: float, by_passes: bool, seed: int = 1) -> float:
    """Seconds until all hides are searched: an event simulation of rounds on workers."""
    from nest.planning.fill import ROUNDS_BY_PASSES

    draw, now, left = random.Random(seed), 0.0, hides
    while left:
        size = min(left, max(1, left // ROUNDS_BY_PASSES) if by_passes else workers)
        free = [now] * workers
        line = end = now
        for _ in range(size):
            now += times.master_s  # problems are made one after the other
            line = max(line, now) + times.bytes_each / LINE_BYTES_S
            begin = max(heapq.heappop(free), line + latency_s)
            done = begin + draw.choice(times.searches_s)
            heapq.heappush(free, done)
            end = max(end, done + latency_s)
        now, left = end, left - size
    return now


def simulate(times: Times, hides: Sequence[int], workers: Sequence[int], latency_s: float) -> None:
    """Print a line for each number of hides and workers."""
    print("hides  workers  all at once as workers allow  by passes   s (speed-up)")
    for count in hides:
        alone = spans(times, count, 1, 0.0, False)
        for number in workers:
            free, bound = (spans(times, count, number, latency_s, by_passes) for by_passes in (False, True))
            print(f"{count:5}  {number:7}  {free:10.0f} ({alone / free:5.1f})  {bound:10.0f} ({alone / bound:5.1f})")


def problems_of(hides: int, pairs: int, folder: Path) -> tuple[list, float]:
    """Problems of as many simulated sides, each offered `pairs` pairs of each of six sizes; and seconds to make one."""
    from load import write_job

    from nest.job.read import read_job
    from nest.pieces.quantities import ordered_quantities
    from nest.planning.offer import make_offer, see_hide
    from nest.planning.stages import pieces_ordered
    from nest.planning.wants import vamp_wants
    from nest.stock.distribution import SIDES
    from nest.stock.simulate import simulate_hides

    job = read_job(write_job(folder, list(simulate_hides(SIDES, hides, leather="Black side", seed=1)), 6 * pairs))
    quantities = ordered_quantities(job.order, job.styles, job.settings.reject_pairs)
    pieces = pieces_ordered(job, quantities, [])
    wants = vamp_wants(quantities, pieces, {style.name: style.rules for style in job.styles})
    begin, made = time.process_time(), []
    for hide in job.hides:
        seen = see_hide(hide, wants, job.settings, one_way=False)
        made.append(make_offer(seen, wants, {w: pairs for w in range(len(wants))}, job.settings.hide_apart_mm).problem)
    return made, (time.process_time() - begin) / len(made)


def measure(hides: int, pairs: int, passes: int, workers: Sequence[int], keep: Path | None) -> None:
    """Print a line for each number of workers."""
    from nest.cluster.connect import connected
    from nest.cluster.where import Where
    from nest.placement.solve import warm_up

    warm_up()
    with tempfile.TemporaryDirectory() as folder:
        problems, master_s = problems_of(hides, pairs, Path(folder))
    data = [pickle.dumps(problem) for problem in problems]
    print(f"{hides} hides, {passes} passes; {master_s * 1e3:.0f} ms of the master to make a problem of "
          f"{sum(map(len, data)) / len(data) / 1e3:.0f} kB on the mean, {max(map(len, data)) / 1e3:.0f} kB at most")
    first, searches = None, []
    for number in workers:
        with connected(Where(local=number)) as client:
            took, answers, peak = _searched(client, data, passes, number)
        layouts = [[layout.items for layout in found] for found, _, _ in answers]
        first = first or layouts
        assert layouts == first, "layouts differ"
        searches = [seconds for _, seconds, _ in answers]
        back = [size for _, _, size in answers]
        mine = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
        print(f"{number} workers: {took:.1f} s in all, {sum(searches) / hides:.2f} s of processor a search, back "
              f"{sum(back) / hides / 1e3:.1f} kB each, largest worker {peak / 1e6:.0f} MB, master {mine:.0f} MB",
              flush=True)
        if keep and number == workers[0]:
            each = sum(map(len, data)) / hides + sum(back) / hides
            keep.write_text(json.dumps({"searches_s": searches, "master_s": master_s, "bytes_each": each}))


def _searched(client, data: Sequence[bytes], passes: int, workers: int) -> tuple[float, list, int]:
    from nest.cluster import task

    # every worker is compiled before the clock starts
    client.gather([client.submit(timed, task.Asked("run", data[0], 1, None, 1), workers=[at], pure=False)
                   for at in client.nthreads()])
    begin = time.perf_counter()
    futures = [client.submit(timed, task.Asked("run", one, h, None, passes), pure=False) for h, one in enumerate(data)]
    answers = client.gather(futures)
    took = time.perf_counter() - begin
    return took, answers, max(client.run(peak_of_memory).values())


def timed(asked):
    """The layouts of a search, its seconds of processor time, and the bytes of its answer."""
    from nest.cluster import task

    begin = time.process_time()
    answer = task.search(asked)
    return answer[0], time.process_time() - begin, len(pickle.dumps(answer))


def peak_of_memory() -> int:
    """The most memory this process has held, bytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    commands = parser.add_subparsers(required=True, dest="command")
    one = commands.add_parser("measure")
    one.add_argument("--hides", type=int, default=24)
    one.add_argument("--pairs", type=int, default=8)
    one.add_argument("--passes", type=int, default=20)
    one.add_argument("--workers", type=int, nargs="+", default=[1, 2, 4])
    one.add_argument("--keep", type=Path)
    other = commands.add_parser("simulate")
    other.add_argument("times", type=Path)
    other.add_argument("--hides", type=int, nargs="+", default=[100, 400])
    other.add_argument("--workers", type=int, nargs="+", default=[1, 10, 40, 80, 100])
    other.add_argument("--latency-ms", type=float, default=20.0)
    asked = parser.parse_args()
    if asked.command == "measure":
        measure(asked.hides, asked.pairs, asked.passes, asked.workers, asked.keep)
        return
    data = json.loads(asked.times.read_text())
    times = Times(tuple(data["searches_s"]), data["master_s"], data["bytes_each"])
    simulate(times, asked.hides, asked.workers, asked.latency_ms / 1e3)


if __name__ == "__main__":
    main()
