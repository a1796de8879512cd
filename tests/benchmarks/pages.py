"""How long the pages take in a real browser, beside a bare page of the same library in the same run.

    python -m tests.benchmarks.pages [--tails 100] [--flights 200000]

Fleet: a made store of summaries. Flight: six hours at four readings a second. Given are the time from asking to
the first usable picture (the grid's first row, the chart's lines), what travelled, and both as ratios to the bare
page. Made data are checked before any time is taken. No pass or fail on a time.
"""

from __future__ import annotations

import argparse
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np

from analyzer.measures.measure import MEASURES, around
from analyzer.records import codec
from analyzer.records.adding import add_logs
from analyzer.records.kept import tail_reviews, tails
from analyzer.records.latest import tail_names
from analyzer.records.store import Store, open_records
from analyzer.records.tables import flights, logs
from analyzer.records.tables import tails as tails_table
from tests.browser import launch, served

RUNS = 5
USUAL = {
    "regulated_voltage": 14.1,
    "recharge_settling_time": 7.0,
    "recharge_time_constant": 2.8,
    "cranking_voltage": 9.9,
    "resting_voltage": 12.6,
    "maintenance_current": 0.6,
    "regulation_scatter": 0.03,
    "bus_load": 9.0,
}


def make_fleet(folder: Path, count: int, total: int) -> None:
    """A store of made summaries: ``total`` flights of ``count`` tails."""
    rng = np.random.default_rng(7)
    each = total // count
    with open_records(folder, create=True) as store:
        for number in range(count):
            _make_tail(store, f"N0{number:03d}BM", each, number * each, rng)


def _make_tail(store: Store, tail: str, count: int, first_id: int, rng: np.random.Generator) -> None:
    begins = datetime(2024, 1, 1, 9, 0)
    log_rows, flight_rows = [], []
    for place in range(count):
        number = first_id + place + 1
        start = begins + timedelta(hours=8.0 * place)
        log_rows.append(
            {
                "id": number, "hash": f"{number:064x}", "source": f"{tail}-{place}.csv", "tail": tail,
                "tail_from": "column", "rows": 5000, "starts": start.isoformat(), "warnings": [],
                "original_kept": False, "added_at": start.isoformat(), "analysis": "made",
            }
        )  # fmt: skip
        readings = {
            name: around(name, USUAL[name] * (1.0 + 0.01 * rng.normal()), 0.05)
            if name in USUAL
            else around(name, 1.0, 0.5)
            for name in MEASURES
        }
        flight_rows.append(
            {
                "id": number, "log_id": number, "number": 1, "tail": tail, "starts": start.isoformat(),
                "ends": (start + timedelta(hours=1.2)).isoformat(), "from_s": 0.0, "to_s": 4320.0, "hours": 1.2,
                "nominal_voltage": 14, "ammeter": "battery", "air_start": 15.0, "air_flight": 8.0, "drawn_ah": 0.1,
                "readings": codec.encode(readings), "document": {},
            }
        )  # fmt: skip
    with store.writing() as connection:
        connection.execute(logs.insert(), log_rows)
        connection.execute(flights.insert(), flight_rows)
        connection.execute(tails_table.insert().values(tail=tail, revision=1))


def make_long_flight(folder: Path) -> int:
    """Records with one flight of six hours at four readings a second; gives its rows."""
    from analyzer.logs import Source
    from analyzer.simulator import scenarios
    from analyzer.simulator.simulate import simulate
    from analyzer.simulator.writers import COMMA, write_csv

    made = scenarios.HEALTHY["healthy"](5, 14, "battery")
    plan = replace(made.plan, cruise_min=330.0)
    flown = simulate(replace(made, plan=plan, recorder=replace(made.recorder, period_s=0.25)))
    path = folder / "N005BM_long.csv"
    folder.mkdir(parents=True, exist_ok=True)
    write_csv(flown, path, COMMA)
    from analyzer.aircraft import Fleet

    with open_records(folder / "records", create=True) as store:
        added = add_logs(store, [Source(path.name, path)], Fleet())
        if added.flights != 1:
            raise SystemExit(f"the long log gave {added.flights} flights, so no time is given")
        tail_reviews(store, [one.tail for one in tails(store)])
    return flown.table.height


def serve_in_background(server: Any) -> str:
    """Serve until the program ends; gives the address."""
    from waitress.server import create_server

    made = create_server(server, host="127.0.0.1", port=0, threads=6)
    threading.Thread(target=made.run, daemon=True).start()
    return f"http://127.0.0.1:{made.effective_port}"


def bare_page() -> Any:
    """The least page that the library can make: one heading."""
    from dash import Dash, html

    app = Dash("bare", serve_locally=True)
    app.layout = html.Main(html.H1("bare", className="ready"))
    return app.server


def timed(browser: Any, address: str, ready: str, warm: bool) -> tuple[float, int]:
    """Seconds until ``ready`` stands on the page, and bytes that travelled."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    if warm:
        page.goto(address)
        page.wait_for_selector(ready)
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    sizes: list[int] = []
    session.on("Network.loadingFinished", lambda event: sizes.append(int(event["encodedDataLength"])))
    started = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_selector(ready)
    took = time.perf_counter() - started
    page.wait_for_load_state("networkidle")
    context.close()
    return took, sum(sizes)


def main() -> None:
    """Make the data, serve them, time the pages."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tails", type=int, default=100)
    parser.add_argument("--flights", type=int, default=200_000)
    arguments = parser.parse_args()
    from playwright.sync_api import sync_playwright

    from dashboards.kept import Kept

    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        say(f"making {arguments.flights:,} summaries of {arguments.tails} tails, and one long flight")
        make_fleet(folder / "fleet", arguments.tails, arguments.flights)
        rows = make_long_flight(folder / "long")
        fleet = Kept(folder / "fleet")
        if len(tail_names(fleet.store())) != arguments.tails:
            raise SystemExit("the made store has other tails than asked for, so no time is given")
        first = clocked(lambda: fleet.fleet(30))
        again = clocked(lambda: fleet.fleet(30))
        say(f"fleet asked of the records: {first:.2f} s the first time (every trend worked out), then {again:.2f} s")
        say(f"flight of {rows:,} rows")
        bare = serve_in_background(bare_page())
        with (
            served(folder / "fleet") as of_fleet,
            served(folder / "long" / "records") as of_long,
            sync_playwright() as driver,
        ):
            places = {
                "bare page": (bare, ".ready"),
                "fleet": (f"{of_fleet}/", "#fleet-list tbody tr"),
                "flight": (f"{of_long}/flight/1", "#flight-chart .scatterlayer .trace path.js-line"),
            }
            report(launch(driver), places)


def clocked(call: Callable[[], Any]) -> float:
    """Seconds that a call takes."""
    started = time.perf_counter()
    call()
    return time.perf_counter() - started


def report(browser: Any, places: dict[str, tuple[str, str]]) -> None:
    """Time every page in turn, round by round, cold and warm; print medians, and medians of the rounds' ratios.

    In turn, so that whatever else the machine does meanwhile falls on all of them alike. Cold: nothing cached by
    the browser.
    """
    taken: dict[tuple[str, bool], list[tuple[float, int]]] = {
        (name, warm): [] for name in places for warm in (False, True)
    }
    for _ in range(RUNS):
        for (name, warm), own in taken.items():
            own.append(timed(browser, *places[name], warm=warm))
    for (name, warm), own in taken.items():
        least = taken["bare page", warm]
        ratio = median(one[0] / bare[0] for one, bare in zip(own, least, strict=True))
        say(
            f"{name:<10} {'warm' if warm else 'cold'} {median(one[0] for one in own):.2f} s, {ratio:.1f} times the "
            f"bare page; {median(one[1] for one in own) / 1e6:.2f} MB"
        )


def say(words: str) -> None:
    """Print at once."""
    print(words, flush=True)


if __name__ == "__main__":
    main()
