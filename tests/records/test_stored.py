"""What the records keep of a review is what the review came to: the same types, number for number."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from msgspec import structs

from analyzer.contract import flight_entry, plain
from analyzer.measures.measure import MEASURES, Assumption
from analyzer.quantity import Quantity
from analyzer.records.older import finding_of_version_5, flight_of_version_5
from analyzer.records.stored import finding_of, flight_of, kept_finding, kept_flight, kept_measures
from analyzer.results import FlightResult, flight_result
from analyzer.review import review_log
from analyzer.simulator import scenarios, simulate
from analyzer.simulator.as_log import as_log

DRAWN = ["trip_with_reset", "alternator_lost", "worn_battery", "volts_spikes", "output_fading", "left_low"]


def drawn(name: str, volts: int = 14, kind: str = "battery") -> FlightResult:
    made = scenarios.FAULTY[name](77, volts, kind)  # type: ignore[arg-type]
    recorder = replace(made.recorder, period_s=2.0)
    return flight_result(review_log(as_log(simulate(replace(made, recorder=recorder)))).flights[0])


def through_the_database(result: FlightResult) -> FlightResult:
    """The result, written as JSON text and as rows and read back."""
    document, measures, findings = (
        json.loads(json.dumps(one, allow_nan=False))
        for one in (kept_flight(result), kept_measures(result), [kept_finding(one) for one in result.findings])
    )
    return flight_of(document, measures, findings)


@pytest.mark.parametrize("name", DRAWN)
@pytest.mark.parametrize(("volts", "kind"), [(14, "battery"), (28, "alternator")])
def test_a_flight_comes_back_number_for_number(name: str, volts: int, kind: str) -> None:
    result = drawn(name, volts, kind)
    assert through_the_database(result) == result
    assert list(through_the_database(result).measures) == list(MEASURES)


def test_what_a_measure_assumes_is_kept_apart_from_its_words_and_read_from_these_in_older_records() -> None:
    result = drawn("alternator_lost")
    endurance = result.measures["endurance"]
    assert endurance.assumes == (Assumption.LEAD_ACID, Assumption.BEFORE_START)
    assert result.measures["resting_charge"].assumes == (Assumption.LEAD_ACID,)
    document, rows = kept_flight(result), kept_measures(result)
    for row in rows:
        row["note"] = None if row["note"] is None else "said otherwise; taken as lead-acid by nobody"
    assert flight_of(document, rows, ()).measures["endurance"].assumes == endurance.assumes
    del document["assumed"]  # as it was kept before
    older = flight_of(document, kept_measures(result), ())
    assert older.measures == result.measures
    assert all(not one.assumes for one in flight_of(document, rows, ()).measures.values())


@pytest.mark.parametrize(
    "clock",
    [None, datetime(2026, 3, 1, 9, 0, 0, 250_000), datetime(2026, 3, 1, 9, tzinfo=UTC),
     datetime(2026, 3, 1, 9, tzinfo=timezone(timedelta(hours=-3, minutes=-30)))],
)  # fmt: skip
def test_a_clock_comes_back_as_it_was_or_as_none(clock: datetime | None) -> None:
    result = structs.replace(drawn("left_low"), clock_start=clock)
    back = through_the_database(result)
    assert back == result
    assert (back.start is None) is (clock is None)
    if clock is not None and back.start is not None and result.start is not None:
        assert back.start.isoformat() == result.start.isoformat()


def test_what_an_earlier_version_kept_is_read_with_units_unknown() -> None:
    result = drawn("trip_with_reset")
    was = plain(flight_entry(result))
    found = was.pop("findings")
    del was["measures"]
    for one in found:
        del one["quantities"]
        one["likely"] = [{key: cause[key] for key in ("cause", "weight", "why")} for cause in one["likely"]]
    now = flight_of(flight_of_version_5(was), kept_measures(result), [finding_of_version_5(one) for one in found])
    assert now.outages == ()  # they are told once the log is judged anew
    assert structs.replace(now, findings=(), ammeter_log_odds=None) == structs.replace(
        result, findings=(), ammeter_log_odds=None, outages=()
    )
    (then,), (one,) = result.findings, now.findings
    assert (one.name, one.severity, one.says, one.check) == (then.name, then.severity, then.says, then.check)
    assert one.evidence == {name: Quantity(number.value, "") for name, number in then.evidence.items()}
    assert [(cause.words, cause.key) for cause in one.likely] == [(cause.words, "") for cause in then.likely]


def test_what_is_no_finding_is_not_taken_for_one() -> None:
    (found,) = drawn("trip_with_reset").findings
    for key, spoilt in (("name", "no_such"), ("severity", "dire"), ("from_s", "soon"), ("evidence", {})):
        with pytest.raises(ValueError, match=r"\S"):
            finding_of(kept_finding(found) | {key: spoilt})
