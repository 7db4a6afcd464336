"""Commands under faults for hours: nothing half-written, nothing lost, one sentence, and the next run goes well.

    python tests/bench/soak.py 8
    python tests/bench/soak.py 0.01 --tasks ledger used --seed 2

Drawn at random, one after another: which command writes, the cheaper the more often, and what befalls it. It is killed
at a random moment; a file that it opens, renames, flushes or a folder that it makes fails (no room, input and output
error, no right); no file may grow beyond a size; it has few descriptors or little memory; the clock on the wall jumps
by days at each look; all that it finds is somebody else's, to be read only. Every step of the commands fails in turn
with `--every`. What was tried is counted at the end, on Ctrl-C too. Faults are those of `tests/nest/faulty_files.py`.
Ends with code 1 if anything was wrong.
"""

import argparse
import os
import random
import sys
import time
from collections import Counter
from contextlib import suppress
from pathlib import Path

sys.path.append(str(Path(__file__).parent.parent / "nest"))

from faulty_files import ERRORS, TASKS, disturbed, steps_of

FAULTS = ("step", "step", "kill", "kill", "size", "descriptors", "memory", "clock", "rights")


def drawn(rng: random.Random, steps: int, seconds: float) -> dict:
    """A fault and how much of it, for a task of this many steps and seconds."""
    fault = rng.choice(FAULTS)
    amount = {
        "step": rng.randint(1, max(1, steps)), "kill": rng.random(), "size": 10 ** rng.uniform(1, 6),
        "descriptors": rng.randint(6, 40), "memory": 10 ** rng.uniform(0.0, 2.7),
        "clock": rng.choice((-4000.0, -1.0, 1.0, 400.0)), "rights": rng.randint(0, 1),
    }[fault]
    return {"fault": fault, "amount": amount, "code": rng.choice(ERRORS), "seconds": seconds}


def main() -> int:
    """Disturb commands until the time is over, and count."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("hours", type=float)
    parser.add_argument("--tasks", nargs="+", choices=TASKS, default=list(TASKS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--most", type=int, default=10**9, help="end after this many")
    parser.add_argument("--every", action="store_true", help="every step in turn with every error, whatever it takes")
    arguments = parser.parse_args()
    rng, end = random.Random(arguments.seed), time.monotonic() + 3600.0 * arguments.hours
    known = {}
    for name in arguments.tasks:
        known[name] = steps, seconds = steps_of(name)
        print(f"{name}: {steps} steps that make or move files, {seconds:.1f} s of processor time", flush=True)
    seen: Counter[str] = Counter()

    def tried(name: str, **fault) -> None:
        wrong = disturbed(name, **fault)
        seen[f"{name} {fault['fault']}"] += 1
        if wrong:
            seen["wrong"] += 1
            print(f"  {name} {fault}: {wrong}", flush=True)

    if arguments.every:
        for name, (steps, _) in known.items():
            for number in range(1, steps + 1):
                for code in ERRORS:
                    tried(name, fault="step", amount=number, code=code)
    # Every command has the same time; one that takes a hundredth is not tried a hundred times as often for that.
    weights = [1.0 / max(known[name][1], 0.2) for name in arguments.tasks]
    with suppress(KeyboardInterrupt):
        while time.monotonic() < end and seen.total() - seen["wrong"] < arguments.most:
            (name,) = rng.choices(arguments.tasks, weights)
            tried(name, **drawn(rng, *known[name]))
    wrong = seen.pop("wrong", 0)
    for what, number in sorted(seen.items()):
        print(f"{what:<24}{number:>7}")
    print(f"{'all':<24}{seen.total():>7}, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    # What a forked command prints must not be printed again by its parent.
    sys.stdout.reconfigure(line_buffering=True)
    os.environ.setdefault("VAMPYIELD_CORES", "1")
    sys.exit(main())
