"""In-memory stand-in."""
from __future__ import annotations
from dataclasses import dataclass
from pathlib import Path
from analyzer.aircraft import read_fleet
from analyzer.logs import find_logs, read_log
from analyzer.review import FlightReview, review_log
from analyzer.aircraft import Aircraft

@dataclass
class KeptFlight:
    id: str
    tail: str | None
    source: str
    review: FlightReview
    warnings: tuple[str, ...]

class Kept:
    def __init__(self, folder):
        fleet = read_fleet(Path(folder)/"fleet.toml")
        self.flights = {}
        for s in find_logs([folder]):
            log = read_log(s); r = review_log(log, fleet.of(log.tail))
            for n, one in enumerate(r.flights,1):
                i = f"{Path(s.name).stem}-{n}"
                self.flights[i] = KeptFlight(i, log.tail, s.name, one, r.warnings)
    def flight(self, i): return self.flights.get(i)
