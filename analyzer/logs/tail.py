"""Whose log it is: a registration in the metadata, in a column, in the file's name or a folder's."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from pathlib import PurePath

from analyzer.corrections import rests_on_corrections
from analyzer.logs.remembered import HEADS, remembered
from analyzer.logs.words import fold, split_words, vocabulary

_N_NUMBER = re.compile(r"N\d{1,5}|N\d{1,4}[A-Z]|N\d{1,3}[A-Z]{2}")
_WITH_HYPHEN = re.compile(r"([A-Z0-9]{1,2}|A4O|A9C)-([A-Z0-9]{3,5})")
_PLAIN = re.compile(r"(?=.*[A-Z])(?=.*\d|.*-)[A-Z0-9][A-Z0-9-]{2,8}")
#: A name and its value in quotes. Name and blanks are bounded: else a long line costs the square of its length.
_QUOTED = re.compile(r'([\w .\-/]{1,80}?)\s{0,9}=\s{0,9}"([^"]*)"')
_SURE = frozenset({"registration", "reg", "tail", "kennzeichen", "immatriculation", "matricula", "ident", "marche"})


def registration(text: str, *, sure: bool = False) -> str | None:
    """A registration that ``text`` is, in capitals, or None.

    ``sure`` says that the words beside it promise one, so that any mark of letters and digits will do.
    """
    mark = text.strip().strip("\"'").upper()
    if _N_NUMBER.fullmatch(mark):
        return mark
    hyphen = _WITH_HYPHEN.fullmatch(mark)
    if hyphen and hyphen[1] in vocabulary().nationality:
        return mark
    return mark if sure and _PLAIN.fullmatch(mark) else None


def pairs(lines: Iterable[str], delimiter: str) -> Iterator[tuple[str, str]]:
    """Names and values in lines of metadata: ``name: value``, ``name=value``, ``name;value``."""
    for raw in lines:
        line = raw.strip().lstrip("#%!/* ").strip()
        quoted = _QUOTED.findall(line)
        if quoted:
            yield from ((name.strip(), value.strip()) for name, value in quoted)
            continue
        cells = [cell.strip().strip('"').strip() for cell in re.split(rf"[{re.escape(delimiter)};|\t]", line)]
        for cell in cells:
            name, mark, value = re.match(r"([^:=]*)([:=]?)(.*)", cell, re.DOTALL).groups()  # type: ignore[union-attr]
            if mark and value.strip():
                yield name.strip(), value.strip().strip('"').strip()
        if len(cells) > 1 and not re.search(r"[:=]", cells[0]):
            yield cells[0], cells[1]


@rests_on_corrections
@remembered(4096)
def is_tail_name(name: str) -> bool:
    """Whether a name or header announces a registration."""
    words = split_words(name)
    return "tail" in vocabulary().concepts.get(words, frozenset())


@rests_on_corrections
@remembered(HEADS)
def tail_columns(names: tuple[str, ...]) -> tuple[int, ...]:
    """The first columns called as the aircraft's registration is."""
    return tuple([index for index, name in enumerate(names) if name and is_tail_name(name)][:3])


def in_metadata(metadata: Sequence[str], delimiter: str) -> str | None:
    """The registration that a line above the header gives."""
    for name, value in pairs(metadata, delimiter):
        if is_tail_name(name):
            sure = bool(_SURE & set(split_words(name)))
            for part in (value, *value.split()):
                if found := registration(part, sure=sure and part == value):
                    return found
    for line in metadata:  # in a sentence: "log of aircraft N012AB"
        words = line.replace(",", " ").split()
        for name, value in pairwise(words):
            if is_tail_name(name.strip("#:;()")) and (found := registration(value.strip(".:;()"))):
                return found
    return None


def in_cells(cells: Iterable[str]) -> str | None:
    """The registration that a column repeats, when its cells agree on one."""
    found = {cell.strip() for cell in cells if cell.strip()}
    return registration(found.pop(), sure=True) if len(found) == 1 else None


def in_path(source: str) -> tuple[str | None, str | None]:
    """The registration in a source's path, and whether the file or a folder is named by it."""
    path = PurePath(source.replace("\\", "/"))
    if found := _in_name(path.stem):
        return found, "file name"
    for part in reversed(path.parts[:-1]):
        if found := _in_name(part.removesuffix(".zip")):
            return found, "folder name"
    return None, None


def _in_name(name: str) -> str | None:
    for part in (name, *re.split(r"[\s_.,()\[\]+@]+", name), *re.split(r"[\s_.,()\[\]+@-]+", name)):
        hyphened = "-" in part
        if hyphened and part != part.upper():
            continue
        found = registration(part)
        if found and len(found) >= 4 and fold(found) not in ("n/a",):
            return found
    return None
