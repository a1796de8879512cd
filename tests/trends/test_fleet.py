"""The fleet's order, what changed, the next limit, and the spread over aircraft of one kind."""

from __future__ import annotations

from datetime import datetime

from made_histories import made

from analyzer.reports.fleet_text import fleet_text
from analyzer.reports.trend_text import trend_text
from analyzer.trends.fleet import fleet_document, fleet_spread
from analyzer.trends.review import review_tail, tail_document


def documents(*kinds: str) -> list[dict]:
    """A made tail of each kind, each with a name of its own."""
    return [
        tail_document(review_tail(made(kind, 5 + place).history)) | {"tail": f"N01{place:02d}F"}
        for place, kind in enumerate(kinds)
    ]


def test_the_aircraft_in_most_need_stands_first():
    rows = fleet_document(documents("plain", "drift_up", "ageing", "season"), {})["tails"]
    assert [row["condition"] for row in rows][-2:] == ["good", "good"]
    assert rows[0]["worst_finding"]["severity"] == rows[0]["condition"]


def test_what_changed_since_a_day_is_told():
    review = documents("step")[0]
    raised = review["findings"][0]["raised_at"]
    (row,) = fleet_document([review], {}, datetime.fromisoformat(raised))["tails"]
    assert {"when": raised, "what": "raised", "finding": "regulator_drift"} in row["changed"]
    (row,) = fleet_document([review], {}, datetime(2090, 1, 1))["tails"]
    assert row["changed"] == []


def test_the_next_limit_is_the_one_reached_first():
    (row,) = fleet_document(documents("drift_up"), {})["tails"]
    trend = documents("drift_up")[0]["trends"]["regulated_voltage"]
    assert row["next_limit"]["measure"] == "regulated_voltage"
    assert row["next_limit"]["earliest_h"] == trend["earliest_h"] <= trend["reaches_limit_in_h"] <= trend["latest_h"]


def test_the_spread_is_over_aircraft_of_one_voltage_and_names_who_stands_apart():
    trends = lambda level: {"regulated_voltage": {"level": level}}  # noqa: E731
    levels = [14.0, 14.02, 14.05, 13.98, 14.9]
    reviews = [{"tail": f"N0{i}F", "nominal_voltage": 14, "trends": trends(level)} for i, level in enumerate(levels)]
    reviews.append({"tail": "N09F", "nominal_voltage": 28, "trends": trends(28.0)})
    (spread,) = fleet_spread(reviews)
    assert (spread["tails"], spread["median"], spread["apart"]) == (5, 14.02, ["N04F"])


def test_text_says_what_the_document_says():
    reviews = documents("drift_up", "step", "battery_replaced", "instrument")
    text = trend_text(reviews)
    for review in reviews:
        assert f"{review['tail']}  condition: {review['condition']}" in text
        assert all(finding["says"].split()[0] in text for finding in review["findings"])
    assert "stepped" in text
    assert "flights before" in text
    fleet = fleet_text(fleet_document(reviews, {}, datetime(2020, 1, 1)))
    assert "reaches its limit of" in fleet
    assert "Regulated voltage drifting: raised" in fleet
    assert "airworthy" in fleet
    assert "airworthy" in text
    assert "taper add" in fleet_text(fleet_document([], {}))
