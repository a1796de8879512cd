"""What stands open of an aircraft, and so its condition: worked out here for command, page and sheet alike."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from analyzer.findings.finding import Severity
from analyzer.limits import limit_value

FindingDocument = Mapping[str, Any]  # of a flight or of many, by the contract
#: (finding, when it was raised or its flight began) of each finding of an aircraft that a person has settled.
Settled = Container[tuple[str, str]]
NONE_SETTLED: frozenset[tuple[str, str]] = frozenset()


@dataclass(frozen=True, slots=True)
class OfFlight:
    """A finding of one of an aircraft's latest flights."""

    finding: FindingDocument
    flight_start: str | None  # ISO 8601, None without a clock
    flight_id: int | None = None  # in the records


@dataclass(frozen=True, slots=True)
class OpenFindings:
    """The findings that have not lapsed and that nobody has settled."""

    over_many: tuple[FindingDocument, ...]
    of_flights: tuple[OfFlight, ...]  # the latest flight's first

    @property
    def worst(self) -> FindingDocument | None:
        """The most severe one, None when nothing stands open; of equals one over many flights, then the latest."""
        every = [*self.over_many, *(one.finding for one in self.of_flights)]
        return max(every, key=lambda one: Severity(one["severity"]).rank, default=None)

    @property
    def flight_id(self) -> int | None:
        """The flight that shows the worst one, None when it is one over many flights."""
        return next((one.flight_id for one in self.of_flights if one.finding is self.worst), None)

    @property
    def names(self) -> list[str]:
        """Kinds of findings that stand open, each once."""
        every = [*self.over_many, *(one.finding for one in self.of_flights)]
        return list(dict.fromkeys(one["finding"] for one in every))

    @property
    def more(self) -> str:
        """How many kinds there are beside the worst one's, "And 2 more."; empty when there is none."""
        others = len(self.names) - 1
        return f"And {others} more." if others > 0 else ""

    def condition(self, flights: int) -> str:
        """The worst severity; with nothing open "good", or "unknown" where too few ``flights`` tell what is usual."""
        if (worst := self.worst) is not None:
            return str(worst["severity"])
        return "good" if flights >= limit_value("trend_recurs") else "unknown"


def open_findings(
    over_many: Iterable[FindingDocument], of_flights: Iterable[OfFlight], settled: Settled = NONE_SETTLED
) -> OpenFindings:
    """Give what stands open.

    Parameters
    ----------
    over_many : findings of the trends by the contract
    of_flights : findings of the flights that still count (``flights_that_count``), the latest flight's first
    settled : what people have settled of this aircraft
    """
    return OpenFindings(
        tuple(f for f in over_many if is_open(f) and (f["finding"], key_moment(f)) not in settled),
        tuple(one for one in of_flights if (one.finding["finding"], one.flight_start) not in settled),
    )


def is_open(finding: FindingDocument) -> bool:
    """Whether a finding over many flights still stands; one without a clock lapses at a flight, not at a moment."""
    return finding["lapsed_at"] is None and finding.get("lapsed_flight") is None


def key_moment(finding: FindingDocument) -> str:
    """When a finding over many flights was raised, as people's words on it are kept; its flight where no clock tells.

    One that came back is known by when it was raised last: what was said of it before does not settle it.
    """
    if again := finding.get("raised_again"):
        return str(again[-1]["at"] or f"flight {again[-1]['flight'] + 1}")
    return str(finding["raised_at"] or f"flight {finding['raised_flight'] + 1}")


def open_of_review(review: Mapping[str, Any], settled: Settled = NONE_SETTLED) -> OpenFindings:
    """Give what stands open by a tail's review, a document of the trends' contract."""
    of_flights = [OfFlight(one, one["start"]) for one in review["in_latest_flights"]]
    return open_findings(review["findings"], of_flights, settled)


def flights_that_count() -> int:
    """Latest flights, back from the last one, whose own findings still stand open."""
    return int(limit_value("trend_recurs"))
