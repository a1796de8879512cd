"""How findings over many flights, trends and maintenance are written for a person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from analyzer.limits import limit_value
from analyzer.phrases import counted, fixed
from analyzer.reports.wording import MEASURE_LABELS, finding_label, number, unit_shown, with_unit
from analyzer.service.outlook_at import OutlookAt
from analyzer.trends.cold import ColdOutlook, ColdStart, ToldBy
from analyzer.trends.comparison import Compared, Difference
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.followed_tail import Present, Projection, Trend
from analyzer.trends.foretold import Came, ForecastRecord
from analyzer.trends.found_around import FoundAround
from analyzer.trends.history import FlightSpan
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import OfFlight, OpenFindings
from analyzer.trends.standing import Standing, StandingLoss
from analyzer.trends.unlogged import BATTERY, Unlogged

#: What tells how cold the coldest morning is.
_COLDEST_BY = {
    ToldBy.SETTING: "as set",
    ToldBy.LOGS: "by its own logs, which tell no night",
    ToldBy.COLDER_LOGS: "its coldest start so far, colder than set",
}


#: How a flight is named that has a day.
OF_A_DAY = "the flight of "


def flight_of(start: datetime | None, flight: int) -> str:
    """A flight by its day, or by its number in file order where it has no clock; ``flight`` counts from 0."""
    return f"{OF_A_DAY}{start:%Y-%m-%d}" if start else f"flight {flight + 1}"


def at_words(moment: datetime | None, flight: int) -> str:
    """When, behind a verb: the day, or "at flight 4" where there is no clock; ``flight`` counts from 0."""
    return f"{moment:%Y-%m-%d}" if moment else f"at flight {flight + 1}"


def raised_words(finding: TrendFinding) -> str:
    """When a finding over many flights was raised: "raised 2026-05-02, again 2026-08-11, 2026-09-01"."""
    first, *again = (at_words(one.start, one.flight) for one in finding.raisings)
    return f"raised {first}" + (f", again {', '.join(again)}" if again else "")


def lapsed_words(finding: TrendFinding) -> str:
    """When a finding over many flights ended, by the first flight that no longer shows it: "ended 2026-06-12"."""
    return "ended " + at_words(finding.lapsed_at, finding.lapsed_flight or 0)


def latest_words(latest: Iterable[OfFlight[Any]]) -> str:
    """What the latest flights show, "in the flight of 2026-09-12: Low resting voltage (caution)"; empty for nothing.

    Flights that show the same stand together.
    """
    by_flight: dict[str, list[str]] = {}
    for one in latest:
        told = f"{finding_label(one.finding.name)} ({one.finding.severity})"
        by_flight.setdefault(flight_of(one.start, one.flight), []).append(told)
    same: dict[str, list[str]] = {}
    for flight, found in by_flight.items():
        same.setdefault(", ".join(found), []).append(flight)
    return "; ".join(f"in {_flights(which)}: {found}" for found, which in same.items())


def _flights(named: Sequence[str]) -> str:
    """Flights that show the same, "the flights of 2026-08-23 and 2026-08-30"; the latest first, as they come."""
    first = named[0]
    if len(named) == 1:
        return first
    dates = [one.removeprefix(OF_A_DAY) for one in named]
    if all(one.startswith(OF_A_DAY) for one in named):
        return f"the flights of {', '.join(dates[:-1])} and {dates[-1]}"
    return f"{', '.join(named[:-1])} and {named[-1]}"


def and_more(stands: OpenFindings[Any]) -> str:
    """How many kinds of findings stand open beside the worst one's, "And 2 more."; empty when there is none."""
    others = len(stands.names) - 1
    return f"And {others} more." if others > 0 else ""


def ahead_words(reached: Projection, unit: str = "h", *, interval: bool = True) -> str:
    """The same in a sentence, "about 190 h (140 to 300)"; "140 to 300 h, too unsure for one number"."""
    one_number, ends = _one_number(reached), _ends(reached)
    if one_number is None:
        return f"{reach_words(reached, unit)}, too unsure for one number"
    told = reach_words(reached, unit) if interval and ends else some_words(one_number, unit)
    return f"about {told}" if round(one_number) else told


def reach_words(reached: Projection, unit: str = "h") -> str:
    """In how many engine hours a limit is reached, "190 h (140 to 300)"; "140 to 300 h" without one number."""
    one_number, ends = _one_number(reached), _ends(reached)
    if one_number is None:
        return f"{ends} {_many(unit)}"
    return some_words(one_number, unit) + (f" ({ends})" if ends else "")


def _ends(reached: Projection) -> str:
    """The ends of an interval, "140 to 300"; empty where they read alike, or are less than one hour or week."""
    earliest, latest = (f"{end:,.0f}" for end in (reached.earliest, reached.latest))
    return "" if earliest == latest or not round(reached.latest) else f"{earliest} to {latest}"


def _one_number(reached: Projection) -> float | None:
    """The one number that a time is told as: the likely one, or both ends where they read alike."""
    return reached.likely if _ends(reached) else reached.latest


def some_words(count: float, unit: str) -> str:
    """A length of time in whole hours or weeks, "190 h", "1 engine hour"; never none, "less than 1 week"."""
    whole = round(count)
    return counted(whole, unit, _many(unit)) if whole else f"less than 1 {unit}"


def _many(unit: str) -> str:
    return unit if unit == "h" else f"{unit}s"


def outlook_words(now: Present, unit: str) -> str:
    """Where a measure goes, "reaches 14.50 V in 190 h (140 to 300)"."""
    if now.limit is not None and (now.past or (now.projection is not None and now.projection.past)):
        return f"past its limit of {with_unit(now.limit, unit)}" + (", moving back" if now.moves_back else "")
    if not now.moves:
        return "no clear trend"
    if now.limit is not None and now.heads_untold:
        return f"heads for {with_unit(now.limit, unit)}; when cannot be told yet"
    if now.projection is None or now.limit is None:
        return "moving; no limit foreseen"
    return f"reaches {with_unit(now.limit, unit)} in {reach_words(now.projection)}"


def outlook_at_words(outlook: OutlookAt) -> list[str]:
    """What was foretold once a flight was flown, an item each limit: "Cranking voltage 8.92 V: reaches 8.40 V in 35 h".

    One sentence where none is, or nothing can be told.
    """
    told = [
        f"{MEASURE_LABELS[one.measure]} {with_unit(one.now.level, one.unit)}: {outlook_words(one.now, one.unit)}"
        for one in outlook.trends
        if one.now is not None
    ]
    if told:
        return told
    if outlook.because:
        if outlook.of is None:
            return [f"No limit can be foretold: {outlook.because}."]
        return [f"No limit can be foretold yet: {outlook.because} ({MEASURE_LABELS[outlook.of].lower()})."]
    return ["No measure lies past its limit or surely comes to one."]


def outlook_line(outlook: OutlookAt) -> str:
    """The same in a line or two, for paper: "Outlook after this flight, by the 33 flights up to it: ..."."""
    by = f", by the {counted(outlook.flights, 'flight')} up to it" if outlook.flights else ""
    told = "; ".join(words.rstrip(".") for words in outlook_at_words(outlook))
    return f"Outlook after this flight{by}: {told}."


def record_words(record: ForecastRecord | None) -> str:
    """What earlier forecasts came to, "of 12 earlier forecasts 9 held, 1 came later, 2 open"; empty without any."""
    if record is None:
        return ""
    told = [f"{record.count(Came.HELD)} held"]
    said = ((Came.SOONER, "came sooner"), (Came.LATER, "came later"), (Came.OPEN, "open"))
    told += [f"{count} {words}" for came, words in said if (count := record.count(came))]
    return f"of {counted(len(record.forecasts), 'earlier forecast')} {', '.join(told)}"


def past_words(trend: Trend) -> str:
    """That a level without a slope lies past its limit, ", past its limit of 8.40 V"; empty where it does not."""
    if trend.now is None or trend.now.limit is None or not trend.past_limit:
        return ""
    return f", past its limit of {with_unit(trend.now.limit, trend.unit)}"


def was_words(trend: Trend) -> str:
    """What a measure was before it moved, "was 5.0 min in March 2026"; empty where it stepped or nothing tells."""
    if trend.began is None or trend.changes:
        return ""
    return f"was {with_unit(trend.began.level, trend.unit)} in {trend.began.start:%B %Y}"


def trend_words(trend: Trend) -> str:
    """What the trend says, the number first: where it is, where it was, where it goes, with the intervals."""
    unit, now = trend.unit, trend.now
    if now is None:
        return f"No trend: {trend.because}."
    level = f"{with_unit(now.level, unit)} now"
    record = f" Record: {words}." if (words := record_words(trend.record)) else ""
    if (slope := now.slope) is None:
        return f"{level}{past_words(trend)}; {trend.because}.{record}"
    if not now.moves:
        ends = f"{number(slope.low, unit)} to {with_unit(slope.high, unit)}"
        return f"{level}{past_words(trend)}; no clear trend (change per 100 engine hours {ends}).{record}"
    was = was_words(trend)
    limit = f"; limit {with_unit(now.limit, unit)}" if now.limit is not None else ""
    rising = slope.per_100_h > 0.0
    low, high = (slope.low, slope.high) if rising else (-slope.high, -slope.low)
    moves = f"{'Rising' if rising else 'Falling'} {with_unit(abs(slope.per_100_h), unit)} per 100 engine hours"
    says = f"{level}{', ' + was if was else ''}{limit}. {moves} ({number(low, unit)} to {number(high, unit)})."
    if trend.past_limit:
        return f"{says} Past its limit{', moving back' if now.moves_back else ''}.{record}"
    if now.projection is None or now.limit is None:
        return (
            f"{says} When it reaches its limit cannot be told yet.{record}" if now.heads_untold else f"{says}{record}"
        )
    reached = now.projection
    chances = f"1 in 10 by {reached.one_in_ten:.0f} h, 1 in 2 by {reached.one_in_two:.0f} h"
    return f"{says} Reaches it in {ahead_words(reached, 'engine hour')}: {chances}.{record}"


def cold_words(outlook: ColdOutlook | None) -> str:
    """What starts in the cold would be, "Starts in the cold: at 0 °C 9.16 V (...)", and the chances; empty for none."""
    if outlook is None:
        return ""
    above = with_unit(outlook.limit, "V")
    levels = "; ".join(f"at {cold_air(one.air)} {_cold_level(one, outlook)}" for one in outlook.starts)
    chances = "; ".join(f"at {cold_air(one.air)} in {in_ten(one.good)}" for one in outlook.starts)
    foretold = f"Starts in the cold: {levels}. Above {above}: {chances}."
    return " ".join(filter(None, (foretold, winter_words(outlook), cold_rests_on(outlook))))


def cold_seen(outlook: ColdOutlook) -> str:
    """What the coldest start so far says of the estimate; empty where the others are too few to tell."""
    expected, seen = outlook.coldest_foretold, outlook.coldest
    if expected is None or expected.low is None or expected.high is None:
        return ""
    if seen.voltage < expected.low:
        came = "lower: take the estimate as too good"
    elif seen.voltage > expected.high:
        came = "higher, as after preheating"
    else:
        came = "within that"
    ends = f"{number(expected.low, 'V')} to {with_unit(expected.high, 'V')}"
    return f"The other starts would have made that {ends}; it was {came}."


def winter_words(outlook: ColdOutlook) -> str:
    """What a winter would be; empty where nothing tells one."""
    winter = outlook.winter
    if winter is None:
        return ""
    one = winter.coldest
    above = with_unit(outlook.limit, "V")
    told = (
        f"The coldest morning, {cold_air(one.air)} ({_COLDEST_BY[winter.told_by]}): {_cold_level(one, outlook)}. "
        f"Above {above} in {in_ten(one.good)}."
    )
    if winter.again is None:
        return told
    again = f"above {above} in {in_ten(winter.again)}"
    return f"{told} The {winter.starts} recorded starts of its last winter over again: {again}."


def cold_air(degc: float) -> str:
    """The air at a start, "-10 °C"."""
    return f"{fixed(degc)} {unit_shown('degC')}"


def cold_volts(one: ColdStart, outlook: ColdOutlook) -> str:
    """The bus under the starter, "9.16 V", where its interval is not too wide to tell."""
    if not _cold_told(one, outlook):
        return "too wide to tell"
    return with_unit(one.voltage.value, one.voltage.unit)


def cold_interval(one: ColdStart) -> str:
    """Its 95 % interval of one start, "8.03 to 10.01 V"."""
    low, high = one.voltage.low or 0.0, one.voltage.high or 0.0
    return f"{number(low, one.voltage.unit)} to {with_unit(high, one.voltage.unit)}"


def _cold_told(one: ColdStart, outlook: ColdOutlook) -> bool:
    """Whether the interval of a start is narrow enough to tell its voltage."""
    width = (one.voltage.high or 0.0) - (one.voltage.low or 0.0)
    return width <= limit_value("cold_widest") * outlook.limit


def _cold_level(one: ColdStart, outlook: ColdOutlook) -> str:
    """The bus under the starter with its interval, which may be too wide to tell."""
    return f"{cold_volts(one, outlook)} ({cold_interval(one)})"


def cold_rests_on(outlook: ColdOutlook) -> str:
    """What starts in the cold are foretold from, and when one counts as above the limit."""
    seen = outlook.coldest
    volts = with_unit(seen.voltage, "V")
    told = (
        f"An estimate from {counted(outlook.flights, 'start')}, engine not preheated: the bus while the starter turns, "
        f"and in how many starts it stays above {with_unit(outlook.limit, 'V')}. Coldest start so far: {volts} at "
        f"{cold_air(seen.air)}, {at_words(seen.at.start, seen.at.flight)}."
    )
    return " ".join(filter(None, (told, cold_seen(outlook))))


def standing_words(standing: Standing) -> str:
    """What the battery loses while the aircraft stands, as sentences, or why that cannot be told; empty for neither."""
    loss = standing.loss
    if loss is None:
        return f"Charge lost while parked: not measurable, because {standing.because}." if standing.because else ""
    drain = ""
    if loss.milliamperes is not None:
        low, high = loss.milliamperes
        drain = f", as much as a steady {low:.0f} to {high:.0f} mA"
    return (
        f"Charge lost while parked: {loss.low:.1f} to {loss.high:.1f} % a day, parked drain and self-discharge "
        f"together{drain} ({counted(loss.stands, 'parked period')}, {loss.days:.0f} days, if nobody charged it "
        f"meanwhile). {_may_stand(loss)}"
    )


def _may_stand(loss: StandingLoss) -> str:
    """How long it may stand, or that it was too low for that already."""
    if loss.weeks > 0.0:
        return f"At the upper end a start is doubtful after {stand_weeks(loss.weeks)} without a flight."
    doubtful = limit_value("stand_start_charge")
    return (
        f"How long it may stand is not told: before a flight it has rested at {doubtful:.0f} % or less, where a start "
        "is doubtful already."
    )


def unlogged_asks(one: Unlogged) -> str:
    """The question about work that nobody logged, "Was the battery replaced between 2026-05-03 and 2026-05-09?"."""
    what = "the battery replaced" if one.kind == BATTERY else "the regulator replaced or adjusted"
    first, last = one.earliest.date(), one.latest.date()
    return f"Was {what} " + (f"on {first}?" if first == last else f"between {first} and {last}?")


def unlogged_rests_on(one: Unlogged) -> str:
    """What it rests on, and that nothing rests on it before somebody who knows logs the work."""
    moved = ", ".join(
        f"{MEASURE_LABELS[own.measure].lower()} from {number(own.before, own.unit)} to {with_unit(own.after, own.unit)}"
        for own in one.measures
    )
    if one.kind == BATTERY:
        other = "A connection that was repaired, or another starter, looks much the same"
    else:
        other = "A set point that jumps though nobody worked on it is a fault"
    return (
        f"Nothing is logged, but then it stepped: {moved}. {other}. Log only what was done; until then forecasts and "
        "findings count as if nothing was. If nothing was done, log that as other work, and this is not asked again."
    )


def stand_weeks(weeks: float) -> str:
    """How long a stand may be, rounded down: "less than a day", "6 days", "3 weeks", "half a year or more"."""
    if weeks >= 26.0:
        return "half a year or more"
    if weeks < 1.0 / 7.0:
        return "less than a day"
    return counted(int(7.0 * weeks), "day") if weeks < 2.0 else counted(int(weeks), "week")


def in_ten(chance: float) -> str:
    """A chance in tenths, never none and never all of them."""
    tenths = round(10.0 * chance)
    return "fewer than 1 of 10" if tenths == 0 else "more than 9 of 10" if tenths == 10 else f"{tenths} of 10"


def work_words(entry: Entry) -> str:
    """What was done, in the words of whoever entered it, else by its kind."""
    return entry.words or kinds()[entry.kind].words


def difference_words(difference: Difference) -> str:
    """A measure before and after work, "14.43 to 13.97 V"."""
    before, after = difference.before, difference.after
    return f"{number(before.value, before.unit)} to {with_unit(after.value, after.unit)}"


def change_words(one: Compared) -> str:
    """The change by work with its 95 % interval; "times" where the measure is compared by its ratio.

    Empty where too few flights tell.
    """
    if one.difference is None:
        return ""
    change = one.difference.change
    low, high = change.low or 0.0, change.high or 0.0
    if one.by_ratio:
        return f"{change.value:.2f} times ({low:.2f} to {high:.2f})"
    ends = f"{number(low, change.unit)} to {number(high, change.unit)}"
    return f"{number(change.value, change.unit)} {unit_shown(change.unit)} ({ends})"


def span_words(span: FlightSpan | None) -> str:
    """How many flights, and from which day to which, "10 flights, 2026-02-01 to 2026-03-07"."""
    if span is None:
        return "no flight"
    return f"{counted(span.count, 'flight')}, {span.first:%Y-%m-%d} to {span.last:%Y-%m-%d}"


def found_words(findings: Iterable[FoundAround]) -> str:
    """In how many flights each finding that work can end was made before and after; empty when none was."""
    return " ".join(
        f"{finding_label(one.finding)}: found in {one.before} of {counted(one.flights_before, 'flight')} before, "
        f"in {one.after} of {one.flights_after} after."
        for one in findings
    )
