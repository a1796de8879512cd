"""The command line: ``taper``."""

from __future__ import annotations

import argparse
import atexit
import contextlib
import difflib
import errno
import gc
import io
import os
import signal
import sys
from collections.abc import Iterable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any, NoReturn

from analyzer import __version__
from analyzer.commands.terminal import clean_output

DESCRIPTION = """\
Tells from the bus volts and amperes that engine monitors record whether a light aircraft's battery,
alternator and voltage regulator are doing their work, what is drifting, and what to check next."""
EPILOG = """\
Start with:  taper review PATH      what each flight shows
To follow a fleet:  taper add PATH, then taper fleet and taper trend
One flight that is kept:  taper flight TAIL      its story; on the battery alone: taper plan TAIL
To look up a pilot's report:  taper squawk TAIL "ALT light flickered"
If a result looks odd:  taper columns PATH      how the log was understood
What a word means:  taper explain NAME      a measure, a finding, a threshold
To look around first:  taper demo --open      a season of an invented club in a browser

Results support maintenance decisions by appropriately certificated persons under the aircraft's
maintenance manual and local rules; they do not declare an aircraft airworthy."""

#: Objects that are made between two looks for garbage. By itself Python looks after 700 or 2,000, by its version, which
#: of the hundreds of thousands that are made as libraries are loaded finds none, and takes a twentieth of the time of a
#: short command.
BETWEEN_LOOKS = 50_000
#: What each command does; the module of its name is loaded when it is called.
COMMANDS = {
    "review": "say what each flight shows of battery, alternator and regulator",
    "columns": "say how logs were understood: columns, units, clock, what was left out",
    "explain": (
        "explain a measure, finding, phase, trend, formula or threshold: how it comes about and what to think of it"
    ),
    "add": "read, review and keep logs, so that trends and the fleet can be followed",
    "fleet": "show every kept aircraft, the one in most need first",
    "flight": "show one kept flight: what was found, and what the meters did and why",
    "compare": "compare two kept flights, of one aircraft or of two",
    "plan": "plan how long the battery lasts without the alternator, by day, by night, after shedding",
    "alarms": "suggest limits for a recorder's alarms from an aircraft's own flights, and whether they warn in time",
    "loads": "list an aircraft's own loads, measured from the steps that its flights show",
    "digest": "tell what is new, worse, fixed or coming up in the whole fleet since a date",
    "due": "list what falls due on each aircraft and when, also as a calendar",
    "waiting": "tell what waiting for the next visit costs: the chance of a loss, and when a check is best done",
    "peers": "set an aircraft beside the others of its type that are kept",
    "repairs": "count which work ended which finding in all kept aircraft, and what that says of the causes",
    "trend": "say what drifts or changes from flight to flight, and when it will matter",
    "squawk": "confirm or refute a pilot's report from the recordings",
    "entry": "log maintenance; trends restart where the work can change them",
    "dispose": "record the outcome of a finding: confirmed, not found, accepted, fixed",
    "settings": "show or change what is known of an aircraft: battery, ammeter, regulator, limits",
    "assign": "list kept logs without a tail number, and say whose they are",
    "forget": "delete kept logs, with all that came from them",
    "rebuild": "re-analyse every kept log, and count what changed",
    "check": "check that nothing kept is damaged or missing: database, readings, originals",
    "backup": "write all records into one file, while others keep working",
    "restore": "make records from a backup, and prove that they are what was backed up",
    "changes": "who changed what, when, and what stood there before",
    "user": "accounts for the pages, and links that only read",
    "serve": "show the records in a browser: the fleet, each aircraft, each flight",
    "demo": "make a season of an invented flying club and show it in a browser",
    "export": "write flights, measures and findings as CSV or Parquet",
    "completion": "print a script by which the shell completes commands and options",
}


class Command(argparse.ArgumentParser):
    """One command, whose module is loaded when it is called: help of all commands needs none of them."""

    def load(self) -> None:
        """Load the command's module, and take its arguments from it."""
        if self.get_default("run") is None:
            module = import_module(f"analyzer.commands.{self.prog.split()[-1]}")
            self.epilog = module.EPILOG
            module.add_arguments(self)
            self.set_defaults(run=module.run)

    def format_usage(self) -> str:
        """The command's line of usage."""
        self.load()
        return super().format_usage()

    def parse_known_args(self, *given: Any, **named: Any) -> Any:
        """Parse the command's part of the call."""
        self.load()
        return super().parse_known_args(*given, **named)


def build_parser() -> argparse.ArgumentParser:
    """The whole command line; what belongs to one command is loaded when that is called."""
    parser = argparse.ArgumentParser(
        prog="taper",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"taper {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND", parser_class=Command)
    for name, does in COMMANDS.items():
        commands.add_parser(
            name,
            help=does,
            description=does[0].upper() + does[1:] + ".",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
    commands.choices["completion"].set_defaults(parser=parser)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one subcommand; its exit status."""
    _prepare_output()
    with clean_output():
        return _run(argv)


def run_process() -> NoReturn:
    """Run the command that this process was called for, and end it.

    It is ended at once: taking the interpreter down object by object takes a tenth of the time of a short command, and
    where threads are still at work, as those of a server that was stopped may be, compiled libraries answer it by
    aborting the process.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # its matrices are small: a second thread would only wait
    gc.set_threshold(BETWEEN_LOOKS)
    status = main()
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):
            stream.flush()
    os._exit(status)


def _run(argv: Sequence[str] | None) -> int:
    arguments = _parsed(argv)
    try:
        status = int(arguments.run(arguments))
        sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        sys.stderr.write("taper: stopped\n")
        return 130
    except BrokenPipeError:
        _discard_output()  # the reader went away, as head does
        return 0
    except OSError as problem:
        if problem.errno not in (errno.ENOSPC, errno.EIO, errno.EBADF, errno.EFBIG):
            raise
        _discard_output()
        sys.stderr.write(f"taper: the output cannot be written ({problem.strerror})\n")
        return 2


def _parsed(argv: Sequence[str] | None) -> argparse.Namespace:
    """The call; where a command takes words, they may also stand behind its options."""
    parser = build_parser()
    words = sys.argv[1:] if argv is None else argv
    if words and not words[0].startswith("-") and words[0] not in COMMANDS:
        parser.error(f"there is no command '{words[0]}'; {_nearest(words[0], COMMANDS, 'taper --help lists all')}")
    arguments, rest = parser.parse_known_args(words)
    if rest and ("words" not in arguments or any(word.startswith("-") for word in rest)):
        odd = next((word for word in rest if word.startswith("-")), rest[0])
        from analyzer.commands.completion import options_of

        options = options_of(parser)[arguments.command]
        seen = f"'{arguments.command}' has no option" if odd.startswith("-") else f"'{arguments.command}' takes no"
        hint = _nearest(odd.split("=")[0], options, f"taper {arguments.command} --help lists all")
        parser.error(f"{seen} '{odd}'; {hint}")
    if rest:
        arguments.words = [*arguments.words, *rest]
    return arguments


def _nearest(word: str, known: Iterable[str], otherwise: str) -> str:
    """The nearest right word as a question, else what to do."""
    near = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=0.5)
    return f"did you mean '{near[0]}'?" if near else otherwise


def _prepare_output() -> None:
    """Write what the terminal's encoding cannot show as escapes, end on a request to, and miss no output."""
    if sys.stdout is None:
        sys.stdout = Path(os.devnull).open("w")  # noqa: SIM115 - lives as long as the process
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    with contextlib.suppress(ValueError):  # not in the main thread
        this = os.getpid()
        # helpers inherit the handler for a moment; they just end
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(143) if os.getpid() == this else os._exit(143))


def _discard_output() -> None:
    """Let nothing that is still buffered fail again as the process ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
