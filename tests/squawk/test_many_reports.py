"""Many reports at once: how many are understood exactly, and how often another system is taken for this one."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analyzer.squawk.known import SYMPTOMS
from analyzer.squawk.understanding import understand

DATA = Path(__file__).with_name("data")
LETTERS = dict(zip("LDHBSXNVTG", SYMPTOMS, strict=True))


def lines(path: Path) -> list[str]:
    return [line for line in path.read_text("utf-8").splitlines() if line and not line.startswith("# ")]


def claimed(name: str = "reports.txt") -> list[tuple[str, set[str]]]:
    """Each report with what it claims."""
    told = (line.split("|", 1) for line in lines(DATA / name))
    return [(words, {LETTERS[one] for one in letters.split(",") if one != "-"}) for letters, words in told]


def symptoms(words: str) -> set[str]:
    return {match.symptom for match in understand(words).matches}


def missed(reports: list[tuple[str, set[str]]]) -> list[tuple[str, set[str]]]:
    return [(words, wanted) for words, wanted in reports if symptoms(words) != wanted]


def test_of_more_than_a_thousand_reports_nearly_all_are_understood_exactly() -> None:
    reports = claimed()
    wrong = missed(reports)
    assert len(reports) > 3300
    assert len(wrong) <= 0.011 * len(reports), wrong


def test_other_systems_are_not_taken_for_the_electrical_one() -> None:
    told = lines(DATA / "other_systems.txt")
    false = [words for words in told if symptoms(words)]
    assert len(told) > 1100
    assert len(false) <= 0.005 * len(told), false


@pytest.mark.long(keep=4)
@pytest.mark.parametrize(
    ("author", "reports", "understood", "others"),
    [
        ("last_author", 180, 171, 120),
        ("odd_voices", 220, 216, 250),
        ("plain_speech", 500, 490, 200),
        ("line_entries", 272, 271, 300),
        ("many_voices", 400, 396, 300),
        ("ramp_voices", 272, 271, 300),
        ("club_voices", 272, 272, 300),
        ("hangar_voices", 272, 272, 300),
    ],
)
def test_an_authors_reports_are_understood_as_often_as_once_their_words_were_learnt(
    author: str, reports: int, understood: int, others: int
) -> None:
    told = claimed(f"{author}_reports.txt")
    wrong = missed(told)
    assert len(told) == reports
    assert len(told) - len(wrong) >= understood, wrong
    of_others = lines(DATA / f"{author}_other_systems.txt")
    assert len(of_others) == others
    assert not [words for words in of_others if symptoms(words)]


@pytest.mark.parametrize(
    ("author", "reports", "understood"),
    [("newest_author", 160, 150), ("fresh_voices", 272, 259), ("letter_voices", 272, 262)],
)
def test_reports_that_the_vocabulary_has_not_learnt_from_are_understood_as_often_as_when_they_were_new(
    author: str, reports: int, understood: int
) -> None:
    told = claimed(f"{author}_reports.txt")
    wrong = missed(told)
    assert len(told) == reports
    assert len(told) - len(wrong) >= understood, wrong


def test_lines_of_their_authors_on_other_systems_are_hardly_ever_taken_for_the_electrical_one() -> None:
    of_others = [one for author in ("fresh", "letter") for one in lines(DATA / f"{author}_voices_other_systems.txt")]
    false = [words for words in of_others if symptoms(words)]
    assert len(of_others) == 600
    assert len(false) <= 0.005 * len(of_others), false


def test_reports_of_another_author_are_understood(shared: Path) -> None:
    told = [json.loads(line) for line in (shared / "words" / "reports.jsonl").read_text("utf-8").splitlines()]
    wrong = missed([(one["words"], set(one["symptoms"])) for one in told])
    assert len(wrong) <= 0.05 * len(told), wrong
    others = (shared / "words" / "other_systems.txt").read_text("utf-8").splitlines()
    assert not [words for words in others if symptoms(words)]
