"""The page of a run: one HTML file that needs nothing else, drawn and worked out in the reader's browser.

The page is put together from the partials in `templates`: `*.j2` for markup, `*.css`, and `*.js`, which are joined to
one script. What is drawn and worked out travels as JSON beside it.
"""

import functools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import fsum
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined

from nest.accounts import Accounts, yields
from nest.accounts.consumption import Consumption
from nest.accounts.handbook import REASONS, handbook
from nest.accounts.money import minor_digits, rounded
from nest.accounts.sheet import LINES, SPOILAGE
from nest.accounts.why import by_size, causes_of
from nest.cutplan.cautions import CAUTIONS, STANDARDS
from nest.cutplan.nicksaid import nicks_on, plan_not_told
from nest.cutplan.reach import table_notes
from nest.cutplan.sheet import CutSheet, cut_sheet
from nest.cutplan.sizes import sizes_in_order
from nest.cutplan.stamp import Stamp
from nest.cutplan.work import Work
from nest.pieces.piece import Role
from nest.plan import Plan
from nest.report import palette
from nest.report.arrows import MOST_LABELS
from nest.report.bars import bar_places
from nest.report.charts import PARTS
from nest.report.checks import checks_on, right_and_wrong, verdict_words
from nest.report.drawings import drawing_data, piece_pictures
from nest.report.embed import safe_json, script_digest
from nest.report.pointed import flaw_words, homes_of, label_lines, piece_words, zone_words
from nest.report.rows import left_whole, material_rows, row_table, shares, size_run
from nest.report.searched import search_said
from nest.report.whatif import cost_model, plain
from nest.text import count_words
from nest.units import dm2, ft2, m2, metres
from nest.verify.verdict import Verdict

__all__ = ["Figures", "cut_sheets", "size_run", "summary_html"]

_STYLES = ("page.css", "drawing.css", "print.css")
_SCRIPTS = ("elements.js", "view.js", "pieces.js", "find.js", "tables.js", "whatif.js", "start.js")
_LONG = 3.0
"""A drawing more than this many times as long as it is wide opens on its first part."""


@dataclass(frozen=True, slots=True)
class Figures:
    """What lies beside the page: paths relative to it, "" or absent for none. The page is whole without them."""

    yields: str = ""
    account: str = ""
    hides: Mapping[str, str] = field(default_factory=dict)
    """Picture of each hide by id."""
    lays: Mapping[str, str] = field(default_factory=dict)
    """Picture of each lay by id."""
    hide_drawings: Mapping[str, str] = field(default_factory=dict)
    """Cutting drawing of each hide by id."""
    lay_drawings: Mapping[str, str] = field(default_factory=dict)
    """Cutting drawing of each lay by id."""
    pieces: tuple[tuple[str, str], ...] = ()
    """Caption and picture."""
    files: tuple[tuple[str, str], ...] = ()
    """Other files beside the page: what it is, path."""
    consumption: str = ""
    sheets: Mapping[str, str] = field(default_factory=dict)
    """Cut sheet of each hide by id."""


def summary_html(
    plan: Plan, accounts: Accounts, verdict: Verdict, figures: Figures, works: Mapping[str, Work] | None = None, *,
    stamp: Stamp | None = None, to_buy: Sequence[str] = (),
) -> str:
    """The whole page. Everything that comes from the plan is escaped.

    `works` by hide tell cut order and time; `stamp` stands on the cut sheets. `to_buy` is the least purchase for what
    is short, in sentences.
    """
    environment = page_environment()
    script = "".join(('"use strict";\n(() => {\n', *(source_of(environment, name) for name in _SCRIPTS), "})();\n"))
    shown = drawing_data(plan)
    data = {"plan": _for_script(shown), "cost": cost_model(accounts.cost)}
    run = size_run(plan)
    hides = material_rows(plan, accounts, Role.VAMP)
    return environment.get_template("page.html.j2").render(
        plan=plan,
        accounts=accounts,
        verdict=verdict,
        words=verdict_words(verdict),
        warnings=(*plan.warnings, *accounts.notes, *plan_not_told(plan), *table_notes(plan)),
        lay_nicks={lay.lay_id: nicks_on(plan, lay.placed) for lay in plan.lays},
        checks=checks_on(plan, verdict),
        searched=search_said(plan, accounts.uses),
        figures=figures,
        run=run,
        by_due=row_table(plan),
        to_buy=to_buy,
        backed=any(row.reinforcements is not None for row in run),
        hides=hides,
        hides_amount=sum(row.amount for row in hides),
        sizes=sizes_in_order(plan),
        by_style=_by_style(accounts.leather_consumption),
        lays=material_rows(plan, accounts, Role.REINFORCEMENT),
        whole=left_whole(plan),
        metres_used=fsum(use.length_mm for use in accounts.uses),
        leather_yields=yields(accounts.leather),
        **_money(accounts),
        paid_mm2={role: fsum(use.paid_mm2 for use in accounts.uses if use.role == role) for role in Role},
        order_trim=next((trim for trim in accounts.trim if not trim.style), None),
        names=[(name, colour) for name, _, colour in PARTS],
        fields=[name for _, name, _ in PARTS],
        leather_shares=shares(accounts.leather),
        reinforcement_shares=shares(accounts.reinforcement),
        pieces=piece_pictures(plan),
        boxes=data["cost"]["boxes"],
        good=data["cost"]["sizes"],
        sheets=cut_sheets(plan, accounts, verdict, works or {}, stamp),
        shown=shown,
        fills={one["size"]: one["fill"] for one in shown["sizes"]},
        homes=homes_of(shown["drawings"]),
        drawings={(one["kind"], one["id"]): i for i, one in enumerate(shown["drawings"])},
        shapes=[one["box"] for one in shown["drawings"]],
        long=_LONG,
        cautions=CAUTIONS,
        standards=STANDARDS,
        palette=palette,
        style="".join(source_of(environment, name) for name in _STYLES),
        script=script,
        digest=script_digest(script),
        data=safe_json(data),
    )


def _money(accounts: Accounts) -> dict[str, object]:
    """What the page says of money."""
    whys = by_size(accounts.standard.estimate) if accounts.standard else ()
    return {
        "sheet": accounts.cost,
        "standard": accounts.standard,
        "whys": whys,
        "why_causes": causes_of(whys),
        "handbook": handbook(accounts.classical, accounts.cost),
        "handbook_reasons": REASONS,
        "cost_lines": accounts.cost.lines,
        "kinds": [line for line in accounts.cost.lines if line != SPOILAGE],
        "of_line": LINES.index,
        "priced": accounts.cost.materials,
    }


def source_of(environment: Environment, name: str) -> str:
    """A file beside the templates as it stands."""
    assert environment.loader is not None
    return environment.loader.get_source(environment, name)[0]


@functools.cache
def page_environment() -> Environment:
    """Where the templates of pages come from, with what they may call; each is compiled once."""
    environment = Environment(
        loader=PackageLoader("nest.report"), autoescape=True, trim_blocks=True, lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    environment.globals |= {
        "zip": zip, "dict": dict, "some": count_words, "bar_places": bar_places, "label_lines": label_lines,
        "most_labels": MOST_LABELS,
        "piece_words": piece_words, "zone_words": zone_words, "flaw_words": flaw_words, "sections_in": _sections_in,
    }
    environment.filters |= {
        "dm2": lambda area: f"{dm2(area):,.2f}",
        "dm2_short": lambda area: f"{dm2(area):.1f}",
        "m2": lambda area: f"{m2(area):,.3f}",
        "ft2": lambda area: f"{ft2(area):,.2f}",
        "metres": lambda length: f"{metres(length):,.2f}",
        "percent": lambda share: f"{100.0 * share:.1f}",
        "count": lambda number: f"{float(number):g}",
        "unit": lambda unit: unit.replace("2", "²"),
        "price": lambda price, currency: plain(price, minor_digits(currency)),
        "money": lambda amount, currency: str(rounded(Fraction(amount), minor_digits(currency))),
        "href": quote,
        "plain": lambda shown: str(shown).replace(",", ""),
    }
    return environment


def _for_script(shown: dict) -> dict:
    """What the script needs to know of the drawings, which stand on the page already."""
    return {
        "sizes": [one["size"] for one in shown["sizes"]],
        "pieces": [{"style": one["style"], "size": one["size"]} for one in shown["pieces"]],
        "drawings": [
            {key: one[key] for key in ("id", "kind", "box")} | {"placed": [placed[:5] for placed in one["placed"]]}
            for one in shown["drawings"]
        ],
    }


def _by_style(rows: Sequence[Consumption]) -> dict[str, dict[str, Consumption]]:
    """Consumption by style and size; size "" is all of the style."""
    found: dict[str, dict[str, Consumption]] = {}
    for row in rows:
        if row.style:
            found.setdefault(row.style, {})[row.size] = row
    return found


def _sections_in(markup: str) -> list[tuple[str, str]]:
    """Id and heading of every section, as markup, so that none is missing among the contents."""
    return re.findall(r'<section id="([^"]+)">\s*<h2>(.*?)</h2>', str(markup))


def cut_sheets(
    plan: Plan, accounts: Accounts, verdict: Verdict, works: Mapping[str, Work], stamp: Stamp | None = None
) -> list[CutSheet]:
    """One cut sheet for each hide that something is cut from."""
    cutting = {use.material_id: yields(use.account).cutting for use in accounts.uses if use.role is Role.VAMP}
    sheets = []
    for layout in plan.layouts:
        if layout.placed:
            right, wrong = right_and_wrong(plan, verdict, layout.hide_id)
            sheets.append(
                cut_sheet(
                    plan, layout, cutting_yield=cutting[layout.hide_id], checks=right, findings=wrong,
                    work=works.get(layout.hide_id), stamp=stamp,
                )
            )
    return sheets
