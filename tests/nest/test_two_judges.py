"""The judge against a second one that was written from the Promises of README.md alone, on plans changed at random."""

import ast
from pathlib import Path

import pytest
from mutated_plans import mutated
from two_judges import NO_FILE, compared

from nest.verify import cuts

FAST, SLOW = range(30), range(30, 1_000)


def differences(seeds) -> list:
    """Where the judges differ: seed, changes, misses, false alarms."""
    found = []
    for seed in seeds:
        made = mutated(seed)
        if made is None:
            continue
        try:
            both = compared(made[0])
        except NO_FILE:
            continue
        if both.missed or both.alarmed:
            found.append((seed, made[1], both.missed, both.alarmed, [one.sentence for one in both.first.findings]))
    return found


def test_the_second_judge_shares_nothing_with_the_first():
    """It imports the standard library, numpy and shapely, and nothing of the program."""
    for name in ("second_judge", "second_counts"):
        tree = ast.parse((Path(__file__).parent / f"{name}.py").read_text(encoding="utf-8"))
        imported = {
            (node.module if isinstance(node, ast.ImportFrom) else node.names[0].name).split(".")[0]
            for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)
        }
        assert imported <= {"math", "collections", "dataclasses", "numpy", "shapely", "second_counts"}, imported


def test_no_miss_and_no_false_alarm():
    """Both judges say the same of plans changed near the limits of the rules."""
    assert not differences(FAST)


@pytest.mark.slow
def test_no_miss_and_no_false_alarm_on_many():
    """As above, on a thousand; `tests/bench/judges.py` takes any number."""
    assert not differences(SLOW)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "value"), [("DISTANCE_TOLERANCE_MM", 0.011), ("OVERLAP_DEPTH_MM", 0.004)])
def test_a_slip_in_the_judge_shows(monkeypatch, name, value):
    """A tolerance a little too wide, set on purpose, is found by the comparison."""
    monkeypatch.setattr(cuts, name, value)
    assert differences(range(600))
