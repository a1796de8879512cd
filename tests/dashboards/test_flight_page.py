"""The flight's page as a browser draws it: nothing on top of another, and all that is folded can be had."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from tests.browser import until

Visit = Callable[..., Any]
#: A flight with a finding and a long story.
FLIGHT = "flight/91"
MARKS = "[...document.querySelectorAll('#flight-chart .scatterlayer .trace text')].map((t) => t.textContent)"


@pytest.mark.parametrize(("size", "parts"), [((390, 844), 5), ((1280, 800), 12)])
def test_the_story_s_numbers_do_not_lie_on_each_other(
    pages: str, visit: Visit, size: tuple[int, int], parts: int
) -> None:
    page = visit(f"{pages}/{FLIGHT}", size=size)
    page.wait_for_selector("#flight-chart .scatterlayer .trace text")
    until(page, f"{MARKS}.length <= {parts}")
    boxes = [mark.bounding_box() for mark in page.locator("#flight-chart .scatterlayer .trace text").all()]
    edges = sorted((box["x"], box["x"] + box["width"]) for box in boxes)
    assert len(edges) > 2
    assert min(after[0] - before[1] for before, after in pairwise(edges)) > 0.0
