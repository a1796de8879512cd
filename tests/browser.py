"""What tests and benchmarks of the pages share: pages served by a process of their own, and a browser.

The browser is the system's own, without anything that calls elsewhere.
"""

from __future__ import annotations

import re
import shutil
import signal
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.forked_servers import ForkedServers

ROOT = Path(__file__).resolve().parents[1]

#: Debian's builds of Chromium, as programs and as packages; the first has no windows and takes a tenth less time.
BROWSERS = ("chromium-headless-shell", "chromium")
CHROMIUM = next(filter(None, map(shutil.which, BROWSERS)), None)
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--process-per-site",
]


def launch(driver: Any) -> Any:
    """Start the browser through Playwright's driver."""
    return driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)


class Tabs:
    """Tabs of one browser context, one of which stays open at the pages' site, and with it the process that draws them.

    Scripts that it has compiled need not be compiled again.
    """

    def __init__(self, context: Any) -> None:
        self.faults: list[str] = []  # what consoles showed since the tabs were last cleared
        self._context = context
        self._first = self._opened()
        self._used: list[Any] = []

    def free(self) -> Any:
        """A tab that nobody has; the first where it can be."""
        if self._first.is_closed():
            self._first = self._opened()
        page = self._opened() if self._first in self._used else self._first
        self._used.append(page)
        return page

    def cleared(self) -> list[str]:
        """Take away all that pages have left but what the browser's cache holds, and give the faults until then."""
        self._context.clear_cookies()
        faults, used = list(self.faults), self._used
        self._used = []
        for page in used:
            self._leave(page)
        for page in self._context.pages:
            if page is not self._first:
                page.close()
        return faults

    @staticmethod
    def _leave(page: Any) -> None:
        """Let a page lead to an empty one; called up from outside, that would be drawn by another process."""
        from playwright.sync_api import Error

        try:
            page.mouse.move(0, 0)
            page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); location.replace('about:blank'); }")
            page.wait_for_url("about:blank")
            page.emulate_media(media="null", color_scheme="null")
        except Error:  # it was closed, or stands where no page could be had
            page.close()

    def close(self) -> None:
        """Close them all."""
        self._context.close()

    def _opened(self) -> Any:
        page = self._context.new_page()
        page.set_default_timeout(30_000)
        page.on("console", lambda message: self.faults.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        return page


def until(page: Any, told: str, patience_s: float = 30.0) -> None:
    """Wait until an expression holds on a page, whose own policy lets no words be run as a script there."""
    over = time.monotonic() + patience_s
    while not page.evaluate(f"() => Boolean({told})"):
        assert time.monotonic() < over, told
        time.sleep(0.05)


def settled(page: Any) -> None:
    """Wait until nothing on a page moves or changes its colour any more, but for what does so without an end."""
    running = "one.playState === 'running' && one.effect?.getComputedTiming().endTime !== Infinity"
    until(page, f"!document.getAnimations().some((one) => {running})")


def turned(page: Any, width: int, height: int, scheme: str) -> None:
    """Give a page another size and colours, as turning a tablet does, and wait until it stands in them."""
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme)
    until(page, f"document.documentElement.dataset.mantineColorScheme === '{scheme}'")
    settled(page)


def hindrances(page: Any) -> list[tuple[str, str]]:
    """What on a page hinders screen readers and keyboards: the rule, and the first elements that break it.

    Of rules that are kept nothing is told, which would be most of the work.
    """
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [(one["id"], " ".join(node["html"][:120] for node in one["nodes"][:3])) for one in found]


_servers = ForkedServers()


@contextmanager
def served(records: Path) -> Iterator[str]:
    """The address of pages served over some records by a process of their own."""
    with tempfile.TemporaryDirectory() as folder:
        said = Path(folder) / "said"
        process = _servers.start(["serve", "--records", str(records), "--port", "0"], said)
        address, ended = _address(said), False
        try:
            assert address, said.read_text() if said.exists() else "nothing was said"
            yield address.rstrip("/")
            ended = True
        finally:  # what failed in between would wait for a server's end for ever
            status = _servers.end(process, signal.SIGTERM if ended else signal.SIGKILL)
        assert status == 0, said.read_text()
        assert "Traceback" not in said.read_text(), said.read_text()


def _address(said: Path, patience_s: float = 60.0) -> str | None:
    """The address that a server names once it can be reached."""
    over = time.monotonic() + patience_s
    while time.monotonic() < over:
        if said.exists() and (found := re.search(r"(http://\S+).*\n", said.read_text())):
            return found.group(1)
        time.sleep(0.02)
    return None
