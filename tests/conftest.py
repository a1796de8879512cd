"""What all tests share."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from analyzer.cli import BETWEEN_LOOKS, main
from tests.browser import CHROMIUM, ROOT, launch
from tests.made_once import made_once
from tests.postgresql import Server, running

gc.disable()  # what is collected stays to the end; looking through it again and again is a fifth of collecting
settings.register_profile("untimed", deadline=None)  # no test may fail because the machine has other things to do
settings.load_profile("untimed")

#: Files that take longest, so that none is begun when the others are done. The first makes the demo's records, for
#: which other files of pages would have to wait.
FIRST = (
    "dashboards/test_questions.py", "records/test_injected.py", "records/test_faults.py", "trends/test_made_tails.py",
    "records/test_on_postgresql.py", "cluster/test_cluster.py", "squawk/test_vocabulary.py",
    "trends/test_simulated_histories.py", "trends/test_comparison.py", "trends/test_wear_over_flights.py",
    "trends/test_causality.py", "trends/test_standing.py",
)  # fmt: skip


def pytest_addoption(parser: pytest.Parser) -> None:
    """``--long``: every case of every test, which takes several times as long."""
    parser.addoption("--long", action="store_true", help="every case of the tests that are tried at many drawn cases")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with the longest files, and leave out cases that were not asked for."""
    places = {ROOT / "tests" / name: place for place, name in enumerate(FIRST)}
    items.sort(key=lambda item: places.get(item.path, len(FIRST)))
    _leave_out(config, items)


def pytest_collection_finish() -> None:
    """From here on what tests leave is tidied up as in a command; what was there before is not looked through."""
    gc.freeze()
    gc.set_threshold(BETWEEN_LOOKS)
    gc.enable()


def _leave_out(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out, unless asked for, all but ``keep`` evenly spread cases of a test that is marked as ``long``."""
    if config.getoption("--long"):
        return
    cases: dict[str, list[pytest.Item]] = {}
    for item in items:
        if item.get_closest_marker("long"):
            cases.setdefault(item.nodeid.partition("[")[0], []).append(item)
    left_out = set()
    for of_one in cases.values():
        mark = of_one[0].get_closest_marker("long")
        keep = mark.kwargs.get("keep", 0) if mark else 0
        kept = {index * len(of_one) // keep for index in range(keep)}
        left_out |= {id(item) for index, item in enumerate(of_one) if index not in kept}
    if left_out:
        config.hook.pytest_deselected(items=[item for item in items if id(item) in left_out])
        items[:] = [item for item in items if id(item) not in left_out]


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of public cases and recorded flights that lies beside the checkout, if it is there."""
    given = os.environ.get("TAPER_SHARED")
    folder = Path(given) if given else Path(__file__).resolve().parents[2] / "shared"
    if not folder.is_dir():
        pytest.skip(f"the folder of shared cases is not there ({folder}); set TAPER_SHARED to where it is")
    return folder


@pytest.fixture(scope="session")
def sample_records(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Path:
    """Records of the sample logs with their fleet file, to be copied; made by whichever process comes first."""
    logs = ROOT / "sample_logs"

    def make(folder: Path) -> None:
        fleet = str(logs / "fleet.toml")
        assert main(["add", str(logs), "--fleet", fleet, "--records", str(folder / "records")]) == 0

    return made_once(tmp_path_factory, worker_id, "sample", make) / "records"


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    """A real PostgreSQL server, one for all tests of a process."""
    pytest.importorskip("psycopg", reason="psycopg is not installed")
    with running() as server:
        if isinstance(server, str):
            pytest.skip(server)
        yield server


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
