"""Lets ``analyzer.review`` and ``analyzer.squawk`` be called: a stage of the house, and a function of the library."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import Any


class CallableModule(ModuleType):
    """A module that does, called, what the function of its name in ``analyzer.library`` does."""

    def __call__(self, *given: Any, **named: Any) -> Any:
        """Call the library's function."""
        return getattr(import_module("analyzer.library"), self.__name__.rpartition(".")[2])(*given, **named)


def make_callable(module: str) -> None:
    """Make a module that is being imported one that can be called."""
    sys.modules[module].__class__ = CallableModule
