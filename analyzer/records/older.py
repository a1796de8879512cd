"""What earlier versions of the program kept, brought forward to what this one keeps.

Up to version 5 of the tables a flight's document and its findings were kept as the contract writes them: rounded, the
numbers behind a finding without their units, causes without their keys. What was not kept stays unknown until the
log is analysed anew (``taper rebuild``).
"""

from __future__ import annotations

import json
from typing import Any

from sqlalchemy import Connection

from analyzer.records.seals import document_seal, finding_seal
from analyzer.records.stored import clock_start


def keep_results_as_types(connection: Connection) -> None:
    """Version 5 kept results as the contract's JSON."""
    for name in ("at_least", "at_most"):
        connection.exec_driver_sql(f"ALTER TABLE measures ADD COLUMN {name} FLOAT")
    _flights(connection)
    _findings(connection)


def _flights(connection: Connection) -> None:
    rows = connection.exec_driver_sql("SELECT id, document, document_seal, from_s FROM flights").mappings().all()
    for row in rows:
        was = json.loads(row["document"])
        measured = connection.exec_driver_sql("SELECT * FROM measures WHERE flight_id = ?", (row["id"],)).mappings()
        own = measured.all()
        if row["document_seal"] not in (None, document_seal(was, own)):
            continue  # damaged: as it is it will be noticed where it is read
        now = flight_of_version_5(was)
        sealed = None if row["document_seal"] is None else document_seal(now, own)
        connection.exec_driver_sql(
            "UPDATE flights SET document = ?, document_seal = ? WHERE id = ?", (json.dumps(now), sealed, row["id"])
        )


def _findings(connection: Connection) -> None:
    rows = connection.exec_driver_sql("SELECT id, name, severity, document, seal FROM findings").mappings().all()
    for row in rows:
        was = json.loads(row["document"])
        if row["seal"] not in (None, finding_seal(row["name"], row["severity"], was)):
            continue
        now = finding_of_version_5(was)
        sealed = None if row["seal"] is None else finding_seal(row["name"], row["severity"], now)
        connection.exec_driver_sql(
            "UPDATE findings SET document = ?, seal = ? WHERE id = ?", (json.dumps(now), sealed, row["id"])
        )


def flight_of_version_5(was: dict[str, Any]) -> dict[str, Any]:
    """A flight's document as it is kept now, by what version 5 kept."""
    start = clock_start(was.get("start"), was["from_s"])
    return {
        "clock_start": None if start is None else start.isoformat(),
        "from_s": was["from_s"],
        "to_s": was["to_s"],
        "rows": was["rows"],
        "start_recorded": was.get("start_recorded", True),
        "sample_period_s": was["sample_period_s"],
        "nominal_voltage": was["nominal_voltage"],
        "ammeter": was["ammeter"],
        "ammeter_basis": was.get("ammeter_basis", "as an earlier version took it"),
        "ammeter_log_odds": was.get("ammeter_log_odds"),
        "phases": [{"name": one["phase"], "from_s": one["from_s"], "to_s": one["to_s"]} for one in was["phases"]],
        "measures": {},
        "findings": [],
    }


def finding_of_version_5(was: dict[str, Any]) -> dict[str, Any]:
    """A finding as it is kept now, by what version 5 kept."""
    told = was.get("quantities", {})
    return {
        "name": was["finding"],
        "severity": was["severity"],
        "from_s": was["from_s"],
        "to_s": was["to_s"],
        "evidence": {name: told.get(name, {"value": value, "unit": ""}) for name, value in was["evidence"].items()},
        "says": was["says"],
        "likely": [_cause(one) for one in was["likely"]],
        "check": was["check"],
    }


def _cause(was: dict[str, Any]) -> dict[str, Any]:
    return {
        "key": was.get("key", ""),
        "words": was["cause"],
        "weight": was["weight"],
        "why": was.get("why", []),
        "check": was.get("check", []),
    }
