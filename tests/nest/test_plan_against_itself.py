"""A plan is judged against itself first: whatever contradicts what it states is found, and an honest one is left alone.
"""

import re
from dataclasses import replace

import pytest
import shapely
from plan_mutations import MUTATIONS, begun, style
from shapely.geometry import box
from stated_plans import stated_plan
from tiny_plans import box_plan

from geometry.precision import on_grid
from nest.plan import HideLayout
from nest.planfile import plan_from_text, plan_text
from nest.report.checks import checks_on
from nest.verify import Rule, verify

STATED = stated_plan()


def test_an_honest_plan_is_left_alone():
    """The plan that is changed below has nothing wrong, not even read back from its file; its pieces are held."""
    for plan in (STATED, plan_from_text(plan_text(STATED))):
        verdict = verify(plan)
        assert verdict.ok and verdict.order_met and not verdict.findings, [one.sentence for one in verdict.findings]
        assert verdict.checks.templates == len(plan.pieces)


@pytest.mark.parametrize(("mutate", "rule", "words"), MUTATIONS.values(), ids=MUTATIONS)
def test_no_mutation_passes(mutate, rule, words):
    """Each is found by its rule, in one sentence that says what is wrong."""
    verdict = verify(mutate(STATED))
    assert not verdict.ok
    mine = [one.sentence for one in verdict.wrong if one.rule is rule]
    assert any(words in sentence for sentence in mine), [one.sentence for one in verdict.findings]
    assert all(sentence.endswith(".") and "\n" not in sentence for sentence in mine)


@pytest.mark.parametrize(("name", "words", "amount"), [
    ("cut is net", r"has a trim allowance of (\S+) mm where the plan allows for (\S+) mm", lambda a, b: b - a),
    ("cut larger", r"has a cut line (\S+) mm beyond", float), ("net smaller", r"(\S+) mm off the template", float),
    ("size unknown", r"is of size (47), of which the style has no template", lambda _: 1.0),
    ("backing smaller", r"is (\S+) mm off the cut outline of its vamp", float),
    ("backing with another net", r"has a net outline (\S+) mm off what of it", float),
    ("inset beyond the piece", r"has no place (\S+) mm within its vamp", float),
])
def test_a_finding_about_a_piece_says_by_how_much(name, words, amount):
    """The amount of a finding is what the plan states less what is there, or the distance that is named."""
    found = [(one, match) for one in verify(MUTATIONS[name][0](STATED)).wrong
             if (match := re.search(words, one.sentence))]
    assert found
    for one, match in found:
        assert one.unit == "mm" and one.amount == pytest.approx(amount(*map(float, match.groups())), abs=0.011)


def test_a_plan_of_a_style_without_templates_is_held_to_its_least_allowance():
    """Cut and net outline of the rectangle are 12 mm apart; 8 are the least the press needs, a cut at 5 is found."""
    plan = box_plan()
    assert verify(plan).ok and verify(plan).checks.templates == 0
    thin = on_grid(shapely.get_coordinates(box(-105, -55, 105, 55))[:-1])
    findings = verify(replace(plan, pieces=(replace(plan.pieces[0], cut_outline=thin), plan.pieces[1]))).wrong
    assert "has a cut line 5.00 mm from its net outline" in findings[0].sentence and findings[0].rule is Rule.PIECE


def test_what_is_cut_may_be_of_a_size_no_longer_ordered():
    """Pieces that only lie on what is cut are not held against a style that was changed since."""
    plan = replace(STATED, order=STATED.order[:2], layouts=STATED.layouts)
    changed = style(plan, 1, templates=(), allowances=replace(plan.styles[1].allowances, toe_mm=30.0))
    assert verify(changed).ok, [one.sentence for one in verify(changed).wrong]


def test_a_fault_of_the_plan_is_on_every_sheet():
    """A piece that is not what the plan states makes the checks of each hide and lay fail, not only the plan's."""
    plan = MUTATIONS["cut is net"][0](STATED)
    verdict = verify(plan)
    for where in (None, "H1", "H2", "knit, lay 2"):
        assert any("allowance of 0.00 mm" in said for check in checks_on(plan, verdict, where) for said in check.wrong)


def test_an_empty_layout_on_a_withdrawn_hide_is_none():
    """A hide that is withdrawn may stand in the plan with nothing on it, and what was cut of it before stays."""
    plan = replace(STATED, layouts=(*STATED.layouts, HideLayout("H3", ())))
    assert verify(plan).ok
    assert verify(begun(STATED, withdrawn=("H3", "gone from the stock"))).ok
