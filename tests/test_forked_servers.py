"""A page server of the tests that does not end when it is asked to is no reason to wait for ever, and is told of."""

from __future__ import annotations

import signal
import subprocess
import sys

from tests.forked_servers import how_it_ended

DEAF = "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print(flush=True); time.sleep(600)"


def test_a_process_that_ends_tells_its_status_and_one_that_does_not_is_killed() -> None:
    with subprocess.Popen([sys.executable, "-c", "raise SystemExit(3)"]) as ending:
        assert how_it_ended(ending.pid, 60.0) == 3
    with subprocess.Popen([sys.executable, "-c", DEAF], stdout=subprocess.PIPE) as deaf:
        assert deaf.stdout is not None
        deaf.stdout.readline()
        deaf.terminate()
        assert how_it_ended(deaf.pid, 0.2) == -signal.SIGKILL
