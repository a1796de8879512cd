"""Takes the documents that the snapshots hold, through the commands themselves, and parts numbers from sentences."""

from __future__ import annotations

import contextlib
import io
import json
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import select, update

from analyzer.cli import main
from analyzer.contract import plain
from analyzer.contract_tails import tail_entry
from analyzer.records.keeping import seal_log
from analyzer.records.store import open_records
from analyzer.records.tables import logs
from analyzer.simulator.club import fleet_toml
from analyzer.simulator.season import ENTRIES, season
from analyzer.simulator.simulate import simulate
from analyzer.simulator.writers import write_csv
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail
from tests.trends.made_histories import FAULTY, HEALTHY, made

ROOT = Path(__file__).resolve().parents[2]
HELD = Path(__file__).parent / "held"
#: Aircraft of the season that are flown week by week, and how many weeks: one drifts and is mended, one wears out.
FLOWN = {"N058LF": 24, "N074LF": 24}
#: Rows this far apart [s], so that the season is soon read.
PERIOD_S = 4.0
#: When everything was added and said: a digest counts what was.
ADDED_AT = "2026-09-15T12:00:00+00:00"
SAID = """\
tail,finding,at,verdict,who,words,made_at
N012LF,overvoltage_trip,2026-05-09T10:03:00,fixed,K. Reed,regulator exchanged,2026-06-08T09:00:00+00:00
N037LF,alternator_offline,2026-05-03T11:05:00,confirmed,K. Reed,broken field wire,2026-06-09T09:00:00+00:00
"""
#: Keys under which sentences and labels stand; everything else steers, or is a number.
WORDS = {
    "ammeter_basis", "basis", "because", "before", "cause", "cautions", "check", "circumstances", "expected", "for",
    "innocent", "matched", "needs", "not_understood", "note", "order", "says", "tells", "title", "warnings", "what",
    "why", "words",
}  # fmt: skip
#: Command lines on ``sample_logs``, and on the club's records.
OF_LOGS = {
    "review": ["review", "sample_logs", "--json"],
    "review_with_fleet": ["review", "sample_logs", "--fleet", "sample_logs/fleet.toml", "--json"],
    "columns": ["columns", "sample_logs", "--json"],
}
OF_CLUB = {
    "trend": ["trend", "--json"],
    "trend_until": ["trend", "N058LF", "--until", "2026-05-20", "--json"],
    "entry_regulator": ["trend", "N058LF", "--entry", "2026-06-09", "--json"],
    "entry_instrument": ["trend", "N012LF", "--entry", "2026-05-12", "--json"],
    "entries": ["entry", "--list", "--json"],
    "fleet": ["fleet", "--json"],
    "fleet_since": ["fleet", "--since", "2026-06-01", "--json"],
    "digest": ["digest", "--since", "2026-06-01", "--until", "2026-09-16", "--json"],
    "digest_then": ["digest", "--since", "2026-05-01", "--until", "2026-06-10", "--json"],
    "squawk_high": ["squawk", "N058LF", "volts high, ALT light flickered", "--since", "2026-04-01", "--json"],
    "squawk_crank": ["squawk", "N074LF", "slow crank, five tries", "--since", "2026-04-01", "--json"],
    "squawk_lost": ["squawk", "N037LF", "alternator quit, ammeter showed discharge", "--since", "2026-04-01", "--json"],
}


def documents(folder: Path) -> Iterator[tuple[str, Any]]:
    """Give each document by name; ``folder`` is empty and holds the club's logs and records afterwards."""
    for name, call in OF_LOGS.items():
        yield name, _told(call, ROOT)
    kinds = (*HEALTHY, *FAULTY)
    made_tails = {kind: plain(tail_entry(tail_result(review_tail(made(kind, 7).history)))) for kind in kinds}
    yield "trend_made", made_tails
    make_club(folder)
    for name, call in OF_CLUB.items():
        yield name, _told([*call, "--records", "records"], folder)


def make_club(folder: Path) -> None:
    """Fly part of the invented club's season, and keep it with all that was done and said."""
    (folder / "logs").mkdir()
    for name, scenario, style in season():
        day, tail = name[7:17], name[:6]
        if tail not in FLOWN and not (ROOT / "sample_logs" / name).exists():
            continue
        if tail in FLOWN and day > "2026-07-19" and not (ROOT / "sample_logs" / name).exists():
            continue
        coarse = replace(scenario, recorder=replace(scenario.recorder, period_s=PERIOD_S))
        write_csv(simulate(coarse), folder / "logs" / name, style)
    (folder / "fleet.toml").write_text(fleet_toml(), "utf-8")
    (folder / "records").mkdir()
    (folder / "records" / "dispositions.csv").write_text(SAID, "utf-8")
    lines = [f'{e.tail},{e.when.isoformat()},{e.kind},"{e.words}"' for e in ENTRIES]
    (folder / "work.csv").write_text("\n".join(["tail,when,kind,words", *lines]) + "\n", "utf-8")
    _told(["add", "logs", "--fleet", "fleet.toml", "--records", "records"], folder)
    _told(["entry", "--import", "work.csv", "--records", "records"], folder)
    with open_records(folder / "records") as store, store.writing() as connection:
        connection.execute(update(logs).values(added_at=ADDED_AT))
        for log_id in connection.execute(select(logs.c.id)).scalars().all():
            seal_log(connection, log_id)


def _told(call: list[str], folder: Path) -> Any:
    """What a command prints, called in a folder; JSON read back."""
    before, out, said = Path.cwd(), io.StringIO(), io.StringIO()
    try:
        os.chdir(folder)
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(said):
            status = main(call)
    finally:
        os.chdir(before)
    if status != 0:
        raise RuntimeError(f"taper {' '.join(call)} ended with {status}: {said.getvalue()}")
    return json.loads(out.getvalue()) if "--json" in call else None


def parted(document: Any) -> tuple[Any, dict[str, str]]:
    """A document without its sentences (``…`` stands in their place), and the sentences by where they stand."""
    sentences: dict[str, str] = {}
    return _numbers(document, "", False, sentences), sentences


def _numbers(value: Any, place: str, is_words: bool, sentences: dict[str, str]) -> Any:
    if isinstance(value, dict):
        return {key: _numbers(one, f"{place}/{key}", key in WORDS, sentences) for key, one in value.items()}
    if isinstance(value, list):
        return [_numbers(one, f"{place}/{i}", is_words, sentences) for i, one in enumerate(value)]
    if isinstance(value, str) and is_words:
        sentences[place] = value
        return "…"
    return value


def written(document: Any) -> str:
    """A document as it is held."""
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"
