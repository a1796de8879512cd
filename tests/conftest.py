"""What all tests share."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of public cases and recorded flights that lies beside the checkout, if it is there."""
    given = os.environ.get("TAPER_SHARED")
    folder = Path(given) if given else Path(__file__).resolve().parents[2] / "shared"
    if not folder.is_dir():
        pytest.skip(f"the folder of shared cases is not there ({folder}); set TAPER_SHARED to where it is")
    return folder
