"""Whatever is missing, cut or wrong in a log, its review is whole: no fault, no NaN, every number in order."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from analyzer.findings.finding import FindingName
from analyzer.flights.flight import PHASES
from analyzer.logs import Log, Refusal
from analyzer.measures.measure import MEASURES
from analyzer.review import review_log
from analyzer.simulator import simulate
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from tests.as_json import log_json
from tests.made import log_from

Table = pl.DataFrame
Generator = np.random.Generator


def column_of(table: Table, generator: Generator) -> str:
    return str(generator.choice([name for name in table.columns if name not in ("time_s", "clock")]))


def cut(table: Table, generator: Generator) -> Table:
    return table.slice(int(generator.integers(0, table.height)), int(generator.choice([2, 3, 15, 55, 300, 2000])))


def first_rows(table: Table, generator: Generator) -> Table:
    return table.head(int(generator.choice([2, 3, 15, 55, 100, 300, 1000])))


def without_a_channel(table: Table, generator: Generator) -> Table:
    name = column_of(table, generator)
    return table if name == "bus_voltage" else table.drop(name)


def blank_for_a_while(table: Table, generator: Generator) -> Table:
    name, row = column_of(table, generator), int(generator.integers(0, table.height))
    until = row + int(generator.choice([1, 5, 60, 600, 3000]))
    inside = pl.int_range(pl.len()).is_between(row, until)
    return table.with_columns(pl.when(inside).then(None).otherwise(pl.col(name)).alias(name))


def blank_throughout(table: Table, generator: Generator) -> Table:
    return table.with_columns(pl.lit(None, dtype=pl.Float64).alias(column_of(table, generator)))


def stuck_throughout(table: Table, generator: Generator) -> Table:
    value = float(generator.choice([-1.0, 0.0, 5.0, 12.6, 14.0, 28.0, 3000.0]))
    return table.with_columns(pl.lit(value).alias(column_of(table, generator)))


def slower(table: Table, generator: Generator) -> Table:
    return table.gather_every(int(generator.choice([2, 5, 10, 60])))


def with_a_gap(table: Table, generator: Generator) -> Table:
    row = int(generator.integers(0, table.height))
    return table.with_columns(
        time_s=pl.col("time_s") + pl.when(pl.int_range(pl.len()) >= row).then(1800.0).otherwise(0.0)
    )


SPOILERS: tuple[Callable[[Table, Generator], Table], ...] = (
    cut,
    first_rows,
    without_a_channel,
    blank_for_a_while,
    blank_throughout,
    stuck_throughout,
    slower,
    with_a_gap,
)


def spoiled(seed: int) -> Table:
    """A simulated flight, sound or faulty, spoiled in one to three ways."""
    generator = np.random.default_rng(seed)
    makers = {**HEALTHY, **FAULTY}
    maker = makers[str(generator.choice(sorted(makers)))]
    kind = str(generator.choice(["battery", "alternator"]))
    table = simulate(maker(int(generator.integers(1, 50)), int(generator.choice([14, 28])), kind)).table
    for place in generator.choice(len(SPOILERS), int(generator.integers(1, 4))):
        if table.height > 1:
            table = SPOILERS[int(place)](table, generator)
    return table


def check_document(document: dict[str, object]) -> None:
    """Everything that a reader of the result may rely on."""
    text = json.dumps(document, allow_nan=False)
    flights = json.loads(text)["flights"]
    for flight in flights:
        assert list(flight["measures"]) == list(MEASURES)
        edges = [flight["from_s"]]
        for phase in flight["phases"]:
            assert phase["phase"] in PHASES
            assert phase["from_s"] == edges[-1] <= phase["to_s"]
            edges.append(phase["to_s"])
        for measure in flight["measures"].values():
            if measure["state"] == "measured":
                assert measure["low"] <= measure["value"] <= measure["high"]
            else:
                assert measure["because"]
        for finding in flight["findings"]:
            assert finding["finding"] in tuple(FindingName)
            assert flight["from_s"] <= finding["from_s"] <= finding["to_s"] <= flight["to_s"]
            assert "nan" not in finding["says"].split()
            assert sum(cause["weight"] for cause in finding["likely"]) == pytest.approx(1.0, abs=0.01)


@pytest.mark.long(keep=30)
@pytest.mark.parametrize("seed", range(120))
def test_a_spoiled_log_gets_a_whole_review(seed: int) -> None:
    check_document(log_json(review_log(log_from(spoiled(seed)))))


def test_one_log_that_the_program_cannot_cope_with_does_not_cost_the_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from analyzer.aircraft import Fleet
    from analyzer.commands.review import not_drawn, told_as_json
    from analyzer.logs import Source, find_logs
    from analyzer.service.review_logs import Made, review_source

    def fails(*_: object) -> Log:
        raise ZeroDivisionError("a made fault")

    monkeypatch.setattr("analyzer.review.review_each", fails)
    (source,) = find_logs(["sample_logs/N012LF_2026-05-02.csv"])
    assert isinstance(source, Source)
    reviewed = review_source(source, Fleet(), {}, Made(not_drawn, told_as_json))
    assert reviewed.refused
    assert "a made fault" in reviewed.told
    assert not isinstance(source, Refusal)
