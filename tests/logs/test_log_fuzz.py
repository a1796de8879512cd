"""Whatever the bytes, reading gives a log or one sentence, never an error."""

from __future__ import annotations

import numpy as np
import pytest
from dialect_writer import Writer, choices
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from analyzer.logs import Log, Refusal
from analyzer.logs.log import RefusedError
from analyzer.logs.read import read_log, read_or_raise
from analyzer.logs.roles import ELECTRICAL

VALID = [Writer(choice).write()[0] for choice in choices(24, seed=5)]


class InMemory:
    """A source whose bytes are at hand."""

    name = "flight.csv"

    def __init__(self, data: bytes) -> None:
        self.data = data

    def read(self) -> bytes:
        return self.data


def answer(data: bytes) -> Log | str:
    """The log, or the sentence of its refusal; a fault of the reader shows."""
    try:
        return read_or_raise(InMemory(data), {})
    except RefusedError as refused:
        return str(refused)


def check(data: bytes) -> None:
    """Reads with every fault of the reader showing; a log keeps its promises, a refusal is a sentence."""
    log = answer(data)
    if isinstance(log, str):
        assert log.endswith(".")
        assert len(log.split()) > 4
        return
    time_s = log.table["time_s"].to_numpy()
    assert time_s[0] == 0
    assert (np.diff(time_s) > 0).all()
    assert np.isfinite(time_s).all()
    assert ELECTRICAL & set(log.table.columns)
    for column in log.columns:
        values = log.table[column.role]
        assert not values.is_nan().any()
        assert not values.is_infinite().any()
    assert all(0 < row < log.rows for row in log.breaks)
    assert all(a < b for a, b in zip(log.breaks, log.breaks[1:], strict=False))


@given(st.binary(max_size=2000))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_arbitrary_bytes(data: bytes):
    check(data)


@given(st.text(alphabet=' \t\n\r,;|".:-+0123456789VvAaoltmpsTimeRPM()[]°#=/\0é', max_size=800))
@settings(max_examples=400, deadline=None, derandomize=True)
def test_arbitrary_text_of_the_characters_logs_are_made_of(text: str):
    check(text.encode())


@given(
    st.sampled_from(VALID),
    st.lists(st.tuples(st.floats(0, 1), st.binary(max_size=6), st.integers(0, 40)), min_size=1, max_size=6),
)
@settings(max_examples=300, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
def test_valid_logs_with_pieces_cut_out_and_put_in(data: bytes, changes: list[tuple[float, bytes, int]]):
    for where, piece, cut in changes:
        at = int(where * len(data))
        data = data[:at] + piece + data[at + cut :]
    check(data)


@given(st.sampled_from(VALID), st.floats(0, 1))
@settings(max_examples=100, deadline=None, derandomize=True)
def test_valid_logs_cut_off_anywhere(data: bytes, where: float):
    check(data[: int(where * len(data))])


@given(st.sampled_from(VALID), st.lists(st.integers(0, 300), min_size=2, max_size=40))
@settings(max_examples=100, deadline=None, derandomize=True)
def test_valid_logs_with_lines_in_another_order(data: bytes, order: list[int]):
    lines = data.split(b"\n")
    check(b"\n".join(lines[:6] + [lines[i % len(lines)] for i in order]) + b"\n")


def test_a_fault_of_the_reader_itself_becomes_a_refusal(monkeypatch: pytest.MonkeyPatch):
    def broken(*_: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr("analyzer.logs.read.sniff", broken)
    refused = read_log(InMemory(VALID[0]))
    assert isinstance(refused, Refusal)
    assert "report" in refused.because
