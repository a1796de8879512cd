"""What of the logs that wait is kept already is asked once for each, and again once the records have changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

pytest.importorskip("dash")

from analyzer.logs import Source
from analyzer.records.copies import FlightOfLog
from dashboards import here_already
from dashboards.here_already import HereAlready
from dashboards.staging import Staged

KEPT = FlightOfLog(1, "N0012T", None, "kept.csv")
THEN = FlightOfLog(2, "N0012T", None, "longer.csv")


class Records:
    """Records in which the log of the digest "kept" is, and that note what they are asked."""

    def __init__(self) -> None:
        self.asked: list[list[str]] = []
        self.flown: list[str] = []

    def same_bytes(self, digests: Sequence[str]) -> dict[str, list[FlightOfLog]]:
        self.asked.append(list(digests))
        return {"kept": [KEPT]} if "kept" in digests else {}

    def flown_then(self, one: Staged) -> list[FlightOfLog]:
        self.flown.append(one.key)
        return [THEN]


def waiting(key: str, digest: str) -> Staged:
    return Staged(key, f"{key}.csv", Source(f"{key}.csv", Path()), digest=digest)


def test_each_log_is_asked_for_once_and_again_when_the_records_or_its_aircraft_have_changed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    records, here = Records(), HereAlready()
    logs = [waiting("a", "kept"), waiting("b", "other"), waiting("c", "")]

    def told(marks: tuple[int, ...] = (1,)) -> dict[str, tuple[bool, tuple[FlightOfLog, ...]]]:
        found = here.of(logs, marks, records.same_bytes, records.flown_then)
        return {key: (one.same, one.flights) for key, one in found.items()}

    answer = {"a": (True, (KEPT,)), "b": (False, (THEN,))}
    assert told() == told() == answer
    assert (records.asked, records.flown) == ([["kept", "other"]], ["b"])
    logs[2] = waiting("c", "third")  # it has been read
    assert told() == answer | {"c": (False, (THEN,))}
    assert (records.asked, records.flown) == ([["kept", "other"], ["third"]], ["b", "c"])
    logs[1] = replace(logs[1], named="N0099Z")
    told()
    assert (records.asked[2:], records.flown) == ([["other"]], ["b", "c", "b"])
    told((2,))
    assert len(records.asked) == 3, "what was asked just now holds beside an import"
    monkeypatch.setattr(here_already, "FRESH_S", 0.0)
    told((2,))
    assert records.asked[3:] == [["kept", "other", "third"]]
