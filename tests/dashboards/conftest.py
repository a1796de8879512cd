"""Demo records made once for all tests of the pages, servers over copies of them, and a real browser."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser import served
from tests.made_once import made_once

pytest.importorskip("dash", reason="the pages' libraries are not installed")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Folder of the demo's records, made by whichever worker comes first."""
    from analyzer.commands.demo_records import make_demo_records

    if made := os.environ.get("TAPER_TEST_DEMO"):  # made before, so that one file of tests need not wait for it
        return Path(made)
    made_here = made_once(tmp_path_factory, worker_id, "demo", lambda one: make_demo_records(one, lambda _words: None))
    return made_here / "records"


@pytest.fixture(scope="session")
def pages(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the pages over demo records that no test changes."""
    copy = tmp_path_factory.mktemp("read") / "records"
    shutil.copytree(demo, copy)
    with served(copy) as address:
        yield address


@pytest.fixture
def changeable(demo: Path, tmp_path: Path) -> Iterator[str]:
    """Address of the pages over a copy of the demo records of the test's own."""
    shutil.copytree(demo, tmp_path / "records")
    with served(tmp_path / "records") as address:
        yield address


Opener = Callable[..., Any]


@pytest.fixture
def visit(chromium: Any) -> Iterator[Opener]:
    """Open an address and wait until its page stands; the test fails if the console shows an error."""
    contexts, faults = [], []

    def opened(address: str, *, size: tuple[int, int] = (1280, 800), scheme: str = "light") -> Any:
        context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(30_000)
        page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda fault: faults.append(str(fault)))
        page.goto(address)
        page.wait_for_selector("main .page")
        page.wait_for_load_state("networkidle")
        return page

    opened.faults = faults  # type: ignore[attr-defined]
    yield opened
    for context in contexts:
        context.close()
    assert faults == []


@pytest.fixture(scope="session")
def changeable_once(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of pages over a copy of the demo records that tests may change as they like."""
    copy = tmp_path_factory.mktemp("changed") / "records"
    shutil.copytree(demo, copy)
    with served(copy) as address:
        yield address
