"""What commands on the records share: the argument, opening, the fleet file."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, TypeVar

from analyzer.aircraft import Fleet, FleetFileError
from analyzer.commands.logs import over_logs
from analyzer.phrases import counted

if TYPE_CHECKING:
    from datetime import datetime

    from analyzer.records.store import Store

T = TypeVar("T")

#: Exit status when the records cannot be used.
UNUSABLE = 3


def add_records_argument(parser: argparse.ArgumentParser) -> None:
    """The argument that says where the records are."""
    parser.add_argument(
        "--records",
        metavar="DIR",
        help="folder of the records (else TAPER_RECORDS, else a folder of your own), or a PostgreSQL database with its "
        "folder: postgresql://USER@HOST/NAME?files=DIR",
    )


def add_limits_argument(parser: argparse.ArgumentParser, kept: str = "") -> None:
    """The argument that names corrections to what this program ships."""
    told = "corrected thresholds, weights of causes and words (see taper explain --help)"
    parser.add_argument("--limits", metavar="FILE.toml", help=f"{told}{kept}")


def judge_as_corrected(arguments: argparse.Namespace) -> None:
    """Put the corrections in effect that were named, else those beside the records, for logs that are not kept.

    Raises
    ------
    CorrectionsError
        When they cannot be used.
    """
    from pathlib import Path

    from analyzer.corrections import CORRECTIONS, put_in_effect
    from analyzer.records.place import records_folder

    beside = records_folder() / CORRECTIONS
    if not arguments.limits and not beside.exists():
        return
    from analyzer.corrections_file import read_corrections

    path = Path(arguments.limits) if arguments.limits else beside
    put_in_effect(read_corrections(path))
    if not arguments.limits:
        sys.stderr.write(f"taper: judged with the corrections in {path}\n")


def keep_limits(arguments: argparse.Namespace) -> None:
    """Keep the corrections that were named beside the records, before these are opened.

    Raises
    ------
    CorrectionsError
        When they cannot be used.
    RecordsError
        When they cannot be kept.
    """
    if not arguments.limits:
        return
    from pathlib import Path

    from analyzer.corrections import CORRECTIONS
    from analyzer.corrections_file import read_corrections
    from analyzer.records.changes import note
    from analyzer.records.durable import make_folder, write_whole
    from analyzer.records.place import records_place
    from analyzer.records.store import are_there, open_records, sentences
    from analyzer.small_files import read_bytes

    read_corrections(Path(arguments.limits))
    place = records_place(arguments.records)
    folder, there = place.folder, are_there(place)  # nothing is written into a folder that is another's
    path, data = folder / CORRECTIONS, read_bytes(Path(arguments.limits))
    with sentences(folder):
        make_folder(folder)
        before = path.read_bytes() if path.exists() else None
        write_whole(path, data)
    if before != data and there:
        with open_records(place) as store, store.writing() as connection:
            told = [None if one is None else {"text": one.decode("utf-8", "replace")} for one in (before, data)]
            note(connection, store.person, "corrections changed", CORRECTIONS, before=told[0], after=told[1])


def open_named(arguments: argparse.Namespace, *, create: bool = False) -> Store:
    """Open the records that the arguments name.

    Raises
    ------
    RecordsError
        When there are none, or they cannot be used.
    """
    from analyzer.records.keeping import finish_forgetting
    from analyzer.records.place import records_place
    from analyzer.records.store import open_records

    store = open_records(records_place(arguments.records), create=create)
    if told := finish_forgetting(store):
        sys.stderr.write(f"taper: {told}\n")
    return store


def fleet_for(arguments: argparse.Namespace, store: Store, *, keep: bool = False) -> Fleet:
    """The fleet file that was given, else the one kept with the records; ``keep`` keeps the one given.

    Raises
    ------
    FleetFileError
        When it cannot be used.
    RecordsError
        When it cannot be kept.
    """
    from pathlib import Path

    from analyzer.commands.logs import fleet_of
    from analyzer.records.histories import fleet_kept

    if not arguments.fleet:
        return fleet_kept(store)
    fleet = fleet_of(arguments)
    if keep:
        from analyzer.records.correcting import keep_fleet_file

        keep_fleet_file(store, Path(arguments.fleet).read_bytes())
    return fleet


def until_named(text: str) -> datetime:
    """The last moment that a person means: a day is meant to its end.

    Raises
    ------
    EntriesError
        When it is no date or time.
    """
    from datetime import datetime

    from analyzer.trends.entries import last_moment

    return last_moment(text, datetime.now())


def tell_stale(store: Store, fleet: Fleet) -> None:
    """Say on standard error where kept flights were judged by something else than today's program."""
    from analyzer.records.stale import stale_flights
    from analyzer.reports.wording import stale_words

    if flights := sum(stale_flights(store, fleet).values()):
        sys.stderr.write(f"taper: {stale_words(flights)}; bring them up to date with: taper rebuild\n")


def over_tails(work: Callable[[str, Fleet], T], names: list[str], fleet: Fleet) -> Iterator[T]:
    """Work some tails out, in order, on all processors when there are many; progress on a terminal."""
    return over_logs(work, names, fleet, "Working out trends")


def renew_reviews(store: Store, changed: Iterable[str]) -> None:
    """Work out anew what a command's changes make of some tails, so that the next reader finds it.

    Flights that were judged by an earlier version, by other limits or for another aircraft are judged anew first.
    """
    names = sorted(set(changed))
    if not names:
        return
    from analyzer.records.histories import fleet_kept
    from analyzer.records.problems import RecordsError
    from analyzer.records.renewing import renew_flights
    from analyzer.records.reviewing import renew

    try:
        renewed = renew_flights(store, fleet_kept(store), over_logs, names)
        if renewed.flights:
            sys.stderr.write(f"taper: {counted(renewed.flights, 'flight')} kept before judged anew, as today's are\n")
        renew(store, names, over_tails)
    except (RecordsError, FleetFileError) as problem:
        sys.stderr.write(f"taper: all is kept, but the trends could not be worked out: {problem}\n")
    except KeyboardInterrupt:
        sys.stderr.write("taper: all is kept; the trends that are left are worked out when next asked for\n")
        raise


def unusable(problem: Exception) -> int:
    """Say why the records cannot be used; the exit status."""
    sys.stderr.write(f"taper: {problem}\n")
    return UNUSABLE


def confirmed(question: str, *, yes: bool) -> bool:
    """Ask on the terminal; ``yes`` answers beforehand, and where nobody can answer it is no."""
    if yes:
        return True
    if not sys.stdin.isatty():
        sys.stderr.write("Nothing was changed: nobody is there to ask; say --yes to go on.\n")
        return False
    sys.stderr.write(f"{question} [y/N] ")
    sys.stderr.flush()
    return sys.stdin.readline().strip().lower() in ("y", "yes")
