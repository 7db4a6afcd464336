"""Due dates and priorities of an order: as CSV and workbooks write them, and what is refused."""

from datetime import date, datetime

import openpyxl
import pytest
from tiny_job import replace_in

from nest.errors import InputProblems
from nest.job.read import read_job
from nest.job.values import ValueFault, day
from nest.pieces.style import OrderLine


@pytest.mark.parametrize(("text", "expected"), [
    ("2026-03-06", "2026-03-06"), ("20260306", "2026-03-06"), ("2026-W10-5", "2026-03-06"),
    ("the date 2026-03-06T00:00:00", "2026-03-06"), ("46087", "2026-03-06"), ("43831", "2020-01-01"),
])
def test_dates_as_people_and_spreadsheets_write_them(text, expected):
    """Calendar, basic and week dates of ISO 8601-1:2019; date cells; days counted as a spreadsheet does, of which 43831
    is 1 January 2020 (documentation of the function DATEVALUE of spreadsheets, from memory)."""
    assert day(text, "a due date") == expected


@pytest.mark.parametrize("text", ["06.03.2026", "3/6/2026", "2026-02-30", "1926-03-06", "soon", "20268", "99999"])
def test_dates_that_may_mean_another_day_are_refused(text):
    """Days and months in another order, days there are not, and years that no order is due in."""
    with pytest.raises(ValueFault):
        day(text, "a due date")


def order_of(folder):
    """The order lines of the job in this folder, and what was said."""
    job = read_job(folder / "job.toml")
    return job.order, job.warnings


def test_rows_of_one_size_stay_apart_by_due_date(job_folder):
    """Rows alike in date and priority are added up and said; the others stay, cells may be empty."""
    (job_folder / "order.csv").write_text(
        "style,size,pairs,due,priority\nplain,38.5,3,2026-03-06,1\nplain,38.5,4,2026-03-20,\nplain,38.5,5,2026-03-06,1\n"
        "plain,38.5,6,,\n"
    )
    order, said = order_of(job_folder)
    assert order == (
        OrderLine("plain", "38.5", 8, "2026-03-06", 1), OrderLine("plain", "38.5", 4, "2026-03-20"),
        OrderLine("plain", "38.5", 6),
    )
    assert sum("with the same due date and priority" in one for one in said) == 1


def test_date_cells_of_a_workbook(job_folder):
    """Cells with a date, a date and a time, and a number of days all read as the day."""
    book = openpyxl.Workbook()
    for row in (["style", "size", "pairs", "due", "priority"], ["plain", 38.5, 3, date(2026, 3, 6), 1],
                ["plain", 38.5, 4, datetime(2026, 3, 7, 0, 0), None], ["plain", 38.5, 5, 46089, 2]):
        book.active.append(row)
    book.save(job_folder / "order.xlsx")
    replace_in("job.toml", "order.csv", "order.xlsx")(job_folder)
    order, _ = order_of(job_folder)
    assert [(line.due, line.priority) for line in order] == [
        ("2026-03-06", 1), ("2026-03-07", 0), ("2026-03-08", 2)]


def test_all_that_is_wrong_is_said_at_once(job_folder):
    """A date and a priority that cannot be read are named with their line and how to mend them."""
    (job_folder / "order.csv").write_text(
        "style,size,pairs,due,priority\nplain,38.5,3,6.3.2026,0\nplain,38.5,4,2026-03-06,first\n"
    )
    with pytest.raises(InputProblems) as refused:
        order_of(job_folder)
    text = str(refused.value)
    assert "order.csv, line 2, due" in text and "write it as 2026-03-31" in text
    assert "order.csv, line 2, priority" in text and "order.csv, line 3, priority" in text
