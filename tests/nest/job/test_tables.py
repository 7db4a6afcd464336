"""Tables are read alike from CSV in its dialects and from XLSX."""

import openpyxl
import pytest

from nest.job.files import Source
from nest.job.findings import Findings
from nest.job.table import read_table


def read(path):
    """Cells of the table and what was found."""
    findings = Findings()
    rows = read_table(Source(path, path.name), ("size", "pairs"), ("style", "price"), findings)
    return [row.cells for row in rows or ()], findings


SOUND = [{"size": "38.5", "pairs": "12"}, {"size": "39", "pairs": "7"}]


@pytest.mark.parametrize(
    "data",
    [
        "size,pairs\n38.5,12\n39,7\n",
        "\ufeffSize , PAIRS\r\n38.5,12\r\n\r\n39, 7\r\n",
        "size;pairs\n38,5;12\n39;7\n",
        "size\tpairs\n38.5\t12\n,\n39\t7",
        '"size","pairs"\n"38.5","12"\n"39","7"\n',
    ],
    ids=["plain", "byte order mark", "semicolons", "tabs", "quotes"],
)
def test_dialects(tmp_path, data):
    """Commas, semicolons with decimal commas, tabs, quotes, blank lines and a byte order mark: the same rows."""
    path = tmp_path / "order.csv"
    path.write_text(data.replace("\n,\n", "\n\n"), encoding="utf-8", newline="")
    cells, findings = read(path)
    assert cells == SOUND and not findings.problems and not findings.warnings


def test_workbook_is_as_csv(tmp_path):
    """Numbers, texts and blank rows of a workbook's first sheet read as in CSV."""
    book = openpyxl.Workbook()
    for row in (["Size", "Pairs"], [38.5, 12.0], [None, None], ["39", 7]):
        book.active.append(row)
    book.create_sheet("other").append(["size", "pairs"])
    book.save(tmp_path / "order.xlsx")
    cells, findings = read(tmp_path / "order.xlsx")
    assert cells == SOUND and not findings.problems


def test_other_columns_are_said(tmp_path):
    """A column that is not known is passed over and said, with a guess where it looks like an optional one."""
    (tmp_path / "order.csv").write_text("size,pairs,prise,customer\n38.5,12,3,a\n39,7,3,b\n")
    cells, findings = read(tmp_path / "order.csv")
    assert [row["pairs"] for row in cells] == ["12", "7"]
    assert findings.warnings == [
        "order.csv: the column 'prise' was not read; correct it (did you mean 'price'?).",
        "order.csv: the column 'customer' was not read.",
    ]


def test_a_workbook_that_is_none(tmp_path):
    """Text under the name of a workbook is a problem."""
    (tmp_path / "order.xlsx").write_text("size,pairs\n38,2\n")
    cells, findings = read(tmp_path / "order.xlsx")
    assert cells == [] and "an XLSX workbook" in str(findings.problems[0])


def test_too_many_rows(tmp_path, monkeypatch):
    """More rows than the limit are refused with the limit."""
    monkeypatch.setattr("nest.job.table.MOST_ROWS", 3)
    (tmp_path / "order.csv").write_text("size,pairs\n" + "38,1\n" * 4)
    _, findings = read(tmp_path / "order.csv")
    assert str(findings.problems[0]) == "order.csv: expected at most 3 rows, found more; split the table."
