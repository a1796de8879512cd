"""A flight's readings in one small value, so that a tail's history loads in one query.

Doubles in the order of ``MEASURES``, three a measure: value, low, high; NaN where it could not be measured.
The same numbers stand in the table ``measures``, with reasons and notes, for whoever asks by measure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from analyzer.measures.measure import MEASURES, Measure
from analyzer.records.problems import RecordsError
from analyzer.trends.history import ReadingsRow

_ORDER = tuple(MEASURES)
_WIDTH = 3


def encode(measures: Mapping[str, Measure]) -> bytes:
    """Give the readings of a flight as bytes."""
    rows = np.full((len(_ORDER), _WIDTH), np.nan)
    for place, name in enumerate(_ORDER):
        measure = measures[name]
        if measure.value is not None and measure.low is not None and measure.high is not None:
            rows[place] = measure.value, measure.low, measure.high
    return rows.astype("<f8").tobytes()


def decode_all(many: Iterable[bytes]) -> list[ReadingsRow]:
    """Give the readings that ``encode`` was given, of many flights.

    Raises
    ------
    RecordsError
        When some were kept by a version of the program with other measures.
    """
    blobs = list(many)
    if any(len(blob) != 8 * _WIDTH * len(_ORDER) for blob in blobs):
        raise RecordsError("These flights were analysed by a version with other measures. Run: taper rebuild.")
    table = np.frombuffer(b"".join(blobs), dtype="<f8").astype(np.float64).reshape(len(blobs), len(_ORDER), _WIDTH)
    return [ReadingsRow(table, place) for place in range(len(blobs))]
