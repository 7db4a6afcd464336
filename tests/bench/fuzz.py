"""Files made up by grammar, many of each kind: read or refused in sentences, never a fault and never a hang.

    python tests/bench/fuzz.py 5000 --kinds plan ledger

Counts by kind what was read and what was refused, the longest time, and every fault with the data that made it. The
grammar is `tests/nest/grammar.py`. Ends with code 1 if anything but a refusal came out of a reader.
"""

import argparse
import sys
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings

sys.path.append(str(Path(__file__).parent.parent / "nest"))

from grammar_readers import KINDS, outcome
from tiny_plans import box_plan

from nest.planfile import plan_text

HANG_S = 20.0
"""No reader takes more processor time on any input up to its size limit."""


def tried(kind: str, count: int, first: int) -> tuple[Counter, float]:
    """Outcomes of that many files of one kind, and the longest processor time, s; each fault is printed once."""
    seen: Counter[str] = Counter()
    said: set = set()
    times = [0.0]

    @seed(first)
    @settings(max_examples=count, database=None, deadline=None, phases=[Phase.generate],
              suppress_health_check=list(HealthCheck))
    @given(KINDS[kind][1])
    def one(data):
        since = time.process_time()
        try:
            seen[outcome(kind, data)] += 1
        except Exception as error:
            seen["faults"] += 1
            stack = traceback.extract_tb(error.__traceback__)
            if (key := (type(error).__name__, stack[-1].filename, stack[-1].lineno)) not in said:
                said.add(key)
                ours = [f"{Path(at.filename).name}:{at.lineno}" for at in stack
                        if "/nest/" in at.filename or "/geometry/" in at.filename]
                print(f"  {kind}: {type(error).__name__}: {str(error)[:200]}\n    at {' '.join(ours[-4:])}\n"
                      f"    {str(data)[:1500]}", flush=True)
        times.append(time.process_time() - since)

    one()
    return seen, max(times)


def main() -> int:
    """Make up that many files of every kind asked for, read them and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("count", type=int, help="files of each kind")
    parser.add_argument("--kinds", nargs="+", choices=KINDS, default=list(KINDS))
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    warnings.simplefilter("ignore")
    assert outcome("plan", plan_text(box_plan()).encode()) == "read"  # compiles what is compiled, before time counts
    total: Counter[str] = Counter()
    print(f"{'kind':<18}{'files':>8}{'read':>8}{'refused':>9}{'faults':>8}{'slowest, s':>12}{'s':>7}", flush=True)
    for kind in arguments.kinds:
        begin = time.monotonic()
        seen, slowest = tried(kind, arguments.count, arguments.seed)
        seen["faults"] += slowest > HANG_S
        print(f"{kind:<18}{sum(seen.values()):>8}{seen['read']:>8}{seen['refused']:>9}{seen['faults']:>8}{slowest:>12.2f}"
              f"{time.monotonic() - begin:>7.0f}", flush=True)
        total.update(seen)
    print(f"{'all':<18}{sum(total.values()):>8}{total['read']:>8}{total['refused']:>9}{total['faults']:>8}")
    return 1 if total["faults"] else 0


if __name__ == "__main__":
    sys.exit(main())
