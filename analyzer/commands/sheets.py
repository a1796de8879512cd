"""What commands that write a sheet share: the arguments, what stands in the way, and the writing."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.reports.sheets import PAPERS

if TYPE_CHECKING:
    from analyzer.reports.sheets.document import Sheet


def add_sheet_arguments(
    parser: argparse.ArgumentParser, name: str = "--sheet", told: str = "write a sheet to print and hand to a shop"
) -> None:
    """The arguments of a sheet, the file's under the name given."""
    parser.add_argument(name, dest="sheet", metavar="FILE.html|.pdf", help=told)
    parser.add_argument("--paper", choices=PAPERS, default="a4", help="paper of the sheet (a4 if not said)")
    parser.add_argument("--force", action="store_true", help="write over a sheet that exists")


def sheet_in_the_way(arguments: argparse.Namespace) -> str | None:
    """Why no sheet can be written to the file named, None when it can or none was asked for."""
    if arguments.sheet is None:
        return None
    from analyzer.reports.sheets.writing import SheetError, check_target

    try:
        check_target(Path(arguments.sheet), force=arguments.force)
    except SheetError as problem:
        return str(problem)
    return None


def write_asked_sheet(arguments: argparse.Namespace, sheet: Sheet) -> str | None:
    """Write the sheet and say where; why it cannot be written, or None."""
    from analyzer.reports.sheets.writing import SheetError, write_sheet

    try:
        write_sheet(sheet, Path(arguments.sheet), arguments.paper)
    except SheetError as problem:
        return str(problem)
    sys.stderr.write(f"Sheet written: {arguments.sheet}\n")
    return None
