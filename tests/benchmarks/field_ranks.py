"""Where the cause that was found in the end stands among those told, for each report flown from the physics.

    python -m tests.benchmarks.field_ranks

The reports are those of ``tests/findings/field_reports.py``; how many causes stand first, and how many among the
first three, are the last line.
"""

from __future__ import annotations

from tests.findings.field_reports import REPORTS, causes_told, rank


def main() -> None:
    """Print the places."""
    places = {name: rank(name) for name in REPORTS}
    for name, place in places.items():
        told = ", ".join(causes_told(name)[:3])
        print(f"{name:24s} {place or 'not told':>8}  of {', '.join(sorted(REPORTS[name].found))}; told: {told}")
    known = [place for place in places.values() if place is not None]
    first, three = sum(place == 1 for place in known), sum(place <= 3 for place in known)
    print(f"{len(places)} reports: first {first}, among the first three {three}, not told {len(places) - len(known)}")


if __name__ == "__main__":
    main()
