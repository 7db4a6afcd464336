"""Lets every test below this folder import the shared builders, such as `tiny_plans`, by name; a browser."""

import shutil
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))


@pytest.fixture(scope="module")
def browser():
    """One headless Chromium for all tests of a file, closed before others run; skipped where there is none."""
    sync_api = pytest.importorskip("playwright.sync_api")
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if chromium is None:
        pytest.skip("no Chromium on this machine")
    with sync_api.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield found
        found.close()
