"""Words of the command line, which no page, e-mail or sheet speaks, and what stands on a page."""

from __future__ import annotations

import re
from typing import Any

from analyzer.cli import COMMANDS

COMMAND_WORDS = re.compile(
    rf"(?<![\w-])--[a-z][a-z-]+|\btaper (?:{'|'.join(COMMANDS)})\b|TAPER_[A-Z]+|\b[A-Z]+\.toml\b"
)
#: What stands on a page, also what is folded, without its styles and scripts.
SHOWN = """() => { const whole = document.body.cloneNode(true);
  whole.querySelectorAll("style, script").forEach((one) => one.remove()); return whole.textContent; }"""


def speaks_plainly(page: Any) -> None:
    """Check that no word of the command line stands on a page, as it is open in a browser."""
    text = page.evaluate(SHOWN)
    assert len(text) > 200, page.url
    assert COMMAND_WORDS.findall(text) == [], page.url
