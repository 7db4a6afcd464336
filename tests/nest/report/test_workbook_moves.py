"""The costing workbook moves as the program does: shaded cells are changed at random, LibreOffice recalculates, and
every amount is that of the program for the changed job or plan, to the minor unit."""

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from zipfile import ZipFile

import openpyxl
import pytest
from box_jobs import brick, hide, job, roll, style
from tiny_plans import box_plan, two_sizes
from tiny_plans import hide as plan_hide
from tiny_plans import roll as plan_roll

from nest.accounts.candidates import job_candidates, plan_candidates
from nest.accounts.charges import ADDED, Pairs, complete, plan_charges
from nest.accounts.estimate import GroundMemory, estimate_sheet, lattice_cell
from nest.accounts.expected import plan_pairs
from nest.accounts.sheet import cost_sheet, plan_sheet
from nest.accounts.standard import job_standard, plan_standard, standard_beside
from nest.job.costing import Costing as CostingSettings
from nest.job.job import Settings
from nest.pieces.piece import Part
from nest.pieces.quantities import RejectPairs, reject_percents
from nest.pieces.style import OrderLine
from nest.plan import HideLayout, Lay, Placed
from nest.report.workbook import Costing, write_costing_workbook
from nest.stock.material import Leather
from nest.whatif import allowance_changes, quick_uses, what_if
from nest.whatif.changes import with_allowance

CANDIDATES = (("calf", "kid"), ("knit", "felt"))

MORE = {
    "setup_per_hide": Decimal("1.20"), "setup_per_lay": Decimal("3.40"), "press_per_hour": Decimal("28.50"),
    "press_s_per_pair": Decimal(75), "freight_percent": (("", Decimal("3.5")), ("knit", Decimal(6))),
    "duty_percent": (("calf", Decimal("4.7")),), "overhead_percent": Decimal(12), "margin_percent": Decimal("22.5"),
}
"""Everything that may be added to material and cutting."""


def box_job(rule=RejectPairs.POOLED):
    """Two sizes, three hides of two classes, one with its own price a ft²; breaks, labour, scrap, two candidates."""
    settings = Settings(
        costing=CostingSettings(Decimal("36.50"), Decimal("2.5"), 9000, CANDIDATES, **MORE), reject_pairs=rule)
    leathers = (
        Leather("calf", Decimal("30.00"), "m2", ((2, Decimal("24.5")),), breaks=((Decimal(1), Decimal(3)),
                                                                                 (Decimal(4), Decimal("5.5")))),
        in_dollars(Leather("kid", Decimal("3.20"), "ft2", ((2, Decimal("2.9")),), breaks=((Decimal(20), Decimal(4)),)),
                   Decimal("0.9213")),
    )
    hides = (hide("H1"), replace(hide("H2", quality=2), measured_area_mm2=4.87e5),
             hide("H3", price=Decimal("3.10")))
    return job(
        styles=(style(roll="knit", reject_percent=7.0),), order=(("box", "38", 40), ("box", "39", 25)),
        hides=(*hides[:2], replace(hides[2], price_unit="ft2")), leathers=leathers, settings=settings,
        rolls=(roll(breaks=((Decimal(2), Decimal(5)),)), roll(roll_id="felt", width_mm=640.0, price_per_m=Decimal(4))),
    )


def in_dollars(leather, rate):
    """The leather bought in dollars: its prices turned into the job's own currency."""
    by_class = tuple((quality, price * rate) for quality, price in leather.price_by_quality)
    return replace(leather, price=leather.price * rate, price_by_quality=by_class, currency="USD", rate=rate,
                   rate_date="2026-11-02")


def found_of(one, parts=(Part.TOE,), cell=brick):
    """What the program says of a job by estimate."""
    ground = GroundMemory(one)
    standard = job_standard(one, cell, ground=ground)
    prices = what_if(one, allowance_changes(one, parts), (), (0,),
                     lambda changed, _: estimate_sheet(changed, cell, ground=ground))
    return Costing(standard.estimate.sheet, job_candidates(one, cell, ground), (), prices, one.leathers, one.rolls,
                   reject_percents(one.styles), one.settings.reject_pairs, standard)


def drawn(pick, low, high, digits=2) -> Decimal:
    """A random price or percentage."""
    return Decimal(str(round(pick.uniform(low, high), digits)))


def set_prices(book, prices) -> None:
    """Write list prices by material."""
    sheet = book["Materials"]
    rows = {sheet.cell(row, 2).value: row for row in range(4, sheet.max_row)}
    assert prices.keys() == {name for name in rows if not name.startswith(("freight", "duty", "of ", "set-up"))
                             and name != "labour at the press"}
    for material, price in prices.items():
        given = sheet.cell(rows[material], 7).value
        sheet.cell(rows[material], 8 if given else 5).value = float(price)


def set_percents(book, percents) -> None:
    """Write what is added in percent, by what it is on."""
    sheet = book["Materials"]
    rows = {sheet.cell(row, 2).value: row for row in range(4, sheet.max_row)}
    for name, percent in percents.items():
        sheet.cell(rows[name], 8).value = float(percent)


def set_breaks(book, breaks) -> None:
    """Write price breaks by leather and roll into the shaded rows."""
    sheet = book["Breaks"]
    head = next(row for row in range(4, sheet.max_row) if sheet.cell(row, 4).value == "from quantity")
    rows = {}
    for row in range(head + 1, sheet.max_row + 1):
        rows.setdefault(sheet.cell(row, 2).value, []).append(row)
    for stock, mine in rows.items():
        given = breaks.get(stock, ())
        assert len(given) <= len(mine)
        for row, (start, off) in zip(mine, [*given, *[(None, None)] * (len(mine) - len(given))], strict=True):
            sheet.cell(row, 4).value = None if start is None else float(start)
            sheet.cell(row, 5).value = None if off is None else float(off)


def new_breaks(pick, most) -> tuple[tuple[Decimal, Decimal], ...]:
    """Up to three breaks in order."""
    starts = sorted({drawn(pick, 0, most) for _ in range(pick.randint(0, 3))})
    return tuple((start, drawn(pick, 0, 20)) for start in starts)


def changed_job(seed, book, rule):
    """A random change of every shaded cell, and the job so changed."""
    pick, one = random.Random(seed), box_job(rule)
    price = {name: drawn(pick, low, 3 * low) for name, low in (
        ("calf, class 1", 20), ("calf, class 2", 15), ("calf, class 1, own price", 2), ("kid, class 1", 2),
        ("kid, class 2", 1), ("knit", 2), ("felt", 2), ("labour", 20), ("scrap", 1))}
    breaks = {"calf": new_breaks(pick, 6), "kid": new_breaks(pick, 60), "knit": new_breaks(pick, 12),
              "felt": new_breaks(pick, 9)}
    rate = drawn(pick, 0.5, 1.9, 4)
    set_prices(book, price | {"scrap": -price["scrap"]})
    set_breaks(book, breaks)
    assert book["Rates"]["A4"].value == "USD" and book["Rates"]["B4"].value == 0.9213
    book["Rates"]["B4"] = float(rate)
    pairs, reject = [pick.randint(1, 90), pick.randint(1, 90)], float(drawn(pick, 0, 30, 1))
    book["Sizes"]["C4"], book["Sizes"]["C5"], book["Sizes"]["D4"] = *pairs, reject
    over, margin, freight = drawn(pick, 0, 200), drawn(pick, 0, 60), drawn(pick, 0, 9)
    set_percents(book, {"of all costs": over, "of the price": margin, "freight of knit": freight})
    costing = replace(
        one.settings.costing, labour_per_hour=price["labour"], scrap_per_m2=price["scrap"], overhead_percent=over,
        margin_percent=margin, freight_percent=(*one.settings.costing.freight_percent[:1], ("knit", freight)))
    first, second, own = one.hides
    calf, kid = one.leathers
    knit, felt = one.rolls
    return replace(
        one, styles=(replace(one.styles[0], reject_percent=reject),),
        order=tuple(OrderLine("box", size, n) for size, n in zip(("38", "39"), pairs, strict=True)),
        hides=(first, second, replace(own, price=price["calf, class 1, own price"])),
        leathers=(
            replace(calf, price=price["calf, class 1"], price_by_quality=((2, price["calf, class 2"]),),
                    breaks=breaks["calf"]),
            in_dollars(replace(kid, price=price["kid, class 1"], price_by_quality=((2, price["kid, class 2"]),),
                               breaks=breaks["kid"]), rate),
        ),
        rolls=(replace(knit, price_per_m=price["knit"], breaks=breaks["knit"]),
               replace(felt, price_per_m=price["felt"], breaks=breaks["felt"])),
        settings=replace(one.settings, costing=costing),
    )


def box_plan_priced():
    """Two hides of two classes, a lay, two sizes; breaks, labour, scrap and a candidate of each kind."""
    costing = CostingSettings(Decimal("36.50"), Decimal("2.5"), 0, CANDIDATES, **MORE)
    base, settings = two_sizes(), Settings(costing=costing)
    backs = tuple(Placed("B38", replace(base.layouts[0].placed[0].pose, x=102.0 + 205.0 * i, y=52.0)) for i in range(2))
    return replace(
        base, settings=settings, styles=tuple(replace(one, reject_percent=4.0) for one in base.styles),
        hides=(plan_hide(), plan_hide("H2", quality=2, measured=5.13e5)),
        pieces=(*base.pieces, box_plan().pieces[1]), rolls=(plan_roll(), plan_roll(roll_id="felt", width_mm=660.0)),
        lays=(Lay("L1", "knit", 409.0, 1, backs),),
        layouts=(*base.layouts, HideLayout("H2", base.layouts[0].placed[:2])),
        leathers=(Leather("calf", Decimal(30), "m2", ((2, Decimal(22)),), breaks=((Decimal("0.9"), Decimal(4)),)),
                  Leather("kid", Decimal(4), "ft2", mean_hide_mm2=8e5)),
    )


SECONDS = {"H1": 1234.0, "H2": 77.0, "L1": 99.0}


def scaled(plan, sheet, pairs) -> list:
    """Its charges, and pairs, as for other numbers of good pairs, in proportion; price breaks as they then come."""
    sizes = {(row.style, row.size): row.pairs for row in sheet.sizes}
    charges = [replace(one, quantity=one.quantity * pairs[one.key] / sizes[one.key].good) for one in sheet.charges]
    then = {key: Pairs(old.cut * pairs[key] / old.good, pairs[key]) for key, old in sizes.items()}
    return cost_sheet(complete(charges, plan.leathers, plan.rolls, plan.settings), then, sheet.currency)


def changed_plan(seed, book):
    """A random change of prices, breaks and pairs, and what the program's charges come to with them."""
    pick, plan = random.Random(seed), box_plan_priced()
    price = {name: drawn(pick, low, 3 * low) for name, low in (
        ("calf, class 1", 20), ("calf, class 2", 15), ("kid, class 1", 2), ("knit", 2), ("felt", 2), ("labour", 20),
        ("scrap", 1), ("kid, class 2", 2))}
    breaks = {"calf": new_breaks(pick, 3), "kid": new_breaks(pick, 30)}
    set_prices(book, price | {"scrap": -price["scrap"]})
    set_breaks(book, breaks)
    pairs = {("box", "38"): Fraction(pick.randint(1, 9)), ("box", "44"): Fraction(pick.randint(1, 9))}
    book["Sizes"]["C4"], book["Sizes"]["C5"] = map(int, pairs.values())
    reject = float(drawn(pick, 0, 30, 1))
    book["Sizes"].cell(4, column_of(book["Sizes"], "standard: spoiled, % of pairs cut")).value = reject
    calf, kid = plan.leathers
    costing = replace(plan.settings.costing, labour_per_hour=price["labour"], scrap_per_m2=price["scrap"])
    after = replace(
        plan, settings=replace(plan.settings, costing=costing),
        leathers=(replace(calf, price=price["calf, class 1"], price_by_quality=((2, price["calf, class 2"]),),
                          breaks=breaks["calf"]),
                  replace(kid, price=price["kid, class 1"], price_by_quality=((2, price["kid, class 2"]),),
                          breaks=breaks["kid"])),
        rolls=tuple(replace(one, price_per_m=price[one.roll_id]) for one in plan.rolls),
    )
    uses = quick_uses(after)
    sheets = [plan_sheet(after, uses, SECONDS), *(one.sheet for one in plan_candidates(after, uses, SECONDS, brick))]
    order = tuple(replace(line, pairs_wanted=int(pairs[line.style, line.size])) for line in plan.order)
    ordered = replace(after, order=order, styles=tuple(replace(one, reject_percent=reject) for one in plan.styles))
    return [scaled(after, sheet, pairs) for sheet in sheets], standards_of(ordered, uses)


def standards_of(plan, uses):
    """The standard cost of a plan, and with each candidate."""
    return [plan_standard(plan, brick).standard, *(
        one.standard for one in plan_candidates(plan, uses, SECONDS, brick))]


def column_of(sheet, heading) -> int:
    """The column under a heading."""
    return next(cell.column for cell in sheet[3] if str(cell.value).startswith(heading))


def agrees(book, sheets, standards) -> None:
    """Every size, the order, and every candidate are the program's, to the minor unit and far beyond.

    So is the standard cost of each.
    """
    now = sheets[0]
    at = column_of(book["Sizes"], "standard cost"), column_of(book["Candidates"], "standard cost")
    for number, standard in enumerate(standards):
        rows = *standard.sizes, standard.order
        found = [book["Candidates"].cell(4 + i, at[1] + number).value for i in range(len(rows))]
        assert found == pytest.approx([float(row.exact_pair) for row in rows], abs=1e-7)
        if not number:
            assert [book["Sizes"].cell(4 + i, at[0]).value for i in range(len(rows))] == pytest.approx(found, abs=1e-9)
            line = next(cell.row for cell in book["Summary"]["A"] if cell.value == "by the standard")
            assert f"{book['Summary'].cell(line, 2).value:.2f}" == str(standard.order.good_pair)
    for i, row in enumerate((*now.sizes, now.order)):
        assert book["Sizes"].cell(4 + i, 11).value == pytest.approx(float(row.exact_pair), abs=1e-7)
        assert book["Sizes"].cell(4 + i, 12).value == pytest.approx(float(row.exact), abs=1e-6)
        assert f"{book['Sizes'].cell(4 + i, 11).value:.2f}" == str(row.good_pair)
        for number, other in enumerate(sheets[1:]):
            mine = (*other.sizes, other.order)[i]
            assert f"{book['Candidates'].cell(4 + i, 4 + number).value:.2f}" == str(mine.good_pair)
    assert book["Sizes"].cell(4 + len(now.sizes), 5).value == pytest.approx(float(now.order.pairs.cut))
    assert f"{book['Summary']['B5'].value:.2f}" == str(round(float(now.order.exact), 2).__format__(".2f"))
    values = [cell.value for page in book for line in page.iter_rows() for cell in line]
    assert not [value for value in values if isinstance(value, str) and value.startswith(("#", "Err:"))]


@pytest.mark.parametrize("jobs, plans", [(3, 2), pytest.param(12, 8, marks=pytest.mark.slow)])
def test_changed_cells_are_the_changed_job(tmp_path, recalculated, jobs, plans):
    """Prices, breaks, pairs, spoilage, labour, scrap and candidates, of jobs by estimate and of plans as placed."""
    wanted = {"plain": found_of(box_job(RejectPairs.POOLED))}
    write_costing_workbook(wanted["plain"], tmp_path / "plain.xlsx")
    for seed, rule in enumerate((RejectPairs.POOLED, RejectPairs.BY_SIZE, RejectPairs.NONE) * (jobs // 3)):
        write_costing_workbook(found_of(box_job(rule)), tmp_path / f"job-{seed}.xlsx")
        book = openpyxl.load_workbook(tmp_path / f"job-{seed}.xlsx")
        wanted[f"job-{seed}"] = found_of(changed_job(seed, book, rule))
        book.save(tmp_path / f"job-{seed}.xlsx")
    plan = box_plan_priced()
    uses = quick_uses(plan)
    sheet = plan_sheet(plan, uses, SECONDS)
    bare = Costing(sheet, plan_candidates(plan, uses, SECONDS, brick), (), None, plan.leathers, plan.rolls,
                   standard=standard_beside(plan, uses, sheet, brick))
    write_costing_workbook(bare, tmp_path / "plan.xlsx")
    sheets = {"plan": ([bare.sheet, *(one.sheet for one in bare.candidates)], bare.standards)}
    for seed in range(plans):
        book = openpyxl.load_workbook(tmp_path / "plan.xlsx")
        sheets[f"plan-{seed}"] = changed_plan(seed, book)
        book.save(tmp_path / f"plan-{seed}.xlsx")
    books = recalculated(tmp_path, [*wanted, *sheets])
    moved = 0
    for name, found in wanted.items():
        agrees(books[name], [found.sheet, *(one.sheet for one in found.candidates)], found.standards)
        price, row = found.what_if.allowances[0], books[name]["What-ifs"]
        if price.takes:
            moved += name != "plain"
            assert row["D4"].value == pytest.approx(price.pair.value, abs=1e-6)
            assert row["F4"].value == row["G4"].value == row["H4"].value == row["J4"].value == 0
    assert moved
    for name, found in sheets.items():
        agrees(books[name], *found)


def leaning():
    """The boxes with a corner cut off at the toe, of which lattices bend where one allowance passes another."""
    one = box_job()
    return replace(one, styles=(replace(one.styles[0], templates=style(lean=20.0).templates),))


def test_millimetres_move_every_page_as_the_changed_job_within_the_stated_error(tmp_path, recalculated):
    """Several parts changed at once, on boxes and on leaning ones: sizes, order and candidates as the changed job.

    All are within what the page What-ifs states of the style's millimetres together.
    """
    wanted, made = {}, {}
    for kind, one, cell in (("even", box_job(), brick), ("leaning", leaning(), lattice_cell)):
        one = replace(one, hides=())  # few boxes fit a hide, so that the yield on hides jumps
        ground = GroundMemory(one)
        made[kind] = found_of(one, tuple(Part), cell)
        write_costing_workbook(made[kind], tmp_path / f"{kind}.xlsx")
        pick = random.Random(kind)
        planted = (-1.0, -1.0, 0.0) if kind == "even" else (-2.0, 2.0, 0.0)
        for n, mm in enumerate(([round(pick.uniform(-2.0, 2.0), 1) for _ in Part], planted)):
            book = openpyxl.load_workbook(tmp_path / f"{kind}.xlsx")
            book["What-ifs"]["C4"], book["What-ifs"]["C5"], book["What-ifs"]["C6"] = mm
            book.save(tmp_path / f"{kind}-{n}.xlsx")
            changed = one
            for part, more in zip(Part, mm, strict=True):
                changed = with_allowance(changed, "box", part, more) if more else changed
            sheets = [estimate_sheet(changed, cell, ground=ground), *(
                candidate.sheet for candidate in job_candidates(changed, cell, ground))]
            wanted[f"{kind}-{n}"] = mm, sheets, job_standard(changed, cell, ground=ground).estimate.standard
    books = recalculated(tmp_path, wanted)
    for name, (mm, sheets, standard) in wanted.items():
        book, found = books[name], made[name.partition("-")[0]]
        page, prices = book["What-ifs"], found.what_if.allowances
        assert page["B7"].value == "together"
        error = page["G7"].value + 1e-3
        at = column_of(book["Sizes"], "standard cost")
        for i, row in enumerate((*sheets[0].sizes, sheets[0].order)):
            assert abs(book["Sizes"].cell(4 + i, 11).value - float(row.exact_pair)) <= error
            of_size = (*standard.sizes, standard.order)[i].exact_pair
            assert abs(book["Sizes"].cell(4 + i, at).value - float(of_size)) <= error
            for number, other in enumerate(sheets[1:]):
                mine = float((*other.sizes, other.order)[i].exact_pair)
                assert abs(book["Candidates"].cell(4 + i, 4 + number).value - mine) <= error * 1.5 + 0.01
        for row, (one, price) in enumerate(zip(mm, prices, strict=True), start=4):
            assert page.cell(row, 8).value == pytest.approx(one * price.order.value, rel=0.05, abs=1e-3)
        moved = book["Sizes"].cell(4 + len(found.sheet.sizes), 11).value - float(found.sheet.order.exact_pair)
        told = sum(one * price.pair.value for one, price in zip(mm, prices, strict=True))
        assert moved == pytest.approx(told, rel=0.05, abs=1e-4) and page["F7"].value == pytest.approx(told, rel=0.05)


def test_inputs_are_open_and_checked_and_all_else_is_protected(tmp_path):
    """Shaded cells are unlocked and take numbers of their range alone; no other cell is, and no password is set."""
    write_costing_workbook(found_of(box_job()), tmp_path / "a.xlsx")
    book, shaded = openpyxl.load_workbook(tmp_path / "a.xlsx"), 0
    for page in book:
        assert page.protection.sheet and page.protection.password is None
        assert page.page_setup.paperSize == "9" or page.page_setup.paperSize == 9
        assert page.print_area and page.page_setup.fitToWidth == 1
        checked = {cell for rule in page.data_validations.dataValidation for area in rule.sqref.ranges
                   for line in area.rows for cell in line}
        for line in page.iter_rows():
            for cell in line:
                is_open = cell.fill.fgColor.rgb == "00FFF2CC"
                shaded += is_open
                assert is_open == (not cell.protection.locked) == ((cell.row, cell.column) in checked), cell.coordinate
    assert shaded > 30
    (rule,) = [rule for rule in book["What-ifs"].data_validations.dataValidation if "C4" in str(rule.sqref)]
    assert (float(rule.formula1), float(rule.formula2)) == (-2.0, 2.0)


def test_charts_draw_the_cells_they_say(tmp_path):
    """A chart of the lines of a good pair, and one of its cost against each allowance."""
    found = found_of(box_job())
    write_costing_workbook(found, tmp_path / "a.xlsx")
    with ZipFile(tmp_path / "a.xlsx") as packed:
        drawn = [packed.read(name).decode() for name in packed.namelist() if name.startswith("xl/charts/chart")]
    assert len(drawn) == 2
    bars, lines = sorted(drawn, key=lambda text: "scatterChart" in text)
    last = 6 + len(found.sheet.lines)
    assert f"'Summary'!$B$7:$B${last}" in bars and f"'Summary'!$A$7:$A${last}" in bars
    assert lines.count("<ser>") + lines.count("<c:ser>") == len(found.what_if.allowances)


def test_what_cannot_move_is_said_to_be_fixed(tmp_path):
    """Consumption of a pair, trim-off and what-ifs that were placed are labelled as fixed."""
    found = found_of(box_job())
    placed = replace(found.what_if, allowances=tuple(replace(one, takes=()) for one in found.what_if.allowances))
    write_costing_workbook(replace(found, what_if=placed), tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    assert book["What-ifs"]["M4"].value.startswith("fixed") and isinstance(book["What-ifs"]["D4"].value, float)
    heads = [cell.value for name in ("Charges", "Trim-off", "Sizes") for cell in book[name][3]]
    assert sum("fixed" in str(head) for head in heads) == 6


def test_charges_of_a_plan_and_its_pairs_are_the_sheets(tmp_path):
    """A workbook's charges are the plan's, so that its figures and the program's cannot part."""
    plan = box_plan_priced()
    uses = quick_uses(plan)
    sheet = plan_sheet(plan, uses, SECONDS)
    assert sheet.charges == plan_charges(plan, uses, SECONDS)
    assert {(row.style, row.size): row.pairs for row in sheet.sizes} == plan_pairs(plan, uses)
    write_costing_workbook(Costing(sheet), tmp_path / "a.xlsx")
    page = openpyxl.load_workbook(tmp_path / "a.xlsx")["Charges"]
    own = [one for one in sheet.charges if one.kind not in ADDED]
    assert [page.cell(4 + i, 8).value for i in range(len(own))] == [pytest.approx(float(one.quantity)) for one in own]
    assert page.max_row < 3 + len(sheet.charges)  # what is added in percent stands once for each size
