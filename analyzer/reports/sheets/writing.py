"""Writing a sheet to a file: what stands in the way is said before any work is done."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path

from analyzer.reports.sheets.document import Sheet

ENDINGS = (".html", ".pdf")
#: What each kind of file needs beside the analysis.
_NEEDS = {".html": ("matplotlib", "jinja2"), ".pdf": ("matplotlib", "typst")}


class SheetError(ValueError):
    """A sheet that cannot be written; the message says why and what to do."""


def check_target(path: Path, *, force: bool = False) -> None:
    """See that a sheet can be written to a path.

    Raises
    ------
    SheetError
        When the ending is neither .html nor .pdf, the file exists and ``force`` is not given, its folder is
        missing or cannot be written, or a library is not installed.
    """
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise SheetError(f"{path}: a sheet is a file whose name ends in .html or .pdf")
    missing = [name for name in _NEEDS[ending] if find_spec(name) is None]
    if missing:
        raise SheetError(f"a sheet needs {' and '.join(missing)}; in this project's checkout: pip install '.[sheet]'")
    if path.is_dir():
        raise SheetError(f"{path} is a folder; name a file in it")
    if path.exists() and not force:
        raise SheetError(f"{path} exists already and is left as it is; choose another name, or say --force")
    if not path.parent.is_dir():
        raise SheetError(f"{path.parent}: there is no such folder; make it first")
    if not os.access(path.parent, os.W_OK):
        raise SheetError(f"{path.parent}: this folder cannot be written; choose another")


def write_sheet(sheet: Sheet, path: Path, paper: str = "a4") -> None:
    """Write a sheet, all of it or nothing.

    Raises
    ------
    SheetError
        When the file cannot be written.
    """
    if path.suffix.lower() == ".pdf":
        from analyzer.reports.sheets.pdf import pdf

        content = pdf(sheet, paper)
    else:
        from analyzer.reports.sheets.html import html

        content = html(sheet, paper).encode()
    try:
        handle, name = tempfile.mkstemp(prefix=".sheet-", dir=path.parent)
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as to:
                to.write(content)
            part.chmod(0o666 & ~_umask())
            part.replace(path)
        finally:
            with suppress(FileNotFoundError):
                part.unlink()
    except OSError as problem:
        raise SheetError(f"{path}: the sheet cannot be written ({problem.strerror or problem})") from problem


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
