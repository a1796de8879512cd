"""A review as scripts get it: the contract's JSON, read back."""

from __future__ import annotations

import json
from typing import Any

from analyzer.contract import flight_entry, log_entry, written
from analyzer.results import flight_result, log_result
from analyzer.review import FlightReview, LogReview


def log_json(review: LogReview) -> Any:
    return json.loads(written(log_entry(log_result(review))))


def flight_json(review: FlightReview) -> Any:
    return json.loads(written(flight_entry(flight_result(review))))
