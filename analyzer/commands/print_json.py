"""A document as JSON on standard output."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from typing import Any


def print_json(document: Mapping[str, Any], default: Callable[[Any], Any] | None = None) -> None:
    """Print one document and nothing else; ``default`` writes what JSON has no form for.

    Raises
    ------
    ValueError
        Where a number is none; no document holds NaN.
    """
    sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False, default=default) + "\n")
