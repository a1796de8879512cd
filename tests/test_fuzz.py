"""A short run of the fuzzer, the inputs that it found once, and that it does find what is broken."""

from __future__ import annotations

import pytest

from tests import fuzz


@pytest.mark.parametrize("path", sorted(fuzz.FOUND.glob("*.bin")), ids=lambda path: path.stem)
def test_what_was_found_once_is_answered(path):
    _, fault = fuzz.tried(path.stem.split("-")[0], path.read_bytes())
    assert fault is None


def test_a_short_run_finds_nothing():
    done = fuzz.run(seconds=120.0, seed=20260726, most=240)
    assert done.tried >= 240
    assert [fault.how for fault in done.faults.values()] == []
    assert done.ways["log"] > 25
    assert done.ways["entries"] > 5


def test_the_fuzzer_finds_a_reader_that_breaks_and_makes_its_input_small(monkeypatch):
    def breaks(data: bytes) -> str:
        if b"-1," in data or b",-1" in data:
            raise IndexError("list index out of range")
        return "read"

    monkeypatch.setitem(fuzz.TARGETS, "log", (breaks, fuzz.TARGETS["log"][1]))
    done = fuzz.run(seconds=30.0, seed=1, only=["log"], most=400)
    (fault,) = done.faults.values()
    less = fuzz.smaller(fault)
    assert b"-1" in less.data
    assert less.data.count(b"\n") == 0
    assert fuzz.tried("log", less.data)[1] is not None
