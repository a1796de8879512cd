"""A helper is ended when its task takes too long, too much memory, or dies; the next task finds a new one."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest

from analyzer import endable
from analyzer.endable import PRELOADED, DiedError, EndedError, Helper, StoppedError
from analyzer.logs import Refusal, Source
from analyzer.logs.apart import in_helper
from analyzer.records.problems import DamagedError

MUCH = 2_000_000_000
linux = pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="this system does not tell a process's memory")


def hold(size: int) -> int:
    held = [bytearray(os.urandom(1_000_000)) for _ in range(size // 1_000_000)]
    time.sleep(30)
    return len(held)


def named(source: Source | Refusal) -> str:
    return source.because if isinstance(source, Refusal) else str(os.getpid())


def dies(source: Source | Refusal) -> str:
    return source.because if isinstance(source, Refusal) else os._exit(1)


@pytest.fixture
def helper() -> Helper:
    return Helper()


def test_a_task_is_done_in_another_process_and_the_next_in_the_same(helper: Helper) -> None:
    first, second = (helper.do(os.getpid, seconds=60, memory=MUCH) for _ in range(2))
    assert first == second != os.getpid()
    helper.close()
    with pytest.raises(EndedError, match="stopped"):
        helper.do(os.getpid, seconds=60, memory=MUCH)


def pages_cleared() -> int:
    """Pages that the system had to give for tables of a megabyte, made and freed over and over."""
    import resource

    def tables() -> None:
        held = [bytearray(1_000_000) for _ in range(4)]
        del held

    tables()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(20):
        tables()
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before


@linux
def test_a_helper_keeps_the_memory_that_its_next_tables_take(helper: Helper) -> None:
    asked = helper.do(pages_cleared, seconds=60, memory=MUCH)
    helper.close()
    assert asked < 2000  # some 20,000 where each table's pages are given back


def test_a_helper_looks_for_no_garbage_in_what_it_has_loaded(helper: Helper) -> None:
    assert helper.do(gc.get_freeze_count, seconds=60, memory=MUCH) > 10_000
    helper.close()


def loaded() -> tuple[bool, bool]:
    return "analyzer.review" in sys.modules, "polars" in sys.modules


@linux
def test_a_helper_is_forked_from_one_that_has_loaded_all_but_what_starts_threads(helper: Helper) -> None:
    assert helper.do(loaded, seconds=60, memory=MUCH) == (True, False)
    helper.close()
    count = f"import {PRELOADED}; print(open('/proc/self/status').read().split('Threads:')[1].split()[0])"
    one_each = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run([sys.executable, "-c", count], capture_output=True, text=True, check=True, env=one_each)
    assert done.stdout.split() == ["1"]


def test_a_helper_runs_the_program_s_own_code_whatever_lies_where_it_was_called(tmp_path: Path) -> None:
    other = tmp_path / "logs" / "analyzer"
    other.mkdir(parents=True)
    for name in ("__init__", "preloaded"):
        (other / f"{name}.py").write_text("")
    call = tmp_path / "call.py"
    call.write_text(
        "from functools import partial\nfrom analyzer.endable import Helper\n"
        "where = partial(eval, \"__import__('analyzer').__file__\")\n"
        f"if __name__ == '__main__':\n    print(Helper().do(where, seconds=60, memory={MUCH}))\n"
    )
    done = subprocess.run(
        [sys.executable, str(call)], cwd=other.parent, capture_output=True, text=True, check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[1])},
    )  # fmt: skip
    assert Path(done.stdout.strip()) == Path(__file__).resolve().parents[1] / "analyzer" / "__init__.py"


def test_a_helper_that_is_closed_just_before_it_begins_says_that_it_was_stopped(
    helper: Helper, monkeypatch: pytest.MonkeyPatch
) -> None:
    @contextmanager
    def closed_meanwhile() -> Iterator[None]:
        helper._closed = True
        yield

    monkeypatch.setattr(endable, "_environment", closed_meanwhile)
    with pytest.raises(StoppedError):
        helper.do(os.getpid, seconds=60, memory=MUCH)


def test_what_a_task_raises_is_raised(helper: Helper) -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        helper.do(partial(int, "x"), seconds=60, memory=MUCH)
    helper.close()


def raise_damaged() -> None:
    raise DamagedError("the flight of 2026-03-01")


def test_what_is_damaged_is_said_in_the_same_sentence_by_a_helper(helper: Helper) -> None:
    with pytest.raises(DamagedError) as told:
        helper.do(raise_damaged, seconds=60, memory=MUCH)
    assert str(told.value) == str(DamagedError("the flight of 2026-03-01"))
    helper.close()


def test_a_task_that_takes_too_long_is_ended_and_the_next_is_done(helper: Helper) -> None:
    began = time.monotonic()
    with pytest.raises(EndedError, match="longer than the 1 s"):
        helper.do(partial(time.sleep, 600), seconds=1.0, memory=MUCH)
    assert time.monotonic() - began < 60.0
    assert helper.do(partial(abs, -3), seconds=60, memory=MUCH) == 3
    helper.close()


@linux
def test_a_task_that_takes_too_much_memory_is_ended(helper: Helper) -> None:
    with pytest.raises(EndedError, match="more than the 200 MB of memory"):
        helper.do(partial(hold, 900_000_000), seconds=120, memory=200_000_000)
    helper.close()


@linux
def test_a_helper_is_looked_after_the_more_often_the_nearer_it_is_to_its_memory(
    helper: Helper, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = endable._held
    looks: list[int] = []

    def noted(process: int) -> int:
        looks.append(held(process))
        return looks[-1]

    monkeypatch.setattr(endable, "_held", noted)

    def looks_in_a_task(room: int) -> int:
        helper.do(partial(abs, -3), seconds=60, memory=MUCH)  # it has started, and holds what it will
        memory = looks[-1] + room
        looks.clear()
        helper.do(partial(time.sleep, 0.2), seconds=60, memory=memory)
        return len(looks)

    assert looks_in_a_task(2_900_000_000) == 2, "before and after it"
    assert 5 <= looks_in_a_task(1_000_000) <= 12
    helper.close()


def test_a_look_comes_before_the_memory_or_the_time_that_is_left_can_be_over() -> None:
    assert endable._until_next_look(-1, 60.0) == endable._until_next_look(0, 60.0) == 0.02
    assert endable._until_next_look(1_000_000_000, 60.0) == pytest.approx(0.1)
    assert endable._until_next_look(2 * MUCH, 60.0) == 0.25
    assert endable._until_next_look(2 * MUCH, 0.05) == 0.05
    assert endable._until_next_look(2 * MUCH, 0.0) == endable._until_next_look(2 * MUCH, -0.1) == 0.02


def test_a_helper_that_dies_is_told_of(helper: Helper) -> None:
    with pytest.raises(DiedError, match="sudden end"):
        helper.do(partial(os._exit, 3), seconds=60, memory=MUCH)
    helper.close()


def test_a_log_that_takes_its_helper_with_it_is_refused(helper: Helper, capsys: pytest.CaptureFixture[str]) -> None:
    source = Source("a.csv", Path(sys.executable))
    assert "sudden end" in in_helper(helper, dies, source)
    assert "done once more" in capsys.readouterr().err
    assert in_helper(helper, named, source).isdecimal()
    assert in_helper(helper, named, Refusal("b.csv", "no")) == "no"
    helper.close()


def test_closing_waits_for_a_helper_that_is_just_being_started(monkeypatch: pytest.MonkeyPatch) -> None:
    """One that is left half started writes a traceback of its own as the program ends."""
    begun, done, start = threading.Event(), threading.Event(), BaseProcess.start

    def slowly(process: BaseProcess) -> None:
        begun.set()
        time.sleep(0.3)
        start(process)
        done.set()

    monkeypatch.setattr(BaseProcess, "start", slowly)
    helper, ended = Helper(), []

    def work() -> None:
        try:
            helper.do(os.getpid, seconds=9.0, memory=10**9)
        except EndedError as problem:
            ended.append(type(problem))

    thread = threading.Thread(target=work)
    thread.start()
    assert begun.wait(20.0)
    helper.close()
    assert done.is_set()
    thread.join(20.0)
    assert ended == [StoppedError]


#: Says how a copy ends whose program was gone before it began.
ORPHANED = """
from multiprocessing import get_context
from analyzer import endable

if __name__ == "__main__":
    gone = get_context("fork").Process(target=int)
    gone.start()
    gone.join()
    ours, theirs = get_context("fork").Pipe()
    copy = get_context("fork").Process(target=endable._serve, args=(theirs, gone.pid), daemon=True)
    copy.start()
    copy.join(60)
    print(copy.exitcode)
"""


#: Says whether a process that holds much started its helper itself.
HOLDING = """
import os
from analyzer import endable

if __name__ == "__main__":
    held = bytearray(os.urandom(1000) * (endable.MOST_COPIED_BYTES // 1000))
    helper = endable.Helper()
    endable.fork_where_safe([helper])
    print(helper.do(os.getppid, seconds=60, memory=2_000_000_000) == os.getpid())
    helper.close()
"""


#: Says of each helper whether this very process started it: at first, after its death, with records open, closed again,
#: and with a library of threads.
FORKING = """
import os, sqlite3, sys
from functools import partial
from analyzer.endable import DiedError, Helper, fork_where_safe

def own(helper):
    return helper.do(os.getppid, seconds=60, memory=2_000_000_000) == os.getpid()

if __name__ == "__main__":
    helpers = [Helper(), Helper()]
    fork_where_safe(helpers)
    print([own(helper) for helper in helpers])
    try:
        helpers[0].do(partial(os._exit, 1), seconds=60, memory=2_000_000_000)
    except DiedError:
        print(own(helpers[0]), own(helpers[1]))
    later = [Helper(), Helper(), Helper()]
    kept = sqlite3.connect(sys.argv[1])
    fork_where_safe(later[:1])
    kept.close()
    fork_where_safe(later[1:2])
    import polars
    fork_where_safe(later[2:])
    print([own(helper) for helper in later])
    for helper in helpers + later:
        helper.close()
"""


def said_by(script: str, folder: Path, *told: str) -> list[str]:
    """What a program prints that starts helpers itself; its lines, when it has complained of nothing."""
    path = folder / "starts_helpers.py"
    path.write_text(script)
    call = [sys.executable, str(path), *told]
    done = subprocess.run(call, capture_output=True, text=True, check=True, timeout=120)
    assert done.stderr == ""
    return done.stdout.splitlines()


@linux
def test_helpers_are_copies_of_the_program_only_while_nothing_in_it_forbids_that(tmp_path: Path) -> None:
    """Else what they inherit of threads or of open records would hang them, or damage these."""
    said = said_by(FORKING, tmp_path, str(tmp_path / "records.sqlite"))
    assert said == ["[True, True]", "False True", "[False, True, False]"]


@linux
def test_helpers_are_no_copies_of_a_program_that_holds_much(tmp_path: Path) -> None:
    """Its list of a million logs would be taken for what the first log of each helper needs."""
    assert said_by(HOLDING, tmp_path) == ["False"]


@linux
def test_a_copy_of_a_program_that_was_killed_before_it_began_ends_itself(tmp_path: Path) -> None:
    """It holds both ends of its pipe, and its parent is another by then."""
    assert said_by(ORPHANED, tmp_path) == ["1"]
