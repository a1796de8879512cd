"""``taper squawk``: a pilot's report confirmed or refuted from the recordings."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, REFUSED, fleet_of, over_logs, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, until_named, unusable
from analyzer.commands.sheets import add_sheet_arguments, sheet_in_the_way
from analyzer.commands.squawk_sheets import write_squawk_sheet

if TYPE_CHECKING:
    from analyzer.aircraft import Fleet
    from analyzer.logs import Refusal, Source
    from analyzer.squawk.document import Report
    from analyzer.squawk.examine import FlightEvidence
    from analyzer.trends.entries import Entry

#: Flights looked through, whether anything was refused, and the aircraft that there are.
Found = tuple[list["FlightEvidence"], bool, set[str]]

HELP = "confirm or refute a pilot's report from the recordings"
EPILOG = """\
The report may be in a pilot's words, or picked by name; each symptom is said to be seen, not seen though it could
have been, or not observable, with when, how often, at what load and engine speed, and what to measure first.

  taper squawk N047KT "ALT light flickered in the pattern"
  taper squawk N047KT "slow crank, five tries" --since 2026-03-01
  taper squawk N047KT --symptom voltage_high --symptom battery_heat
  taper squawk N047KT "volts high" --from logs/     straight from logs, nothing kept
  taper squawk N047KT "volts high" --sheet volts.pdf     to print and hand to a shop; .html as well
  taper squawk --symptoms                           what can be picked, and the words that mean it

Without --since it looks back 90 days from the aircraft's newest flight.
The exit status is 0 when everything was looked through; 1 when a log was refused or could not be read again; 2 for
a wrong call or a report that names no symptom."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", nargs="?", metavar="TAIL", help="the aircraft")
    parser.add_argument("words", nargs="*", metavar="WORDS", help="the report, best in quotes")
    parser.add_argument(
        "--symptom", dest="symptoms", action="append", default=[], metavar="NAME", help="pick a symptom"
    )
    parser.add_argument("--symptoms", dest="listing", action="store_true", help="list the symptoms and their words")
    parser.add_argument("--since", metavar="DATE", help="leave out flights that began before this moment")
    parser.add_argument("--until", metavar="DATE", help="leave out flights that began after this moment")
    parser.add_argument("--from", dest="paths", nargs="+", metavar="PATH", help="read these logs and keep nothing")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)
    add_sheet_arguments(parser)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a call asks for."""

    tail: str
    report: Report
    since: datetime | None
    until: datetime | None


def run(arguments: argparse.Namespace) -> int:
    """Look a report up; the exit status."""
    from analyzer.records.problems import RecordsError
    from analyzer.squawk.document import ReportError, report_of, symptoms_text
    from analyzer.trends.entries import EntriesError

    if arguments.listing:
        sys.stdout.write(symptoms_text())
        return READ
    if not arguments.tail:
        return usage('name the aircraft and the report: taper squawk N047KT "ALT light flickered"')
    missing = [path for path in arguments.paths or () if not Path(path).exists()]
    if missing and not arguments.words:
        return usage(f"{missing[0]}: no such file or folder; --from takes all names behind it, so say the words first")
    if " " in arguments.tail.strip() and not arguments.words and not arguments.symptoms:
        return usage(f'the aircraft comes first, then the report: taper squawk N047KT "{arguments.tail}"')
    if fault := sheet_in_the_way(arguments):
        return usage(fault)
    try:
        report = report_of(" ".join(arguments.words), arguments.symptoms)
        since, until = _period(arguments)
        asked = Asked(arguments.tail.upper(), report, since, until)
        return _looked_up(asked, arguments)
    except (FleetFileError, EntriesError, ReportError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)


def _period(arguments: argparse.Namespace) -> tuple[datetime | None, datetime | None]:
    """The moments named; a day is meant from its beginning, and to its end."""
    from analyzer.trends.entries import moment

    since = None if arguments.since is None else moment(arguments.since, datetime.now())
    return since, None if arguments.until is None else until_named(arguments.until)


def _looked_up(asked: Asked, arguments: argparse.Namespace) -> int:
    document, refused, others = look_up(asked, arguments)
    if document is None:
        return usage(_nothing_found(asked, others))
    _print(document, arguments.json)
    if fault := write_squawk_sheet(arguments, document):
        return usage(fault)
    return REFUSED if refused else READ


def look_up(asked: Asked, arguments: argparse.Namespace) -> tuple[dict[str, Any] | None, bool, set[str]]:
    """The squawk document, None without flights; whether a log was refused; other aircraft that were seen."""
    from analyzer.reports.cautions import CAUTIONS
    from analyzer.squawk.document import squawk_document

    evidence, refused, others = _of_logs(asked, arguments) if arguments.paths else _of_records(asked, arguments)
    if evidence:
        others.add(asked.tail)
    evidence, since = _looked_back(evidence, asked)
    if not evidence:
        return None, refused, others
    document = squawk_document(
        asked.tail, asked.report, evidence, since=since, until=asked.until,
        entries=() if arguments.paths else _entries(asked, arguments), cautions=CAUTIONS,
    )  # fmt: skip
    return document, refused, others


def _entries(asked: Asked, arguments: argparse.Namespace) -> list[Entry]:
    from analyzer.records.changing import kept_entries

    with open_named(arguments) as store:
        return [one.entry for one in kept_entries(store, asked.tail)]


def _of_logs(asked: Asked, arguments: argparse.Namespace) -> Found:
    """Flights straight from logs; a log that names no aircraft is taken to be this one's."""
    from functools import partial

    from analyzer.logs import find_logs

    evidence: list[FlightEvidence] = []
    refused, others, nameless = False, set(), 0
    work = partial(examine_log, tail=asked.tail, symptoms=asked.report.symptoms)
    sources = find_logs(Path(path) for path in arguments.paths)
    for source, tail, because, found in over_logs(work, sources, fleet_of(arguments)):
        if because is not None:
            refused = True
            sys.stderr.write(f"{source}: {because}\n")
        elif tail not in (None, asked.tail):
            others.add(str(tail))
        else:
            nameless += tail is None
            evidence += found
    if nameless:
        sys.stderr.write(f"{nameless} of the logs name no aircraft; they are taken to be of {asked.tail}\n")
    return evidence, refused, others


def examine_log(
    source: Source | Refusal, fleet: Fleet, *, tail: str, symptoms: tuple[str, ...]
) -> tuple[str, str | None, str | None, list[FlightEvidence]]:
    """Read, review and look through one log; its name, its aircraft, why it was refused, and its flights."""
    from analyzer.logs import Refusal
    from analyzer.logs.unit import source_name, whole_or_refused

    done = whole_or_refused(source_name(source), lambda: _examined(source, fleet, tail, symptoms))
    return (done.source, None, done.because, []) if isinstance(done, Refusal) else done


def _examined(
    source: Source | Refusal, fleet: Fleet, tail: str, symptoms: tuple[str, ...]
) -> tuple[str, str | None, str | None, list[FlightEvidence]]:
    from analyzer.logs import Refusal
    from analyzer.review import review_log
    from analyzer.service.read_logs import read_with
    from analyzer.squawk.examine import examine

    log = read_with(source, fleet, {})
    if isinstance(log, Refusal):
        return log.source, None, log.because, []
    if log.tail is None and (columns := fleet.of(tail).columns):
        log = read_with(source, fleet, columns)
        if isinstance(log, Refusal):
            return log.source, None, log.because, []
    whose = log.tail.upper() if log.tail else None
    if whose not in (None, tail):
        return log.source, whose, None, []
    found = []
    for number, review in enumerate(review_log(log, fleet.of(tail)).flights, 1):
        start = review.flight.clock(review.flight.from_s)
        reference = {"id": None, "source": log.source, "number": number, "start": start}
        found.append(examine(reference, review, symptoms))
    return log.source, whose, None, found


def _of_records(asked: Asked, arguments: argparse.Namespace) -> Found:
    """Flights of the records, no more of them read than are looked through."""
    from functools import partial

    from analyzer.records.kept import tails
    from analyzer.records.replay import kept_readings, newest_flight
    from analyzer.squawk.across import look_back

    evidence: list[FlightEvidence] = []
    refused = False
    with open_named(arguments) as store:
        fleet = fleet_for(arguments, store)
        since = asked.since or look_back(newest_flight(store, asked.tail), asked.until)
        sources: list[Source | Refusal] = list(kept_readings(store, asked.tail, since, asked.until))
        others = {one.tail for one in tails(store)}
        work = partial(examine_kept, symptoms=asked.report.symptoms)
        for source, because, found in over_logs(work, sources, fleet):
            if because is not None:
                refused = True
                sys.stderr.write(f"{source}: {because}\n")
            evidence += found
    return evidence, refused, others


def examine_kept(
    source: Source | Refusal, fleet: Fleet, *, symptoms: tuple[str, ...]
) -> tuple[str, str | None, list[FlightEvidence]]:
    """Look through one kept log; its name, why it could not be read again, and its flights."""
    from analyzer.logs import Refusal
    from analyzer.logs.unit import source_name, whole_or_refused

    done = whole_or_refused(source_name(source), lambda: _examined_kept(source, fleet, symptoms))
    return (done.source, done.because, []) if isinstance(done, Refusal) else (source_name(source), None, done)


def _examined_kept(source: Source | Refusal, fleet: Fleet, symptoms: tuple[str, ...]) -> list[FlightEvidence]:
    from analyzer.logs.log import RefusedError
    from analyzer.records.problems import RecordsError
    from analyzer.records.replay import KeptReadings, replay_log
    from analyzer.squawk.examine import examine

    assert isinstance(source, KeptReadings)  # nothing else is asked for
    try:
        replayed = replay_log(source, fleet.of(source.tail))
    except RecordsError as problem:
        raise RefusedError(str(problem)) from problem
    return [examine(reference, review, symptoms) for reference, review in replayed]


def _looked_back(evidence: list[FlightEvidence], asked: Asked) -> tuple[list[FlightEvidence], datetime | None]:
    """The flights of the period asked for, and where it begins.

    Flights without a clock are kept where no period is named.
    """
    from analyzer.squawk.across import look_back

    starts = [datetime.fromisoformat(one.start) for one in evidence if one.start]
    since = asked.since or look_back(max(starts, default=None), asked.until)
    named = asked.since is not None or asked.until is not None
    chosen = [
        one
        for one in evidence
        if (_in_period(datetime.fromisoformat(one.start), since, asked.until) if one.start else not named)
    ]
    return chosen, since


def _in_period(start: datetime, since: datetime | None, until: datetime | None) -> bool:
    return (since is None or start >= since) and (until is None or start <= until)


def _nothing_found(asked: Asked, others: set[str]) -> str:
    if asked.tail in others:
        period = f" since {asked.since:%Y-%m-%d}" if asked.since else ""
        period += f" until {asked.until:%Y-%m-%d}" if asked.until else ""
        return f"no flight of {asked.tail} was found{period}; leave out --since and --until, or name others"
    return f"no flight of {asked.tail} was found; aircraft found: {', '.join(sorted(others)) or 'none'}"


def _print(document: dict[str, Any], as_json: bool) -> None:
    if as_json:
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n")
        return
    from analyzer.reports.squawk_text import squawk_text

    sys.stdout.write(squawk_text(document))
