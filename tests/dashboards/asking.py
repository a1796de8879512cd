"""Plain HTTP to pages that are served: one request, its answer, nothing that a client library would put right."""

from __future__ import annotations

import http.client
import json
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any
from urllib.parse import urlsplit

CALLBACKS = "/_dash-update-component"


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes
    cookies: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    @property
    def because(self) -> str:
        return str(json.loads(self.body)["because"])


def ask(address: str, path: str, method: str = "GET", body: bytes | None = None, **headers: str) -> Answer:
    """Send one request; underscores in the headers' names stand for dashes."""
    to = urlsplit(address)
    connection = http.client.HTTPConnection(to.hostname or "", to.port, timeout=60)
    try:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        connection.putrequest(method, path, skip_host="Host" in named)
        if body is not None:
            named.setdefault("Content-Length", str(len(body)))
        for name, value in named.items():
            connection.putheader(name, value)
        connection.endheaders(body)
        answer = connection.getresponse()
        cookies = answer.headers.get_all("Set-Cookie") or []
        return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read(), cookies)
    finally:
        connection.close()


def sheet(address: str, path: str) -> Answer:
    """A sheet, asked for again as long as it is said to be still drawn, as a browser does."""
    over = time.monotonic() + 120.0
    while "refresh" in (answer := ask(address, f"/sheet/{path}")).headers:
        assert time.monotonic() < over, path
        time.sleep(0.5)
    assert answer.status == 200, path
    return answer


def call(address: str, body: Any, **headers: str) -> Answer:
    """Send a callback as the pages do."""
    data = body if isinstance(body, bytes) else json.dumps(body).encode()
    return ask(address, CALLBACKS, "POST", data, **{"Content_Type": "application/json", **headers})


def part(name: Any, prop: str, value: Any = None) -> dict[str, Any]:
    """One input or state of a callback."""
    return {"id": name, "property": prop, "value": value}


def page_call(path: Any, search: Any = "") -> dict[str, Any]:
    """The callback that marks the page in the bar."""
    return {
        "output": "bar-links.children",
        "outputs": {"id": "bar-links", "property": "children"},
        "inputs": [part("_pages_location", "pathname", path)],
        "changedPropIds": ["_pages_location.pathname"],
    }


@cache
def _content_call(address: str, cookie: str) -> dict[str, Any]:
    """The callback that gives a page's content, with no page in it yet; of ``cookie`` whoever asks is known."""
    told = {"Cookie": cookie} if cookie else {}
    dependencies = json.loads(ask(address, "/_dash-dependencies", **told).body)
    known = next(one for one in dependencies if "_pages_content.children" in one["output"])
    outputs = [one.rsplit(".", 1) for one in known["output"].strip(".").split("...")]
    return {
        "output": known["output"],
        "outputs": [{"id": name, "property": prop} for name, prop in outputs],
        "inputs": [part(one["id"], one["property"]) for one in known["inputs"]],
        "state": [part(one["id"], one["property"]) for one in known["state"]],
        "changedPropIds": ["_pages_location.pathname"],
    }


def known_call(address: str, named: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """The callback of the pages in whose outputs, inputs or states something is named, changed by its first input.

    ``values`` are by "part of an id.property"; of a pattern for many components pairs of what is open in it and its
    value.
    """
    dependencies = json.loads(ask(address, "/_dash-dependencies").body)
    known = next(one for one in dependencies if named in json.dumps(one) and not one["clientside_function"])
    keys = [one.rsplit(".", 1) for one in known["output"].removeprefix("..").removesuffix("..").split("...")]
    outputs = [{"id": json.loads(name) if name.startswith("{") else name, "property": prop} for name, prop in keys]
    inputs, state = ([_filled(one, values) for one in known[which]] for which in ("inputs", "state"))
    changed = inputs[0][0] if isinstance(inputs[0], list) else inputs[0]
    name = changed["id"] if isinstance(changed["id"], str) else json.dumps(changed["id"], separators=(",", ":"))
    return {
        "output": known["output"],
        "outputs": outputs if known["output"].startswith("..") else outputs[0],
        "inputs": inputs, "state": state, "changedPropIds": [f"{name}.{changed['property']}"],
    }  # fmt: skip


def _filled(one: Mapping[str, Any], values: Mapping[str, Any]) -> Any:
    """An input or state with its value."""
    parts = (key.rsplit(".", 1) for key in values)
    own = next((f"{name}.{prop}" for name, prop in parts if name in one["id"] and prop == one["property"]), None)
    value = values.get(own) if own else None
    if not one["id"].startswith("{"):
        return part(one["id"], one["property"], value)
    pattern = json.loads(one["id"])
    if ["ALL"] not in pattern.values():
        return part(pattern, one["property"], value)
    return [part({k: o if v == ["ALL"] else v for k, v in pattern.items()}, one["property"], its) for o, its in value]


def open_page(address: str, path: str, **headers: str) -> Answer:
    """A page's content, as a browser asks for it."""
    asked, (place, mark, query) = _content_call(address, headers.get("Cookie", "")), path.partition("?")
    values = {"pathname": place, "search": mark + query}
    filled = [one | {"value": values.get(one["property"])} for one in asked["inputs"]]
    return call(address, asked | {"inputs": filled}, **headers)


ENTRIES_OUTPUTS = (
    ("entries-list", "children"), ("entries-said", "children"), ("entries-editing", "data"),
    ("entries-mode", "children"), ("entries-undoing", "data"), ("entries-undo-place", "hidden"),
    ("entries-tail", "value"), ("entries-day", "value"), ("entries-time", "value"), ("entries-kind", "value"),
    ("entries-capacity", "value"), ("entries-words", "value"),
)  # fmt: skip


def entry_call(tail: str, words: str) -> dict[str, Any]:
    """The callback that keeps a maintenance entry."""
    return {
        "output": ".." + "...".join(f"{name}.{prop}" for name, prop in ENTRIES_OUTPUTS) + "..",
        "outputs": [{"id": name, "property": prop} for name, prop in ENTRIES_OUTPUTS],
        "inputs": [part("entries-keep", "n_clicks", 1), part("entries-undo", "n_clicks", 0), []],
        "state": [
            part("entries-of", "data"), part("entries-editing", "data", "new"), part("entries-undoing", "data"),
            part("entries-tail", "value", tail), part("entries-day", "value", "2026-05-01"),
            part("entries-time", "value", "12:00"), part("entries-kind", "value", "other"),
            part("entries-capacity", "value", ""), part("entries-words", "value", words),
        ],
        "changedPropIds": ["entries-keep.n_clicks"],
    }  # fmt: skip
