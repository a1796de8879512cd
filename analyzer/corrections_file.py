"""Reading ``corrections.toml``, in which a mechanic corrects thresholds, weights of causes, and words.

[limits]                                       # names, units and meanings: taper explain
low_voltage = 12.8                             # both systems
overvoltage = { at_14 = 15.5, at_28 = 31.0 }   # one system's may stand alone

[causes.brushes]                               # a cause's weight to begin with for a finding
alternator_offline = 2.0

[header_words]                                 # a meaning = more words in a recorder's header
current = ["ladamp"]

[pilots_words]                                 # a concept = more ways in which pilots write it
light = ["telltale"]
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from analyzer.corrections import CORRECTIONS, Corrections, CorrectionsError
from analyzer.findings.causes import load_knowledge
from analyzer.limits import Limit, load_limits
from analyzer.logs.words import vocabulary
from analyzer.small_files import read_toml
from analyzer.squawk.vocabulary import load_vocabulary

#: A weight beyond this says nothing more: the other causes are gone.
LARGEST_WEIGHT = 1000.0
LONGEST_WORD, MOST_WORDS = 40, 200
T = TypeVar("T")


def read_corrections(path: Path) -> Corrections:
    """Read a file of corrections.

    Raises
    ------
    CorrectionsError
        When it cannot be read, is not TOML, names something that is not known (the nearest right name is given), or
        gives a value that cannot be.
    """
    try:
        document = read_toml(path)
    except OSError as problem:
        raise CorrectionsError(f"{path}: the file of corrections cannot be opened ({problem.strerror}).") from problem
    except UnicodeDecodeError as problem:
        raise CorrectionsError(f"{path}: the file of corrections is no text in UTF-8; save it as UTF-8.") from problem
    except ValueError as problem:
        raise CorrectionsError(f"{path}: the file of corrections is not valid TOML ({problem}).") from problem
    try:
        return _corrections(document, path)
    except CorrectionsError as problem:
        raise CorrectionsError(f"{path}: {problem}") from None


def corrections_beside(folder: Path) -> Corrections:
    """Give the corrections kept in a records' folder; none where there are none.

    Raises
    ------
    CorrectionsError
        When the file cannot be used.
    """
    path = folder / CORRECTIONS
    return read_corrections(path) if path.exists() else Corrections()


def _corrections(document: Mapping[str, Any], path: Path) -> Corrections:
    _known(document, ("limits", "causes", "header_words", "pilots_words"), "at the top level")
    causes = {cause.key: cause.weights for cause in load_knowledge().causes}
    weights: dict[tuple[str, str], float] = {}
    for cause, own in _table(document, "causes", causes).items():
        place = f"in [causes.{cause}]"
        if not isinstance(own, dict):
            raise CorrectionsError(f"'causes.{cause}' must be a table, written [causes.{cause}].")
        _known(own, causes[cause], place)
        weights |= {(cause, finding): _weight(finding, value, place) for finding, value in own.items()}
    limits = _each(document, "limits", load_limits(), lambda name, told: _limit(load_limits()[name], told))
    headers = {concept for found in vocabulary().concepts.values() for concept in found}
    return Corrections(
        limits,
        weights,
        _each(document, "header_words", headers, _words),
        _each(document, "pilots_words", load_vocabulary().concepts, _words),
        path.name,
    )


def _table(document: Mapping[str, Any], name: str, known: Iterable[str]) -> dict[str, Any]:
    table = document.get(name, {})
    if not isinstance(table, dict):
        raise CorrectionsError(f"'{name}' must be a table, written [{name}].")
    _known(table, known, f"in [{name}]")
    return table


def _each(document: Mapping[str, Any], name: str, known: Iterable[str], read: Callable[[str, Any], T]) -> dict[str, T]:
    return {key: read(key, value) for key, value in _table(document, name, known).items()}


def _known(table: Mapping[str, Any], names: Iterable[str], where: str) -> None:
    known = list(names)
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
            hint = f"did you mean '{near[0]}'?" if near else "known are, for instance: " + ", ".join(sorted(known)[:8])
            raise CorrectionsError(f"'{key}' {where} is not known; {hint}")


def _limit(limit: Limit, told: Any) -> tuple[float, float]:
    """A limit's values at 14 V and at 28 V; the one that is not given stays as it is shipped."""
    shipped = limit.shipped or (limit.at_14, limit.at_28)
    if not isinstance(told, dict):
        told = {"at_14": told, "at_28": told}
    _known(told, ("at_14", "at_28"), f"of the limit '{limit.name}'")
    given = {key: _value(limit, value, was) for (key, value), was in zip(told.items(), _of(told, shipped), strict=True)}
    return given.get("at_14", shipped[0]), given.get("at_28", shipped[1])


def _of(told: Mapping[str, Any], shipped: tuple[float, float]) -> list[float]:
    return [shipped[key == "at_28"] for key in told]


def _value(limit: Limit, value: Any, shipped: float) -> float:
    """A limit's value: a number, of the shipped one's sign where that has one."""
    unit = "" if limit.unit == "1" else f" {limit.unit}"
    if not _is_number(value):
        raise CorrectionsError(
            f"the limit '{limit.name}' must be a number{unit and ' of' + unit}, not {repr(value)[:30]}."
        )
    if shipped != 0.0 and value * shipped <= 0.0:
        raise CorrectionsError(
            f"the limit '{limit.name}' cannot be {value:g}{unit}; as shipped it is {shipped:g}{unit}."
        )
    return float(value)


def _weight(finding: str, value: Any, where: str) -> float:
    if not _is_number(value) or not 0.0 <= value <= LARGEST_WEIGHT:
        raise CorrectionsError(
            f"the weight of '{finding}' {where} must be a number from 0 to {LARGEST_WEIGHT:g}, not {repr(value)[:30]}."
        )
    return float(value)


def _words(name: str, told: Any) -> tuple[str, ...]:
    words = told if isinstance(told, list) else [told]
    if not all(isinstance(word, str) and 0 < len(word.strip()) <= LONGEST_WORD for word in words):
        raise CorrectionsError(f'the words of \'{name}\' must be a list such as ["one", "two words"].')
    if len(words) > MOST_WORDS:
        raise CorrectionsError(f"'{name}' has {len(words)} words; at most {MOST_WORDS} are taken.")
    return tuple(words)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value) and abs(value) < 1e9
