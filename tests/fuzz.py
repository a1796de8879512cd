"""Throws spoilt inputs at the reader, the review, the fleet file, the entries and the names; keeps what breaks one.

``python -m tests.fuzz --seconds 3600 [--seed 1] [--only log]`` runs as long as it is told. Inputs are mutations of
sound ones; one that is answered in a way not seen before joins the stock that is mutated further. What breaks a target
(an error behind its promises, a fault that its log's own unit caught, a RuntimeWarning, over 20 s of a processor) is
made smaller as long as it breaks the same way, and is kept under ``tests/data/found``, where the tests try it again.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import re
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analyzer.aircraft import FleetFileError, TailError, read_fleet, tail_name
from analyzer.commands.terminal import without_steering
from analyzer.logs import Refusal
from analyzer.logs.unit import STOPPING, whole_or_refused
from analyzer.reports.text import Style, log_text
from analyzer.trends.entries import EntriesError, read_entries

ROOT = Path(__file__).resolve().parents[1]
FOUND = ROOT / "tests" / "data" / "found"
#: Taking longer than this of a processor is a fault [s]; the machine may have other things to do.
SLOWEST_S = 20.0
#: A log that is mutated is cut to so many lines: faults rarely need more.
LINES = 400
ODD = (
    b"", b"0", b"-1", b"1e308", b"-9934-01-01", b"9999-12-31", b"10000-01-01", b"99:99:99", b"nan", b"inf", b'"', b'""',
    b"\x00", b"\xff", b"\xe2\x80\xae", b"\x1b[2J", b"9" * 5000, b"=1+1", b"1;2", b"1,2", b"-", b"1.2.3", b"V", b"\r",
    b"#", b" ", b"\t", b"T", b"0001-01-01T00:00:00", b"1e999", b"--", b"'", b"[", b"{", b"[[[[[[[[", b"2026-02-30",
)  # fmt: skip
ENTRIES = b'tail,when,kind,words\nN0012T,2026-03-29,battery_replaced,"new, 34 Ah"\nN0012T,2026-04-01T10:00,other,x\n'
MARKS = b',;\t| \n\r"=.-:/'


@dataclass(frozen=True, slots=True)
class Fault:
    """An input that broke a target, and how."""

    target: str
    how: str  # the same for inputs that break it the same way
    data: bytes


@dataclass(slots=True)
class Run:
    """What a run came to."""

    tried: int = 0
    faults: dict[str, Fault] = field(default_factory=dict)  # one for each way
    ways: dict[str, int] = field(default_factory=dict)  # answers of a target that differ


class Held:
    """A source whose bytes are at hand."""

    def __init__(self, data: bytes) -> None:
        self.name, self.data = "flight.csv", data

    def read(self) -> bytes:
        return self.data


def log_answer(data: bytes) -> str:
    """Read and review a log as a command does; how it was answered."""
    from analyzer.contract import log_entry, written
    from analyzer.logs.read import read_or_raise
    from analyzer.results import log_result
    from analyzer.review import review_log

    def work() -> str:
        log = read_or_raise(Held(data), {})  # type: ignore[arg-type]
        result = log_result(review_log(log))
        written(log_entry(result))
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f]", log_text(result, Style(colour=False)))
        findings = {one.name.value for flight in result.flights for one in flight.findings}
        return f"{len(result.flights)} {sorted(findings)} {[_plain(one) for one in log.warnings]}"

    answer = whole_or_refused("flight.csv", work)
    if isinstance(answer, Refusal):
        assert "was not made for" not in answer.because, re.sub(
            r".*\((\w+\.py, line \d+): (\w+).*", r"\1 \2", answer.because
        )
        assert answer.because.endswith("."), "a refusal is a sentence"
        return _plain(answer.because)
    return answer


def _plain(words: str) -> str:
    """A sentence without what belongs to this one input."""
    return re.sub(r"'[^']*'|\d+", "*", words)[:80]


def fleet_answer(data: bytes) -> str:
    """Read a fleet file; how it was answered."""
    return _of_file(data, "fleet.toml", lambda path: str(len(read_fleet(path).aircraft)), FleetFileError)


def entries_answer(data: bytes) -> str:
    """Read a file of entries; how it was answered."""
    return _of_file(data, "entries.csv", lambda path: str(len(read_entries(path))), EntriesError)


def _of_file(data: bytes, name: str, read: Callable[[Path], str], refused: type[Exception]) -> str:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        try:
            return read(path)
        except refused as problem:
            return _plain(str(problem).replace(folder, ""))


def words_answer(data: bytes) -> str:
    """Take words as a tail and print them; how they were answered."""
    text = data.decode("utf-8", "surrogateescape")
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\ud800-\udfff]", without_steering(text))
    try:
        return f"tail of {len(tail_name(text))}"
    except TailError:
        return "no tail"


def _samples() -> list[bytes]:
    """The heads and middles of the sample logs."""
    found = []
    for path in sorted((ROOT / "sample_logs").glob("*.csv")):
        lines = path.read_bytes().splitlines(keepends=True)
        middle = max(2, len(lines) // 2)
        found += [b"".join(lines[:LINES]), b"".join(lines[:2] + lines[middle : middle + LINES])]
    return found


TARGETS: dict[str, tuple[Callable[[bytes], str], Callable[[], list[bytes]]]] = {
    "log": (log_answer, _samples),
    "fleet": (fleet_answer, lambda: [(ROOT / "sample_logs" / "fleet.toml").read_bytes()]),
    "entries": (entries_answer, lambda: [ENTRIES]),
    "words": (words_answer, lambda: [b"N0012T", "D-ÄXYZ".encode(), b"\x1b[31mN0\xe2\x80\xae12"]),
}  # fmt: skip


def mutated(stock: Sequence[bytes], chosen: random.Random) -> bytes:
    """A spoilt copy of one of the stock."""
    data = bytearray(chosen.choice(stock))
    for _ in range(chosen.choice((1, 1, 2, 3, 6, 12))):
        lines = bytes(data).split(b"\n")
        at, row = chosen.randrange(len(data) + 1), chosen.randrange(len(lines))
        match chosen.randrange(9):
            case 0:
                data[at : at + chosen.randrange(1, 9)] = chosen.choice(ODD)
            case 1 if data:
                data[at % len(data)] ^= 1 << chosen.randrange(8)
            case 2:
                data[at : at + chosen.choice((1, 30, 500))] = b""
            case 3:
                data = bytearray(
                    b"\n".join([*lines[:row], *lines[row : row + 3] * chosen.choice((2, 3)), *lines[row:]])
                )
            case 4:
                other = chosen.choice(stock).split(b"\n")
                data = bytearray(b"\n".join(lines[:row] + other[row:]))
            case 5:
                cells = lines[row].split(b",")
                cells[chosen.randrange(len(cells))] = chosen.choice(ODD)
                lines[row] = b",".join(cells)
                data = bytearray(b"\n".join(lines))
            case 6:
                data = bytearray(b"\n".join(_column_replaced(lines, chosen)))
            case 7:
                data = bytearray(bytes(data).replace(bytes([chosen.choice(MARKS)]), bytes([chosen.choice(MARKS)])))
            case _:
                chosen.shuffle(tail := lines[row : row + 20])
                data = bytearray(b"\n".join(lines[:row] + tail + lines[row + 20 :]))
    return bytes(data)


def _column_replaced(lines: list[bytes], chosen: random.Random) -> list[bytes]:
    """A column whose cells are all the same odd thing, as an instrument that is not fitted writes."""
    width = max(line.count(b",") for line in lines) + 1
    place, cell = chosen.randrange(width), chosen.choice(ODD)
    told = [line.split(b",") for line in lines]
    return [b",".join([*row[:place], cell, *row[place + 1 :]]) if len(row) > place and n > 1 else b",".join(row)
            for n, row in enumerate(told)]  # fmt: skip


def tried(target: str, data: bytes) -> tuple[str, Fault | None]:
    """How a target answers an input, and how it broke."""
    answer, _ = TARGETS[target]
    begun = time.process_time()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)
            way = answer(data)
    except STOPPING:
        raise
    except BaseException as fault:
        frames = [one for one in traceback.extract_tb(fault.__traceback__) if "/analyzer/" in one.filename]
        where = f"{Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else "tests"
        how = f"{target} {type(fault).__name__} {where} {str(fault)[:60] if isinstance(fault, AssertionError) else ''}"
        return how, Fault(target, how, data)
    took = time.process_time() - begun
    return way, Fault(target, f"{target} takes over {SLOWEST_S:.0f} s", data) if took > SLOWEST_S else None


def smaller(fault: Fault, tries: int = 200) -> Fault:
    """A smaller input that breaks the same way: lines are left out as long as it does."""
    best, step = fault.data.split(b"\n"), max(1, fault.data.count(b"\n") // 2)
    while step and tries:
        place = 0
        while place < len(best) and tries:
            tries -= 1
            less = best[:place] + best[place + step :]
            again = tried(fault.target, b"\n".join(less))[1]
            if again is not None and again.how == fault.how:
                best = less
            else:
                place += step
        step //= 2
    return Fault(fault.target, fault.how, b"\n".join(best))


def run(seconds: float, seed: int, only: Sequence[str] = (), most: int | None = None) -> Run:
    """Fuzz for a while, or for so many inputs."""
    chosen, done, until = random.Random(seed), Run(), time.monotonic() + seconds
    stocks = {name: make() for name, (_, make) in TARGETS.items() if not only or name in only}
    seen: dict[str, set[str]] = {name: set() for name in stocks}
    while time.monotonic() < until and (most is None or done.tried < most):
        for name, stock in stocks.items():
            data = mutated(stock, chosen)
            way, fault = tried(name, data)
            done.tried += 1
            if fault is not None:
                done.faults.setdefault(fault.how, fault)
            elif way not in seen[name]:
                seen[name].add(way)
                stock.append(data)
    done.ways = {name: len(own) for name, own in seen.items()}
    return done


def keep(fault: Fault) -> Path:
    """Keep what was found."""
    FOUND.mkdir(parents=True, exist_ok=True)
    path = FOUND / f"{fault.target}-{hashlib.sha256(fault.data).hexdigest()[:10]}.bin"
    path.write_bytes(fault.data)
    return path


def main() -> int:
    """The command line; 1 when something was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--only", nargs="*", choices=list(TARGETS), default=[])
    arguments = parser.parse_args()
    done = run(arguments.seconds, arguments.seed, arguments.only)
    print(f"seed {arguments.seed}: {done.tried} inputs, ways of answering {done.ways}, {len(done.faults)} faults")
    for fault in done.faults.values():
        print(f"{fault.how}: {keep(smaller(fault))}")
    return 1 if done.faults else 0


if __name__ == "__main__":
    sys.exit(main())
