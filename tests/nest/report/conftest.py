"""A plan with its accounts and verdict, made once for the tests of the report; builders of box jobs by name."""

import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
from vamp_plans import vamp_plan

from nest.accounts import account
from nest.verify import verify

sys.path.append(str(Path(__file__).parents[1] / "planning"))


@pytest.fixture(scope="session")
def run():
    """Two hides of vamps and their reinforcements; interlock density given, so that only the report is tested."""
    plan = vamp_plan(2)
    accounts = account(plan, lattice=lambda ring, gap: SimpleNamespace(density=0.88))
    return SimpleNamespace(plan=plan, accounts=accounts, verdict=verify(plan))


@pytest.fixture(scope="session")
def recalculated(tmp_path_factory):
    """Gives the workbooks of a folder, by name, as LibreOffice recalculates them; skipped where there is none.

    All share one profile, for making one takes longer than a workbook.
    """
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("LibreOffice, which recalculates the workbook, is not installed")
    profile = tmp_path_factory.mktemp("office")

    def recalculate(folder, names):
        command = [office, f"-env:UserInstallation=file://{profile}", "--headless", "--convert-to", "xlsx",
                   "--outdir", str(folder / "out"), *(str(folder / f"{name}.xlsx") for name in names)]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
        return {name: openpyxl.load_workbook(folder / "out" / f"{name}.xlsx", data_only=True) for name in names}

    return recalculate


@pytest.fixture
def opened(browser, tmp_path):
    """Opens a page's text; at the end there must have been no error, no dialog and nothing asked of a network."""
    pages, wrong = [], []

    def open_page(html, **options):
        path = tmp_path / f"page-{len(pages)}.html"
        path.write_text(html, encoding="utf-8")
        page = browser.new_page(viewport={"width": 1200, "height": 900}, **options)
        page.on("console", lambda message: wrong.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("dialog", lambda dialog: (wrong.append(dialog.message), dialog.dismiss()))
        page.on("request", lambda request: None if request.url == path.as_uri() else wrong.append(request.url))
        pages.append(page)
        page.goto(path.as_uri())
        return page

    yield open_page
    for page in pages:
        page.close()
    assert wrong == []
