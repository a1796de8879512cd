"""Below a prefix of a reverse proxy everything is reached there, and nothing beside it."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

pytest.importorskip("dash")
pytest.importorskip("argon2")

from analyzer.cli import main
from analyzer.records.accounts import add_user
from analyzer.records.store import open_records
from dashboards.below import PrefixError, prefix_of
from tests.browser import ROOT, until
from tests.dashboards.asking import ask, call, page_call
from tests.dashboards.small_proxy import proxied
from tests.dashboards.test_serving import started
from tests.dashboards.test_signing_in import PASSWORD, session_of, sign_in

PREFIX = "/club/electrics"
LOG = ROOT / "sample_logs" / "N012LF_2026-05-09.csv"


@pytest.fixture(scope="module")
def behind(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a server that is told of its prefix and asks everybody to sign in."""
    folder = tmp_path_factory.mktemp("behind") / "records"
    shutil.copytree(demo, folder)
    with open_records(folder) as store:
        add_user(store, "a.editor", "editor", PASSWORD)
    with started(folder, "--proxy", "--prefix", f"{PREFIX}/") as (address, _process):
        yield address.removesuffix(PREFIX)


@pytest.mark.parametrize("strips", [False, True], ids=["as they came", "taken off"])
def test_cookies_redirects_scripts_and_answers_stay_below_the_prefix(behind: str, strips: bool) -> None:
    with proxied(behind, PREFIX, strips=strips) as (address, beside):
        to = urlsplit(address)
        top = f"{to.scheme}://{to.netloc}"
        away = ask(top, f"{PREFIX}/entries?tail=N012LF", Accept="text/html")
        assert away.headers["location"] == f"{PREFIX}/sign-in?next=/entries%3Ftail%3DN012LF"
        form = ask(top, away.headers["location"]).text
        assert f'action="{PREFIX}/sign-in?next=/entries%3Ftail%3DN012LF"' in form
        answer = sign_in(top, "a.editor", where=away.headers["location"])
        assert answer.headers["location"] == f"{PREFIX}/entries?tail=N012LF"
        assert f"Path={PREFIX}/" in answer.cookies[0]
        cookie = session_of(answer)
        first = ask(top, f"{PREFIX}/", Cookie=cookie).text
        named = re.findall(r'(?:src|href)="(/[^"]*)"', first)
        assert len(named) > 8
        for path in named:
            assert path.startswith(f"{PREFIX}/"), path
            assert ask(top, path, Cookie=cookie).status == 200, path
        without_slash = ask(top, PREFIX, Cookie=cookie)
        assert without_slash.status == 200 if strips else without_slash.headers["location"] == f"{address}/"
        bar = call(f"{to.scheme}://{to.netloc}", page_call("x"), Cookie=cookie)
        assert bar.status == 404  # beside the prefix nothing answers
        assert beside == ["/_dash-update-component"]
        ended = ask(top, f"{PREFIX}/sign-out", "POST", b"", Cookie=cookie)
        assert ended.headers["location"] == f"{PREFIX}/sign-in"
        assert f"Path={PREFIX}/" in ended.cookies[0]


def leads_nowhere_beside(page: Any) -> set[str]:
    """The places to which an open page leads, all of them below the prefix."""
    page.wait_for_selector("main .page h1")
    page.wait_for_load_state("networkidle")
    links = page.eval_on_selector_all("a[href]", "all => all.map(one => one.getAttribute('href'))")
    assert len(links) > 6, page.url
    assert [one for one in links if one.startswith("/") and not one.startswith(f"{PREFIX}/")] == [], page.url
    return {urlsplit(one).path for one in links}


@pytest.fixture
def way_in(behind: str, chromium: Any) -> Iterator[tuple[Any, str]]:
    """A page on which somebody signed in below the prefix, and the address of that; no fault, nothing asked beside."""
    context = chromium.new_context()
    page, faults = context.new_page(), []
    page.set_default_timeout(60_000)
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    with proxied(behind, PREFIX) as (address, beside):
        page.goto(f"{address}/digest")
        page.fill("#name", "a.editor")
        page.fill("#password", PASSWORD)
        page.keyboard.press("Enter")
        page.wait_for_selector("main .page.digest")
        yield page, address
        assert faults == []
        page.click("text=Sign out")
        page.wait_for_selector("#password")
        assert urlsplit(page.url).path == f"{PREFIX}/sign-in"
        assert beside == []
    assert all("401" in one for one in faults)  # what the page still asked as its person left
    context.close()


@pytest.mark.long
def test_a_person_reaches_every_page_below_the_prefix(way_in: tuple[Any, str]) -> None:
    """Five of them on the way of the test below; every page's links are made whole by the same code."""
    page, address = way_in
    for path in ("/squawk", "/entries", "/due", "/reference", "/changes"):
        page.goto(f"{address}{path}")
        leads_nowhere_beside(page)


def test_a_person_reaches_pages_and_brings_a_log_in_below_the_prefix(way_in: tuple[Any, str]) -> None:
    page, address = way_in
    assert urlsplit(page.url).path == f"{PREFIX}/digest"
    assert page.inner_text("header.bar [aria-current=page]") == "Digest"
    leads_nowhere_beside(page)
    page.locator("header.bar a", has_text="Fleet").click()
    page.wait_for_selector("main .page.fleet")
    assert f"{PREFIX}/aircraft/N012LF" in leads_nowhere_beside(page)
    page.locator("#fleet-list a", has_text="N012LF").first.click()  # within the page, not by loading another
    page.wait_for_selector("main .page.aircraft")
    assert urlsplit(page.url).path == f"{PREFIX}/aircraft/N012LF"
    leads_nowhere_beside(page)
    page.locator("a[href*='/flight/']").first.click()
    page.wait_for_selector("main .page.flight")
    assert urlsplit(page.url).path.startswith(f"{PREFIX}/flight/")
    until(page, "document.querySelector('#flight-chart .main-svg')")
    leads_nowhere_beside(page)
    page.goto(f"{address}/bring-in")
    leads_nowhere_beside(page)
    with page.expect_file_chooser() as chooser:
        page.click("#bring-choose")
    chooser.value.set_files(LOG)
    page.locator("#bring-list tr", has_text="N012LF").wait_for()


@pytest.mark.parametrize("given", ["taper", "//other.example", "/a b", "/a//b", "/../x", "/a?b", "/<x>", "/."])
def test_what_is_no_prefix_is_refused_by_a_sentence(given: str, tmp_path: Path, capsys: Any) -> None:
    with pytest.raises(PrefixError, match="an address such as"):
        prefix_of(given)
    assert main(["serve", "--records", str(tmp_path), "--port", "0", "--prefix", given]) == 2
    assert "--prefix must be an address" in capsys.readouterr().err


def test_a_prefix_loses_the_slash_at_its_end() -> None:
    assert [prefix_of(one) for one in ("", "/", "/a/", "/a/b.c")] == ["", "", "/a", "/a/b.c"]
