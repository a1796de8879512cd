"""Where the records are: named, set in the environment, or a folder of the user's own."""

from __future__ import annotations

import os
import sys
from pathlib import Path

VARIABLE = "TAPER_RECORDS"
#: What is known of each aircraft beforehand, kept with the records.
FLEET = "fleet.toml"


def records_folder(named: str | None = None) -> Path:
    """Give the folder of the records: ``named``, else ``TAPER_RECORDS``, else the user's data folder."""
    if named:
        return Path(named).expanduser()
    if of_environment := os.environ.get(VARIABLE):
        return Path(of_environment).expanduser()
    return _data_folder() / "taper"


def _data_folder() -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
