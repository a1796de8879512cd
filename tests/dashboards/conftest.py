"""Demo records made once for all tests of the pages, servers over copies of them, and a real browser."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser import Tabs, served
from tests.made_once import made_once

pytest.importorskip("dash", reason="the pages' libraries are not installed")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Folder of the demo's records, made by whichever worker comes first and copied by each.

    Tests may read it and copy it, but not change it: what one worker has open is not copied by another.
    """
    from analyzer.commands.demo_records import make_demo_records

    if made := os.environ.get("TAPER_TEST_DEMO"):  # made before, so that one file of tests need not wait for it
        records = Path(made)
    else:
        once = made_once(tmp_path_factory, worker_id, "demo", lambda one: make_demo_records(one, lambda _words: None))
        records = once / "records"
    return shutil.copytree(records, tmp_path_factory.mktemp("demo") / "records")


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


@pytest.fixture(scope="module")
def own(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """Address of pages and the folder of their records, for the tests of one file.

    Each of them changes what no other looks at, or puts it back.
    """
    records = shutil.copytree(demo, tmp_path_factory.mktemp("own") / "records")
    with served(records) as address:
        yield address, records


Opener = Callable[..., Any]


@pytest.fixture(scope="session")
def tabs(chromium: Any) -> Iterator[Tabs]:
    """The tabs of one browser context, for all tests of a process."""
    kept = Tabs(chromium.new_context())
    yield kept
    kept.close()


@pytest.fixture
def visit(tabs: Tabs) -> Iterator[Opener]:
    """Open an address and wait until its page stands; the test fails if the console shows an error.

    Nothing that a test leaves in the browser meets the next one but the cache of scripts.
    ``tab`` is one that the test has opened already, which spares the browser another.
    """

    def opened(address: str, *, size: tuple[int, int] = (1280, 800), scheme: str = "light", tab: Any = None) -> Any:
        page = tab or tabs.free()
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.emulate_media(color_scheme=scheme)
        page.goto(address)
        page.wait_for_selector("main .page")
        page.wait_for_load_state("networkidle")
        return page

    tabs.faults.clear()
    opened.faults = tabs.faults  # type: ignore[attr-defined]
    yield opened
    faults = tabs.cleared()
    assert faults == []


@pytest.fixture(scope="session")
def changeable_once(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of pages over a copy of the demo records that tests may change as they like."""
    copy = tmp_path_factory.mktemp("changed") / "records"
    shutil.copytree(demo, copy)
    with served(copy) as address:
        yield address
