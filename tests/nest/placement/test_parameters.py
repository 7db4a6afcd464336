"""What the search goes by is a value: documented, honoured, and all that an ablation changes."""

import ast
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from shapely import box
from tiny_problems import filled, left_and_right, mixed_strip, passes

import nest.placement.parameters as parameters
from nest.placement.parameters import REGIONS, STRIPS, RegionParameters, StripParameters
from nest.placement.solve import solve_region, solve_strip

BENCH = Path(__file__).parents[2] / "bench"


def test_every_parameter_says_what_it_is():
    """A field is followed by its meaning."""
    tree = ast.parse(Path(parameters.__file__).read_text(encoding="utf-8"))
    fields = 0
    for made in (node for node in tree.body if isinstance(node, ast.ClassDef)):
        for field, after in zip(made.body, made.body[1:], strict=False):
            if isinstance(field, ast.AnnAssign):
                fields += 1
                assert isinstance(after, ast.Expr) and isinstance(after.value.value, str), ast.unparse(field)
    assert fields > 60


def test_a_strip_is_searched_by_the_value_given():
    """What is proposed and how it is settled come from the parameters, and so does the layout."""
    asked = []

    def settle(items, *more):
        asked.append(len(items))
        return STRIPS.settle(items, *more)

    problem = mixed_strip()
    usual = solve_strip(problem, passes(30), seed=1)
    watched = solve_strip(problem, passes(30), seed=1, how=replace(STRIPS, settle=settle))
    assert watched == usual and asked
    sampled = solve_strip(problem, passes(30), seed=1, how=replace(STRIPS, looks=False))
    assert sampled != usual


def test_a_region_is_filled_by_the_value_given():
    """What is a pair comes from the parameters, and so does the layout."""
    asked = []

    def partners(*what):
        asked.append(what)
        return REGIONS.partners(*what)

    problem = filled(left_and_right(9), box(0, 0, 300, 200))
    usual = solve_region(problem, passes(60), seed=1)
    assert solve_region(problem, passes(60), seed=1, how=replace(REGIONS, partners=partners)) == usual and asked
    assert solve_region(problem, passes(60), seed=1, how=replace(REGIONS, start_share=0.1)) != usual


@pytest.mark.parametrize("table", ["STRIPS", "REGIONS", "PAIRS"])
def test_an_ablation_leaves_one_part_out_by_a_value(table, monkeypatch):
    """Every variant of the bench but the first is another value of the parameters."""
    monkeypatch.setattr(sys, "path", [*sys.path, str(BENCH)])
    import ablation

    made = StripParameters if table == "STRIPS" else RegionParameters
    variants = [made(**changes) for changes in getattr(ablation, table).values()]
    assert variants[0] == made() and variants.count(made()) == 1
