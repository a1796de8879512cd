"""Judge a light aircraft's battery, alternator and regulator from its recorded volts and amperes.

>>> import analyzer
>>> reviews = analyzer.review("sample_logs/N012LF_2026-05-09.csv")
>>> reviews.flights[0].findings[0].name.value
'overvoltage_trip'

Nothing heavy is loaded before something is asked for. ``analyzer.library`` says what each name does.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyzer.library import Records, measures_frame, review, squawk, trend

__version__ = "0.1.0"
__all__ = ["Records", "measures_frame", "review", "squawk", "trend"]

#: Version of the machine-readable results.
CONTRACT = 1


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module("analyzer.library"), name)


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__", "CONTRACT"])
