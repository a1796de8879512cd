"""Flights, measures and findings as tables for other programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Select, func, select

from analyzer.cells import PATTERN
from analyzer.findings.finding import Finding
from analyzer.measures.measure import MEASURES
from analyzer.records.holding import check_flights, check_index
from analyzer.records.kept import kept_logs
from analyzer.records.store import Store, sentences
from analyzer.records.stored import finding_of
from analyzer.records.tables import findings, flights, logs, measures

if TYPE_CHECKING:
    import polars as pl


def export(store: Store, folder: Path, form: str, tail: str | None = None) -> dict[str, int]:
    """Write ``flights``, ``measures`` and ``findings`` into a folder; gives the rows of each.

    In CSV a text that a spreadsheet would take for a formula gets an apostrophe before it.

    Raises
    ------
    OSError
        When the folder or a file cannot be written.
    DamagedError
        When what is kept is not what was written.
    """
    with store.reading() as connection:
        check_index(connection, None if tail is None else tail.upper())
        check_flights(connection, None if tail is None else flights.c.tail == tail.upper())
    kept_logs(store, tail)  # which checks each, for their names stand in the tables
    tables = {
        "flights": _flights(store, tail),
        "measures": _measures(store, tail),
        "findings": _findings(store, tail),
    }
    tables = {name: one.sort("tail", "start", "flight_id", maintain_order=True) for name, one in tables.items()}
    folder.mkdir(parents=True, exist_ok=True)
    for name, table in tables.items():
        if form == "parquet":
            table.write_parquet(folder / f"{name}.parquet")
        else:
            without_formulas(table).write_csv(folder / f"{name}.csv")
    return {name: table.height for name, table in tables.items()}


def without_formulas(table: pl.DataFrame) -> pl.DataFrame:
    """Give a table whose texts no spreadsheet takes for a formula."""
    import polars as pl

    texts = [name for name, kind in table.schema.items() if kind == pl.String]
    return table.with_columns(
        pl.when(pl.col(name).str.contains(PATTERN)).then("'" + pl.col(name)).otherwise(pl.col(name)).alias(name)
        for name in texts
    )


def _of_tail(asked: Select[Any], tail: str | None) -> Select[Any]:
    """What is asked of one tail, or of all; by no index, whose columns no seal holds, so that each row is read itself.

    The tables are put in order once they are read.
    """
    return asked if tail is None else asked.where(func.coalesce(flights.c.tail, "") == tail.upper())


def _frame(store: Store, asked: Select[tuple[object, ...]], schema: dict[str, type[pl.DataType]]) -> pl.DataFrame:
    import polars as pl

    with sentences(store.folder), store.reading() as connection:
        return pl.DataFrame([tuple(row) for row in connection.execute(asked)], schema=schema, orient="row")


def _flights(store: Store, tail: str | None) -> pl.DataFrame:
    import polars as pl

    text, number, whole = pl.String, pl.Float64, pl.Int64
    asked = select(
        flights.c.id, flights.c.tail, flights.c.starts, flights.c.ends, flights.c.hours, flights.c.nominal_voltage,
        flights.c.ammeter, flights.c.air_start, flights.c.air_flight, flights.c.drawn_ah, flights.c.number,
        logs.c.source,
    ).join(logs, logs.c.id == flights.c.log_id)  # fmt: skip
    schema = {
        "flight_id": whole, "tail": text, "start": text, "end": text, "engine_hours": number,
        "nominal_voltage": whole, "ammeter": text, "air_at_start_degc": number, "air_in_flight_degc": number,
        "drawn_before_ah": number, "flight_in_log": whole, "source": text,
    }  # fmt: skip
    return _frame(store, _of_tail(asked, tail), schema)


def _measures(store: Store, tail: str | None) -> pl.DataFrame:
    import polars as pl

    asked = select(
        flights.c.id, flights.c.tail, flights.c.starts, measures.c.name, measures.c.value, measures.c.low,
        measures.c.high, measures.c.because,
    ).join(flights, flights.c.id == measures.c.flight_id)  # fmt: skip
    text, number = pl.String, pl.Float64
    schema = {
        "flight_id": pl.Int64, "tail": text, "start": text, "measure": text, "value": number, "low": number,
        "high": number, "because": text,
    }  # fmt: skip
    table = _frame(store, _of_tail(asked, tail), schema)
    return table.with_columns(pl.col("measure").replace_strict(MEASURES, return_dtype=pl.String).alias("unit"))


def _findings(store: Store, tail: str | None) -> pl.DataFrame:
    import polars as pl

    asked = select(
        flights.c.id, flights.c.tail, flights.c.starts, findings.c.name, findings.c.severity, findings.c.document
    ).join(flights, flights.c.id == findings.c.flight_id)
    with store.reading() as connection:
        rows = [
            (row.id, row.tail, row.starts, row.name, row.severity, *_finding(finding_of(row.document)))
            for row in connection.execute(_of_tail(asked, tail).order_by(findings.c.id))
        ]
    text, number = pl.String, pl.Float64
    schema = {
        "flight_id": pl.Int64, "tail": text, "start": text, "finding": text, "severity": text, "from_s": number,
        "to_s": number, "says": text, "evidence": text, "likeliest_cause": text,
    }  # fmt: skip
    return pl.DataFrame(rows, schema=schema, orient="row")


def _finding(one: Finding) -> tuple[float, float, str, str, str | None]:
    """Stretch, words, numbers and likeliest cause of a finding, as its last columns."""
    numbers = json.dumps({name: quantity.value for name, quantity in one.evidence.items()})
    return one.from_s, one.to_s, one.says, numbers, one.likely[0].words if one.likely else None
