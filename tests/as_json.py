"""A review as scripts get it: the contract's JSON, read back."""

from __future__ import annotations

import json
from typing import Any

from analyzer.contract import flight_entry, log_entry, plain, written
from analyzer.contract_digest import digest_entry
from analyzer.contract_fleet import fleet_entry
from analyzer.contract_tails import tail_entry
from analyzer.results import flight_result, log_result
from analyzer.review import FlightReview, LogReview
from analyzer.service.digest_result import Digest
from analyzer.trends.fleet_result import FleetResult
from analyzer.trends.history import History
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail


def log_json(review: LogReview) -> Any:
    return json.loads(written(log_entry(log_result(review))))


def flight_json(review: FlightReview) -> Any:
    return json.loads(written(flight_entry(flight_result(review))))


def tail_json(tail: History | TailResult) -> Any:
    return plain(tail_entry(tail_result(review_tail(tail)) if isinstance(tail, History) else tail))


def fleet_json(fleet: FleetResult) -> Any:
    return plain(fleet_entry(fleet))


def digest_json(digest: Digest) -> Any:
    return plain(digest_entry(digest))
