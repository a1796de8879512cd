"""A sheet as PDF, typeset by Typst; words reach it as data only, so that none can act as markup."""

from __future__ import annotations

import base64
import json
import re
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any

from analyzer.reports.sheets.document import Sheet, as_data

TEMPLATE = Path(__file__).with_name("sheet.typ")
SETTER_PAPERS = {"a4": "a4", "letter": "us-letter"}
#: A run of so many characters without a space may be broken, or it would leave the paper.
LONGEST_WORD = 30
_ZERO_WIDTH_SPACE = "\u200b"


def pdf(sheet: Sheet, paper: str = "a4") -> bytes:
    """The sheet as a PDF document; ``paper`` is "a4" or "letter"."""
    import typst

    return typst.compile(
        TEMPLATE.read_bytes(),
        format="pdf",
        sys_inputs={"sheet": json.dumps(_breakable(as_data(sheet))), "paper": SETTER_PAPERS[paper]},
        timestamp=int(datetime.combine(sheet.made, time(), UTC).timestamp()),
    )


def _breakable(value: Any) -> Any:
    """The same data with places to break inside long runs of characters, and each chart as its SVG text."""
    if isinstance(value, str):
        return re.sub(rf"\S{{{LONGEST_WORD}}}(?=\S)", lambda run: run.group() + _ZERO_WIDTH_SPACE, value)
    if isinstance(value, list):
        return [_breakable(one) for one in value]
    if isinstance(value, dict):
        drawn = {"svg_text": base64.b64decode(value["svg"]).decode()} if "svg" in value else {}
        return {name: _breakable(one) for name, one in value.items() if name != "svg"} | drawn
    return value
