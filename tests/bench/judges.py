"""The judge against a second one in the tests, on plans changed at random: misses and false alarms.

    python tests/bench/judges.py 20000 --first 0

A plan has one to four changes near the limits of the rules (`tests/nest/mutated_plans.py`): violations of 0.02 mm and
less, holes, flaws, hairlines, pairs, single vamps, leave for bias, plans that are being cut. The second judge is
`tests/nest/second_judge.py`. Ends with code 1 if the judges differ on any plan.
"""

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.append(str(Path(__file__).parent.parent / "nest"))

from mutated_plans import mutated
from two_judges import NO_FILE, compared


def main() -> int:
    """Compare the judges and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("plans", type=int)
    parser.add_argument("--first", type=int, default=0, help="first seed; default %(default)s")
    arguments = parser.parse_args()
    seen: Counter[str] = Counter()
    by_change: Counter[str] = Counter()
    broken: Counter[str] = Counter()
    seed, end = arguments.first, time.monotonic()
    while seen["plans"] < arguments.plans:
        made, seed = mutated(seed), seed + 1
        if made is None:
            continue
        plan, names = made
        try:
            found = compared(plan)
        except NO_FILE:
            seen["no file can hold"] += 1
            continue
        seen["plans"] += 1
        seen["found wrong" if found.second.broken else "found right"] += 1
        seen["too close to tell"] += found.close
        by_change.update(set(names))
        broken.update(found.second.broken)
        if found.missed or found.alarmed:
            seen["missed"] += bool(found.missed)
            seen["false alarms"] += bool(found.alarmed)
            said = [one.sentence for one in found.first.findings]
            print(f"seed {seed - 1} {names}: missed {found.missed}, alarmed {found.alarmed}: {said}", flush=True)
        if time.monotonic() - end > 30.0:
            end = time.monotonic()
            print(dict(seen), file=sys.stderr, flush=True)
    for name in ("plans", "found wrong", "found right", "missed", "false alarms", "too close to tell",
                 "no file can hold"):
        print(f"{name:20s} {seen[name]:7d}")
    print("by change:", dict(by_change.most_common()))
    print("promises broken:", dict(broken.most_common()))
    return 1 if seen["missed"] or seen["false alarms"] else 0


if __name__ == "__main__":
    sys.exit(main())
