"""``taper review``: what each flight says of battery, alternator and regulator."""

from __future__ import annotations

import argparse
import json
import sys
import traceback
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer import CONTRACT
from analyzer.aircraft import Fleet, FleetFileError
from analyzer.commands.columns import add_map, parse_map
from analyzer.commands.logs import READ, REFUSED, fleet_of, over_logs, read_with, usage

if TYPE_CHECKING:
    from analyzer.logs import Refusal, Source

HELP = "say what each flight shows of battery, alternator and regulator"
EPILOG = """\
Read a flight from the top: findings first, most severe first, each with what was seen, the likeliest causes
and what to check on the ground; then the measures with their 95 % intervals; then what could not be measured
and why.

  taper review flight.csv                     one flight
  taper review logs/ --fleet fleet.toml       every log below a folder, with what is known of each aircraft
  taper review club.zip --json > out.json     for a script

The exit status is 0 when every log was read, whatever was found in it; 1 when a log was refused; 2 for a
wrong call."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("paths", nargs="+", metavar="PATH", help="a CSV file, a folder of them, or a zip archive")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    add_map(parser)
    parser.add_argument("--brief", action="store_true", help="print one line a flight and no more")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")


def run(arguments: argparse.Namespace) -> int:
    """Review the logs; the exit status."""
    try:
        fleet = fleet_of(arguments)
    except FleetFileError as problem:
        return usage(str(problem))
    mapped, fault = parse_map(arguments.map)
    if fault:
        return usage(fault)
    from functools import partial

    from analyzer.logs import find_logs

    sources = find_logs(Path(path) for path in arguments.paths)
    documents = over_logs(partial(review_source, mapped=mapped), sources, fleet)
    return _print_json(documents) if arguments.json else _print_text(documents, arguments.brief)


def review_source(source: Source | Refusal, fleet: Fleet, mapped: Mapping[str, str]) -> dict[str, Any]:
    """Read and review one log; its entry of the result, so that little travels between processes."""
    from analyzer.logs import Refusal
    from analyzer.review import log_document, refusal_document, review_log

    log = read_with(source, fleet, mapped)
    if isinstance(log, Refusal):
        return refusal_document(log)
    try:
        return log_document(review_log(log, fleet.of(log.tail)))
    except Exception as fault:  # one log that the program cannot cope with must not cost the others
        return refusal_document(Refusal(log.source, program_fault(fault)))


def program_fault(fault: Exception) -> str:
    """The sentence for a log on which the program itself fails, with the place for whoever mends it."""
    place = traceback.extract_tb(fault.__traceback__)[-1]
    where = f"{Path(place.filename).name}, line {place.lineno}"
    return (
        f"The log was read, but the program failed on it ({where}: {fault}); this is a fault of the program, "
        "not of the log: please report it with the log. Other logs are not affected."
    )


def _print_json(documents: Any) -> int:
    refused = False
    sys.stdout.write(f'{{"contract": {CONTRACT}, "logs": [')
    for number, document in enumerate(documents):
        refused |= document["state"] == "refused"
        sys.stdout.write(",\n" if number else "\n")
        sys.stdout.write(json.dumps(document, allow_nan=False))
    sys.stdout.write("\n]}\n")
    return REFUSED if refused else READ


def _print_text(documents: Any, brief: bool) -> int:
    from analyzer.reports.text import Style, brief_lines, closing, log_text

    style = Style.of(sys.stdout)
    lines: list[str] = []
    logs = flights = refused = 0
    for document in documents:
        logs += 1
        flights += len(document["flights"])
        refused += document["state"] == "refused"
        lines += brief_lines(document, style)
        if not brief:
            sys.stdout.write(log_text(document, style) + "\n")
            sys.stdout.flush()
    if brief or logs > 1:
        sys.stdout.write("\n".join(lines) + "\n\n")
    sys.stdout.write(closing(logs, flights, refused, style))
    return REFUSED if refused else READ
