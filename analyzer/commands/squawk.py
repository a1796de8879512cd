"""``taper squawk``: a pilot's report confirmed or refuted from the recordings."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, REFUSED, USAGE, fleet_of, over_logs, usage
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, fleet_for, open_named, until_named, unusable
from analyzer.commands.sheets import add_sheet_arguments, sheet_in_the_way
from analyzer.commands.squawk_sheets import write_squawk_sheet

if TYPE_CHECKING:
    from analyzer.service.look_up_squawk import LookedUp, SquawkRequest
    from analyzer.squawk.report import ReportError
    from analyzer.squawk.result import SquawkResult

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
The exit status is 0 when everything was searched; 1 when a log was refused or could not be re-read; 2 for
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


def run(arguments: argparse.Namespace) -> int:
    """Look a report up; the exit status."""
    from analyzer.records.problems import RecordsError
    from analyzer.service.look_up_squawk import SquawkRequest
    from analyzer.squawk.report import ReportError, report_of, symptoms_text
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
        try:
            report = report_of(" ".join(arguments.words), arguments.symptoms)
        except ReportError as problem:
            if (picked := _did_you_mean(problem, arguments)) is None:
                return USAGE
            report = report_of(" ".join(arguments.words), [picked])
        since, until = _period(arguments)
        asked = SquawkRequest(arguments.tail.upper(), report, since, until)
        return _looked_up(asked, arguments)
    except (FleetFileError, EntriesError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)


def _did_you_mean(problem: ReportError, arguments: argparse.Namespace) -> str | None:
    """Offer what words of which nothing was understood may mean; what a person at a terminal chose, else None."""
    from analyzer.squawk.known import load_symptoms
    from analyzer.squawk.suggesting import suggest

    choices = suggest(problem.unknown) if problem.unknown else ()
    if not choices:
        usage(str(problem))
        return None
    titles = load_symptoms()
    if arguments.json or not (sys.stdin.isatty() and sys.stderr.isatty()):
        lines = [f"  --symptom {name:<18} {titles[name].title}" for name in choices]
        none = "  None of these: taper squawk --symptoms lists all that can be picked."
        usage("\n".join(["These words match no symptom. Did you mean one of these? Add it to the call:", *lines, none]))
        return None
    sys.stderr.write("These words match no symptom. Did you mean:\n")
    for place, name in enumerate(choices, 1):
        sys.stderr.write(f"  {place}  {titles[name].title}\n")
    sys.stderr.write("  0  none of these\nNumber: ")
    sys.stderr.flush()
    answer = sys.stdin.readline().strip()
    if answer in map(str, range(1, len(choices) + 1)):
        return choices[int(answer) - 1]
    sys.stderr.write("Nothing was looked up; taper squawk --symptoms lists all that can be picked.\n")
    return None


def _period(arguments: argparse.Namespace) -> tuple[datetime | None, datetime | None]:
    """The moments named; a day is meant from its beginning, and to its end."""
    from analyzer.trends.entries import moment

    since = None if arguments.since is None else moment(arguments.since, datetime.now())
    return since, None if arguments.until is None else until_named(arguments.until)


def _looked_up(asked: SquawkRequest, arguments: argparse.Namespace) -> int:
    found = look_up(asked, arguments)
    if found.result is None:
        return usage(_nothing_found(asked, found.others))
    _print(found.result, arguments)
    if fault := write_squawk_sheet(arguments, found.result):
        return usage(fault)
    return REFUSED if found.refused else READ


def look_up(asked: SquawkRequest, arguments: argparse.Namespace) -> LookedUp:
    """What the logs named, else the records, say of a report; what could not be read is said on standard error."""
    from analyzer.logs import find_logs
    from analyzer.service.look_up_squawk import squawk_of_logs, squawk_of_records

    if arguments.paths:
        sources = list(find_logs(Path(path) for path in arguments.paths))
        found = squawk_of_logs(sources, asked, fleet_of(arguments), over_logs)
    else:
        with open_named(arguments) as store:
            found = squawk_of_records(store, asked, fleet_for(arguments, store), over_logs)
    for log in found.refused:
        sys.stderr.write(f"{log.source}: {log.because}\n")
    if found.nameless:
        sys.stderr.write(f"logs that name no aircraft, taken to be of {asked.tail}: {found.nameless}\n")
    return found


def _nothing_found(asked: SquawkRequest, others: frozenset[str]) -> str:
    if asked.tail in others:
        period = f" since {asked.since:%Y-%m-%d}" if asked.since else ""
        period += f" until {asked.until:%Y-%m-%d}" if asked.until else ""
        return f"no flight of {asked.tail} was found{period}; leave out --since and --until, or name others"
    from analyzer.phrases import not_found

    return not_found([asked.tail], others)


def _print(result: SquawkResult, arguments: argparse.Namespace) -> None:
    from analyzer.contract import plain
    from analyzer.contract_squawk import squawk_entry
    from analyzer.reports.cautions import CAUTIONS
    from analyzer.reports.squawk_text import squawk_text

    if arguments.json:
        document = plain(squawk_entry(result, CAUTIONS))
        print_json(document)
        return
    sys.stdout.write(squawk_text(result, CAUTIONS, since_named=arguments.since is not None))
