"""The lesson of a flight on paper: a page of questions with lines to write on, and a page of answers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.handout import LessonStep, lesson_steps, quit_in_lesson
from analyzer.reports.quit_words import case_rows, quit_sentences
from analyzer.reports.sheets.document import Chart as Drawing
from analyzer.reports.sheets.document import Facts, FormLines, Heading, NewPage, Paragraph, Part, Sheet, Table
from analyzer.results import clock_at

if TYPE_CHECKING:
    from analyzer.measures.alternator_quit import AlternatorQuits
    from analyzer.measures.battery_life import BatteryKnown
    from analyzer.review import FlightReview

#: Share of the usual height of the chart, so that the questions fit its page.
CHART_HEIGHT = 0.85


def handout_sheet(tail: str | None, review: FlightReview, known: BatteryKnown, today: datetime) -> Sheet:
    """A handout of one page, then its answers on another; ``known`` is what the records know of the battery."""
    from analyzer.reports.sheets.trace_plot import Window, trace_svg

    steps = lesson_steps(review)
    said = quit_in_lesson(review, steps, known, today)
    marks = [Window(one.at_s, one.at_s, str(number)) for number, one in enumerate(steps, 1)]
    picture = trace_svg(review.flight, marks, height=CHART_HEIGHT)
    start = review.flight.clock_start
    asked: list[Part] = [
        Paragraph("Read the chart at each number and answer. Name: ______________________    Date: ____________"),
        Drawing(picture, "What the meters recorded; each number is a step below."),
        Heading("Questions"),
    ]
    answers: list[Part] = [NewPage(), Heading("Answers")]
    for number, step in enumerate(steps, 1):
        head = Heading(f"{number}. {_when(start, step)}, {step.setting}", 3)
        asked += [head, *_lines([question.asks for question in step.readings], step.why.asks)]
        answers += [
            head,
            Facts(tuple((question.asks, question.answer) for question in step.readings)),
            Paragraph(step.why.answer),
        ]
    if not steps:
        asked.append(Paragraph("No reading of this flight shows what feeds the bus, so there is nothing to ask."))
    if said is not None:
        number = next(place for place, one in enumerate(steps, 1) if one.at_s == said.at_s)
        asked += _asked_quit(number)
        answers += _answered_quit(number, said)
    answers += [Paragraph(CAUTIONS[1], small=True)]
    begins = clock_at(start, review.flight.from_s)
    of = f", flight of {begins:%Y-%m-%d %H:%M}" if begins else ""
    return Sheet(f"{tail or 'Unknown aircraft'}{of}: where the power goes", today.date(), (*asked, *answers))


def _when(start: datetime | None, step: LessonStep) -> str:
    clock = clock_at(start, step.at_s)
    return f"{clock:%H:%M:%S}" if clock else f"{step.at_s / 60.0:.1f} min"


def _asked_quit(number: int) -> list[Part]:
    lines = _lines(["The bus falls to about", "The low-voltage light"], "What to do first, and why")
    return [Heading(f"What if the alternator quit at {number}?", 3), *lines]


def _lines(short: Sequence[str], wide: str) -> list[Part]:
    """Lines to write on: two short answers beside each other, and one that takes a whole line below them."""
    return [FormLines(tuple((asks, 0) for asks in short)), FormLines(((wide, 1),))]


def _answered_quit(number: int, said: AlternatorQuits) -> list[Part]:
    parts: list[Part] = [
        Heading(f"What if the alternator quit at {number}?", 3),
        Paragraph(" ".join(quit_sentences(said))),
    ]
    if said.cases:
        head = ("Case", "Load", "Plan on", "95 % interval")
        parts.append(Table(head, tuple(case_rows(said)), (4, 0, 3, 0)))
    return [*parts, Paragraph("What to do first is in the flight manual's checklist.")]
