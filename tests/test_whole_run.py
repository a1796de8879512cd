"""The call that runs everything compiles the tests beforehand where that is of use, and there alone."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests import __main__ as whole_run


def calls(monkeypatch: pytest.MonkeyPatch, root: Path, *, writes: bool) -> list[Any]:
    """The programs that are called to compile the tests below a folder."""
    called: list[Any] = []
    monkeypatch.setattr(whole_run, "ROOT", root)
    monkeypatch.setattr(sys, "dont_write_bytecode", not writes)
    monkeypatch.setattr(subprocess, "call", lambda command, **_given: called.append(command))
    whole_run.compile_once()
    return called


def test_what_is_tested_is_compiled_once_where_python_may_keep_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert len(calls(monkeypatch, tmp_path, writes=True)) == 1
    assert calls(monkeypatch, tmp_path, writes=False) == []
    compiled = tmp_path / "tests" / "flights" / "__pycache__"
    compiled.mkdir(parents=True)
    (compiled / "test_runs.cpython-311-pytest-9.2.0.pyc").touch()
    assert calls(monkeypatch, tmp_path, writes=True) == []
