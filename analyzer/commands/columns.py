"""``taper columns``: how each log was understood, before anything is judged."""

from __future__ import annotations

import argparse
import sys
import textwrap
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.commands.logs import find_named
from analyzer.logs import GIVEN_ROLES, Log, Refusal, Source
from analyzer.logs.unit import source_name, whole_or_refused
from analyzer.phrases import times

if TYPE_CHECKING:
    import polars as pl

EPILOG = """\
The first thing to look at when a result looks odd. Each role's column is named with the reason why it was
chosen; a wrong one is corrected with --map, or for good in the fleet file's [aircraft.TAIL.columns].

  taper columns flight.csv
  taper columns flight.csv --map bus_voltage="VOLTS 1" --table seen.csv
  taper columns flight.csv --map clock_date="Day" --map clock_time="UTC"      the clock's columns too"""
READ, REFUSED, USAGE = 0, 1, 2


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("paths", nargs="+", metavar="PATH", help="a CSV file, a folder of them, or a zip archive")
    add_map(parser)
    parser.add_argument(
        "--table", metavar="OUT", help="write the log as the analysis sees it, to OUT.csv or OUT.parquet"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")


def add_map(parser: argparse.ArgumentParser) -> None:
    """The argument that gives a role to a column by hand."""
    parser.add_argument(
        "--map",
        action="append",
        default=[],
        metavar="ROLE=COLUMN",
        help="give a role to a column by its header; repeat for more (roles: " + ", ".join(GIVEN_ROLES) + ")",
    )


def run(arguments: argparse.Namespace) -> int:
    """Read the logs and say how each was understood; the exit status."""
    mapped, fault = parse_map(arguments.map)
    if fault:
        return _usage(fault)
    table = Path(arguments.table) if arguments.table else None
    if table is not None and table.suffix.lower() not in (".csv", ".parquet"):
        return _usage(f"--table writes a .csv or a .parquet file, not {table.name!r}")
    if table is not None and table.exists():
        return _usage(f"{table} is there already; give another name, or delete it first")
    sources = find_named(arguments.paths)
    if table is not None and len(sources) != 1:
        return _usage(f"--table writes one log, but {len(sources)} were given; give one log at a time")
    answers = [whole_or_refused(source_name(source), partial(_read, source, mapped)) for source in sources]
    if table is not None and isinstance(answers[0], Log):
        try:
            write_table(answers[0].table, table)
        except OSError as error:
            return _usage(f"{table} cannot be written ({error.strerror or error})")
    if arguments.json:
        from analyzer.contract import laid_out
        from analyzer.contract_columns import columns_entry

        sys.stdout.write(laid_out(columns_entry(answers)))
    else:
        sys.stdout.write("\n".join(describe(answer) for answer in answers))
    return REFUSED if any(isinstance(answer, Refusal) for answer in answers) else READ


def _read(source: Source | Refusal, mapped: Mapping[str, str]) -> Log | Refusal:
    """Read one log, to what is printed of it: what cannot be told of a log is found here and costs it alone."""
    from analyzer.contract import laid_out
    from analyzer.contract_columns import columns_entry
    from analyzer.logs import read_log

    answer = read_log(source, columns=mapped)
    laid_out(columns_entry([answer]))
    describe(answer)
    return answer


def parse_map(given: list[str]) -> tuple[dict[str, str], str | None]:
    """Roles and headers of ``ROLE=COLUMN`` arguments, or what is wrong with one."""
    mapped: dict[str, str] = {}
    for text in given:
        role, mark, header = text.partition("=")
        if not mark or not role.strip() or not header.strip():
            return {}, f"--map takes ROLE=COLUMN, such as --map bus_voltage='Volts 1', not {text!r}"
        if role.strip() not in GIVEN_ROLES:
            return {}, f"--map knows no role {role.strip()!r}; the roles are {', '.join(GIVEN_ROLES)}"
        mapped[role.strip()] = header.strip()
    return mapped, None


def _usage(fault: str) -> int:
    sys.stderr.write(f"taper columns: {fault}\n")
    return USAGE


def write_table(table: pl.DataFrame, path: Path) -> None:
    """Write a log's table; the clock is ISO 8601 text in CSV, blank where unknown."""
    if path.suffix.lower() == ".parquet":
        table.write_parquet(path)
    else:
        table.write_csv(path, datetime_format="%Y-%m-%dT%H:%M:%S%.f")


def describe(answer: Log | Refusal) -> str:
    """One log in words, for reading at a terminal."""
    if isinstance(answer, Refusal):
        return f"{answer.source}\n  refused: {answer.because}\n"
    delimiter = {"\t": "tab", " ": "blanks"}.get(answer.delimiter, answer.delimiter)
    clock = answer.clock
    lines = [
        answer.source,
        f"  {answer.rows} rows read, {answer.rows_dropped} left out; "
        + (f"aircraft {answer.tail} (from the {answer.tail_from})" if answer.tail else "no aircraft named"),
        f"  text      {answer.encoding}, cells divided by {delimiter!r}, decimal mark {answer.decimal_mark!r}, "
        f"header in row {answer.header_row}" + (f", units in row {answer.units_row}" if answer.units_row else ""),
        f"  clock     {clock.basis}"
        + (f" ({', '.join(clock.columns)})" if clock.columns else "")
        + f"; start {clock.start or 'unknown'}"
        + (f", UTC{clock.utc_offset}" if clock.utc_offset else "")
        + f"; a row every {clock.step_s:g} s",
    ]
    width = max((len(c.role) for c in answer.columns), default=0)
    for c in answer.columns:
        converted = f" from {c.converted_from}" if c.converted_from else ""
        lines.append(f"  {c.role:<{width}}  {c.name!r} [{c.unit}{converted}], sure to {c.confidence:.0%}: {c.why}")
    if answer.breaks:
        lines.append(f"  recording began anew {times(len(answer.breaks))}, before table rows {_few(answer.breaks)}")
    if answer.unused:
        lines += textwrap.wrap(
            f"unused    {', '.join(answer.unused)}", 100, initial_indent="  ", subsequent_indent=" " * 12
        )
    lines += [f"  warning   {warning}" for warning in answer.warnings]
    return "\n".join(lines) + "\n"


def _few(rows: tuple[int, ...]) -> str:
    return ", ".join(map(str, rows[:8])) + (" ..." if len(rows) > 8 else "")
