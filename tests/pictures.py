"""Make README's pictures of pages anew, from the demo's invented season: ``python -m tests.pictures``."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from tests.browser import ROOT, launch, served

FOLDER = ROOT / "dashboards" / "assets"
#: Name of each picture -> what is opened: an address, and the link that is followed from there.
PICTURES = {"picture-fleet": ("/", None), "picture-flight": ("/aircraft/N058LF", "Last flight")}
SIZE, SCALE = {"width": 1240, "height": 780}, 0.6


def take(records: Path, folder: Path) -> None:
    """Take every picture of the pages over some records."""
    from playwright.sync_api import sync_playwright

    with served(records) as address, sync_playwright() as driver:
        browser = launch(driver)
        page: Any = browser.new_context(viewport=SIZE, device_scale_factor=SCALE, color_scheme="light").new_page()
        page.set_default_timeout(90_000)
        for name, (path, link) in PICTURES.items():
            page.goto(address + path)
            page.wait_for_selector("main .page")
            if link:
                page.get_by_role("link", name=link).first.click()
                page.wait_for_selector("#flight-chart .main-svg")
            page.wait_for_load_state("networkidle")
            page.wait_for_timeout(1000)
            page.screenshot(path=str(folder / f"{name}.png"))
        browser.close()


if __name__ == "__main__":
    from analyzer.commands.demo_records import make_demo_records

    with tempfile.TemporaryDirectory() as made:
        make_demo_records(Path(made), print)
        take(Path(made) / "records", FOLDER)
