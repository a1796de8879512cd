"""Healthy and denied electrical lines claim nothing; what stands just beside them still does."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.squawk import vocabulary
from analyzer.squawk.understanding import understand

DATA = Path(__file__).with_name("data")


def lines(name: str) -> list[str]:
    return [line for line in (DATA / name).read_text("utf-8").splitlines() if line and not line.startswith("# ")]


def symptoms(words: str) -> list[str]:
    return [match.symptom for match in understand(words).matches]


@pytest.mark.parametrize("words", lines("healthy.txt"))
def test_a_healthy_or_denied_line_claims_nothing(words: str) -> None:
    assert symptoms(words) == []


@pytest.mark.parametrize(
    ("name", "told", "false"),
    [
        ("new_author_healthy.txt", 160, 1),  # learnt from since: 18 when they were new
        ("newest_author_healthy.txt", 82, 10),  # not learnt from
    ],
)
def test_of_other_authors_healthy_lines_few_claim(name: str, told: int, false: int) -> None:
    claiming = [words for words in lines(name) if symptoms(words)]
    assert len(lines(name)) == told
    assert len(claiming) <= false, claiming


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("4th start was slow", ["slow_crank"]),
        ("third start of the day was slow", ["slow_crank"]),
        ("noise goes away with alternator off", ["noise_or_pulsing"]),
        ("whine goes away with alternator off", ["noise_or_pulsing"]),
        ("Whine. Both headsets.", ["noise_or_pulsing"]),
        ("Alternator ok until 3000 ft. It quit", ["charging_light"]),
        ("Ammeter fine at first. It went to zero", ["ammeter_discharge"]),
        ("ALT annunciator tests fine but flickered twice", ["charging_light"]),
        ("Replaced 5A field fuse, blew again", ["breaker_opened"]),
        ("Hard to start", ["slow_crank"]),
        ("Engine did not start", ["dead_battery"]),
        ("Needed a jump start", ["dead_battery"]),
        ("-8 A in cruise", ["ammeter_discharge"]),
        ("Alternator would not come on line", ["charging_light"]),
        ("Battery never holds a charge", ["dead_battery"]),
        ("Breaker popped, was not reset", ["breaker_opened"]),
        ("Breaker would not reset", ["breaker_opened"]),
        ("Low voltage light came on", ["charging_light"]),
        ("ALT FAIL displayed", ["charging_light"]),
        ("Over voltage relay tripped", ["voltage_high"]),
        ("Voltage stays above 15.5", ["voltage_high"]),
        ("Battery hot? yes", ["battery_heat"]),
        ("Battery hot. No. 2 alternator ok", ["battery_heat"]),
        ("GEN light stays lit below 1100, is this normal?", ["charging_light"]),
    ],
)
def test_what_stands_beside_a_healthy_line_is_still_claimed(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


def test_a_long_word_is_not_compared_letter_by_letter(monkeypatch: pytest.MonkeyPatch) -> None:
    compared: list[tuple[str, str]] = []

    def counted(one: str, other: str) -> int:
        compared.append((one, other))
        return len(other)

    monkeypatch.setattr(vocabulary, "_letters_apart", counted)
    vocabulary._meanings.cache_clear()
    try:
        understand("s" + "q" * 9_000)
        understand(" ".join("s" + chr(97 + number % 26) * 39 for number in range(230)))
        assert compared == []
        vocabulary._meanings("startterqqqqqq")
        assert compared
        assert all(len(one) <= len(other) + 2 for one, other in compared)
    finally:
        vocabulary._meanings.cache_clear()
