"""What is folded: no cause apart from its equals; what paper leaves out; where a link into the lesson begins."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from msgspec import Struct

from analyzer.findings.finding import Cause
from analyzer.records.problems import RecordsError
from dashboards import downloads
from dashboards.background import StillWorkingError
from dashboards.parts import AS_SEEN, NOT_PRINTED, causes_at_once, fold
from tests.dashboards.unseen import unseen

Visit = Callable[..., Any]


@pytest.mark.parametrize(
    ("weights", "shown"),
    [
        ((0.4, 0.16, 0.16, 0.14, 0.08, 0.06), 3),
        ((0.3, 0.2, 0.164, 0.156, 0.1, 0.08), 4),
        ((0.25, 0.15, 0.15, 0.15, 0.15, 0.15), 6),
        ((0.3, 0.25, 0.16, 0.16, 0.13), 5),
        ((0.5, 0.5), 2),
        ((), 0),
    ],
)
def test_causes_of_the_same_share_are_never_parted_by_a_fold(weights: tuple[float, ...], shown: int) -> None:
    causes = [Cause(f"c{place}", "a cause", weight, (), ()) for place, weight in enumerate(weights)]
    first, rest = causes_at_once(causes)
    assert len(first) == shown
    assert [*first, *rest] == causes


def test_a_fold_says_how_it_is_printed() -> None:
    assert fold("form", name="a", printed=NOT_PRINTED).className == "no-print"
    assert fold("what if", name="b", printed=AS_SEEN).className == "as-seen"
    assert not fold("results", name="c").className


@pytest.mark.parametrize("asked", ["/squawk", "/changes"])
def test_printing_opens_folds_with_results_alone(pages: str, visit: Visit, asked: str) -> None:
    """Of a flight's page as well, where its folds are tried."""
    page = visit(f"{pages}{asked}")
    page.locator("main h1").wait_for()
    page.wait_for_load_state("networkidle")
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("main details.as-seen[open]").count() == 0
    assert page.locator("main details:not(.as-seen):not(.no-print):not([open])").count() == 0
    assert page.locator("main input:visible").count() == 0 or asked == "/squawk"
    assert page.evaluate("document.documentElement.scrollHeight") < 6000
    if asked == "/squawk":
        assert not page.get_by_text("Ways to say it").first.is_visible()


def test_a_link_that_asks_what_if_begins_where_the_alternator_feeds(pages: str) -> None:
    page = unseen(pages, "/flight/1?master_off=20")
    shown = page.after("quit-shown")["quit-shown"].words
    assert "A low-voltage light" in shown
    assert "is not known" not in shown
    assert "Step 1 of" not in page.part("flow-shown").words


class _Result(Struct):
    tail: str = ""


@pytest.mark.parametrize(("problem", "told"), [(RecordsError("damaged"), True), (StillWorkingError("soon"), False)])
def test_a_flight_s_sheet_without_an_outlook_is_better_than_none(
    monkeypatch: pytest.MonkeyPatch, problem: RecordsError, told: bool
) -> None:
    found = SimpleNamespace(log=SimpleNamespace(log=None), tail="N001AB", number=1, review=None, size=0)

    def outlook_at(_flight: Any) -> None:
        raise problem

    monkeypatch.setattr(downloads, "_kept_flight", lambda *_: found)
    monkeypatch.setattr(downloads, "log_result", lambda _: _Result())
    kept: Any = SimpleNamespace(outlook_at=outlook_at)
    if told:
        downloads._flight(kept, "1")
    else:
        with pytest.raises(StillWorkingError):
            downloads._flight(kept, "1")
