"""Consumption tables hold the accounts' figures and no spreadsheet formula."""

import csv
from datetime import datetime
from decimal import Decimal

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nest.pieces.piece import Role
from nest.report.tables import Table, consumption_table, cost_table, harmless, write_csv, write_workbook
from nest.units import MM2_PER_DM2

HOSTILE = ("=1+1", "+1", "-1", "@SUM(A1)", "  =cmd()", "\t=1", "\r=1", "＝1", "-")


def test_rows_are_the_accounts_figures(run):
    """Per pair: parts add up to what is paid for; leather and reinforcement, each size, style and order."""
    table = consumption_table(run.accounts)
    rows = [dict(zip(table.header, row, strict=True)) for row in table.rows]
    leather = run.accounts.leather_consumption
    assert len(rows) == len(leather) + len(run.accounts.reinforcement_consumption)
    for row, source in zip(rows, leather, strict=False):
        parts = [row[f"{name}_dm2_per_pair"] for name in ("net", "trim_off", "interlock", "fault", "edge", "measure")]
        assert sum(parts) == pytest.approx(row["gross_dm2_per_pair"], abs=4e-4)
        assert row["gross_dm2_per_pair"] * row["pairs_cut"] * MM2_PER_DM2 == pytest.approx(source.gross_mm2, rel=1e-4)
        assert row["gross_ft2_per_pair"] * 9.290304 == pytest.approx(row["gross_dm2_per_pair"], abs=1e-3)
        assert row["metres_per_pair"] is None
    whole = rows[-1]
    assert (whole["style"], whole["size"], whole["material"]) == ("", "", "reinforcement")
    metres = sum(use.length_mm for use in run.accounts.uses if use.role is Role.REINFORCEMENT) / 1000.0
    assert whole["metres_per_pair"] * whole["pairs_cut"] == pytest.approx(metres, rel=1e-3)


def test_cost_of_a_pair_is_the_accounts_cost(run):
    """The order's leather row carries the cost sheet's line of a good pair."""
    table = consumption_table(run.accounts)
    assert table.header[-1] == "cost_per_pair_EUR"
    order = next(row for row in table.rows if row[:3] == ("", "", "leather"))
    assert order[-1] == run.accounts.cost.order.per_pair[0]


def test_cost_table_is_the_cost_sheet(run):
    """Lines of every row add up to its total, sizes to the order, to the last minor unit."""
    table, sheet = cost_table(run.accounts.cost), run.accounts.cost
    rows = [dict(zip(table.header, row, strict=True)) for row in table.rows]
    for row in rows:
        lines = ("leather", "reinforcement", "cutting", "scrap_credit", "spoilage")
        assert sum(row[f"{line}_EUR"] for line in lines) == row["total_EUR"]
    assert sum(row["total_EUR"] for row in rows if row["size"]) == rows[-1]["total_EUR"] == sheet.total
    assert rows[-1]["good_pair_EUR"] == sheet.order.good_pair


@pytest.mark.parametrize("text", HOSTILE)
def test_text_like_a_formula_is_made_harmless_in_csv(tmp_path, text):
    """No cell of the file begins, after blanks, with a sign that a spreadsheet takes for a formula.

    The signs = + - @ are those of the OWASP page on CSV injection (from memory).
    """
    write_csv(Table("t", ("style", "n"), ((text, -1.5),)), tmp_path / "a.csv")
    with open(tmp_path / "a.csv", newline="", encoding="utf-8") as stream:
        (_, (cell, number)) = csv.reader(stream)
    assert cell.startswith("'")
    assert float(number) == -1.5


@given(st.text())
def test_harmless_text_is_left_alone(text):
    """A text is either unchanged but for control characters, or has one apostrophe before it; never a formula."""
    found = harmless(text)
    assert not found.lstrip().startswith(("=", "+", "-", "@"))
    assert len(found) - len(text) in (0, 1)
    assert harmless(found) == found


def test_numbers_and_empty_cells_are_left_alone():
    """Negative numbers are numbers, and nothing is nothing."""
    for cell in (-1, -1.5, Decimal("-2.50"), None):
        assert harmless(cell) is cell


def test_workbook_holds_the_same_as_the_csv_file(run, tmp_path):
    """Cell for cell; text as text, numbers as numbers, headings in words, the sum of all named so."""
    table = consumption_table(run.accounts)
    write_csv(table, tmp_path / "a.csv")
    write_workbook([table], tmp_path / "a.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx")["consumption"]
    with open(tmp_path / "a.csv", newline="", encoding="utf-8") as stream:
        rows = list(csv.reader(stream))
    assert sheet.max_row == len(rows) and sheet.max_column == len(rows[0])
    for cells, line in zip(sheet.iter_rows(), rows, strict=True):
        for cell, text in zip(cells, line, strict=True):
            if isinstance(cell.value, int | float):
                assert float(text) == pytest.approx(cell.value)
            else:
                head = text.replace("_", " ").replace("dm2", "dm²").replace("ft2", "ft²")
                assert (text or ("all" if cell.column == 1 else "") if cell.row > 1 else head) == (cell.value or "")


@pytest.mark.parametrize("text", [*HOSTILE, "a\x00b\x1f"])
def test_workbook_stores_text_as_text(tmp_path, text):
    """A hostile style name is a string cell, never a formula, and control characters do not stop the writing."""
    write_workbook([Table("t", ("style",), ((text,),))], tmp_path / "a.xlsx")
    cell = openpyxl.load_workbook(tmp_path / "a.xlsx")["t"]["A2"]
    assert cell.data_type == "s" and cell.value.strip() == text.translate({0: " ", 31: " ", 9: " ", 13: " "}).strip()


def test_the_workbook_of_consumption_is_fit_to_be_handed_on(run, tmp_path):
    """Money with its digits, headings in words, totals bold, one A4 page wide; dates are dates, bytes are
    the same twice, and what all pairs cost is the cost sheet's line."""
    dated = Table("rows", ("order", "due", "pairs"), (("A", "2026-03-02", 4), ("B", "", 5), ("C", "soon", 6)))
    tables = consumption_table(run.accounts), cost_table(run.accounts.cost), dated
    for name in ("a.xlsx", "b.xlsx"):
        write_workbook(tables, tmp_path / name)
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    for page in book:
        assert page.page_setup.fitToWidth == 1 and page.sheet_properties.pageSetUpPr.fitToPage
        assert page.page_setup.orientation == "landscape" and page.print_title_rows == "$1:$1"
    page = book["consumption"]
    heads = {page.cell(1, c).value: c for c in range(1, page.max_column + 1)}
    assert page.cell(2, heads["cost all pairs EUR"]).number_format == "#,##0.00"
    assert page.cell(2, heads["gross dm² per pair"]).number_format == "#,##0.00"
    whole = [row for row in range(2, page.max_row + 1) if page.cell(row, 1).value == "all"]
    assert [page.cell(row, 1).font.bold for row in whole] == [True, True]
    amounts = run.accounts.cost.order.amounts
    assert [page.cell(row, heads["cost all pairs EUR"]).value for row in whole] == [float(one) for one in amounts[:2]]
    rows = book["rows"]
    assert (rows["B2"].value, rows["B2"].number_format) == (datetime(2026, 3, 2), "yyyy-mm-dd")
    assert rows["B3"].value is None and rows["B4"].value == "soon"
