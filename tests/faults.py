"""Lets disks fail under every command that writes, and flips bits of all that is kept; says what that came to.

``python -m tests.faults --points 500 [--seed 1]`` lets one step of a command fail, in a process of its own: it is
killed before the step, killed in the midst of a write, or the disk answers EIO, ENOSPC once, or ENOSPC from there on.
Steps are counted at the C library (``faulty_disk.c``, so a C compiler is needed), whoever asks: this program, SQLite,
the tables' library. Then the same command must come to what it comes to without the fault; nothing is lost or doubled.

``python -m tests.faults --power 500 [--seed 1]`` lets power fail after any change of a command's: what was not synced
is gone, or there in part (``power_loss.py``). The same command then comes to what it comes to without; after its last
change all that it said was done lasts.

``python -m tests.faults --flips 300 [--seed 1]`` flips one bit of a trace, an original or the database with the results
in it. Every command that reads must then answer as before or say what is wrong, and so must ``taper check``; what can
be made anew is made anew by ``check --repair``, or by ``rebuild`` after the database was moved away as advised.
"""

from __future__ import annotations

import argparse
import copy
import ctypes
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any

from tests.power_loss import HOW, Disk, Step, read_steps

ROOT = Path(__file__).resolve().parents[1]
#: As ``faulty_disk.c`` numbers them.
KINDS = {"killed": 1, "killed in a write": 2, "EIO": 3, "ENOSPC": 4, "full": 5}
LOADED = "TAPER_FAULTY_DISK"
#: Share of the failures of power that come when a command has said that it is done.
DONE = 0.3
#: Every command that writes, as it is called on records with two logs; what is added lies in ``{new}`` and ``{more}``.
WRITING: dict[str, list[str]] = {
    "add": ["add", "{new}"],
    "add together": ["add", "{new}", "{more}"],
    "add named": ["add", "{new}", "--tail", "N0033R"],
    "add without originals": ["add", "{new}", "--no-originals"],
    "rebuild": ["rebuild"],
    "rebuild lost": ["rebuild"],
    "forget": ["forget", "N0011R", "--yes"],
    "assign": ["assign", "N0044R", "1", "2"],
    "entry": ["entry", "N0011R", "2026-03-03", "alternator replaced"],
    "import": ["entry", "--import", "{entries}"],
    "edit": ["entry", "N0011R", "2026-03-03", "alternator replaced", "--edit", "1"],
    "delete": ["entry", "--delete", "1"],
    "dispose": ["dispose", "N0011R", "{finding}", "{at}", "confirmed", "--who", "pat"],
    "repair": ["check", "--repair"],
    "backup": ["backup", "{file}"],
    "restore": ["restore", "{backup}"],
}
#: The moment that a digest is made, in its words.
_NOW = re.compile(r'^ *"as_of": "[^"]*",?$', re.MULTILINE)
READING = (
    ["fleet", "--json"], ["trend", "N0011R", "--json"], ["squawk", "N0011R", "low volts", "--json"],
    ["export", "{out}"], ["entry", "N0011R", "--list"], ["digest", "--since", "2026-01-01", "--json"],
)  # fmt: skip


@dataclass(slots=True)
class Found:
    """What a run came to."""

    tried: Counter[str] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)  # how the command ended that was let fail
    faults: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Said:
    """What a command in a process of its own came to."""

    status: int
    out: str
    err: str
    taken: int


def apart(work: Callable[[], Any], folder: Path, kind: str = "", at: int = 0, recording: Path | None = None) -> Said:
    """Do something in a forked process whose disk may fail, or is recorded; what it printed and how it ended."""
    out, err, count = (folder / name for name in ("out", "err", "count"))
    sys.stdout.flush()
    if not (child := os.fork()):
        status = 70
        try:
            for path, number in ((out, 1), (err, 2)):
                os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
            disk = ctypes.CDLL(os.environ[LOADED]) if LOADED in os.environ else None
            counted = os.open(count, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            if disk is not None:
                disk.faulty_arm(KINDS.get(kind, 0), ctypes.c_long(at or 1_000_000_000))
            if disk is not None and recording is not None:
                disk.faulty_record(os.open(recording, os.O_WRONLY | os.O_CREAT | os.O_TRUNC))
            status = work() or 0
            if disk is not None:
                taken = disk.faulty_taken()
                disk.faulty_arm(0, ctypes.c_long(0))
                os.write(counted, str(taken).encode())
        except SystemExit as left:
            status = left.code if isinstance(left.code, int) else 71
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(status)
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    text = [path.read_text("utf-8", "replace") if path.exists() else "" for path in (out, err, count)]
    return Said(ended, text[0], text[1], int(text[2] or 0))


def taper(words: list[str], folder: Path, kind: str = "", at: int = 0, recording: Path | None = None) -> Said:
    """Call the program."""

    def work() -> int:
        from analyzer.cli import main

        return main(words)

    return apart(work, folder, kind, at, recording)


def held(records: Path) -> str:
    """What records hold, checked to the last hash; done in a process of its own."""
    from analyzer.records import kept
    from analyzer.records.changing import kept_dispositions, kept_entries
    from analyzer.records.checking import check
    from analyzer.records.store import open_records

    with open_records(records) as store:
        troubles = [one.what for one in check(store).troubles]
        entered = [(one.entry.tail, str(one.entry.when), one.entry.words) for one in kept_entries(store)]
        said = [(one.tail, one.finding, one.at, one.verdict) for one in kept_dispositions(store)]
        flown = {tail.tail: tail.flights for tail in kept.tails(store)}
        known = [(log.hash[:12], log.tail, log.rows, log.original_kept) for log in kept.kept_logs(store)]
        return repr((troubles, sorted(map(str, known)), flown, entered, said))


def load_ahead() -> None:
    """Load what every command needs, so that forked processes need not; none of it starts a thread of its own."""
    for name in ("commands.add", "commands.check", "records.adding", "records.rebuilding", "review",
                 "squawk.across", "reports.text", "simulator"):  # fmt: skip
        import_module(f"analyzer.{name}")


class Bench:
    """Logs, records made of them, and a backup, in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        load_ahead()
        self.folder = folder
        self.records, self.logs = folder / "records", folder / "logs"
        self.beside = {
            "new": str(self.logs / "2.csv"), "more": str(self.logs / "more"),
            "entries": str(folder / "entries.csv"), "backup": str(folder / "b.zip"),
        }  # fmt: skip
        made = apart(self._make, folder)
        assert made.status == 0, made.err
        self.beside["finding"], self.beside["at"] = (folder / "raised").read_text().split()

    def _make(self) -> int:
        from analyzer.aircraft import Fleet
        from analyzer.logs import find_logs
        from analyzer.records.adding import add_logs
        from analyzer.records.backup import back_up
        from analyzer.records.changing import add_entries, dispose
        from analyzer.records.kept import flight_findings, tail_flights
        from analyzer.records.store import open_records
        from analyzer.simulator import simulate
        from analyzer.simulator.healthy import short_hop
        from analyzer.simulator.scenarios import alternator_never_on
        from analyzer.simulator.writers import COMMA, write_csv
        from analyzer.trends.entries import make_entry

        (self.logs / "more").mkdir(parents=True)
        for number in range(5):
            begins = datetime(2026, 3, 1, 9, 0) + timedelta(days=number)
            scenario = short_hop(40 + number) if number else alternator_never_on(40)
            recorder = replace(scenario.recorder, period_s=4.0)
            simulated = simulate(replace(scenario, tail="N0011R", begins=begins, recorder=recorder))
            write_csv(simulated, (self.logs if number < 3 else self.logs / "more") / f"{number}.csv", COMMA)
        with open_records(self.records, create=True) as store:
            add_logs(store, find_logs([self.logs / "0.csv"]), Fleet())
            add_logs(store, find_logs([self.logs / "1.csv"]), Fleet(), keep_originals=False)
            add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
            raised = flight_findings(store, "N0011R")[-1]
            flown = {one.id: one.start for one in tail_flights(store, "N0011R")}
            start = flown[raised.flight_id]
            name, at = raised.finding.name.value, start.isoformat() if start else ""
            dispose(store, "N0011R", name, at, "accepted", "pat")
            (self.folder / "raised").write_text(f"{name} {at}")
            back_up(store, self.folder / "b.zip")
        lines = ("tail,when,kind,words", "N0011R,2026-03-03,other,oil", "N0022R,2026-03-04,other,tyre", "")
        (self.folder / "entries.csv").write_text("\n".join(lines))
        return 0

    def ready(self, command: str, name: str) -> Path:
        """Records as a command finds them."""
        folder = self.folder / name
        if command == "restore":
            return folder
        shutil.copytree(self.records, folder)
        if command == "rebuild lost":
            for path in folder.glob("records.sqlite*"):
                path.unlink()
        if command == "repair":
            self.spoil(folder)
        return folder

    def spoil(self, folder: Path) -> None:
        """Change a start that is kept, as a disk might."""
        import sqlite3

        with sqlite3.connect(folder / "records.sqlite") as plain:
            plain.execute("UPDATE flights SET starts = '2020-01-01T00:00:00' WHERE id = 1")
        plain.close()

    def called(self, command: str, folder: Path) -> list[str]:
        """A command with its words."""
        given = self.beside | {"file": f"{folder}.zip"}
        return [*(word.format(**given) for word in WRITING[command]), "--records", str(folder)]

    def held(self, folder: Path) -> str:
        """What records hold, or how looking at them failed."""
        said = apart(lambda: print(held(folder)), self.folder)
        return said.out if said.status == 0 else f"{said.status} {said.err}"


def fail_at_points(points: int, chosen: random.Random, only: list[str], says: Callable[[str], None]) -> Found:
    """Let commands fail at so many steps; what was lost, doubled or not recovered."""
    found, expected, steps = Found(), {}, {}
    with tempfile.TemporaryDirectory(prefix="taper-faults-") as name:
        bench = Bench(Path(name))
        commands = only or list(WRITING)
        for command in commands:
            folder = bench.ready(command, f"whole {command}")
            said = taper(bench.called(command, folder), bench.folder)
            assert said.status == 0, (command, said)
            steps[command], expected[command] = said.taken, bench.held(folder)
            assert expected[command].startswith("([], "), (command, expected[command])
            shutil.rmtree(folder)
        says(f"steps of each command: {steps}")
        for number in range(points):
            command, kind = commands[number % len(commands)], chosen.choice(list(KINDS))
            at = chosen.randint(1, steps[command])
            if fault := _recovers(bench, command, kind, at, expected[command], found):
                found.faults.append(f"{command}, {kind} at step {at} of {steps[command]}: {fault}")
                says(found.faults[-1])
            found.tried[command] += 1
            if found.tried.total() % 50 == 0:
                says(f"{found.tried.total()} points tried")
    return found


def _recovers(bench: Bench, command: str, kind: str, at: int, expected: str, found: Found) -> str:
    """Let one step fail and call the same command again; what is wrong then, nothing where all is well."""
    folder = bench.ready(command, "tried")
    try:
        first = taper(bench.called(command, folder), bench.folder, kind, at)
        found.ended[{0: "done", -9: "killed"}.get(first.status, "said why not")] += 1
        if "Traceback" in first.err or first.status not in (0, 1, 3, -9):
            return f"it ends with {first.status} and says {first.err[-600:]}"
        return _again(bench, command, folder, expected)
    finally:
        Path(f"{folder}.zip").unlink(missing_ok=True)
        shutil.rmtree(folder, ignore_errors=True)


def _again(bench: Bench, command: str, folder: Path, expected: str) -> str:
    """Call the same command again; what is wrong then, nothing where all is well."""
    Path(f"{folder}.zip").unlink(missing_ok=True)
    if command == "restore" and (folder / "records.sqlite").exists():
        return _differs(bench.held(folder), expected)  # it was done, and refuses to be done again
    again = taper(bench.called(command, folder), bench.folder)
    # what was done before the fault may be there already: nothing to forget, no such entry
    if again.status != 0 and not (again.status == 3 and command in ("forget", "delete")):
        return f"the same command again ends with {again.status} and says {again.err[-600:]}"
    return _differs(bench.held(folder), expected)


def fail_power(times: int, chosen: random.Random, only: list[str], says: Callable[[str], None]) -> Found:
    """Let power fail so many times; what was lost, doubled, not recovered, or done and gone again."""
    found = Found()
    with tempfile.TemporaryDirectory(prefix="taper-power-") as name:
        bench = Bench(Path(name))
        commands = only or list(WRITING)
        for number, command in enumerate(commands):
            share = times // len(commands) + (number < times % len(commands))
            recorded = Recorded.of(bench, command)
            says(f"{command}: {len(recorded.steps)} changes and syncs")
            for _ in range(share):
                at, how = chosen.randint(1, len(recorded.steps)), chosen.choice(HOW)
                at = len(recorded.steps) if chosen.random() < DONE else at
                if fault := _outlasts(bench, recorded, at, how, chosen):
                    found.faults.append(f"{command}, power lost after change {at}, {how}: {fault}")
                    says(found.faults[-1])
                found.tried[command] += 1
                found.ended[how] += 1
    return found


@dataclass(frozen=True, slots=True)
class Recorded:
    """A command that was recorded from its first change to its last."""

    command: str
    before: Disk  # the folder with the records, and what is written beside them
    steps: list[Step]
    expected: str  # what the records hold in the end

    @classmethod
    def of(cls, bench: Bench, command: str) -> Recorded:
        """Call a command on records of its own and write down what it changes."""
        place, recording = bench.folder / f"power {command}", bench.folder / "recording"
        place.mkdir()
        records = bench.ready(command, f"{place.name}/records")
        before = Disk(place)
        said = taper(bench.called(command, records), bench.folder, recording=recording)
        assert said.status == 0, (command, said)
        return cls(command, before, list(read_steps(recording.read_bytes())), bench.held(records))


def _outlasts(bench: Bench, recorded: Recorded, at: int, how: str, chosen: random.Random) -> str:
    """What is wrong once power failed after one step; nothing where all is well."""
    place = bench.folder / "tried"
    disk = copy.deepcopy(recorded.before)
    for step in recorded.steps[:at]:
        disk.take(step)
    disk.fail(place, how, chosen)
    try:
        if at < len(recorded.steps):
            return _again(bench, recorded.command, place / "records", recorded.expected)
        if recorded.command == "backup":
            words = ["restore", str(place / "records.zip"), "--records", str(place / "restored")]
            if (said := taper(words, bench.folder)).status != 0:
                return f"the backup is gone: {said.err[-600:]}"
            return _differs(bench.held(place / "restored"), recorded.expected)
        return _differs(bench.held(place / "records"), recorded.expected)
    finally:
        shutil.rmtree(place)


def _differs(now: str, expected: str) -> str:
    return "" if now == expected else f"it holds {now} in place of {expected}"


def flip_bits(flips: int, chosen: random.Random, says: Callable[[str], None]) -> Found:
    """Flip so many bits, each alone; what changed silently or was not made anew."""
    found = Found()
    with tempfile.TemporaryDirectory(prefix="taper-faults-") as name:
        bench = Bench(Path(name))
        bench.ready("add", "read")
        truth = _read(bench, bench.folder / "read")
        assert all(said.status == 0 for said in truth), truth
        whole = bench.held(bench.folder / "read")
        for number in range(flips):
            folder = bench.ready("add", "flipped")
            path, offset, bit = _chosen_bit(folder, chosen)
            data = bytearray(path.read_bytes())
            data[offset] ^= 1 << bit
            path.write_bytes(data)
            where = f"flip {number}: bit {bit} of byte {offset} of {path.relative_to(folder)}"
            for fault in _after_flip(bench, folder, path, truth, whole):
                found.faults.append(f"{where}: {fault}")
                says(found.faults[-1])
            found.tried[path.suffix] += 1
            if found.tried.total() % 10 == 0:
                says(f"{found.tried.total()} bits flipped")
            shutil.rmtree(folder)
    return found


def _chosen_bit(folder: Path, chosen: random.Random) -> tuple[Path, int, int]:
    """A bit of a trace, an original, or of what is written in the database."""
    kinds = ("traces/*/*", "originals/*/*", "records.sqlite", "records.sqlite")
    path = chosen.choice(sorted(folder.glob(chosen.choice(kinds))))
    data = path.read_bytes()
    used = [at for at, byte in enumerate(data) if byte] if path.suffix == ".sqlite" else range(len(data))
    return path, chosen.choice(used), chosen.randrange(8)


def _read(bench: Bench, folder: Path) -> list[Said]:
    """What every reading command says, a written file as part of its output."""
    told = []
    for words in READING:
        out = bench.folder / "written"
        said = taper([word.format(out=out) for word in words] + ["--records", str(folder)], bench.folder)
        text = "".join(one.read_text("utf-8", "replace") for one in sorted(out.rglob("*.csv")))
        shutil.rmtree(out, ignore_errors=True)
        told.append(replace(said, out=_NOW.sub("", said.out) + text, taken=0))
    return told


def _after_flip(bench: Bench, folder: Path, path: Path, truth: list[Said], whole: str) -> list[str]:
    faults = []
    for words, said, true in zip(READING, _read(bench, folder), truth, strict=True):
        if "Traceback" in said.err or said.status not in (0, 1, 3):
            faults.append(f"{words[0]} ends with {said.status} and says {said.err[-600:]}")
        elif said.out != true.out and said.status == 0 and said.err == true.err:
            faults.append(f"{words[0]} answers otherwise and says nothing")
    checked = taper(["check", "--records", str(folder)], bench.folder)
    if "Traceback" in checked.err + checked.out or checked.status not in (0, 1, 3):
        faults.append(f"check ends with {checked.status} and says {checked.err[-600:]}")
    if checked.status == 0:  # then nothing that anybody is shown may differ
        return faults + [f"check finds nothing and {words[0]} differs" for words, said, true in
                         zip(READING, _read(bench, folder), truth, strict=True) if said.out != true.out]  # fmt: skip
    return faults + _made_anew(bench, folder, path, whole)


def _made_anew(bench: Bench, folder: Path, path: Path, whole: str) -> list[str]:
    """Follow the advice: repair, and where that cannot help rebuild or add the log again; what is then still wrong."""
    repaired = taper(["check", "--repair", "--records", str(folder)], bench.folder)
    if repaired.status == 0:
        return [fault] if (fault := _differs(bench.held(folder), whole)) else []
    if path.suffix == ".sqlite":
        for one in folder.glob("records.sqlite*"):
            one.rename(bench.folder / f"away-{one.name}")
        taper(["rebuild", "--records", str(folder)], bench.folder)
    else:  # an original, or a trace whose original was not kept
        for number in range(2):
            more = ["--no-originals"] if number else []
            taper(["add", str(bench.logs / f"{number}.csv"), *more, "--records", str(folder)], bench.folder)
    again = taper(["check", "--records", str(folder)], bench.folder)
    now = bench.held(folder)
    if again.status == 0 and now == whole:
        return []
    return [f"not made anew: {repaired.out[-300:]} {again.out[-300:]} {now} in place of {whole}"]


def _loaded_before_all() -> None:
    """Start this program anew with the faulty disk loaded before the C library."""
    if LOADED in os.environ:
        return
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        sys.exit("Failing disks need a C compiler (cc), which is not installed.")
    built = Path(tempfile.mkdtemp(prefix="taper-disk-")) / "disk.so"
    source = Path(__file__).with_name("faulty_disk.c")
    subprocess.run([compiler, "-O1", "-shared", "-fPIC", "-o", built, source, "-ldl"], check=True)
    environment = os.environ | {LOADED: str(built), "LD_PRELOAD": str(built)}
    os.execve(sys.executable, [sys.executable, "-m", "tests.faults", *sys.argv[1:]], environment)


def main() -> int:
    """The command line; 1 when something was lost, doubled, silent or not made anew."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--points", type=int, default=0, help="so many steps that fail")
    parser.add_argument("--power", type=int, default=0, help="so many times that power fails")
    parser.add_argument("--flips", type=int, default=0, help="so many flipped bits")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", choices=list(WRITING), default=[], help="only these commands")
    arguments = parser.parse_args()
    chosen, faults = random.Random(arguments.seed), 0
    if arguments.points or arguments.power:
        _loaded_before_all()
    if arguments.power:
        faults += _told("failures of power", fail_power(arguments.power, chosen, arguments.only, _say))
    if arguments.points:
        faults += _told("points", fail_at_points(arguments.points, chosen, arguments.only, _say))
    if arguments.flips:
        faults += _told("flips", flip_bits(arguments.flips, chosen, _say))
    return 1 if faults else 0


def _say(words: str) -> None:
    print(words, flush=True)


def _told(what: str, found: Found) -> int:
    _say(f"{found.tried.total()} {what}, {len(found.faults)} faults: {dict(found.tried)} {dict(found.ended)}")
    return len(found.faults)


if __name__ == "__main__":
    sys.exit(main())
