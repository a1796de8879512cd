"""What was reported: words, and the symptoms that they mean or that were picked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.squawk.known import SYMPTOMS, load_symptoms
from analyzer.squawk.understanding import LONGEST_REPORT, Understood, understand
from analyzer.squawk.vocabulary import load_vocabulary

TOO_LONG = f"A report is read up to {LONGEST_REPORT:,} letters, and this one is longer; say it in fewer words."


class ReportError(ValueError):
    """A report that names no symptom; the message says what can be picked.

    ``unknown`` are words of which nothing was understood, None where something was, or nothing was said.
    """

    def __init__(self, message: str, unknown: str | None = None) -> None:
        super().__init__(message)
        self.unknown = unknown


@dataclass(frozen=True, slots=True)
class Report:
    """What was reported."""

    words: str | None
    understood: Understood
    picked: tuple[str, ...]

    @property
    def symptoms(self) -> tuple[str, ...]:
        """Symptoms in the order reported, each once."""
        return tuple(dict.fromkeys([*(match.symptom for match in self.understood.matches), *self.picked]))

    @property
    def slow_pulsing_only(self) -> bool:
        """Whether it speaks of a slow pulsing alone, and not of noise, which is faster than any log."""
        fast = load_vocabulary().faster_than_a_log
        told = [p for match in self.understood.matches if match.symptom == "noise_or_pulsing" for p in match.phrases]
        return bool(told) and not any(fast & set(phrase.split()) for phrase in told)


def report_of(words: str | None, picked: Sequence[str] = ()) -> Report:
    """Give what a report means.

    Raises
    ------
    ReportError
        When a picked name is no symptom, or words and picks name none; it lists what can be picked. When the words
        are too many.
    """
    if words and len(words) > LONGEST_REPORT:
        raise ReportError(TOO_LONG)
    for name in picked:
        if name not in SYMPTOMS:
            raise ReportError(f"'{name[:40]}' is no symptom. {pickable()}")
    said = words if words and words.strip() else None
    report = Report(said, understand(said or ""), tuple(picked))
    if not report.symptoms:
        unknown = None if report.understood.denied else said
        raise ReportError(f"{_why_none(report)} {pickable()}", unknown)
    return report


def _why_none(report: Report) -> str:
    if report.words is None:
        return "There are no words to look for, and no symptom was picked."
    if report.understood.denied:
        return f"The report takes back or denies all that it names ({', '.join(report.understood.denied)[:80]})."
    return "These words match no symptom."


def pickable() -> str:
    """The symptoms with their titles, for a person to pick from."""
    lines = [f"  {name:<18} {symptom.title}" for name, symptom in load_symptoms().items()]
    return "\n".join(["Pick with --symptom NAME:", *lines])


def symptoms_text() -> str:
    """Every symptom with its title, what it needs and the phrases that mean it."""
    lines = []
    for name, symptom in load_symptoms().items():
        phrases = [phrase.replace("_", " ") for phrase in load_vocabulary().phrases_of(name)]
        lines += [f"{name}  {symptom.title}", f"  needs: {symptom.needs}", f"  words: {', '.join(sorted(phrases))}"]
    return "\n".join(lines) + "\n"
