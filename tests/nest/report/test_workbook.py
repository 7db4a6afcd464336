"""The costing workbook: it reckons as the program does, and moves as it should when a price or a quantity changes."""

from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest
from tiny_plans import box_plan, rectangle_lattice, two_sizes

from nest.accounts import account
from nest.accounts.candidates import plan_candidates
from nest.accounts.sheet import plan_sheet
from nest.accounts.trimshares import plan_trim_shares
from nest.job.costing import Costing as CostingSettings
from nest.job.job import Settings
from nest.pieces.piece import Part
from nest.plan import CutLine
from nest.report.workbook import SHEETS, Costing, write_costing_workbook
from nest.stock.material import Leather
from nest.whatif import AllowancePrice, Estimated, RulePrice, WhatIf

FIRST_LINES = ("leather", "reinforcement", "cutting", "scrap credit", "spoilage")
SECONDS = {"H1": 1234.0, "L1": 99.0}


def plan(price="30.00", style="box"):
    """Two sizes on one hide, one pair of each, of which 42 is cut twice; labour, scrap credit and a candidate."""
    base = two_sizes()
    settings = Settings(costing=CostingSettings(Decimal("36.50"), Decimal("2.5"), 0, (("calf", "kid"),)))
    return replace(
        base, settings=settings, leathers=(Leather("calf", Decimal(price), "m2"), Leather("kid", Decimal(5), "ft2")),
        order=(CutLine(style, "38", 1, 1), CutLine(style, "44", 1, 2)),
        styles=tuple(replace(one, name=style) for one in base.styles),
        pieces=tuple(replace(piece, style=style) for piece in base.pieces),
    )


def uses_of(one):
    """What its hides and lays are paid for."""
    return account(one, lattice=rectangle_lattice).uses


def costing(one):
    """Everything a workbook may show."""
    uses = uses_of(one)
    slope = Estimated(0.0123, 0.002, 8)
    found = WhatIf(
        "EUR", None, (AllowancePrice("box", Part.TOE, slope, (), slope.times(300), slope.times(1000), (0.0, 1.0)),),
        (RulePrice("=1+1", Estimated(0.5, None, 0), Estimated(150.0, None, 0)),), (1, 2), True, (),
    )
    sheet = plan_sheet(one, uses, SECONDS)
    return Costing(sheet, plan_candidates(one, uses, SECONDS), plan_trim_shares(one), found)


def test_sheets_formats_and_print(tmp_path):
    """Every sheet is there and prints across A4 with its headings; formulas follow the cells meant to be changed."""
    path = tmp_path / "costing.xlsx"
    write_costing_workbook(costing(plan()), path)
    book = openpyxl.load_workbook(path)
    assert tuple(book.sheetnames) == SHEETS
    for sheet in book:
        assert sheet.page_setup.orientation == "landscape" and sheet.page_setup.fitToWidth == 1
        assert sheet.print_title_rows == "$3:$3" and sheet.freeze_panes == "A4"
    sizes = book["Sizes"]
    assert str(sizes["K4"].value) == "=IF(C4=0,0,L4/C4)" and sizes["L4"].number_format == "#,##0.00"
    assert sizes["C4"].fill.fgColor.rgb == book["Materials"]["E4"].fill.fgColor.rgb != sizes["E4"].fill.fgColor.rgb


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@sum", "=cmd|' /c calc'!A0"])
def test_text_is_never_a_formula(tmp_path, name):
    """Names that begin like a formula are text."""
    path = tmp_path / "costing.xlsx"
    write_costing_workbook(costing(plan(style=name)), path)
    book = openpyxl.load_workbook(path)
    for sheet, cell in (("Sizes", "A4"), ("Charges", "C4"), ("Trim-off", "A4")):
        found = book[sheet][cell]
        assert found.value == name and found.data_type == "s" and found.quotePrefix
    assert book["What-ifs"]["A5"].data_type == "s"


def test_an_empty_sheet(tmp_path):
    """A plan that cuts nothing has a workbook too."""
    empty = replace(box_plan(), layouts=(), lays=())
    write_costing_workbook(Costing(plan_sheet(empty, ())), tmp_path / "costing.xlsx")
    assert openpyxl.load_workbook(tmp_path / "costing.xlsx")["What-ifs"]["A4"].value == "not asked for"


def test_recalculated_values_are_ours(tmp_path, recalculated):
    """LibreOffice recalculates every figure to ours; so it does after a price and a number of pairs were changed."""
    plain, changed = tmp_path / "plain.xlsx", tmp_path / "changed.xlsx"
    write_costing_workbook(costing(plan()), plain)
    book = openpyxl.load_workbook(plain)
    row = next(row for row in range(4, 9) if book["Materials"][f"A{row}"].value == "leather")
    book["Materials"][f"E{row}"] = 41.37
    book["Sizes"]["C4"], book["Sizes"]["C5"], book["What-ifs"]["C4"] = 70, 30, -2
    book.save(changed)
    books = recalculated(tmp_path, ("plain", "changed"))
    sheet, found = costing(plan()).sheet, books["plain"]
    for i, mine in enumerate((*sheet.sizes, sheet.order)):
        cells = [found["Sizes"].cell(4 + i, column).value for column in range(1, 13)]
        assert cells[10] == pytest.approx(float(mine.exact_pair), abs=1e-9)
        assert cells[11] == pytest.approx(float(mine.exact), abs=1e-9)
        if mine.size:
            shown = [float(sum(part for _, part in sheet.behind(mine, line)) / mine.pairs.good) for line in FIRST_LINES]
            assert cells[5:10] == pytest.approx(shown, abs=1e-9)
    assert found["Summary"]["B5"].value == pytest.approx(float(sheet.order.exact), abs=1e-9)
    assert f"{found['Summary']['B6'].value:.2f}" == str(sheet.order.good_pair)
    last = found["Materials"].max_row
    assert found["Materials"][f"F{last}"].value == pytest.approx(float(sheet.order.exact), abs=1e-9)
    # Of 2.24 × 1.24 dm² 2 × 1 dm² stay; of the cost of the leather of a pair cut the rest is trimmed off.
    assert found["Trim-off"]["C4"].value == pytest.approx(1 - 2 / (2.24 * 1.24))
    assert found["Trim-off"]["F4"].value == pytest.approx(found["Trim-off"]["C4"].value * found["Sizes"]["F4"].value)
    assert found["What-ifs"]["H4"].value == pytest.approx(300 * 0.0123)
    values = [cell.value for page in found for line in page.iter_rows() for cell in line]
    assert not [value for value in values if isinstance(value, str) and value.startswith(("#", "Err:"))]

    after, found = costing(plan("41.37")).sheet, books["changed"]
    each = [float(mine.exact_pair) for mine in after.sizes]
    assert [found["Sizes"][f"K{row}"].value for row in (4, 5)] == pytest.approx(each, abs=1e-9)
    assert found["Summary"]["B5"].value == pytest.approx(70 * each[0] + 30 * each[1], abs=1e-9)
    assert found["What-ifs"]["F4"].value == pytest.approx(-2 * 0.0123)
