"""How little is sent: scripts packed once, the small charts library for the whole, hints of what comes next."""

from __future__ import annotations

import gzip
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from flask import Flask, Response, request
from plotly.offline import get_plotlyjs_version

if TYPE_CHECKING:
    from collections.abc import Iterable

#: plotly.js with lines and bars only, a quarter of the whole; sent while it is of the version of the plotly in use.
CHARTS = Path(__file__).parent / "vendor" / "plotly-basic.min.js.gz"
SUITES = "/_dash-component-suites/"
#: Where the pages' library asks for the whole of plotly.js.
CHARTS_ASKED_AT = f"{SUITES}plotly/package_data/plotly.min.js"
#: Scripts that a page needs but that its library asks for only once it is drawn: beginning of the address -> scripts.
_CHARTS = (CHARTS_ASKED_AT, f"{SUITES}dash/dcc/async-graph.js")
_GRID = (f"{SUITES}dash_ag_grid/async-community.js",)
NEEDED = (("/flight/", _CHARTS), ("/aircraft/", (*_GRID, *_CHARTS)))
#: Answers larger than this are compressed [bytes].
WORTH_PACKING = 4_000
#: Scripts never change while the server runs and are packed once; answers are packed each time, so only quickly.
PACKED_ONCE, PACKED_EACH_TIME = 6, 1


def send_little(server: Flask) -> None:
    """Compress what is sent to browsers that take it, and send the charts library that the pages need."""
    packed: dict[tuple[str, str], bytes] = {}
    small = version_of(CHARTS) == get_plotlyjs_version()

    @server.before_request
    def charts() -> Response | None:
        return _charts() if small and request.path == CHARTS_ASKED_AT else None

    @server.after_request
    def pack(answer: Response) -> Response:
        if not _worth_packing(answer):
            return answer
        tag = answer.get_etag()[0]
        if request.method == "GET" and tag:
            key = (request.path, tag)
            if key not in packed:
                packed[key] = gzip.compress(_body(answer), PACKED_ONCE)
            body = packed[key]
        else:
            body = gzip.compress(_body(answer), PACKED_EACH_TIME)
        answer.set_data(body)
        answer.content_encoding = "gzip"
        answer.vary.add("Accept-Encoding")
        return answer


def version_of(charts: Path) -> str | None:
    """The version that a packed plotly.js names in its first lines, None when it names none."""
    with gzip.open(charts, "rt", encoding="utf-8") as text:
        named = re.search(r"plotly\.js \(.*?\) v(\S+)", text.read(400))
    return named and named[1]


def _worth_packing(answer: Response) -> bool:
    return (
        answer.status_code == 200
        and request.accept_encodings.quality("gzip") > 0
        and answer.content_encoding is None
        and (answer.content_length or 0) > WORTH_PACKING
        and answer.mimetype in ("text/javascript", "text/css", "application/json")
    )


def _body(answer: Response) -> bytes:
    answer.direct_passthrough = False
    return answer.get_data()


def _charts() -> Response:
    """The charts library, unpacked for the rare browser that takes nothing packed."""
    packs = request.accept_encodings.quality("gzip") > 0
    answer = Response(_charts_packed() if packs else gzip.decompress(_charts_packed()), mimetype="text/javascript")
    if packs:
        answer.content_encoding = "gzip"
    answer.vary.add("Accept-Encoding")
    answer.cache_control.no_cache = True
    answer.add_etag()
    answer.make_conditional(request)
    return answer


@cache
def _charts_packed() -> bytes:
    return CHARTS.read_bytes()


def hints(path: str, prefix: str = "") -> str:
    """Links in a page's head that let the browser fetch at once what the page will ask for later."""
    scripts: Iterable[str] = ()
    for begins, needed in NEEDED:
        if path.startswith(begins):
            scripts = needed
    links = [f'<link rel="preload" as="script" href="{prefix}{script}">' for script in scripts]
    links += [
        f'<link rel="preload" as="fetch" crossorigin="anonymous" href="{prefix}{asked}">'
        for asked in ("/_dash-layout", "/_dash-dependencies")
    ]
    return "\n".join(links)
