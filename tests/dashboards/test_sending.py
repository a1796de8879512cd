"""Little is sent, and it is what was meant."""

from __future__ import annotations

import gzip
import re
import urllib.request
from email.message import Message
from pathlib import Path

import pytest

pytest.importorskip("dash")

from plotly.offline import get_plotlyjs, get_plotlyjs_version

from dashboards.sending import CHARTS, CHARTS_ASKED_AT, NEEDED, NEEDED_BY_FLEET, hints

FIGURES = Path(__file__).resolve().parents[2] / "dashboards" / "figures"


def get(address: str, **headers: str) -> tuple[bytes, Message]:
    asked = urllib.request.Request(address, headers={name.replace("_", "-"): value for name, value in headers.items()})
    with urllib.request.urlopen(asked, timeout=30) as answer:
        return answer.read(), answer.headers


def test_the_small_charts_library_is_of_the_same_version_as_the_whole() -> None:
    text = gzip.decompress(CHARTS.read_bytes()).decode()
    assert f"plotly.js (basic - minified) v{get_plotlyjs_version()}" in text
    assert len(text) < 0.3 * len(get_plotlyjs())


def test_figures_are_made_of_the_marks_that_the_small_library_draws() -> None:
    # plotly.js's basic bundle draws scatter, bar and pie traces.
    drawn = {
        kind for file in FIGURES.glob("*.py") for kind in re.findall(r"\bgo\.([A-Z]\w+)\(", file.read_text("utf-8"))
    }
    assert drawn - {"Figure", "Layout"} <= {"Scatter", "Bar"}


def test_the_charts_library_is_sent_where_the_whole_is_asked_for_packed_or_not(pages: str) -> None:
    packed, headers = get(pages + CHARTS_ASKED_AT, Accept_Encoding="gzip")
    assert headers["Content-Encoding"] == "gzip"
    plain, plain_headers = get(pages + CHARTS_ASKED_AT)
    assert plain_headers["Content-Encoding"] is None
    assert gzip.decompress(packed) == plain == gzip.decompress(CHARTS.read_bytes())


@pytest.mark.parametrize("path", ["/assets/look.css", "/_dash-component-suites/dash_ag_grid/async-community.js"])
def test_what_is_sent_packed_is_what_is_sent_plain(pages: str, path: str) -> None:
    plain, plain_headers = get(pages + path)
    assert plain_headers["Content-Encoding"] is None
    for _ in range(2):  # the second time from what was packed the first time
        packed, headers = get(pages + path, Accept_Encoding="gzip")
        assert headers["Content-Encoding"] == "gzip"
        assert gzip.decompress(packed) == plain
        assert len(packed) < 0.5 * len(plain)


def test_what_the_browser_has_already_is_not_sent_again(pages: str) -> None:
    _, headers = get(pages + CHARTS_ASKED_AT, Accept_Encoding="gzip")
    with pytest.raises(urllib.error.HTTPError, match="304") as told:
        get(pages + CHARTS_ASKED_AT, Accept_Encoding="gzip", If_None_Match=headers["ETag"])
    told.value.close()


def test_every_script_that_is_hinted_at_is_there(pages: str) -> None:
    for script in {*NEEDED_BY_FLEET, *(script for _, scripts in NEEDED for script in scripts)}:
        assert get(pages + script)[0]


def test_a_page_hints_at_the_scripts_that_it_needs_and_at_no_others(pages: str) -> None:
    assert CHARTS_ASKED_AT in hints("/flight/12")
    assert CHARTS_ASKED_AT not in hints("/")
    assert "async-community" in hints("/")
    assert CHARTS_ASKED_AT in get(f"{pages}/aircraft/N058LF")[0].decode()
