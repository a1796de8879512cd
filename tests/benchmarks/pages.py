"""How long the pages take in a real browser over large records, beside a bare page of the same library in one run.

    python -m tests.benchmarks.pages [--tails 1000] [--flights 1000000] [--records DIR]

One aircraft has 2,050 flights, the others share the rest evenly; a hundred drift. Beside them stands one flight of six
hours at four readings a second. Making the records takes some minutes; ``--records`` keeps them for the next run.

Given of each page are the time from asking to what can be used (``PAGES``: the first lines, the chart's points), in a
browser that has nothing cached ("cold") and in one that has; the ratio to the bare page; and the largest answer that
is not a static file, as it travelled and as it was before it was packed. ``first`` is how long the page takes of a
server that was just started, asked for again while it says that it is still working. Of the charts also how long the
finer points take after zooming. Made data are checked before any time is taken. No pass or fail on a time.
"""

from __future__ import annotations

import argparse
import os
import platform
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from typing import Any

from analyzer.records.adding import add_logs
from analyzer.records.in_order import one_by_one
from analyzer.records.kept import tail_reviews, tails
from analyzer.records.place import FLEET
from analyzer.records.store import open_records
from tests.benchmarks.made_fleet import make_records
from tests.browser import launch, served

RUNS, LONGEST_S = 5, 900.0
#: Flights of the first aircraft; aircraft that drift.
MANY, DRIFTING = 2050, 100
#: Each page's address and what stands there once it can be used.
PAGES = {
    "fleet": ("/", "#fleet-list tbody tr"),
    "aircraft": ("/aircraft/N0000B", "#aircraft-charts .scatterlayer .trace path.point"),
    "digest": ("/digest", "#digest-new li"),
    "due": ("/due", "#due-list tbody tr"),
}
LINE = "#flight-chart .scatterlayer .trace path.js-line"
STATIC = ("/_dash-component-suites/", "/assets/", "/_favicon")
#: Zooms into a chart; seconds until other points than before are drawn, none where they stay.
ZOOM = """async (where) => {
  const chart = document.querySelector(where + " .js-plotly-plot"), before = chart.data[0].x;
  const [first, last] = chart._fullLayout.xaxis._rl, begun = performance.now();
  await Plotly.relayout(chart, {"xaxis.range": [first + 0.4 * (last - first), first + 0.5 * (last - first)]});
  const zoomed = performance.now() - begun;
  while (chart.data[0].x === before && performance.now() - begun < 5000) await new Promise((on) => setTimeout(on, 5));
  await new Promise((on) => requestAnimationFrame(() => requestAnimationFrame(on)));
  return [zoomed / 1000, chart.data[0].x === before ? null : (performance.now() - begun) / 1000];
}"""


@dataclass(frozen=True, slots=True)
class Visit:
    """One look at a page."""

    seconds: float  # until it could be used
    travelled: int  # bytes in all
    answer: int  # of the largest answer that is no static file, as it travelled [bytes]
    whole: int  # of the largest, before it was packed [bytes]


def make_long_flight(folder: Path) -> int:
    """Records with one flight of six hours at four readings a second; gives its rows."""
    from analyzer.aircraft import Fleet
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
    with open_records(folder / "records", create=True) as store:
        added = add_logs(store, [Source(path.name, path)], Fleet())
        if added.flights != 1:
            raise SystemExit(f"the long log gave {added.flights} flights, so no time is given")
        tail_reviews(store, [one.tail for one in tails(store)])
    return flown.table.height


def make_many(folder: Path, count: int, total: int) -> None:
    """The large records; of every other aircraft it is known when battery and alternator were fitted."""
    each = (total - MANY) // (count - 1)
    names = make_records(folder, [MANY] + [each] * (count - 1), min(DRIFTING, count))
    known = [f"[aircraft.{tail}]\nbattery_fitted = 2024-05-02\nalternator_fitted = 2023-11-20\n" for tail in names[::2]]
    (folder / FLEET).write_text("\n".join(known))


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


def visited(browser: Any, address: str, ready: str, *, warm: bool) -> Visit:
    """Open a page in a browser that has nothing cached, or all that the page needs, and wait for ``ready``."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.set_default_timeout(120_000)
    if warm:
        page.goto(address)
        page.wait_for_selector(ready, state="attached")
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    kinds: dict[str, str] = {}
    packed: dict[str, int] = {}
    whole: dict[str, int] = {}
    session.on("Network.responseReceived", lambda e: kinds.update({e["requestId"]: e["response"]["url"]}))
    session.on("Network.dataReceived", lambda e: whole.update(_more(whole, e["requestId"], e["dataLength"])))
    session.on("Network.loadingFinished", lambda e: packed.update({e["requestId"]: int(e["encodedDataLength"])}))
    started = time.perf_counter()
    page.goto(address, wait_until="commit")
    page.wait_for_selector(ready, state="attached")
    took = time.perf_counter() - started
    page.wait_for_load_state("networkidle")
    context.close()
    data = [one for one, url in kinds.items() if not any(part in url for part in STATIC)]
    largest = max((packed.get(one, 0) for one in data), default=0)
    return Visit(took, sum(packed.values()), largest, max((whole.get(one, 0) for one in data), default=0))


def _more(sizes: dict[str, int], name: str, size: int) -> dict[str, int]:
    return {name: sizes.get(name, 0) + size}


def zoomed(browser: Any, address: str, ready: str, where: str) -> tuple[float, float | None]:
    """Seconds until a chart shows a tenth of its width, and until finer points stand there."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector(ready, state="attached")
    page.wait_for_load_state("networkidle")
    taken = [page.evaluate(ZOOM, where)]
    context.close()
    return taken[0][0], taken[0][1]


def main() -> None:
    """Make the data, serve them, time the pages."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tails", type=int, default=1000)
    parser.add_argument("--flights", type=int, default=1_000_000)
    parser.add_argument("--records", type=Path, help="where the records are kept for the next run")
    arguments = parser.parse_args()
    say(f"{platform.machine()}, {os.cpu_count()} processors, Python {platform.python_version()}")
    with tempfile.TemporaryDirectory() as scratch:
        folder = arguments.records or Path(scratch)
        if not (folder / "many").exists():
            make(folder, arguments.tails, arguments.flights)
        check(folder, arguments.tails)
        time_pages(folder)


def make(folder: Path, count: int, total: int) -> None:
    """Make both records, and work the trends out, as whoever adds logs does."""
    begun = clocked(lambda: make_many(folder / "many", count, total))
    say(f"{total:,} flights of {count:,} aircraft made in {begun:.0f} s")
    say(f"a flight of {make_long_flight(folder / 'long'):,} rows made")
    with open_records(folder / "many") as store:
        names = [one.tail for one in tails(store)]
        taken = clocked(lambda: tail_reviews(store, names, over=one_by_one))
    say(f"trends worked out in {taken:.0f} s, {taken / count:.2f} s an aircraft")


def check(folder: Path, count: int) -> None:
    """Stop where the records are not those asked for."""
    with open_records(folder / "many") as store:
        kept = tails(store)
        reviews = tail_reviews(store, [one.tail for one in kept])
    open_now = sum(any(one.open for one in review.findings) for review in reviews)
    if len(kept) != count or kept[0].flights != MANY or open_now < min(DRIFTING, count) / 2:
        raise SystemExit("the made records are not what was asked for, so no time is given")
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    flights = sum(one.flights for one in kept)
    say(f"{flights:,} flights of {len(kept):,} aircraft, {open_now} drift; {size / 1e9:.1f} GB")


def time_pages(folder: Path) -> None:
    """Serve the records and time every page."""
    from playwright.sync_api import sync_playwright

    bare = serve_in_background(bare_page())
    with (
        served(folder / "many") as many,
        served(folder / "long" / "records") as of_long,
        sync_playwright() as driver,
    ):
        browser = launch(driver)
        places = {"bare page": (bare, ".ready")}
        places |= {name: (f"{many}{path}", ready) for name, (path, ready) in PAGES.items()}
        places["long flight"] = (f"{of_long}/flight/1", LINE)
        first = {name: until_there(browser, *place) for name, place in places.items()}
        report(browser, places, first)
        for name, where in (("aircraft", "#aircraft-charts"), ("long flight", "#flight-chart")):
            taken = [zoomed(browser, *places[name], where) for _ in range(RUNS)]
            fine = [one for _, one in taken if one is not None]
            told = f"finer points after {median(fine):.2f} s" if len(fine) == RUNS else "no finer points"
            say(f"zoom, {name}: {median(at for at, _ in taken):.2f} s, {told}")


def clocked(call: Callable[[], Any]) -> float:
    """Seconds that a call takes."""
    started = time.perf_counter()
    call()
    return time.perf_counter() - started


def until_there(browser: Any, address: str, ready: str) -> float:
    """Seconds until a page of a server that was just started can be used, asked for again as its own words say."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page, begun = context.new_page(), time.perf_counter()
    page.set_default_timeout(120_000)
    while time.perf_counter() - begun < LONGEST_S:
        page.goto(address)
        page.wait_for_selector(f"{ready}, .trouble", state="attached")
        if page.locator(ready).count():
            context.close()
            return time.perf_counter() - begun
        time.sleep(2.0)
    raise SystemExit(f"{address} is not there after {LONGEST_S:.0f} s, so no time is given")


def report(browser: Any, places: dict[str, tuple[str, str]], first: dict[str, float]) -> None:
    """Time every page in turn, round by round, cold and warm; print medians, and medians of the rounds' ratios.

    In turn, so that whatever else the machine does meanwhile falls on all of them alike.
    """
    taken: dict[tuple[str, bool], list[Visit]] = {(name, warm): [] for name in places for warm in (False, True)}
    for _ in range(RUNS):
        for (name, warm), own in taken.items():
            own.append(visited(browser, *places[name], warm=warm))
    say(f"{'page':<12}{'first':>8}{'cold':>8}{'warm':>8}{'/bare':>7}{'answer kB':>11}{'unpacked':>10}{'all kB':>8}")
    for name in places:
        cold, warm = taken[name, False], taken[name, True]
        ratio = median(one.seconds / bare.seconds for one, bare in zip(cold, taken["bare page", False], strict=True))
        say(
            f"{name:<12}{first[name]:>7.2f}s{median(one.seconds for one in cold):>7.2f}s"
            f"{median(one.seconds for one in warm):>7.2f}s{ratio:>7.1f}{max(one.answer for one in cold) / 1e3:>11.0f}"
            f"{max(one.whole for one in cold) / 1e3:>10.0f}{median(one.travelled for one in cold) / 1e3:>8.0f}"
        )


def say(words: str) -> None:
    """Print at once."""
    print(words, flush=True)


if __name__ == "__main__":
    main()
