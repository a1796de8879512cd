"""The server goes on for others whatever one client does, and stops when it is asked to."""

from __future__ import annotations

import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import urlsplit

import pytest

pytest.importorskip("dash")

from dashboards import background
from dashboards.background import Once, StillWorkingError, Workers
from dashboards.connections import THREADS
from tests.browser import ROOT
from tests.dashboards.asking import ask, open_page, page_call
from tests.dashboards.asking import call as sent

LOG = ROOT / "sample_logs" / "N012LF_2026-05-09.csv"


@contextmanager
def started(records: Path, *more: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """A server of its own, and its process."""
    command = [sys.executable, "-m", "analyzer", "serve", "--records", str(records), "--port", "0", *more]
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        found = re.search(r"https?://\S+", process.stderr.readline())
        assert found
        try:
            yield found.group(0).rstrip("/"), process
        finally:
            if process.poll() is None:
                process.kill()


def test_a_server_looks_for_garbage_as_often_as_python_by_itself() -> None:
    """Though the command that starts it looks seldom: what questions leave in rings would gather for days."""
    told = (
        "import gc; from dashboards.memory import keep_memory_together; usual = gc.get_threshold()[0];"
        "gc.set_threshold(50_000); keep_memory_together(); print(gc.isenabled(), gc.get_threshold()[0] <= usual)"
    )
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.split() == ["True", "True"]


def half_open(address: str, count: int, begun: bytes) -> list[socket.socket]:
    """Connections whose requests never become whole."""
    to = urlsplit(address)
    made = [socket.create_connection((to.hostname or "", to.port or 0), timeout=20) for _ in range(count)]
    for one in made:
        with suppress(OSError):  # the server may have closed it for a later one already
            one.sendall(begun)
    return made


def test_what_was_worked_out_and_never_fetched_is_not_handed_out_much_later(monkeypatch: pytest.MonkeyPatch) -> None:
    workers = Workers(1, "trying")
    once, made, goes_on = Once(workers, "still"), iter(range(10)), threading.Event()
    with pytest.raises(StillWorkingError):
        once.get("key", lambda: goes_on.wait() and next(made), patience_s=0.01)
    goes_on.set()
    workers.submit(lambda: None).result(timeout=30.0)  # the only thread has done what came before
    clock = time.monotonic
    monkeypatch.setattr(background.time, "monotonic", lambda: clock() + background.FRESH_S + 1.0)
    assert once.get("key", lambda: next(made), patience_s=10.0) == 1
    workers.close()


@pytest.mark.parametrize(
    "begun", [b"", b"GET / HTTP/1.1\r\nHost: ", b"POST /_dash-update-component HTTP/1.1\r\nContent-Length: 99\r\n\r\n{"]
)
def test_connections_that_never_ask_shut_nobody_out(pages: str, begun: bytes) -> None:
    waiting = half_open(pages, 450, begun)
    try:
        began = time.monotonic()
        assert ask(pages, "/_dash-layout").status == 200
        assert time.monotonic() - began < 10.0
    finally:
        for one in waiting:
            one.close()


def test_a_request_that_drips_in_is_given_up(pages: str) -> None:
    (one,) = half_open(pages, 1, b"GET / HTTP/1.1\r\nHost: localhost\r\n")
    began = time.monotonic()
    with one, suppress(OSError):
        while time.monotonic() - began < 60.0:
            one.sendall(b"X-A: b\r\n")  # never the empty line that ends a head
            time.sleep(0.5)
    assert 10.0 < time.monotonic() - began < 40.0


def test_who_is_refused_while_sending_still_reads_why(pages: str) -> None:
    head = b"POST /_dash-update-component HTTP/1.1\r\nHost: %b\r\nContent-Length: 3000000\r\n\r\n"
    (one,) = half_open(pages, 1, head % urlsplit(pages).netloc.encode())
    with one:
        for _ in range(30):
            one.sendall(b" " * 100_000)
            time.sleep(0.02)
        assert b" 413 " in one.recv(1_000).splitlines()[0]
        one.settimeout(20)
        while one.recv(10_000):  # until the server has closed its side
            pass


@pytest.mark.parametrize(
    ("version", "lengths"),
    [
        ("1.1", "Content-Length: 4\r\nTransfer-Encoding: chunked"),
        ("1.1", "Transfer-Encoding: chunked\r\nContent-Length: 4"),
        ("1.1", "Transfer-Encoding:\tchunked\r\nContent-Length: 5"),
        ("1.0", "Transfer-Encoding: chunked"),
    ],
)
def test_a_request_of_two_lengths_ends_its_connection(pages: str, version: str, lengths: str) -> None:
    """RFC 9112, 6.1 and 6.3: what a proxy takes as one request and the server as two is somebody else's request."""
    host = f"Host: {urlsplit(pages).netloc}\r\n"
    first = f"POST /_dash-update-component HTTP/{version}\r\n{host}Connection: keep-alive\r\n{lengths}\r\n\r\n0\r\n\r\n"
    (one,) = half_open(pages, 1, f"{first}GET /_dash-layout HTTP/1.1\r\n{host}\r\n".encode())
    with one:
        one.settimeout(20)
        told = b"".join(iter(lambda: one.recv(65_536), b""))
    assert re.findall(rb"HTTP/1\.[01] (\d+)", told) == [b"400"]


@pytest.mark.parametrize("asked", [signal.SIGINT, signal.SIGTERM])
def test_it_stops_in_ten_seconds_while_reading_and_answering(demo: Path, tmp_path: Path, asked: int) -> None:
    shutil.copytree(demo, tmp_path / "records")
    body = tmp_path / "many.zip"
    with zipfile.ZipFile(body, "w") as archive:
        for number in range(60):
            archive.write(LOG, f"{number}.csv")
    with started(tmp_path / "records") as (address, process):
        waiting = half_open(address, 20, b"GET / HTTP/1.1\r\n")
        answer = ask(address, "/bring-in/file?name=many.zip", "POST", body.read_bytes(), X_Taper="bring-in")
        assert answer.status == 200, answer.text
        sheets = threading.Thread(target=lambda: _tried(address, "/sheet/aircraft/N012LF.pdf"), daemon=True)
        sheets.start()
        time.sleep(1.0)
        began = time.monotonic()
        process.send_signal(asked)
        said = process.communicate(timeout=30)[1]
        assert time.monotonic() - began < 10.0
        assert process.returncode == 0
        assert "Traceback" not in said
        for one in waiting:
            one.close()


def _tried(address: str, path: str) -> None:
    with suppress(OSError):  # the server stops meanwhile
        ask(address, path)


def test_hostile_archives_are_refused_by_a_sentence_in_little_memory(pages: str, tmp_path: Path) -> None:
    bomb, many, line = tmp_path / "bomb.zip", tmp_path / "many.zip", tmp_path / "line.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("a.csv", "w") as member:
        for _ in range(510):
            member.write(bytes(1_000_000))
    with zipfile.ZipFile(many, "w") as archive:
        for number in range(20_000):
            archive.writestr(f"{number}.csv", "a")
    for path, words in ((bomb, "MB together"), (many, "20,000 files")):
        answer = ask(pages, f"/bring-in/file?name={path.name}", "POST", path.read_bytes(), X_Taper="bring-in")
        assert answer.status == 400
        assert words in answer.because
    with zipfile.ZipFile(line, "w", zipfile.ZIP_DEFLATED) as archive, archive.open("a.csv", "w") as member:
        for _ in range(30):
            member.write(b"7" * 1_000_000)
    answer = ask(pages, "/bring-in/file?name=line.zip", "POST", line.read_bytes(), X_Taper="bring-in")
    assert answer.status == 200
    assert ask(pages, "/bring-in/file?name=a.exe", "POST", b"MZ", X_Taper="bring-in").status == 400
    assert ask(pages, "/bring-in/file?name=", "POST", b"a,b\n", X_Taper="bring-in").status == 200


def test_fifty_people_ask_at_once_without_an_error(pages: str) -> None:
    paths = ("/", "/_dash-layout", "/_dash-dependencies", "/assets/look.css", "/flight/1")
    answers: list[int] = []

    def person(number: int) -> None:
        for turn in range(4):
            answers.append(ask(pages, paths[(number + turn) % len(paths)]).status)
            answers.append(sent(pages, page_call("/")).status)

    people = [threading.Thread(target=person, args=(number,)) for number in range(50)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert len(answers) == 400
    assert set(answers) == {200}


def test_many_open_different_flights_at_once_and_each_gets_its_own(pages: str) -> None:
    answers: dict[int, str] = {}

    def person(number: int) -> None:
        answers[number] = open_page(pages, f"/flight/{number}").text

    people = [threading.Thread(target=person, args=(number,)) for number in range(1, 15)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert len(answers) == 14
    for number, text in answers.items():
        assert f"sheet/flight/{number}.pdf" in text.replace("\\u002f", "/"), text[:500]


def test_who_waits_for_long_work_leaves_threads_for_others() -> None:
    kinds = 3  # of the fleet, of one flight, sheets
    assert kinds * background.WAITING + 24 <= THREADS


def test_long_work_is_done_once_and_waited_for_a_while() -> None:
    done: list[int] = []
    go = threading.Event()

    def work() -> int:
        go.wait(20)
        done.append(1)
        return 7

    once = Once(Workers(1, "test"), "still at it")
    with pytest.raises(StillWorkingError, match="still at it"):
        once.get("key", work, 0.05)
    go.set()
    assert once.get("key", work, 20.0) == 7
    assert done == [1]


def test_who_asks_for_much_and_a_server_that_is_asked_for_much_are_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(background, "MOST_OF_ONE", 1)
    go, workers = threading.Event(), Workers(1, "test")
    once = Once(workers, "still at it")
    with pytest.raises(StillWorkingError, match="still at it"):
        once.get("first", lambda: go.wait(20), 0.0, "one")
    with pytest.raises(StillWorkingError, match="your other requests"):
        once.get("second", lambda: go.wait(20), 0.0, "one")
    monkeypatch.setattr(background, "MOST_WAITING", 0)
    with pytest.raises(StillWorkingError, match="that came before yours"):
        once.get("third", lambda: go.wait(20), 0.0, "another")
    go.set()
    workers.close()


def test_what_fails_in_the_background_is_raised_where_it_is_asked_for() -> None:
    once = Once(Workers(1, "test"), "still at it")
    with pytest.raises(ZeroDivisionError):
        once.get("key", lambda: 1 // 0)
