"""Each flight once: a flight may come in two files, in two layouts or with one of them cut short."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from itertools import pairwise
from operator import itemgetter
from typing import Any, Generic, NamedTuple, TypeVar

Flight = TypeVar("Flight")

#: Two flights do not begin at one moment, however short they are.
_MOMENT = timedelta(microseconds=1)


class Deduplicated(NamedTuple, Generic[Flight]):
    """Flights of one aircraft in order of start, each once, and the copies that were left out, in that order too."""

    kept: list[Flight]
    copies: list[Flight]


def deduplicate(
    flights: Iterable[Flight],
    span: Callable[[Flight], tuple[datetime, datetime]],
    better: Callable[[Flight], Any] | None = None,
) -> Deduplicated[Flight]:
    """Tell the flights of one aircraft from copies of them.

    An aircraft flies one flight at a time, so that flights which overlap are one: the longest copy is kept, of
    equally long ones the one given first. Flights that only touch are two.

    Parameters
    ----------
    flights : of one aircraft, equally long copies in the order of preference, but for ``better``
    span : gives a flight's start and end
    better : key that is greater for the better of two equally long copies; asked only where flights overlap
    """
    given = [(*span(one), one) for one in flights]
    in_order = sorted(given, key=itemgetter(0))
    if all(start < later and end <= later for (start, end, _), (later, *_) in pairwise(in_order)):
        return Deduplicated([one for *_, one in in_order], [])  # as nearly always, and many times sooner
    if better is not None:
        given.sort(key=lambda timed: better(timed[2]), reverse=True)
    told = sorted(given, key=lambda timed: timed[1] - timed[0], reverse=True)
    kept: list[tuple[datetime, datetime, Flight]] = []
    copies: list[tuple[datetime, datetime, Flight]] = []
    for timed in told:
        start, end, _ = timed
        place = bisect_left(kept, start, key=lambda one: one[0])
        clear_of_earlier = place == 0 or kept[place - 1][1] <= start
        clear_of_later = place == len(kept) or max(end, start + _MOMENT) <= kept[place][0]
        if clear_of_earlier and clear_of_later:
            kept.insert(place, timed)
        else:
            copies.append(timed)
    copies.sort(key=lambda one: one[0])
    return Deduplicated([one for *_, one in kept], [one for *_, one in copies])
