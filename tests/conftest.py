"""What all tests share."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser import CHROMIUM, launch


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of public cases and recorded flights that lies beside the checkout, if it is there."""
    given = os.environ.get("TAPER_SHARED")
    folder = Path(given) if given else Path(__file__).resolve().parents[2] / "shared"
    if not folder.is_dir():
        pytest.skip(f"the folder of shared cases is not there ({folder}); set TAPER_SHARED to where it is")
    return folder


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A real browser, one for all tests of a process."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        pytest.skip("no chromium on this machine, so pages and printed sheets are not tried (apt-get install chromium)")
    with playwright.sync_playwright() as driver:
        browser = launch(driver)
        yield browser
        browser.close()
