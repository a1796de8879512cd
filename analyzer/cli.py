"""The command line: ``taper``."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import Any

from analyzer import __version__
from analyzer.commands import (
    add,
    assign,
    columns,
    demo,
    dispose,
    entry,
    export,
    fleet,
    forget,
    rebuild,
    review,
    serve,
    trend,
)

DESCRIPTION = """\
Tells from the bus volts and amperes that engine monitors record whether a light aircraft's battery,
alternator and voltage regulator are healthy, what is drifting, and what to check next."""
EPILOG = """\
Start with:  taper review PATH      what each flight shows
To follow a fleet:  taper add PATH, then taper fleet and taper trend
If a result looks odd:  taper columns PATH      how the log was understood
To look around first:  taper demo --open      a season of an invented club in a browser

Results support maintenance decisions by appropriately certificated persons under the aircraft's
maintenance manual and local rules; they do not declare an aircraft airworthy."""

COMMANDS: dict[str, Any] = {
    "review": review,
    "columns": columns,
    "add": add,
    "fleet": fleet,
    "trend": trend,
    "entry": entry,
    "dispose": dispose,
    "assign": assign,
    "forget": forget,
    "rebuild": rebuild,
    "serve": serve,
    "demo": demo,
    "export": export,
}


def build_parser() -> argparse.ArgumentParser:
    """The whole command line; importing it loads nothing heavy."""
    parser = argparse.ArgumentParser(
        prog="taper",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"taper {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, module in COMMANDS.items():
        one = commands.add_parser(
            name,
            help=module.HELP,
            description=module.HELP[0].upper() + module.HELP[1:] + ".",
            epilog=module.EPILOG,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        module.add_arguments(one)
        one.set_defaults(run=module.run)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one subcommand; its exit status."""
    arguments = build_parser().parse_args(argv)
    try:
        return int(arguments.run(arguments))
    except KeyboardInterrupt:
        sys.stderr.write("taper: stopped\n")
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader went away, as head does
        return 0
