"""Logs behind a URL: read by the client of its protocol, and refused by name with what to do where that cannot be."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from analyzer.logs import Refusal, Source, find_logs
from analyzer.logs.remote import name_of
from analyzer.logs.unit import content_hash

SAMPLE = Path(__file__).resolve().parents[2] / "sample_logs" / "N012LF_2026-05-02.csv"


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A server with a log, an archive and a long file."""
    (tmp_path / "log.csv").write_bytes(SAMPLE.read_bytes())
    (tmp_path / "card.zip").write_bytes(b"PK")
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(tmp_path)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()
    thread.join()


def only(url: str) -> Source | Refusal:
    """The one thing that is found behind a URL."""
    (found,) = find_logs([url])
    return found


def test_a_log_of_a_server_is_the_file_that_lies_there(address, monkeypatch):
    log = only(f"{address}/log.csv?key=secret")
    assert isinstance(log, Source)
    assert log.name == f"{address}/log.csv"
    assert (log.size(), log.read()) == (SAMPLE.stat().st_size, SAMPLE.read_bytes())
    assert content_hash(log) == Source("x", SAMPLE).content_hash()
    monkeypatch.setattr("analyzer.logs.source.MAX_LOG_BYTES", 1000)
    assert content_hash(log) == ""  # refused, counted while it is read


def test_what_is_not_there_or_no_longer_is_refused_by_name(address, tmp_path):
    found = only(f"{address}/none.csv")
    assert found == Refusal(
        f"{address}/none.csv", f"There is nothing at {address}/none.csv; check the spelling of the address."
    )
    log = only(f"{address}/log.csv")
    (tmp_path / "log.csv").unlink()
    assert isinstance(log, Source)
    with pytest.raises(Exception, match=r"^The log cannot be fetched \(.*\); check that it is still there"):
        log.read()
    assert "A zip archive is not read from afar" in only(f"{address}/card.zip").because


@pytest.mark.parametrize(
    ("url", "because"),
    [
        ("memory://a/b.csv", "This is no address of another place"),
        ("file:///etc/passwd", "This is no address of another place"),
        ("simplecache::http://a/b.csv", None),
        ("zip://x.csv::http://a/b.zip", "This is no address of another place"),
        ("https://jdoe:secret@a/b.csv", "The address holds a password"),
        ("fooo://a/b.csv", "Nothing is known that reads fooo://; check the spelling"),
        ("gcs://a/b.csv", r"No client that reads gcs:// is installed (Please install gcsfs"),
    ],
)
def test_an_address_that_cannot_be_read_is_refused_with_what_to_do(url, because):
    found = only(url)
    assert isinstance(found, Refusal)
    assert (because or "There is no file or folder") in found.because
    assert "secret" not in found.source + found.because


def test_a_path_of_this_machine_is_never_taken_for_an_address(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "There is no file or folder" in find_logs([Path("http://127.0.0.1:9/a.csv")])[0].because
    assert name_of("s3://club/odd?name.csv") == "s3://club/odd?name.csv"


def test_a_library_that_is_missing_is_said_with_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "fsspec.core", None)
    assert "pip install '.[cluster]'" in only("s3://club/a.csv").because
