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

from dashboards.compression import CHARTS, CHARTS_ASKED_AT, NEEDED, hints, version_of

FIGURES = Path(__file__).resolve().parents[2] / "dashboards" / "figures"


def get(address: str, **headers: str) -> tuple[bytes, Message]:
    asked = urllib.request.Request(address, headers={name.replace("_", "-"): value for name, value in headers.items()})
    with urllib.request.urlopen(asked, timeout=30) as answer:
        return answer.read(), answer.headers


#: Another plotly brings another plotly.js, and then the whole of it is sent.
needs_small = pytest.mark.skipif(
    version_of(CHARTS) != get_plotlyjs_version(),
    reason=f"the plotly here brings plotly.js {get_plotlyjs_version()}, the small library is {version_of(CHARTS)}",
)


def test_the_small_charts_library_is_a_quarter_of_the_whole_and_names_its_version() -> None:
    text = gzip.decompress(CHARTS.read_bytes()).decode()
    assert f"v{version_of(CHARTS)}" in text[:400]
    assert len(text) < 0.3 * len(get_plotlyjs())


def test_another_version_of_the_charts_library_is_sent_whole(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from flask import Flask

    from dashboards import compression

    old = tmp_path / "old.js.gz"
    old.write_bytes(gzip.compress(b"/**\n* plotly.js (basic - minified) v0.0.1\n*/"))
    monkeypatch.setattr(compression, "CHARTS", old)
    server = Flask("pages")
    server.add_url_rule(CHARTS_ASKED_AT, view_func=lambda: "the whole")
    compression.send_little(server)
    assert server.test_client().get(CHARTS_ASKED_AT).text == "the whole"


def test_figures_are_made_of_the_marks_that_the_small_library_draws() -> None:
    # plotly.js's basic bundle draws scatter, bar and pie traces.
    drawn = {
        kind for file in FIGURES.glob("*.py") for kind in re.findall(r"\bgo\.([A-Z]\w+)\(", file.read_text("utf-8"))
    }
    assert drawn - {"Figure", "Layout"} <= {"Scatter", "Bar"}


@needs_small
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


@needs_small
def test_what_the_browser_has_already_is_not_sent_again(pages: str) -> None:
    _, headers = get(pages + CHARTS_ASKED_AT, Accept_Encoding="gzip")
    with pytest.raises(urllib.error.HTTPError, match="304") as told:
        get(pages + CHARTS_ASKED_AT, Accept_Encoding="gzip", If_None_Match=headers["ETag"])
    told.value.close()


def test_every_script_that_is_hinted_at_is_there(pages: str) -> None:
    for script in {script for _, scripts in NEEDED for script in scripts}:
        assert get(pages + script)[0]


def test_a_page_hints_at_the_scripts_that_it_needs_and_at_no_others(pages: str) -> None:
    assert CHARTS_ASKED_AT in hints("/flight/12")
    assert CHARTS_ASKED_AT not in hints("/")
    assert "async-community" in hints("/aircraft/N058LF")
    assert "async-community" not in hints("/")
    assert CHARTS_ASKED_AT in get(f"{pages}/aircraft/N058LF")[0].decode()
