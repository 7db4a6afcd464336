"""Everything that shows money says the same, and what an accountant makes of the saved plan with fractions and shapely.

The accountant below reads plan.json as any program could. It knows nothing of the package but the definitions: a hide
costs its measured area times its price, own or of its class, less the break that its leather reaches; a lay its length
with end losses; labour its time; scrap is what lies outside the cut lines. Each is borne by rough area, labour by
length of cut. Amounts are rounded half to even at the end.
"""

import csv
import gzip
import json
import tomllib
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import openpyxl
import pytest
from priced_plans import footage_plan, metric_plan, rupee_plan, yen_plan
from shapely.geometry import Polygon, shape

from nest.accounts import account
from nest.accounts.sheet import LINES, plan_sheet
from nest.accounts.used import used_against_planned
from nest.cli import main
from nest.cutplan.work import priced_seconds
from nest.job.costing import Costing
from nest.job.read import read_job
from nest.output import write_outputs
from nest.plan import Begun, CutHide, UsedRoll
from nest.planfile import plan_from_text, plan_text, write_plan
from nest.report.charged_pages import shown_charges
from nest.verify import verify
from nest.whatif import quick_uses

ROOT = Path(__file__).parents[2]

FT2 = Fraction("92903.04")
"""mm² in a square foot: 304.8², exact (international foot, 1959)."""


def half_even(amount: Fraction, digits: int) -> str:
    """An amount to its minor unit (Python's round is half to even)."""
    return f"{Decimal(round(amount * 10**digits)).scaleb(-digits):.{digits}f}"


def reckoned(data: dict, seconds: dict[str, float], digits: int):
    """Good pair by size and total of a plan.json, as text; `seconds` of each material at the table."""
    unit = {"m2": Fraction(10**6), "dm2": Fraction(10**4), "ft2": FT2}
    pieces = {piece["piece_id"]: piece for piece in data["pieces"]}
    hides = {one["hide_id"]: one for one in data["hides"]}
    leathers = {one["name"]: one for one in data["leathers"]}
    rolls = {one["roll_id"]: one for one in data["rolls"]}
    costing = data["settings"]["costing"]
    parts, bought, cut = [], {}, {}

    def bear(material, plies, whole, stock, discounted):
        """Share an amount by rough area; remember what its break goes by."""
        areas, lengths = {}, {}
        for one in material["placed"]:
            piece = pieces[one["piece_id"]]
            key, ring = (piece["style"], piece["size"]), Polygon(piece["cut_outline"])
            areas[key] = areas.get(key, 0) + Fraction(ring.area) * plies
            lengths[key] = lengths.get(key, 0) + Fraction(ring.length)
            if piece["role"] == "vamp":
                cut[key] = cut.get(key, 0) + Fraction(1, 2)
        # A hide with a price of its own has nothing off, but freight and duty are on it.
        parts.extend((key, whole * area / sum(areas.values()), stock if discounted else ("own price", stock))
                     for key, area in areas.items())
        return areas, lengths

    for layout in data["layouts"]:
        one = hides[layout["hide_id"]]
        leather = leathers[one["leather"]]
        by_class = {int(quality): price for quality, price in leather["price_by_quality"]}
        own = one["price"] is not None
        per = (one["price_unit"] or leather["price_unit"]) if own else leather["price_unit"]
        price = Fraction(one["price"] if own else by_class.get(one["quality"], leather["price"]))
        area = Fraction(one["measured_area_mm2"])
        paid = round(area / unit[per], 9)
        bought[leather["name"]] = bought.get(leather["name"], 0) + paid * unit[per] / unit[leather["price_unit"]]
        areas, lengths = bear(layout, 1, paid * price, leather["name"], not own)
        if costing["scrap_per_m2"]:
            left = Fraction(shape(one["outline"]).area) - sum(areas.values())
            parts.extend((key, -left / 10**6 * Fraction(costing["scrap_per_m2"]) * part / sum(areas.values()), None)
                         for key, part in areas.items())
        _labour(parts, costing, seconds, layout["hide_id"], lengths)
        _setup(parts, costing["setup_per_hide"], areas)
    for lay in data["lays"]:
        one = rolls[lay["roll_id"]]
        length = lay["plies"] * (Fraction(lay["length_mm"]) + 2 * Fraction(one["end_loss_mm"])) / 1000
        bought[lay["roll_id"]] = bought.get(lay["roll_id"], 0) + length
        areas, lengths = bear(lay, lay["plies"], length * Fraction(one["price_per_m"]), lay["roll_id"], True)
        _labour(parts, costing, seconds, lay["lay_id"], lengths)
        _setup(parts, costing["setup_per_lay"], areas)
    if costing["press_per_hour"]:
        each = Fraction(costing["press_s_per_pair"]) / 3600 * Fraction(costing["press_per_hour"])
        parts.extend((key, pairs * each, None) for key, pairs in cut.items())
    breaks = {name: one["breaks"] for name, one in (*leathers.items(), *rolls.items())}
    off = {None: Fraction(0)}
    for name, quantity in bought.items():
        steps = [(Fraction(start), Fraction(percent)) for start, percent in breaks[name]]
        reached = [step for step in steps if step[0] <= quantity]
        off[name] = max(reached)[1] if reached else Fraction(0)
    totals = {}
    for key, amount, stock in parts:
        name = stock_of(stock)
        added = 1 + _percent(costing["freight_percent"], name)
        added *= 1 + _percent(costing["duty_percent"], name)
        totals[key] = totals.get(key, 0) + amount * (1 - off.get(stock, 0) / 100) * added
    overhead, margin = (Fraction(costing[f"{name}_percent"] or 0) / 100 for name in ("overhead", "margin"))
    totals = {key: amount * (1 + overhead) / (1 - margin) for key, amount in totals.items()}
    good = {}
    for line in data["order"]:
        key = line["style"], line["size"]
        share = Fraction(line["pairs_wanted"], line["pairs_to_cut"])
        good[key] = min(Fraction(line["pairs_wanted"]), cut[key] * share)
    pairs = {key: half_even(totals[key] / good[key], digits) for key in totals}
    pairs["", ""] = half_even(sum(totals.values()) / sum(good.values()), digits)
    return pairs, half_even(sum(totals.values()), digits)


def stock_of(stock) -> str | None:
    """The leather or roll that an amount is for; None for labour, set-up and scrap."""
    return stock[1] if isinstance(stock, tuple) else stock


def _percent(percents, name) -> Fraction:
    """Freight or duty of one material, as a share."""
    known = dict(percents)
    return Fraction(known.get(name, known.get("", 0))) / 100 if name else Fraction(0)


def _setup(parts, each, areas):
    if each:
        parts.extend((key, Fraction(each) * area / sum(areas.values()), None) for key, area in areas.items())


def _labour(parts, costing, seconds, name, lengths):
    if costing["labour_per_hour"]:
        wage = Fraction(seconds[name]) / 3600 * Fraction(costing["labour_per_hour"])
        parts.extend((key, wage * length / sum(lengths.values()), None) for key, length in lengths.items())


@pytest.mark.parametrize(("make", "digits"), [(metric_plan, 2), (footage_plan, 3), (yen_plan, 0), (rupee_plan, 2)])
def test_an_accountant_finds_the_same(tmp_path, capsys, make, digits):
    """Accounts, page, tables, `cost`, `price`, `compare`, `used`, workbook: one price of a pair and one total."""
    plan = make()
    folder = tmp_path / "out"
    accounts = account(plan)
    write_outputs(plan, accounts, verify(plan), folder, figures=False)
    data = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    pairs, total = reckoned(data, priced_seconds(plan), digits)
    sheet = accounts.cost
    assert {(row.style, row.size): str(row.good_pair) for row in (*sheet.sizes, sheet.order)} == pairs
    assert str(sheet.total) == total

    page = (folder / "report.html").read_text(encoding="utf-8")
    assert f"<b>{pairs['', '']} {sheet.currency}</b>" in page and f"<b>{total} {sheet.currency}</b>" in page
    with open(folder / "cost.csv", encoding="utf-8", newline="") as stream:
        rows = {(row["style"], row["size"]): row for row in csv.DictReader(stream)}
    assert rows["", ""][f"total_{sheet.currency}"] == total
    assert {key: rows[key][f"good_pair_{sheet.currency}"] for key in pairs} == pairs

    said = {}
    for name in (["cost", str(folder)], ["price", str(folder), "-o", str(tmp_path / "book.xlsx")],
                 ["compare", str(folder), str(folder)], ["used", str(folder)]):
        main([*name, "--json", "--quiet"])
        said[name[0]] = json.loads(capsys.readouterr().out)
    assert said["cost"]["cost"]["total"] == said["price"]["rows"][-1]["total"] == total
    assert said["compare"]["before"]["cost"] == said["compare"]["after"]["cost"] == total
    assert said["used"]["rows"][-1][f"cost_planned_{sheet.currency}"] == total
    for rows in (said["cost"]["cost"]["per_pair"], said["price"]["rows"]):
        assert {(row["style"], row["size"]): row["good_pair"] for row in rows
                if row["size"] or not row["style"]} == pairs
    by_size = {(row["style"], row["size"]): row for row in said["used"]["rows"]}
    for row in said["price"]["rows"][:-1]:
        assert by_size[row["style"], row["size"]][f"cost_planned_{sheet.currency}"] == row["total"]
    # Cell for cell the sheet of `price` is that of `cost`.
    lines = [line.replace(" ", "_") for line in LINES]
    for mine, theirs in zip(said["cost"]["cost"]["per_pair"], sheet.rows, strict=True):
        for line, amount in zip(lines, theirs.per_pair, strict=True):
            assert mine[line] == str(amount)
    book = openpyxl.load_workbook(tmp_path / "book.xlsx")
    own = sum(cell.value == 0 for cell in book["Charges"]["A"])
    assert own == len(shown_charges(sheet)) <= len(sheet.charges)


def test_the_demo_plan_costs_what_an_accountant_finds():
    """The saved plan of the demo, at the prices and wages that are written in the demo's job file.

    Times at the table are given to both: the way of the knife is no matter of accounts.
    """
    job_file = ROOT / "demo_data" / "job.toml"
    with gzip.open(ROOT / "notebooks" / "saved_plan.json.gz", "rt", encoding="utf-8") as file:
        plan = plan_from_text(file.read())
    plan = replace(plan, settings=replace(plan.settings, costing=read_job(job_file).settings.costing))
    cut = [one.hide_id for one in plan.layouts] + [one.lay_id for one in plan.lays]
    seconds = {name: 601.5 + 13.25 * i for i, name in enumerate(cut)}
    data = json.loads(plan_text(plan))
    priced_by_the_job(data, tomllib.loads(job_file.read_text(encoding="utf-8"), parse_float=str))
    pairs, total = reckoned(data, seconds, 2)
    sheet = plan_sheet(plan, quick_uses(plan), seconds)
    assert {(row.style, row.size): str(row.good_pair) for row in (*sheet.sizes, sheet.order)} == pairs
    assert str(sheet.total) == total and len(pairs) == 15


def priced_by_the_job(data: dict, job: dict) -> None:
    """Put the prices and wages of a job file, as they are written, in place of those of a plan.json."""
    written = job["costing"]
    for name in data["settings"]["costing"]:
        if name not in ("candidates", "freight_percent", "duty_percent", "pairs_per_year", "pairs_per_year_by_style"):
            data["settings"]["costing"][name] = written.get(name)
    leathers, rolls = ({one["name"]: one for one in job[section]} for section in ("leather", "roll"))
    for one in data["leathers"]:
        mine = leathers[one["name"]]
        one |= {"price": mine["price"], "price_unit": mine["price_unit"], "price_by_quality": [
            *map(list, mine.get("price_by_class", {}).items())]}
    for one in data["rolls"]:
        one["price_per_m"] = rolls[one["roll_id"]]["price_per_m"]


def test_an_area_has_one_meaning(tmp_path, capsys, monkeypatch):
    """Leather is what is measured and paid for, 1.0137 m² of 1.0000 drawn: in the summary, `compare`, on the page."""
    plan = metric_plan()
    plan = replace(plan, settings=replace(plan.settings, costing=Costing()))
    write_outputs(plan, account(plan), verify(plan), tmp_path / "out", figures=False)
    said = []
    for name in (["cost"], ["compare", str(tmp_path / "out")]):
        main([*name, str(tmp_path / "out"), "--json", "--quiet"])
        said.append(json.loads(capsys.readouterr().out))
    assert said[0]["leather"]["area_m2"] == pytest.approx(1.01371) == said[1]["before"]["leather_m2"]
    assert said[0]["leather"]["drawn_m2"] == pytest.approx(1.0)
    assert said[0]["leather"]["dm2_per_pair"] == pytest.approx(101.371 / 3)
    monkeypatch.setenv("COLUMNS", "200")
    main(["cost", str(tmp_path / "out")])
    assert "1.01 m² paid for as measured; of 1.00 m² drawn" in " ".join(capsys.readouterr().out.split())
    page = (tmp_path / "out/report.html").read_text(encoding="utf-8")
    rows = [line for line in page.splitlines() if "as drawn</td>" in line or "as measured: paid for</td>" in line]
    assert ">100.00<" in rows[0] and ">101.37<" in rows[1]


def test_all_cut_as_planned_costs_what_was_planned():
    """With labour, scrap and breaks: used to the end is as planned; of a part the breaks are those of the whole."""
    plan = metric_plan()
    sheet = plan_sheet(plan, quick_uses(plan))
    whole = used_against_planned(plan, Begun((CutHide("H1"), CutHide("H2")), (UsedRoll("knit"),)))[-1]
    assert whole.planned.cost == whole.used.cost == sheet.order.exact
    first = used_against_planned(plan, Begun((CutHide("H1"),), ()))[-1]
    assert first.used.cost == sum(one.exact for one in sheet.charges if one.of == "H1")
    # On its own the first hide would reach no break at all.
    assert any(one.percent_off for one in sheet.charges if one.of == "H1")


def test_used_is_written_to_the_minor_unit_and_adds_up(tmp_path, capsys):
    """Sizes add up to the order in what is shown, in a currency of three decimals too."""
    write_plan(footage_plan(), tmp_path / "plan.json")
    assert main(["used", str(tmp_path / "plan.json"), "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["rows"]
    amounts = [Decimal(row["cost_planned_KWD"]) for row in rows]
    assert all(amount.as_tuple().exponent == -3 for amount in amounts)
    assert sum(amount for amount, row in zip(amounts, rows, strict=True) if row["size"] != "all") == amounts[-1]
