"""Reading text as if it were a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from analyzer.logs import Log, Source
from analyzer.logs.read import read_or_raise


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Log]:
    """Reads text or bytes under a name; raises the refusal, and every fault of the reader."""

    def read_text(text: str | bytes, name: str = "flight.csv", **columns: str) -> Log:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return read_or_raise(Source(f"logs/{name}", path), columns)

    return read_text
