"""``taper add``: read, review and keep logs."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.aircraft import FleetFileError, TailError, tail_name
from analyzer.commands.clusters import HELP, add_cluster_argument, spread_by
from analyzer.commands.columns import add_map, parse_map
from analyzer.commands.logs import READ, REFUSED, find_named, helpers_at_hand, usage
from analyzer.commands.records import (
    add_limits_argument,
    add_records_argument,
    fleet_for,
    keep_limits,
    open_named,
    renew_reviews,
    unusable,
)
from analyzer.corrections import CorrectionsError
from analyzer.logs.remote import is_url
from analyzer.phrases import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from analyzer.logs import Refusal, Source
    from analyzer.records.adding import Added
    from analyzer.records.in_order import OverLogs
    from analyzer.records.store import Store

EPILOG = """\
A log is kept once, whatever its name: adding it again changes nothing. Stop it whenever you like; a log is kept
whole or not at all, and the next run goes on.

  taper add logs/                          every log below a folder
  taper add card.zip --tail N047KT         logs that do not say whose they are
  taper add ~/recorder --watch             go on adding as logs arrive; stop with Ctrl-C
  taper add flight.csv --map bus_voltage="VOLTS 1"       a column that was taken wrongly

Columns named with --map are kept with these logs, and used again whenever they are read; a log that is kept already
is read anew with them. For all logs of an aircraft put them into the fleet file's [aircraft.TAIL.columns].

The exit status is 0 when every log is kept; 1 when one was refused; 2 for a wrong call, or a cluster that cannot be
used; 3 when the records cannot be used.

""" + HELP.format(
    example="taper add s3://club/2026 --records /shared/records --cluster tcp://10.0.0.5:8786",
    sees="""\
Folders of logs, and the records' folder, must be shared by all machines, under the same name; the workers write what
they find there, and this machine alone fills the database. Stopped, the same call goes on from what they had done.""",
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument(
        "paths", nargs="+", metavar="PATH", help="a CSV file, a folder of them, a zip archive, or an address of logs"
    )
    parser.add_argument("--tail", metavar="TAIL", help="whose logs these are")
    add_map(parser)
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft; kept with the records")
    parser.add_argument("--no-originals", action="store_true", help="do not keep the logs' own bytes")
    parser.add_argument("--watch", action="store_true", help="stay and add logs as they arrive")
    add_cluster_argument(parser)
    add_limits_argument(parser, "; kept with the records")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Add the logs; the exit status."""
    mapped, fault = parse_map(arguments.map)
    if fault := fault or _fault(arguments):
        return usage(fault)
    sources = find_named(arguments.paths)
    import_module("analyzer.records.preparing")  # what helpers do, loaded once for all that are copies of this process
    with helpers_at_hand(0 if arguments.cluster else len(sources)):
        return _add(arguments, sources, mapped)


def _add(arguments: argparse.Namespace, sources: list[Source | Refusal], mapped: dict[str, str]) -> int:
    """Add the logs that were found; the exit status."""
    from analyzer.cluster.problems import ClusterError
    from analyzer.records.adding import add_logs
    from analyzer.records.problems import RecordsError
    from analyzer.records.refusals import keep_refusals

    try:
        tail = None if arguments.tail is None else tail_name(arguments.tail)
    except TailError as problem:
        return usage(f"--tail: {problem}")
    try:
        keep_limits(arguments)
        with open_named(arguments, create=True) as store, spread_by(arguments, store.folder) as over:
            fleet = fleet_for(arguments, store, keep=True)
            adding = partial(
                add_logs, store, fleet=fleet, tail=tail, columns=mapped, keep_originals=not arguments.no_originals
            )

            def add(sources: list[Source | Refusal]) -> Added:
                done = _added(arguments, adding, sources, over, store.folder)
                keep_refusals(store, done.refused)
                sys.stderr.write(summary(done, str(store.place)))
                renew_reviews(store, _every_tail(store) if arguments.fleet else done.tails)
                return done

            added = add(sources)
            if arguments.watch:
                return _watch([Path(path) for path in arguments.paths], add, store)
    except (ClusterError, FleetFileError, CorrectionsError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    return REFUSED if added.refused else READ


def _every_tail(store: Store) -> list[str]:
    from analyzer.records.latest import tail_names

    return tail_names(store)


def _fault(arguments: argparse.Namespace) -> str | None:
    if arguments.watch and arguments.cluster is not None:
        return "--watch adds logs one by one as they arrive, for which no cluster is needed; leave --cluster out"
    if arguments.watch and any(map(is_url, arguments.paths)):
        return "--watch looks at folders of this machine, and at no address"
    return None


def _added(
    arguments: argparse.Namespace,
    adding: Callable[..., Added],
    sources: list[Source | Refusal],
    over: OverLogs,
    folder: Path,
) -> Added:
    """Add some logs; by a cluster so that a run that was stopped goes on where it was."""
    if arguments.cluster is None:
        return adding(sources, over=over)
    from analyzer.records.ledger import Ledger
    from analyzer.records.parcels import by_parcels
    from analyzer.records.store import sentences

    with sentences(folder):
        ledger = Ledger(folder, arguments.paths)
        added = adding(ledger.hashed(sources, over), over=over, over_new=by_parcels(over, folder.absolute()))
        ledger.close()
    return added


def _watch(paths: list[Path], add: Callable[[list[Source | Refusal]], object], store: Store) -> int:
    from analyzer.records.watch_status import LookNoted
    from analyzer.records.watching import watch

    sys.stderr.write("Waiting for logs; stop with Ctrl-C.\n")
    try:
        watch(paths, add, looked=LookNoted(store.folder, paths))
    except KeyboardInterrupt:
        sys.stderr.write("Stopped.\n")
    return READ


def summary(added: Added, place: str) -> str:
    """What came of it, for a person."""
    new, flights = counted(len(added.new), "new log"), counted(added.flights, "flight")
    lines = [f"{new} kept with {flights}, {len(added.kept_before)} kept already, {len(added.refused)} refused. "
             f"Records: {place}"]  # fmt: skip
    if added.made_whole:
        lines.append(f"Damaged since they were kept, and whole again: {counted(len(added.made_whole), 'log')}.")
    if added.read_anew:
        lines.append(f"Read anew with the columns named: {counted(len(added.read_anew), 'log')} kept already.")
    if added.without_tail:
        lines.append(
            f"New logs that name no aircraft: {len(added.without_tail)}; list them with 'taper assign' and say whose "
            "they are, or they belong to no trend:"
        )
        lines += [f"  {source}" for source in added.without_tail[:10]]
    lines += [f"refused: {source}: {because}" for source, because in added.refused]
    return "\n".join(lines) + "\n"
