"""Requests that are not the pages' own, malformed or too large are refused; answers tell browsers what not to do."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlsplit

import pytest

pytest.importorskip("dash")

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dashboards.error_notices import FAULT
from dashboards.guarding import Names
from tests.dashboards.asking import ask, call, entry_call, known_call, open_page, page_call, part

MARK = "written by nobody of ours"


def entries(address: str) -> str:
    """The page of entries, as the callback of the pages' content gives it."""
    answer = open_page(address, "/entries")
    assert answer.status == 200, answer.text
    return answer.text


def test_the_pages_answer_under_their_own_names_and_no_others(pages: str) -> None:
    port = urlsplit(pages).port
    for host in (f"127.0.0.1:{port}", f"localhost:{port}", "LOCALHOST", f"[::1]:{port}"):
        assert ask(pages, "/", Host=host).status == 200, host
    for host in (
        "rebound.example",
        f"127.0.0.1.rebound.example:{port}",
        "10.1.2.3",
        "localhost@evil.example",
        "",
        "a b",
    ):
        answer = ask(pages, "/_dash-layout", Host=host)
        assert 400 <= answer.status < 500, host
        assert "bar-links" not in answer.text


def test_a_server_on_every_address_answers_to_literal_addresses_and_names_that_were_given() -> None:
    names = Names.of("0.0.0.0", ["Club.example"])
    assert all(names.hold(host) for host in ("192.0.2.7:8060", "[2001:db8::1]:8060", "club.example.", "localhost"))
    assert not any(
        names.hold(host) for host in ("club.example.evil.test", "evil.test", "", "x:y", "a/b", "club.example:1x")
    )
    only = Names.of("192.0.2.7")
    assert only.hold("192.0.2.7:8060")
    assert not only.hold("192.0.2.8:8060")


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "https://127.0.0.1"}, {"Origin": "http://localhost:1"},
        {"Sec_Fetch_Site": "cross-site"}, {"Sec_Fetch_Site": "same-site"}, {"Sec_Fetch_Site": "none"},
        {"Content_Type": "text/plain"}, {"Content_Type": "application/x-www-form-urlencoded"},
    ],
    ids=str,
)  # fmt: skip
def test_what_another_site_sends_changes_nothing(changeable_once: str, headers: dict[str, str]) -> None:
    answer = call(changeable_once, entry_call("N012LF", MARK), **headers)
    assert answer.status in (403, 415)
    assert MARK not in entries(changeable_once)


def test_what_the_pages_send_changes_what_is_kept(changeable_once: str) -> None:
    own, words = f"http://{urlsplit(changeable_once).netloc}", "sent by the pages"
    assert words not in entries(changeable_once)
    answer = call(changeable_once, entry_call("N012LF", words), Origin=own, Sec_Fetch_Site="same-origin")
    assert answer.status == 200
    assert words in entries(changeable_once)


def test_files_from_another_site_are_not_taken(pages: str) -> None:
    for headers in ({"Origin": "http://evil.example"}, {"Sec_Fetch_Site": "cross-site"}, {}):
        own = {"X_Taper": "bring-in"} if headers else {}
        assert ask(pages, "/bring-in/file?name=a.csv", "POST", b"a,b\n1,2\n", **headers, **own).status == 403


def test_another_site_reads_nothing_but_may_lead_here(pages: str) -> None:
    embedded = {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "no-cors"}
    assert ask(pages, "/_dash-layout", **embedded).status == 403
    assert ask(pages, "/sheet/flight/1.html", **embedded).status == 403
    assert ask(pages, "/", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="navigate").status == 200


def test_every_answer_tells_browsers_what_not_to_do(pages: str) -> None:
    for path in ("/", "/flight/1", "/sheet/flight/1.html", "/_dash-layout", "/sheet/flight/0.html", "/nowhere"):
        answer = ask(pages, path)
        headers = answer.headers
        assert headers["x-content-type-options"] == "nosniff", path
        assert headers["referrer-policy"] == "same-origin"
        assert headers["x-frame-options"] == "DENY"
        assert headers["cache-control"] == "no-store"
        if headers["content-type"].startswith("text/html"):
            policy = headers["content-security-policy"]
            assert "frame-ancestors 'none'" in policy
            assert "default-src 'none'" in policy
            scripts = re.search(r"script-src ([^;]*)", policy)
            assert scripts is None or not re.search("unsafe|http|\\*", scripts[1])
            assert (scripts is None) == path.startswith("/sheet"), path
    assert "server" not in headers
    assert ask(pages, "/assets/look.css").headers["x-content-type-options"] == "nosniff"


def test_addresses_that_no_page_has_are_refused(pages: str) -> None:
    for path in ("/aircraft/%00", "/sheet/flight/1%00.html", "/?a=%0d%0aSet-Cookie:x", "/" + "a" * 9000, "/%7f"):
        assert 400 <= ask(pages, path).status < 500, path[:40]
    for path in ("/_dash-component-suites/os/path.py", "/_dash-component-suites/dash/../../x", "/assets/../app.py"):
        assert ask(pages, path).status == 404, path
    for path in ("/sheet/flight/99999999999999999999.html", "/sheet/aircraft/%F0%9F%92%A9.pdf", "/sheet/flight/1.exe"):
        assert ask(pages, path).status == 404, path
    for method in ("PUT", "DELETE", "TRACE", "PATCH"):
        assert ask(pages, "/", method).status == 405


BAD: list[Any] = [
    b"", b"\xff\xfe", b"nul", b"[]", b'"a"', b"17", b'{"output": NaN}', b"[" * 100_000, b'{"a":' * 5_000,
    {}, {"output": None}, {"output": ["bar-links.children"]}, {"output": "flight-window.data"}, {"output": "\0"},
    page_call(None) | {"inputs": None}, page_call("/") | {"inputs": []}, page_call("/") | {"inputs": [[]]},
    page_call("/") | {"inputs": [None]}, page_call("/") | {"outputs": None}, page_call("/") | {"outputs": [7]},
    page_call("/") | {"changedPropIds": {}}, page_call("/") | {"changedPropIds": [[]]}, page_call({"a": 1}),
    page_call(True), page_call("/\0"), page_call("/") | {"inputs": [part("bring-keys", "data")]},
    page_call("/") | {"inputs": [part({"type": "x"}, "pathname")]}, page_call("/") | {"state": [part("a", "b")]},
    entry_call("N012LF", "a") | {"inputs": [part("entries-keep", "n_clicks", "1")] * 3},
    b'{"output": "bar-links.children", "inputs": "\\ud800"}',
]  # fmt: skip


@pytest.mark.parametrize("body", BAD, ids=range(len(BAD)))
def test_malformed_callbacks_are_refused_by_a_sentence(pages: str, body: Any) -> None:
    answer = call(pages, body)
    assert answer.status == 400
    assert answer.because.startswith("What was sent cannot be understood: ")


PICKED = {"type": "logs-pick", "log": 1}
PICKS = {"logs-pick.checked": [(1, True)], "logs-pick.id": [(1, PICKED)]}
PLAN = {
    "nominal": 14, "floor": None, "battery": None, "assumed": None, "load_more": 0.0, "held": {}, "night": [],
    "basis": {}, "own": {}, "known": {"condition": [0.8, 0.5, 1.0], "charge": [0.9, 0.8, 1.0]},
}  # fmt: skip
PLANNED = {
    "plan-load.value": 10, "plan-capacity.value": 24, "plan-charge.value": "", "plan-temperature.value": 20,
    "plan-condition.value": "", "plan-night.value": [], "plan-shed.value": [], "plan-fixed.data": PLAN,
}  # fmt: skip
CLICKED = {"aircraft-chart.clickData": [("x", {"points": [{"x": 1}]})], "aircraft-found.clickData": []}
SOUND: list[tuple[str, dict[str, Any]]] = [
    ("due-lines", {"due-page.value": 1, "due-tail.data": ""}),
    ("fleet-list.children", {"fleet-page.value": 1, "fleet-days.data": 7}),
    ("squawk-result", {"squawk-clock.n_intervals": None, "squawk-asked.data": {"tail": "N012LF"}}),
    ("plan-answer", PLANNED),
    ("logs-asked.data", PICKS),
    ("logs-going.data", PICKS),
    ("aircraft-found", CLICKED),
    ("aircraft-found", {**CLICKED, "aircraft-chart.clickData": [("x", None)]}),
    ("aircraft-found", {**CLICKED, "aircraft-chart.clickData": [("x", {"points": []})]}),
    ("_pages_content.children", {"_pages_location.pathname": "/reference", "_pages_location.search": None}),
]


@pytest.mark.parametrize(("named", "values"), SOUND, ids=range(len(SOUND)))
def test_what_the_pages_send_is_answered(pages: str, named: str, values: dict[str, Any]) -> None:
    answer = call(pages, known_call(pages, named, values))
    assert answer.status in (200, 204), answer.because
    assert FAULT not in answer.text


@pytest.mark.parametrize(
    ("named", "values"),
    [
        ("due-lines", {"due-page.value": None, "due-tail.data": ""}),
        ("due-lines", {"due-page.value": 1, "due-tail.data": None}),
        ("fleet-list.children", {"fleet-page.value": None, "fleet-days.data": 7}),
        ("squawk-result", {"squawk-asked.data": None}),
        ("squawk-result", {"squawk-asked.data": {"tail": None}}),
        ("plan-answer", {**PLANNED, "plan-fixed.data": {}}),
        ("plan-answer", {**PLANNED, "plan-fixed.data": PLAN | {"battery": "steam"}}),
        ("plan-answer", {**PLANNED, "plan-fixed.data": PLAN | {"known": {"condition": [0.8, 0.5]}}}),
        ("plan-answer", {**PLANNED, "plan-night.value": None}),
        ("logs-asked.data", {**PICKS, "logs-pick.checked": []}),
        ("logs-asked.data", {**PICKS, "logs-pick.checked": [(2, True)]}),
        ("logs-asked.data", {**PICKS, "logs-pick.id": [(1, {**PICKED, "log": 2})]}),
        ("aircraft-found", {**CLICKED, "aircraft-chart.clickData": [("x", {"a": 1})]}),
        ("aircraft-found", {**CLICKED, "aircraft-chart.clickData": [("x", {"points": [{}]})]}),
        ("_pages_content.children", {"_pages_location.pathname": None}),
        ("_pages_content.children", {"_pages_location.pathname": "=1+1"}),
    ],
    ids=str,
)
def test_values_that_the_pages_never_send_are_refused_before_they_are_used(
    pages: str, named: str, values: dict[str, Any]
) -> None:
    answer = call(pages, known_call(pages, named, values))
    assert answer.status == 400
    assert answer.because.startswith("What was sent cannot be understood: ")


def test_a_callback_too_large_is_refused(pages: str) -> None:
    assert call(pages, b" " * 2_100_000).status == 413
    many = b"%x\r\n%b\r\n" % (2_100_000, b" " * 2_100_000) + b"0\r\n\r\n"
    answer = ask(pages, "/_dash-update-component", "POST", many, Content_Type="application/json",
                 Transfer_Encoding="chunked", Content_Length="")  # fmt: skip
    assert 400 <= answer.status < 500


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=8,
)
KEYS = st.sampled_from(["output", "outputs", "inputs", "state", "changedPropIds", "parsedChangedPropsIds"])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    whole=st.sampled_from([page_call("/"), entry_call("N012LF", "a")]),
    changed=st.dictionaries(KEYS, VALUES, max_size=3),
)
def test_no_callback_that_is_sent_is_a_fault_of_the_server(pages: str, whole: Any, changed: dict[str, Any]) -> None:
    answer = call(pages, whole | changed if "output" in changed or changed else {"output": "x"})
    assert answer.status in (200, 204, 400), answer.text


FIELDS = len(entry_call("N012LF", "a")["state"])
STATES = st.lists(VALUES, min_size=FIELDS, max_size=FIELDS)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(values=STATES)
def test_values_of_another_kind_are_no_fault_of_the_server(changeable_once: str, values: list[Any]) -> None:
    whole = entry_call("N012LF", "a")
    whole["state"] = [one | {"value": value} for one, value in zip(whole["state"], values, strict=True)]
    answer = call(changeable_once, whole)
    assert answer.status in (200, 400), answer.text
