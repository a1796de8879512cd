"""The library: what the command line does, from Python. Use it as ``import analyzer``.

reviews = analyzer.review("logs/", fleet="fleet.toml")      # every log below a folder
trends = analyzer.trend("logs/")                            # each aircraft over its flights
report = analyzer.squawk("N047KT", "ALT light flickered", "logs/")
table = analyzer.measures_frame(reviews)                    # a Polars table

Results are frozen types with a short ``repr`` and, in a notebook, a table.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape
from os import PathLike, fspath
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from analyzer.aircraft import Fleet, read_fleet
from analyzer.logs import find_logs
from analyzer.records.in_order import one_by_one
from analyzer.results import FlightResult, LogResult
from analyzer.service.follow_tails import histories_of, tails_kept, tails_of
from analyzer.service.look_up_squawk import LookedUp, SquawkRequest, squawk_of_logs, squawk_of_records
from analyzer.service.review_logs import review_logs
from analyzer.squawk.report import report_of
from analyzer.squawk.result import SquawkResult
from analyzer.squawk.sentences import because_words, verdict_words
from analyzer.trends.tail_result import TailResult

if TYPE_CHECKING:
    import polars as pl

#: A file or folder, or some.
Paths = str | PathLike[str] | Iterable[str | PathLike[str]]


class NoFlightsError(ValueError):
    """Nothing was found to answer from; the message says where it was looked for."""


@dataclass(frozen=True, slots=True, repr=False)
class Reviews:
    """The logs reviewed, in order; iterate to get each ``LogResult``."""

    logs: tuple[LogResult, ...]

    def __iter__(self) -> Iterator[LogResult]:
        return iter(self.logs)

    def __len__(self) -> int:
        return len(self.logs)

    @property
    def flights(self) -> tuple[FlightResult, ...]:
        """The flights of all logs."""
        return tuple(flight for log in self.logs for flight in log.flights)

    @property
    def refused(self) -> tuple[LogResult, ...]:
        """Logs that could not be read, each with its reason."""
        return tuple(log for log in self.logs if log.refused)

    def __repr__(self) -> str:
        return f"<{len(self.logs)} logs, {len(self.flights)} flights, {len(self.refused)} refused>"

    def _repr_html_(self) -> str:
        rows = [
            (
                log.tail or "", "" if flight.start is None else f"{flight.start:%Y-%m-%d %H:%M}",
                f"{(flight.to_s - flight.from_s) / 60.0:.0f} min",
                "; ".join(f"{one.severity}: {one.name}".replace("_", " ") for one in flight.findings) or "nothing",
            )
            for log in self.logs
            for flight in log.flights
        ]  # fmt: skip
        return _table(("tail", "start", "length", "found"), rows)


@dataclass(frozen=True, slots=True, repr=False)
class Trends:
    """Aircraft over their flights; iterate to get each ``TailResult``."""

    tails: tuple[TailResult, ...]

    def __iter__(self) -> Iterator[TailResult]:
        return iter(self.tails)

    def __len__(self) -> int:
        return len(self.tails)

    def __getitem__(self, tail: str) -> TailResult:
        return {one.tail: one for one in self.tails}[tail.upper()]

    def __repr__(self) -> str:
        return f"<trends of {', '.join(f'{one.tail}: {one.condition}' for one in self.tails)}>"

    def _repr_html_(self) -> str:
        rows = [
            (one.tail, str(one.flights), f"{one.hours:.1f}", str(one.condition),
             "; ".join(str(found.name).replace("_", " ") for found in one.open_findings))
            for one in self.tails
        ]  # fmt: skip
        return _table(("tail", "flights", "hours", "condition", "open"), rows)


@dataclass(frozen=True, slots=True, repr=False)
class Squawk:
    """A report looked up: ``result`` holds everything, by symptom."""

    result: SquawkResult
    refused: tuple[str, ...]  # logs that could not be read

    def __repr__(self) -> str:
        return repr(self.result)

    def _repr_html_(self) -> str:
        rows = [(one.symptom.title, verdict_words(one), because_words(one)) for one in self.result.symptoms]
        return _table(("symptom", "verdict", "because"), rows)


def review(paths: Paths, fleet: str | PathLike[str] | Fleet | None = None) -> Reviews:
    """Review logs: each flight's phases, measures and findings.

    Parameters
    ----------
    paths : CSV files, folders (searched through all levels) or .zip files
    fleet : a fleet file, or what was read from one; nothing is known beforehand when None

    Raises
    ------
    FleetFileError
        When the fleet file cannot be used. A log that cannot be read is refused by itself, with its reason.
    """
    return Reviews(tuple(review_logs(list(find_logs(_paths(paths))), _fleet(fleet))))


def trend(
    paths: Paths,
    tails: Sequence[str] = (),
    fleet: str | PathLike[str] | Fleet | None = None,
    until: datetime | None = None,
) -> Trends:
    """Follow aircraft over their flights, straight from logs; a file ``entries.csv`` among them tells the maintenance.

    Parameters
    ----------
    paths : as of ``review``
    tails : aircraft, all that are found when empty
    fleet : as of ``review``
    until : leave out flights that began after this moment

    Raises
    ------
    UnknownTailError
        When no flight of an aircraft named is found.
    """
    found = histories_of(_paths(paths), _fleet(fleet), one_by_one)
    return Trends(tails_of(found.histories, [tail.upper() for tail in tails], until).results)


def squawk(
    tail: str,
    words: str | None,
    paths: Paths,
    *,
    symptoms: Sequence[str] = (),
    fleet: str | PathLike[str] | Fleet | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
) -> Squawk:
    """Look a pilot's report up in an aircraft's logs.

    Parameters
    ----------
    tail : the aircraft
    words : the report in a pilot's words, or None where ``symptoms`` names them
    paths : as of ``review``
    symptoms : names of ``taper squawk --symptoms``, beside what the words say
    fleet : as of ``review``
    since, until : the period; some months back from the newest flight when neither is given

    Raises
    ------
    ReportError
        When neither words nor symptoms name a symptom; the message lists them.
    NoFlightsError
        When no flight of the aircraft is there.
    """
    asked = SquawkRequest(tail.upper(), report_of(words, symptoms), since, until)
    return _squawk(squawk_of_logs(list(find_logs(_paths(paths))), asked, _fleet(fleet)), asked)


class Records:
    """The records that ``taper add`` keeps, to be read.

    with analyzer.Records("club/") as records:
        records.trend("N047KT")
    """

    def __init__(self, path: str | PathLike[str]) -> None:
        """Open the records of a folder, or those that an address such as ``taper add --records`` takes names.

        Raises
        ------
        RecordsError
            When there are none, or they cannot be used.
        """
        from analyzer.records.place import records_place
        from analyzer.records.store import open_records

        self._store = open_records(records_place(fspath(path)))
        self.folder = self._store.folder

    def __enter__(self) -> Records:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close them."""
        self._store.close()

    @property
    def tails(self) -> tuple[str, ...]:
        """The aircraft of which flights are kept."""
        from analyzer.records.kept import tails

        return tuple(one.tail for one in tails(self._store))

    def trend(self, *tails: str, until: datetime | None = None) -> Trends:
        """Follow aircraft over their kept flights, all when none is named.

        Raises
        ------
        UnknownTailError
            When no flight of one is kept.
        """
        return Trends(tails_kept(self._store, [tail.upper() for tail in tails], None, until).results)

    def squawk(
        self,
        tail: str,
        words: str | None,
        *,
        symptoms: Sequence[str] = (),
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> Squawk:
        """Look a report up in the kept flights; as the function ``squawk``."""
        from analyzer.records.kept import fleet_kept

        asked = SquawkRequest(tail.upper(), report_of(words, symptoms), since, until)
        return _squawk(squawk_of_records(self._store, asked, fleet_kept(self._store)), asked)

    def measures(self, tail: str) -> pl.DataFrame:
        """The kept measures of an aircraft as a Polars table, a row a flight and measure."""
        from analyzer.records.kept import measures_table

        return measures_table(self._store, tail.upper())

    def __repr__(self) -> str:
        return f"<records in {self.folder}, {len(self.tails)} aircraft>"

    def _repr_html_(self) -> str:
        from analyzer.records.kept import tails

        return _table(("tail", "flights"), [(one.tail, str(one.flights)) for one in tails(self._store)])


def measures_frame(reviews: Reviews | Iterable[LogResult]) -> pl.DataFrame:
    """Give the measures of reviewed logs as a Polars table.

    Returns
    -------
    A row a flight and measure: ``source``, ``tail``, ``flight`` (from 1 in its log), ``start``, ``measure``,
    ``value`` (null where it could not be measured), ``unit``, ``low`` and ``high`` (of its 95 % interval),
    ``because`` (why it could not).
    """
    import polars as pl

    rows = [
        (log.source, log.tail, number, flight.start, name, one.value, one.unit, one.low, one.high, one.because)
        for log in reviews
        for number, flight in enumerate(log.flights, 1)
        for name, one in flight.measures.items()
    ]
    schema: dict[str, pl.DataType | type[pl.DataType]] = {
        "source": pl.String, "tail": pl.String, "flight": pl.Int64, "start": pl.Datetime("us"), "measure": pl.String,
        "value": pl.Float64, "unit": pl.String, "low": pl.Float64, "high": pl.Float64, "because": pl.String,
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row")


def _squawk(found: LookedUp, asked: SquawkRequest) -> Squawk:
    if found.result is None:
        known = ", ".join(sorted(found.others)) or "none"
        raise NoFlightsError(f"no flight of {asked.tail} was found in that period; aircraft found: {known}")
    return Squawk(found.result, tuple(f"{log.source}: {log.because}" for log in found.refused))


def _paths(paths: Paths) -> list[Path]:
    given = [paths] if isinstance(paths, str | PathLike) else list(paths)
    missing = [str(path) for path in given if not Path(path).exists()]
    if missing:
        raise FileNotFoundError(f"no such file or folder: {', '.join(missing)}")
    return [Path(path) for path in given]


def _fleet(fleet: str | PathLike[str] | Fleet | None) -> Fleet:
    if fleet is None:
        return Fleet()
    return fleet if isinstance(fleet, Fleet) else read_fleet(Path(fleet))


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table as HTML, every word escaped."""

    def line(cells: Sequence[str], cell: Callable[[str], str]) -> str:
        return f"<tr>{''.join(map(cell, cells))}</tr>"

    body = "".join(line(row, lambda words: f"<td>{escape(words)}</td>") for row in rows)
    return f"<table><thead>{line(head, lambda words: f'<th>{escape(words)}</th>')}</thead><tbody>{body}</tbody></table>"
