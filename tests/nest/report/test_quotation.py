"""A quotation: prices are the standard cost of that many pairs, it fits one page of A4, and it shows no internals."""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest
from box_jobs import brick, hide, job, roll, style
from small_jobs import small_job

from nest.accounts.estimate import estimate_job
from nest.accounts.quotation import quotation
from nest.cli import main
from nest.errors import PlanProblem
from nest.job.costing import Costing
from nest.job.job import Settings
from nest.report.quotation import write_quotation

COSTING = Costing(labour_per_hour=Decimal(36), press_per_hour=Decimal(24), press_s_per_pair=Decimal(60),
                  overhead_percent=Decimal(10), margin_percent=Decimal(20))
INTERNAL = re.compile(r"cost|overhead|margin|yield|hide|spoil|reject|waste|dm²|set-up|labour", re.IGNORECASE)


def asked(pairs=(6, 4)):
    """Two sizes of rectangular vamps; breaks from 1 and 10 m² of leather on."""
    plain = job(styles=(replace(style(roll="knit"), reject_percent=7.0),), rolls=(roll(),), hides=(hide(), hide("H2")),
                order=(("box", "38", pairs[0]), ("box", "39", pairs[1])), settings=Settings(costing=COSTING))
    breaks = ((Decimal(1), Decimal(4)), (Decimal(10), Decimal(9)))
    return replace(plain, leathers=tuple(replace(one, breaks=breaks) for one in plain.leathers))


def offered(quantities=(10, 100, 1000), **words):
    """The quotation for a customer with a name that a formula could begin with."""
    one = asked()
    return quotation(one, estimate_job(one, brick), quantities=quantities, customer="=Invented & $ons", number="7",
                     day="2026-11-30", **words)


def test_a_step_is_the_standard_cost_of_that_many_pairs():
    """10, 100 and 1,000 pairs in the proportions 6 : 4: as jobs of that size have it, with the breaks they reach."""
    steps = offered().offers[0].steps
    assert [step.pairs for step in steps] == [10, 100, 1000]
    for step, times in zip(steps, (1, 10, 100), strict=True):
        sheet = estimate_job(asked((6 * times, 4 * times)), brick).standard
        assert step.pair == sheet.order.good_pair and step.total == step.pairs * step.pair
    assert steps[0].pair > steps[1].pair > steps[2].pair


def test_usual_steps_and_validity():
    """Without quantities once, twice and five times the order; thirty days are counted by the calendar."""
    found = offered(())
    assert [step.pairs for step in found.offers[0].steps] == [10, 20, 50]
    assert (found.day, found.valid_until) == ("2026-11-30", "2026-12-30")
    assert any("crimping" in term for term in found.terms) and found.with_margin
    with pytest.raises(PlanProblem, match="1 or more"):
        offered((0,))


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="poppler is not installed")
def test_the_page_is_one_sheet_of_a4_without_internals(tmp_path):
    """Read back by another program: one page of 210 × 297 mm, every price on it, no word of how it came about."""
    found = offered()
    write_quotation(found, tmp_path / "q.pdf")
    said = subprocess.run(["pdfinfo", str(tmp_path / "q.pdf")], capture_output=True, text=True, check=True).stdout
    assert "Pages:           1" in said and re.search(r"59\d\.\d+ x 84\d\.\d+ pts \(A4\)|595.* x 841", said)
    text = subprocess.run(["pdftotext", "-layout", str(tmp_path / "q.pdf"), "-"], capture_output=True, text=True,
                          check=True).stdout
    for step in found.offers[0].steps:
        assert f"{step.pair:,}" in text and f"{step.total:,}" in text
    assert "30 December 2026" in text and "=Invented & $ons" in text
    assert not INTERNAL.search(text)


def test_the_sheet_holds_the_same(tmp_path):
    """The workbook has the same prices, fits one page across, and shows no internals; text stays text."""
    found = offered()
    write_quotation(found, tmp_path / "q.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "q.xlsx")["Quotation"]
    assert [sheet.cell(4 + i, 3).value for i in range(3)] == [float(step.pair) for step in found.offers[0].steps]
    words = " ".join(str(cell.value) for line in sheet.iter_rows() for cell in line if cell.value is not None)
    assert "=Invented & $ons" in words and not INTERNAL.search(words)
    assert sheet.page_setup.fitToWidth == 1 and str(sheet.page_setup.paperSize) == sheet.PAPERSIZE_A4
    assert not any(cell.data_type == "f" for line in sheet.iter_rows() for cell in line)


def test_nothing_of_the_sheet_lies_beside_what_is_printed(tmp_path):
    """Lines that run over several cells end where the print area ends, the one with the day of validity too."""
    write_quotation(offered(), tmp_path / "q.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "q.xlsx")["Quotation"]
    assert sheet.print_area.split("!")[-1].startswith("$A$1:$D$")
    assert "30 December 2026" in sheet["A2"].value
    assert {merged.max_col for merged in sheet.merged_cells.ranges} == {4}


def test_too_much_for_a_page_is_refused(tmp_path):
    """Thirty quantities do not fit: one sentence, and no file."""
    with pytest.raises(PlanProblem, match="does not fit one page"):
        write_quotation(offered(range(1, 60)), tmp_path / "q.pdf")
    assert not list(tmp_path.iterdir())


def test_the_command(tmp_path, capsys):
    """Both files at once. A file that is there, of another kind, or a date that may be two: one sentence, exit 2."""
    path = small_job(tmp_path / "job", pairs={"38": 3, "39": 2})
    files = [tmp_path / "q.pdf", tmp_path / "q.xlsx"]
    words = ["quote", str(path), "--pairs", "50", "--date", "2026-11-30"]
    assert main([*words, "-o", str(files[0]), "-o", str(files[1]), "--json"]) == 0
    out = capsys.readouterr()
    data = json.loads(out.out)
    assert all(file.exists() for file in files) and data["offers"][0]["steps"][0]["pairs"] == 50
    for more in (["-o", str(files[0])], ["-o", str(tmp_path / "q.doc")],
                 ["--date", "30/11/26", "-o", str(tmp_path / "new.pdf")]):
        assert main([*words, *more]) == 2
        assert capsys.readouterr().err.strip().count("\n") <= 1
