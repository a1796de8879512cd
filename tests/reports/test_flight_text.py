"""A flight in short: no more lines than promised, no wider than the terminal, and the graver things first."""

from __future__ import annotations

import re
from itertools import cycle, islice

import pytest
from msgspec.structs import replace

from analyzer.findings.causes import weigh_causes
from analyzer.findings.finding import OF_ONE_FLIGHT, Finding, FindingName, Severity
from analyzer.measures.measure import MEASURES, Assumption, Measure, measured, not_measurable
from analyzer.quantity import volts
from analyzer.reports.flight_text import MEASURES_SHOWN, MOST_LINES, TELLING_OF, short_log_text, telling_measures
from analyzer.reports.text import Style, shortened
from analyzer.reports.wording import MEASURE_LABELS, finding_label, measure_label, measure_words, notes_of
from analyzer.results import FlightResult, LogResult

PLAIN = Style(colour=False)


def found(name: FindingName, severity: Severity, words: int = 30) -> Finding:
    says = " ".join(islice(cycle(["The", "bus", "stood", "at", "12.3", "V"]), words)) + "."
    _, check = weigh_causes(name, {})
    return Finding(name, severity, 60.0, 180.0, {"limit": volts(16.0)}, says, check=check)


def flight_of(findings: tuple[Finding, ...] = (), missing: int = 6, **values: float) -> FlightResult:
    names = list(MEASURES)
    measures: dict[str, Measure] = {
        name: not_measurable(name, "it was not recorded")
        if place >= len(names) - missing
        else measured(name, values.get(name, 10.0), 9.0, 11.0)
        for place, name in enumerate(names)
    }
    return FlightResult(None, 0.0, 600.0, 601, True, 1.0, 14, "none", "no column", None, (), measures, findings)


def log_of(
    flight: FlightResult, warnings: tuple[str, ...] = ("row 812: 'abc' is not a number; left blank",)
) -> LogResult:
    return LogResult("a/rather/long/name/of/a/file.csv", None, "N012AB", warnings, (flight,))


def lines_of(flight: FlightResult) -> list[str]:
    return short_log_text(log_of(flight), PLAIN).splitlines()


@pytest.mark.parametrize("count", range(len(OF_ONE_FLIGHT) + 1))
def test_a_flight_takes_fifteen_lines_at_most_however_much_was_found(count: int) -> None:
    findings = tuple(found(name, Severity.CAUTION) for name in islice(OF_ONE_FLIGHT, count))
    lines = lines_of(flight_of(findings))
    assert len(lines) <= MOST_LINES == 15
    text = " ".join(lines)
    assert ("Nothing found" in text) == (not count)
    told = [finding_label(one.name) for one in findings]
    assert all(label in text for label in told[:2]), "the gravest are always named"
    if findings:
        assert f"First check: {findings[0].check[0]}" in " ".join(line.strip() for line in lines)
    more = re.search(r"(\d+) more finding", text)
    assert text.count("CAUTION: ") + (int(more[1]) if more else 0) == count, "none is dropped without a word"


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 6])
def test_each_of_six_findings_tells_its_own_number(count: int) -> None:
    findings = tuple(
        replace(
            found(name, Severity.CAUTION), evidence={"limit": volts(10.0 + place)}, says=f"{10.0 + place:g} V. " * 9
        )
        for place, name in enumerate(islice(OF_ONE_FLIGHT, count))
    )
    lines = lines_of(flight_of(findings))
    assert len(lines) <= MOST_LINES
    assert [place for place in range(count) if f"{10 + place} V" not in " ".join(lines)] == []


def test_a_long_note_is_cut_where_a_clause_ends_and_says_where_the_rest_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    note = "the alternator ammeter shows -0.8 A with the engine stopped; this zero error was taken out of it"
    last = short_log_text(log_of(flight_of(), (note,)), PLAIN).splitlines()[-1]
    assert last == f"  Note: {note.split(';')[0]} (more: --full)"


def test_a_line_is_cut_at_the_end_of_a_word() -> None:
    assert shortened("Charging current never settles, Low resting voltage", 41) == (
        "Charging current never settles, Low..."
    )
    assert shortened("one two", 7) == "one two"
    assert shortened("one two three", 10) == "one two..."
    assert shortened("one two, three", 12) == "one two..."
    assert shortened("a" * 20, 10) == "a" * 7 + "..."


@pytest.mark.parametrize("columns", [40, 60, 80, 132])
def test_no_line_is_wider_than_the_terminal(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    findings = tuple(found(name, Severity.WARNING) for name in OF_ONE_FLIGHT)
    assert max(len(line) for line in lines_of(flight_of(findings))) <= min(columns, 100)
    monkeypatch.setenv("COLUMNS", "100")
    assert max(len(line) for line in lines_of(flight_of(findings))) > min(columns, 90)


def test_the_measures_of_the_findings_come_first_and_there_are_five() -> None:
    flight = flight_of((found(FindingName.WEAK_CRANKING, Severity.CAUTION),), missing=1)
    names = telling_measures(flight)
    assert len(names) == MEASURES_SHOWN == 5
    assert names[: len(TELLING_OF[FindingName.WEAK_CRANKING])] == list(TELLING_OF[FindingName.WEAK_CRANKING])
    text = " ".join(" ".join(lines_of(flight)).split())
    for name in names:
        assert f"{MEASURE_LABELS[name]} {measure_words(flight.measures[name])}" in text


def test_a_loss_of_no_minutes_is_not_one_of_the_five_and_what_is_missing_is_named_or_counted() -> None:
    flight = flight_of((found(FindingName.ALTERNATOR_OFFLINE, Severity.CAUTION),), offline_time=0.0)
    flight = replace(flight, measures=dict(flight.measures) | {"offline_time": measured("offline_time", 0.0, 0.0, 0.0)})
    assert "offline_time" not in telling_measures(flight)
    (line,) = [line for line in lines_of(flight) if "Not measurable" in line]
    named = sum(MEASURE_LABELS[name].lower() in line for name in flight.unmeasured)
    more = re.search(r"and (\d+) more", line)
    assert named + (int(more[1]) if more else 0) == len(flight.unmeasured)
    assert "--full" in line


def test_every_finding_has_its_measures_and_they_exist() -> None:
    assert TELLING_OF.keys() == set(OF_ONE_FLIGHT)
    assert {name for names in TELLING_OF.values() for name in names} <= MEASURES.keys()


def test_a_log_that_was_refused_says_why_and_notes_are_counted() -> None:
    assert "Refused: nothing in it" in short_log_text(LogResult("a.csv", "nothing in it", None, (), ()), PLAIN)
    last = short_log_text(log_of(flight_of(), ("first", "second", "third")), PLAIN).splitlines()[-1]
    assert last == "  Note: first (2 more: --full)"


def test_an_endurance_with_the_charge_that_was_there_before_a_loss_says_so() -> None:
    rest = ["at the steady load of 22 A", Assumption.BEFORE_START]
    told = measured("endurance", 40.0, 23.0, 85.0, [Assumption.LEAD_ACID, *rest])
    assert measure_words(told) == "23 min (up to 85) (taken as lead-acid, with the charge before the start)"
    known = measured("endurance", 40.0, 23.0, 85.0, rest)
    assert measure_words(known) == "23 min (up to 85) (with the charge before the start)"
    assert (told.quantity(0).assumed, known.quantity(0).assumed) == (True, False)
    without = measured("endurance", 40.0, 23.0, 85.0, "at the steady load of 22 A")
    labels = [measure_label(one) for one in (told, known, without)]
    assert labels == ["Endurance before this flight", "Endurance before this flight", "Endurance to plan on"]
    assert list(notes_of([known]).values()) == [["endurance before this flight"]]
