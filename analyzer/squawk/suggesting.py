"""Where no word of a report is known: symptoms that it may mean, for a person to choose from. Never an answer.

A small classifier is learned at need from invented reports that stand as text (``examples.txt``), in usual words and
with what each word can mean by the vocabulary: words and groups of their letters, weighed by how rare they are, and a
logistic regression on these (scikit-learn's).
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from analyzer.corrections import rests_on_corrections
from analyzer.limits import limit_value
from analyzer.squawk.known import SYMPTOMS
from analyzer.squawk.tokens import parts_of
from analyzer.squawk.vocabulary import concepts_in

EXAMPLES_FILE = Path(__file__).with_name("examples.txt")
#: Choices that are offered at most.
MOST = 3
_NONE = "none"


def examples() -> list[tuple[str, str]]:
    """Each example: its symptom, or "none", and its words."""
    lines = [line for line in EXAMPLES_FILE.read_text("utf-8").splitlines() if line and not line.startswith("#")]
    return [(symptom, words) for symptom, words in (line.split("|", 1) for line in lines)]


def suggest(words: str) -> tuple[str, ...]:
    """Give two or three symptoms that words may mean, the likeliest first; none where they speak of something else.

    Parameters
    ----------
    words : a report of which nothing was understood
    """
    if not words.strip():
        return ()
    model = _learned()
    chances = dict(zip(model.classes_, model.predict_proba([_usual(words)])[0], strict=True))
    if chances[_NONE] > limit_value("squawk_guess_none"):
        return ()
    ordered = sorted(SYMPTOMS, key=lambda name: -chances[name])[:MOST]
    least = limit_value("squawk_guess_third") * chances[ordered[0]]
    return tuple(name for place, name in enumerate(ordered) if place < MOST - 1 or chances[name] >= least)


@rests_on_corrections
@cache
def _learned() -> Any:
    """The classifier, learned anew in each process that needs it."""
    from sklearn.feature_extraction.text import TfidfVectorizer
    from sklearn.linear_model import LogisticRegression
    from sklearn.pipeline import make_pipeline, make_union

    symptoms, words = zip(*examples(), strict=True)
    letters = TfidfVectorizer(analyzer="char_wb", ngram_range=(3, 4), sublinear_tf=True)
    whole = TfidfVectorizer(sublinear_tf=True, token_pattern=r"\S+")
    weights = LogisticRegression(C=20.0, tol=0.01, class_weight="balanced")
    return make_pipeline(make_union(letters, whole), weights).fit([_usual(one) for one in words], symptoms)


def _usual(words: str) -> str:
    """A report in usual words, and what each of them can mean."""
    parts = [tuple(token.word for token in part) for part in parts_of(words)]
    meanings = [f"<{one.name}>" for part in parts for one in concepts_in(part)]
    return " ".join([*(word for part in parts for word in part), *meanings])
