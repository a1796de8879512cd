"""``taper flight``: one kept flight with its story."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import datetime
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, usage
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.commands.sheets import add_sheet_arguments, sheet_in_the_way, write_asked_sheet

if TYPE_CHECKING:
    from analyzer.measures.alternator_quit import AlternatorQuits
    from analyzer.records.store import Store
    from analyzer.reports.sheets.document import Sheet
    from analyzer.review import FlightReview, LogReview
    from analyzer.service.outlook_at import OutlookAt
    from analyzer.service.show_flight import ShownFlight

EPILOG = """\
  taper flight N047KT                       its last flight
  taper flight N047KT 2026-03-29            the flight of a day
  taper flight N047KT "29 Mar 2026 16:04"   where the day has several
  taper flight N047KT --lesson              with where the power goes at each step, and why
  taper flight N047KT --handout lesson.pdf  the lesson to print: a page of questions, a page of answers
  taper flight N047KT --quit-at 25          what would follow if the alternator quit at its 25th minute
  taper flight N047KT --jump-start          how much charge is back, at least; never a go
  taper flight N047KT last --full           every measure, cause and reason, and why the meters do that"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    add_flight_arguments(parser)
    parser.add_argument("--full", action="store_true", help="every measure, cause and reason, and why meters do that")
    parser.add_argument("--lesson", action="store_true", help="where the power goes at each step of the story, and why")
    _add_quit_arguments(parser)
    parser.add_argument("--jump-start", action="store_true", help="how much charge is back after a jump start")
    add_sheet_arguments(parser, "--handout", "write the lesson as a handout: questions, then their answers")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def _add_quit_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of what would follow if the alternator quit."""
    quits = "with --quit-at: "
    parser.add_argument("--quit-at", type=float, metavar="MIN", help="if the alternator quit so long into the flight")
    parser.add_argument("--night", metavar="LOADS", help=f"{quits}loads added for the night; the usual ones, or none")
    parser.add_argument("--shed", metavar="LOADS", default="", help=f"{quits}loads switched off after it")
    parser.add_argument("--master-off", type=float, default=0.0, metavar="MIN", help=f"{quits}master off so long")


def add_flight_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments that name one kept flight."""
    parser.add_argument("tail", metavar="TAIL", help="whose")
    parser.add_argument("when", nargs="?", default="last", metavar="last|DATE", help="which; the last one if not said")


def run(arguments: argparse.Namespace) -> int:
    """Show the flight; the exit status."""
    from analyzer.aircraft import FleetFileError
    from analyzer.records.flight_again import NoSuchFlightError
    from analyzer.records.problems import RecordsError
    from analyzer.service.plan_endurance import PlanError
    from analyzer.trends.entries import EntriesError

    if fault := sheet_in_the_way(arguments):
        return usage(fault)
    try:
        with open_named(arguments) as store:
            shown = asked_flight(arguments, store)
            said = _asked_quit(arguments, store, shown)
            handout = _asked_handout(arguments, store, shown)
            ahead = None if _answers_alone(arguments) else _ahead(store, shown)
    except (EntriesError, NoSuchFlightError, FleetFileError, PlanError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    _show(shown.log, shown.review, said, ahead, arguments)
    fault = None if handout is None else write_asked_sheet(arguments, handout)
    return usage(fault) if fault else READ


def _answers_alone(arguments: argparse.Namespace) -> bool:
    """Whether only what was asked of the flight is told, and not the flight."""
    asked = arguments.quit_at is not None or arguments.jump_start
    return asked and not (arguments.json or arguments.full or arguments.lesson)


def _ahead(store: Store, shown: ShownFlight) -> OutlookAt | None:
    """What was foretold after the flight; None where no aircraft is named."""
    from analyzer.records.kept import fleet_kept
    from analyzer.service.outlook_at import outlook_at

    tail = shown.kept.tail
    return outlook_at(tail, fleet_kept(store), store, shown.kept.id) if tail else None


def _asked_handout(arguments: argparse.Namespace, store: Store, shown: ShownFlight) -> Sheet | None:
    """The handout, where it was asked for."""
    if arguments.sheet is None:
        return None
    from analyzer.records.flight_again import battery_known
    from analyzer.reports.sheets.handout_sheet import handout_sheet

    now = datetime.now()
    return handout_sheet(shown.kept.tail, shown.review, battery_known(store, shown.kept.tail, shown.log, now), now)


def _asked_quit(arguments: argparse.Namespace, store: Store, shown: ShownFlight) -> AlternatorQuits | None:
    """What would follow if the alternator quit, where it was asked for."""
    if arguments.quit_at is None:
        return None
    from analyzer.service.plan_endurance import named
    from analyzer.service.quit_alternator import quit_alternator

    night = None if arguments.night is None else named(arguments.night)
    return quit_alternator(
        store, shown, arguments.quit_at, datetime.now(), night, named(arguments.shed), arguments.master_off
    )


def asked_flight(arguments: argparse.Namespace, store: Store) -> ShownFlight:
    """The kept flight that the arguments name, with its log and itself judged as today.

    Raises
    ------
    EntriesError, NoSuchFlightError
        When the date is none, or no such flight is kept.
    RecordsError
        When its log is damaged.
    """
    return named_flight(store, arguments.tail, arguments.when)


def named_flight(store: Store, tail: str, when: str) -> ShownFlight:
    """A tail's kept flight of a date as a person writes it, or its "last"; otherwise as ``asked_flight``."""
    from analyzer.service.show_flight import show_flight
    from analyzer.trends.dates import date_named
    from analyzer.trends.entries import EntriesError

    moment, timed = None, False
    if when.strip().lower() != "last":
        try:
            moment, timed = date_named(when, datetime.now())
        except ValueError as problem:
            raise EntriesError(str(problem)) from None
    return show_flight(store, tail, moment, timed=timed)


def _show(
    log: LogReview,
    review: FlightReview,
    said: AlternatorQuits | None,
    ahead: OutlookAt | None,
    arguments: argparse.Namespace,
) -> None:
    from msgspec import to_builtins
    from msgspec.structs import replace

    from analyzer.contract import log_entry, written
    from analyzer.contract_outlook import outlook_at_entry
    from analyzer.measures.jump_start import charge_back
    from analyzer.measures.power_flow import power_flow
    from analyzer.reports.flight_text import head_text, short_log_text
    from analyzer.reports.quit_text import jump_text, quit_text
    from analyzer.reports.story import story
    from analyzer.reports.story_text import story_text
    from analyzer.reports.text import Style, cautions, log_text
    from analyzer.reports.trend_text import outlook_at_text
    from analyzer.results import flight_result, log_result

    result, told = replace(log_result(log), flights=(flight_result(review),)), story(review)
    step_s = review.flight.trace.step_s
    flows = [power_flow(review.flight, review.measures, one.settled_s(step_s)) for one in told]
    back = charge_back(review.flight, review.measures) if arguments.jump_start else None
    if arguments.json:
        document = {
            "contract": 1,
            "log": json.loads(written(log_entry(result))),
            "story": [to_builtins(one) | {"flow": to_builtins(flow)} for one, flow in zip(told, flows, strict=True)],
        }
        document |= {name: to_builtins(one) for name, one in (("alternator_quits", said), ("charge_back", back)) if one}
        if ahead is not None:
            document["outlook"] = to_builtins(outlook_at_entry(ahead))
        print_json(document)
        return
    style = Style.of(sys.stdout)
    flown = result.flights[0]
    answers = [] if said is None else [quit_text(said, flown.clock(said.at_s), style)]
    answers += [] if back is None else [jump_text(back, style)]
    parts = [head_text(result, flown, style) + "\n".join(answers)] if answers else []
    if not _answers_alone(arguments):
        flows = flows if arguments.lesson else []
        parts.append((log_text if arguments.full else short_log_text)(result, style))
        parts.append(story_text(told, flown.clock, style, why=arguments.full, flows=flows))
        parts += [] if ahead is None else [outlook_at_text(ahead, style)]
    else:
        parts.append("The flight itself, after the answer: --full\n")
    sys.stdout.write("\n".join([*parts, cautions(style)]))
