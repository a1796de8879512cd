"""A cluster's results are one machine's, also when a worker dies; one that cannot be used is refused with words."""

from __future__ import annotations

import json
import os
import platform
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import CancelledError
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest

import analyzer
from analyzer.aircraft import Fleet, read_fleet
from analyzer.cli import main
from analyzer.cluster import connection
from analyzer.cluster.connection import Cluster, connected
from analyzer.cluster.problems import ClusterError
from analyzer.cluster.workplace import (
    Batch,
    UnlikeError,
    Wanted,
    calculated_here,
    unlike_here,
    versions_here,
    work_through,
)
from analyzer.corrections import Corrections
from analyzer.logs import find_logs
from analyzer.records.adding import add_logs
from analyzer.records.files import ARRIVING
from analyzer.records.ledger import hash_of
from analyzer.records.parcels import by_parcels
from analyzer.records.store import open_records
from tests.cluster.machines import Machines, machines
from tests.records.same_records import held

ROOT = Path(__file__).resolve().parents[2]
SAMPLES, FLEET = ROOT / "sample_logs", ROOT / "sample_logs" / "fleet.toml"
CHOSEN = [*sorted(SAMPLES.glob("N012LF*.csv")), *sorted(SAMPLES.glob("N074LF*.csv"))]
LOGS = len(CHOSEN)


@pytest.fixture
def some(tmp_path: Path) -> Iterator[Machines]:
    """Machines that end with the test."""
    with machines(tmp_path) as started:
        yield started


@pytest.fixture
def bucket(some: Machines, monkeypatch: pytest.MonkeyPatch) -> str:
    """The sample logs in an object store, with a file that is no log among them."""
    import fsspec

    settings = {
        "AWS_ENDPOINT_URL": some.object_store(), "AWS_ACCESS_KEY_ID": "any", "AWS_SECRET_ACCESS_KEY": "any",
        "AWS_DEFAULT_REGION": "us-east-1",
    }  # fmt: skip
    for name, value in settings.items():
        monkeypatch.setenv(name, value)
    store = fsspec.filesystem("s3")
    store.mkdir("club")
    for path in CHOSEN:
        store.put_file(str(path), f"club/2026/{path.name}")
    store.pipe_file("club/2026/N000XX.csv", b"no log\n")
    store.pipe_file("club/2026/notes.txt", b"none at all\n")
    return "s3://club/2026"


def test_logs_in_an_object_store_come_to_the_same_on_two_workers_of_which_one_dies_as_on_one_machine(
    some, bucket, tmp_path, capsys, monkeypatch
):
    address = some.scheduler()
    workers = [some.worker(address) for _ in range(2)]
    alone, together, killed = (tmp_path / name for name in ("alone", "together", "killed"))
    assert main(["add", bucket, "--fleet", str(FLEET), "--records", str(alone)]) == 1
    told = capsys.readouterr().err
    assert f"{LOGS} new logs kept with {LOGS} flights, 0 kept already, 1 refused." in told
    assert f"refused: {bucket}/N000XX.csv: " in told

    add = ["add", bucket, "--fleet", str(FLEET), "--records", str(together), "--cluster", address]
    assert main(add) == 1
    assert capsys.readouterr().err == told.replace(str(alone), str(together))
    assert held(together) == held(alone)
    assert not (together / ARRIVING).exists()
    assert main(add) == 1
    assert f"0 new logs kept with 0 flights, {LOGS} kept already, 1 refused." in capsys.readouterr().err

    review = ["review", "--json", f"{bucket}/N012LF_2026-05-02.csv", f"{bucket}/N000XX.csv", *map(str, CHOSEN)]
    assert main([*review, "--cluster", address]) == 1
    on_cluster = capsys.readouterr().out
    assert main(review) == 1
    assert on_cluster == capsys.readouterr().out
    assert len(json.loads(on_cluster)["logs"]) == LOGS + 2

    with open_records(killed, create=True) as store, connected(address, [], killed) as cluster:
        worker_ids = cluster._client.run(os.getpid)
        assert len(worker_ids) == 2
        dead: list[str] = []

        def and_kill_one(work, sources, fleet, /):
            for one in cluster.over(work, sources, fleet):
                if not dead:
                    dead.append(next(name for name, tasks in cluster._client.processing().items() if tasks))
                    os.kill(worker_ids[dead[0]], signal.SIGKILL)
                yield one

        shutil.copy(FLEET, killed / "fleet.toml")
        over_new = by_parcels(and_kill_one, killed)
        added = add_logs(store, find_logs([bucket]), read_fleet(FLEET), over=cluster.over, over_new=over_new)
        assert set(cluster._workers()) == set(worker_ids) - set(dead)
    assert (len(added.new), len(added.refused)) == (LOGS, 1)
    assert {**held(killed), "tails": 0} == {**held(alone), "tails": 0}  # trends are the command's to work out

    for worker in workers:
        worker.kill()
    monkeypatch.setattr(connection, "ANSWER_S", 1.0)
    assert main([*review, "--cluster", address]) == 2
    assert f"The cluster at {address} has no worker. Start some with: dask worker" in capsys.readouterr().err


class _Client:
    """Stands for a scheduler whose every task ends with the same fault."""

    def __init__(self, fault: BaseException) -> None:
        self._fault = fault

    def submit(self, *_, key):
        return self

    def done(self):
        return True

    def result(self):
        raise self._fault

    def cancel(self):
        """Nothing is left to cancel."""

    def wait_for_workers(self, *_, timeout):
        assert timeout <= 10.0

    def run(self, *_, on_error):
        return {"tcp://a": None, "tcp://b": None}

    def scheduler_info(self, n_workers):
        return {"workers": {"tcp://a": {"nthreads": 1}, "tcp://b": {"nthreads": 1}}}


def test_a_batch_under_which_worker_after_worker_died_is_done_here():
    from distributed import KilledWorker

    sources = find_logs([SAMPLES])
    cluster = Cluster(_Client(KilledWorker("batch", None, 3)), "tcp://a", Wanted(versions_here()))
    assert list(cluster.over(hash_of, sources, Fleet())) == [hash_of(one, Fleet()) for one in sources]


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (UnlikeError("it has polars 1"), "^A worker of tcp://a cannot be used: it has polars 1.$"),
        (CancelledError(), "^The scheduler at tcp://a went away. What was kept stays"),
        (OSError(28, "No space left on device"), r"ended \(OSError: .*No space left.*\). What was kept stays"),
    ],
)
def test_what_ends_the_work_on_a_cluster_is_said(fault, words):
    cluster = Cluster(_Client(fault), "tcp://a", Wanted(versions_here()))
    with pytest.raises(ClusterError, match=words):
        next(cluster.over(hash_of, find_logs([SAMPLES]), Fleet()))


@pytest.mark.parametrize("after", [0, 2])
def test_a_cluster_that_goes_away_leaves_a_whole_document_or_none(after, monkeypatch, capsys):
    class Going:
        def over(self, work, sources, fleet, /):
            yield from (work(one, fleet) for one in sources[:after])
            raise ClusterError("The scheduler went away. What was kept stays; the same call goes on from there.")

    monkeypatch.setattr(connection, "connected", lambda *_: nullcontext(Going()))
    paths = [str(path) for path in sorted(SAMPLES.glob("N012LF*.csv"))]
    told = ["--fleet", str(FLEET), "--cluster", "tcp://a"]
    assert main(["review", *paths, *told, "--json"]) == (1 if after else 2)
    said = capsys.readouterr()
    if not after:
        assert (said.out, "The scheduler went away." in said.err) == ("", True)
        return
    logs = json.loads(said.out)["logs"]
    assert [(log["source"], log["state"]) for log in logs] == list(zip(paths, ["read", "read", "refused"], strict=True))
    assert [log["because"] for log in logs[2:]] == ["The log was not reviewed. The scheduler went away."]


def test_workers_whose_results_would_not_be_equal_are_refused(some, tmp_path, monkeypatch, capsys):
    other = tmp_path / "other"
    shutil.copytree(Path(analyzer.__file__).parent, other / "analyzer", ignore=shutil.ignore_patterns("__pycache__"))
    with (other / "analyzer" / "limits.toml").open("a") as file:
        file.write("# another\n")
    bare = tmp_path / "bare"
    (bare / "analyzer").mkdir(parents=True)
    (bare / "analyzer" / "__init__.py").write_text('raise ModuleNotFoundError("No module named analyzer")\n')
    places = {"code": {"PYTHONPATH": str(other)}, "none": {"PYTHONPATH": str(bare)}, "nanny": {}}
    schedulers = {name: some.scheduler() for name in places}
    for name, extra in places.items():
        some.worker(schedulers[name], extra, nanny=name == "nanny")
    expected = {
        "code": r"cannot be used: it has taper \S+ \(code \w{8}\) and this machine taper \S+ \(code \w{8}\), so its",
        "none": "cannot be used: it has no taper, or another version, so its results would not be equal",
        "nanny": "cannot be used: it was started with a nanny, .* start it with --no-nanny",
    }
    for name, words in expected.items():
        with pytest.raises(ClusterError, match=words), connected(schedulers[name]):
            pass
    assert main(["review", str(SAMPLES), "--cluster", schedulers["code"]]) == 2
    said = capsys.readouterr()
    assert (said.out, "it has taper" in said.err) == ("", True)


def test_a_worker_that_does_not_see_the_logs_or_the_records_is_refused(tmp_path):
    wanted = Wanted(versions_here(), (str(SAMPLES),), str(tmp_path), "token")
    assert "does not see the records' folder" in (unlike_here(wanted) or "")
    (tmp_path / "token").touch()
    assert unlike_here(wanted) is None
    assert "does not see /no/such; give logs" in (unlike_here(replace(wanted, paths=("/no/such",))) or "")
    for name in versions_here():
        other = replace(wanted, versions=versions_here() | {name: "0"})
        assert f"it has {name} " in (unlike_here(other) or "")
        with pytest.raises(UnlikeError, match="would not be equal"):
            work_through(Batch(hash_of, find_logs([SAMPLES]), Fleet(), Corrections(), other))


def test_a_worker_whose_processor_calculates_otherwise_is_refused():
    asked = [sys.executable, "-c", "from analyzer.cluster.workplace import calculated_here as of; print(of())"]
    plain, other = ({}, {"OPENBLAS_CORETYPE": "Prescott", "NPY_DISABLE_CPU_FEATURES": "X86_V3 X86_V4"})
    told = [
        subprocess.run(asked, env=os.environ | one, cwd=ROOT, capture_output=True, text=True, check=True).stdout.strip()
        for one in (plain, other)
    ]
    assert told[0] == calculated_here()
    if platform.machine() == "x86_64":  # the libraries' plainer code for it gives other last digits
        assert told[1] != told[0]
    because = unlike_here(Wanted(versions_here() | {"calculation": told[0][::-1]}))
    assert because == (
        f"it has calculation {told[0]} and this machine calculation {told[0][::-1]}, so its results would "
        "not be equal to the last digit; use workers whose processors calculate like this machine's"
    )


def test_an_address_that_does_not_answer_is_said_within_its_time(monkeypatch, capsys):
    assert connection.ANSWER_S <= 10.0
    monkeypatch.setattr(connection, "ANSWER_S", 0.3)
    assert main(["review", str(SAMPLES), "--cluster", "tcp://127.0.0.1:9"]) == 2
    assert "No cluster answers at tcp://127.0.0.1:9 within 0 s" in capsys.readouterr().err
    assert main(["review", str(SAMPLES), "--cluster", "nonsense://x"]) == 2
    assert "The address nonsense://x of a cluster cannot be used" in capsys.readouterr().err


def test_a_library_that_is_missing_is_said_with_what_to_install(monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert main(["review", str(SAMPLES), "--cluster", "tcp://127.0.0.1:9"]) == 2
    assert "pip install '.[cluster]'" in capsys.readouterr().err
