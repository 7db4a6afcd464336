"""The page of a run: complete, escaped, self-contained."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from tiny_plans import box_plan, hide, moved, slant_plan

from nest.accounts import account
from nest.cutplan.cautions import CAUTIONS, STANDARDS
from nest.cutplan.sheet import cut_sheet
from nest.errors import PlanProblem
from nest.plan import GreedyIssue, HideIssue, HideLayout
from nest.report.checks import checks_on, verdict_words
from nest.report.summary import Figures, size_run, summary_html
from nest.verify import Rule, verify
from nest.verify.verdict import Checks, Finding, Verdict

VOID = {"meta", "img", "br", "link", "input", "hr"}


class Page(HTMLParser):
    """Collects text, links and tags, and holds that every tag is closed in turn."""

    def __init__(self, html):
        super().__init__()
        self.open, self.links, self.words, self.tags, self.rows, self.scripts = [], [], [], [], [], []
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        """Note tag and link; stack what must be closed."""
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in ("href", "src")]
        if tag == "script":
            self.scripts.append([dict(attrs).get("type"), ""])
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_startendtag(self, tag, attrs):
        """An element of a drawing that closes itself."""
        self.tags.append(tag)

    def handle_endtag(self, tag):
        """The innermost open tag is closed first."""
        assert self.open.pop() == tag

    def handle_data(self, data):
        """Collect the text, and scripts apart from it."""
        if "script" in self.open:
            self.scripts[-1][1] += data
        elif "style" not in self.open:
            self.words.append(data.strip())
            if self.open and {"td", "th"} & set(self.open) and self.rows:
                self.rows[-1][-1] += data.strip()

    @property
    def data(self):
        """What the page draws and reckons from."""
        ((_, text),) = [script for script in self.scripts if script[0] == "application/json"]
        return json.loads(text)

    @property
    def text(self):
        """All text of the page."""
        return " ".join(word for word in self.words if word)


def page_of(plan, verdict=None, figures=None):
    """The parsed page of a plan."""
    accounts = account(plan, lattice=lambda ring, gap: SimpleNamespace(density=0.9))
    return Page(summary_html(plan, accounts, verdict or verify(plan), figures or Figures()))


def test_page_has_the_headline_and_every_hide(run):
    """Hides used and whole, metres, yield, cost of a pair, trim-off and verdict; a row and a sheet a hide."""
    page = Page(summary_html(run.plan, run.accounts, run.verdict, Figures()))
    wanted = ("2 of 3", "1 left whole", "of reinforcement, end losses", "a good pair", "trim-off in", "Verified.")
    assert all(words in page.text for words in wanted)
    order = run.accounts.cost.order
    assert f"{order.good_pair} EUR" in page.text
    metres = sum(use.length_mm for use in run.accounts.uses) / 1000.0
    assert f"{metres:.2f} m" in page.text
    for layout in run.plan.layouts:
        assert f"Hide {layout.hide_id}" in page.text
        assert any(row and row[0] == layout.hide_id for row in page.rows)
    start = next(i for i, row in enumerate(page.rows) if "Pairs wanted" in row)
    assert all(len(row) == len(page.rows[start]) for row in page.rows[start : start + 8])
    assert "None" not in page.text and "Undefined" not in page.text


def test_warnings_stand_before_everything_else(run):
    """The plan's warnings come before the first figure of the headline."""
    page = Page(summary_html(run.plan, run.accounts, run.verdict, Figures()))
    assert page.text.index(run.plan.warnings[0]) < page.text.index("hides cut")


def test_cautions_and_standards_are_on_the_page_and_on_every_sheet(run):
    """Knife, press, heat and adhesive; the machine's manual and local codes prevail."""
    page = Page(summary_html(run.plan, run.accounts, run.verdict, Figures()))
    for caution in CAUTIONS:
        assert page.text.count(caution) == 1 + (caution == CAUTIONS[0]) + len(run.plan.layouts)
    assert all(title in page.text for title in STANDARDS)
    for words in ("Knife", "press", "hot plates", "Adhesives", "manual", "local codes"):
        assert any(words in caution for caution in CAUTIONS)


def test_page_works_without_a_network(run):
    """No script, style sheet, font or picture from outside; every link is relative; the policy allows one script only.

    The hash is that of CSP Level 3, section 2.3.1: base64 of the SHA-256 of the script's text.
    """
    figures = Figures("figures/y.png", "figures/a.png", {"S-014": "figures/hide S.png"}, {"L1": "figures/l.png"},
                      {"S-014": "drawings/h.dxf"}, {"L1": "drawings/l.dxf"}, (("river", "figures/p.png"),),
                      (("the plan", "plan.json"),))
    html = summary_html(run.plan, run.accounts, run.verdict, figures)
    page = Page(html)
    assert {"figures/y.png", "figures/hide%20S.png", "drawings/h.dxf", "plan.json"} <= set(page.links)
    assert not any(":" in link or link.startswith("/") for link in page.links)
    assert not {"img", "link", "iframe", "object", "image"} & set(page.tags)
    assert "http:" not in html and "https:" not in html and "@import" not in html and not re.search(r"url\((?!#)", html)
    (script,) = [text for kind, text in page.scripts if kind is None]
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    assert f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}';" in html
    assert "prefers-color-scheme: dark" in html and "size: A4" in html and "break-before: page" in html


def test_names_cannot_become_markup():
    """A hide, a note and a plan named like markup are shown as text."""
    nasty = '<script>alert("1")</script>&'
    plan = box_plan(name=nasty, hides=(hide(nasty),), layouts=(HideLayout(nasty, box_plan().layouts[0].placed),))
    plan = replace(plan, styles=(replace(plan.styles[0], notes=(nasty,)),), warnings=(nasty,))
    page = page_of(plan)
    assert [kind for kind, _ in page.scripts] == ["application/json", None]
    assert page.text.count(nasty) >= 4
    assert page.data["plan"]["drawings"][0]["id"] == nasty


def test_a_plan_with_findings_says_do_not_cut():
    """Two pieces over each other: the page says so before all else, and so does the sheet of that hide."""
    plan = moved(box_plan(), 1, dx=-100.0)
    verdict = verify(plan)
    assert not verdict.ok
    page = page_of(plan, verdict)
    assert page.text.index("Do not cut from it") < page.text.index("hides cut")
    assert "Not verified: do not cut." in page.text
    assert page.text.count(verdict.wrong[0].sentence) == 2


def test_short_sizes_are_said():
    """A plan that leaves a size short is verified, but says which and how much."""
    plan = box_plan(layouts=(HideLayout("H1", box_plan().layouts[0].placed[:2]),))
    page = page_of(plan)
    assert "the order is not met" in page.text
    row = next(row for row in page.rows if row[:2] == ["box", "38"])
    assert row == ["box", "38", "2", "2", "1", "2", "1"]


def test_unbacked_styles_need_no_reinforcement():
    """A style without reinforcement is not short of any."""
    (row,) = size_run(slant_plan())
    assert row.reinforcements is None and row.short == 0.0 and row.vamps == 2.0
    assert "Reinforcements" not in page_of(slant_plan()).text


def test_a_plan_with_nothing_cut_is_a_page():
    """Nothing placed: every hide is left whole and every pair short; nothing is divided by zero."""
    page = page_of(box_plan(layouts=(), lays=()))
    assert "0 of 1" in page.text and "1 left whole" in page.text


@pytest.mark.parametrize("rule", [rule for rule in Rule if rule not in (Rule.SHORT, Rule.OVER)])
def test_every_rule_belongs_to_one_check(rule):
    """A finding of any rule fails exactly one check on the plan, and it is said what it is."""
    finding = Finding("plan", rule, (), (), 1.0, "mm", "It is wrong.")
    verdict = Verdict(False, (finding,), Checks())
    wrong = [check for check in checks_on(box_plan(), verdict) if not check.passed]
    assert [check.wrong for check in wrong] == [("It is wrong.",)]
    assert verdict_words(verdict) == "not verified: 1 finding; do not cut"


def test_findings_of_one_hide_are_not_put_on_another():
    """The checks on a hide hold only what is wrong there."""
    finding = Finding("H1", Rule.OVERLAP, (), (), 1.0, "mm", "It is wrong.")
    verdict = Verdict(False, (finding,), Checks())
    assert all(check.passed for check in checks_on(box_plan(), verdict, "H2"))
    assert sum(not check.passed for check in checks_on(box_plan(), verdict, "H1")) == 1


def test_sheet_counts_and_tells_what_to_look_out_for(run):
    """Counts add up to the pieces placed; flaws that tear come first; registration lengths fit the points."""
    layout = run.plan.layouts[0]
    sheet = cut_sheet(run.plan, layout, cutting_yield=0.5)
    assert sheet.pieces == len(layout.placed)
    assert [count.size for count in sheet.counts] == sorted(count.size for count in sheet.counts)
    assert "hole" in sheet.look_out[0] and "tears" in sheet.look_out[1]
    assert len(sheet.look_out) == 1 + len(run.plan.hides[0].flaws)
    assert sheet.notes[0] == ("river", "Damp the vamp on the flesh side before crimping.")
    rectangle = cut_sheet(box_plan(), box_plan().layouts[0], cutting_yield=0.5)
    assert "1118" in rectangle.registration[1] and "500" in rectangle.registration[1]
    with pytest.raises(PlanProblem, match="H9"):
        cut_sheet(box_plan(), HideLayout("H9", ()), cutting_yield=0.0)


def test_the_page_tells_what_the_choice_of_hides_is_worth(run):
    """The cost sheet's cost beside greedy orders, one of which misses pieces, the bounds, and the gap to them."""
    greedy = (
        GreedyIssue("stock order", 3, Decimal("360.00"), 0.0), GreedyIssue("order of size", 2, Decimal("240.00"), 5e4)
    )
    least = Decimal("245.00"), Decimal("200.00"), Decimal("210.00")
    issue = HideIssue("river calf", 2, Decimal("250.00"), greedy, *least)
    page = Page(summary_html(replace(run.plan, issues=(issue,)), run.accounts, run.verdict, Figures()))
    (row,) = [row for row in page.rows if row[0] == "river calf" and "245.00" in row]
    cost = str(run.accounts.cost.by_kind["leather"])
    assert row == ["river calf", "2", cost, "360.00", "short by 5.00 dm²", "245.00", "200.00", "25.0", "210.00"]
    heading = page.rows[page.rows.index(row) - 1]
    assert heading[3:5] == ["In stock order", "In order of size"]
    assert "Choice of hides" not in Page(summary_html(run.plan, run.accounts, run.verdict, Figures())).text
