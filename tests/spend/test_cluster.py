"""The same answer on a real Dask scheduler with two worker processes, one of which dies."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from simulator.errors import InputError
from simulator.spend import DaskCluster, plan_spending

BUDGETS = (150, 1500)
PATIENCE_S = 60.0


def started(folder, *words, **more):
    threads = {"NUMBA_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.Popen(
        [sys.executable, "-m", *words, "--no-dashboard"],
        cwd=folder,
        env={**os.environ, **threads, **more},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.fixture
def cluster(tmp_path, request):
    """(address, [worker processes]) of a scheduler with two workers of one thread each.

    The parameter, if any, is what stands in the workers' environment besides.
    """
    pytest.importorskip("distributed")
    processes = []
    try:
        note = tmp_path / "scheduler.json"
        processes.append(
            started(tmp_path, "distributed.cli.dask_scheduler", "--host", "127.0.0.1",
                    "--port", "0", "--scheduler-file", str(note))
        )  # fmt: skip
        address = None
        end_s = time.monotonic() + PATIENCE_S
        while address is None and time.monotonic() < end_s:
            time.sleep(0.1)
            try:
                address = json.loads(note.read_text())["address"]
            except (OSError, ValueError):
                continue
        for _ in range(2):
            processes.append(
                started(tmp_path, "distributed.cli.dask_worker", address, "--nthreads", "1",
                        "--no-nanny", "--local-directory", str(tmp_path),
                        **getattr(request, "param", {}))
            )  # fmt: skip
        wait_for_workers(address, 2)
        yield address, processes[1:]
    finally:
        for process in processes:
            process.kill()
            process.wait()


def wait_for_workers(address, n):
    from distributed import Client

    with Client(address, set_as_default=False) as client:
        client.wait_for_workers(n, timeout=PATIENCE_S)


def wait_until(is_so):
    end_s = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < end_s
        time.sleep(0.1)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_same_bits_and_a_killed_worker_loses_nothing(
    cluster, lively_catalogue, short_races, doubtful_build
):
    address, workers = cluster
    question = {
        "build": doubtful_build,
        "catalogue": lively_catalogue,
        "races": short_races,
        "budgets": BUDGETS,
        "n_draws": 100,
    }
    here = plan_spending(**question)
    there = DaskCluster(address, short_races)
    told, lost = [], []

    def tell(what, done, of):
        told.append((what, done))
        if len(told) == 3:
            # The worker that holds most: times not fetched yet, rides to do, a copy of a race.
            client = there._client
            pids, held, to_do = client.run(os.getpid), client.has_what(), client.processing()
            held = {worker: [*held[worker], *to_do[worker]] for worker in pids}
            busy = max(held, key=lambda worker: len(held[worker]))
            lost.extend(held[busy])
            os.kill(pids[busy], signal.SIGKILL)

    try:
        assert there.notes == ()
        answer = plan_spending(**question, runner=there, chunk=5, progress=tell)
    finally:
        there.close()
    wait_until(lambda: sorted(w.poll() is None for w in workers) == [False, True])
    assert any(str(key).startswith("_ride_there") for key in lost)
    assert len([what for what, _ in told if what == "Riding every set"]) > 10
    assert answer.budgets == here.budgets
    assert answer.frontier == here.frontier
    assert answer.singles == here.singles


PLAIN_PROCESSOR = {"NUMBA_CPU_NAME": "generic", "NUMBA_CPU_FEATURES": ""}


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("cluster", [PLAIN_PROCESSOR], indirect=True)
def test_another_kind_of_processor_differs_by_less_than_a_nanosecond(
    cluster, lively_catalogue, short_races, doubtful_build
):
    """Workers whose kernels are compiled for a processor without wide or fused arithmetic."""
    address, _ = cluster
    question = {
        "build": doubtful_build,
        "catalogue": lively_catalogue,
        "races": short_races,
        "budgets": BUDGETS,
        "n_draws": 50,
    }
    here = plan_spending(**question)
    there = DaskCluster(address, short_races)
    try:
        assert "less than 10⁻⁹ s" in there.notes[0]
        answer = plan_spending(**question, runner=there)
    finally:
        there.close()
    for ours, theirs in zip(
        (*here.frontier, *(b.best for b in here.budgets)),
        (*answer.frontier, *(b.best for b in answer.budgets)),
        strict=True,
    ):
        assert ours.parts == theirs.parts
        assert ours.race_gains_s == pytest.approx(theirs.race_gains_s, rel=0.0, abs=1e-9)
    for ours, theirs in zip(here.budgets, answer.budgets, strict=True):
        assert ours.doubt.low_s == pytest.approx(theirs.doubt.low_s, rel=0.0, abs=1e-9)
        assert ours.doubt.high_s == pytest.approx(theirs.doubt.high_s, rel=0.0, abs=1e-9)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_command_rides_on_the_cluster(cluster, tmp_path):
    from pathlib import Path

    address, _ = cluster
    configs = Path(__file__).parents[2] / "configs"
    words = [
        sys.executable, "-m", "simulator", "spend", "--json", "--draws", "40", "--budget", "100",
        "--build", str(configs / "plover.toml"), "--parts", str(configs / "parts.toml"),
        "--course", str(configs.parent / "courses" / "steady-climb"),
    ]  # fmt: skip
    here = subprocess.run(words, capture_output=True, text=True, check=True)
    there = subprocess.run([*words, "--cluster", address], capture_output=True, text=True,
                           check=True)  # fmt: skip
    assert json.loads(there.stdout) == json.loads(here.stdout)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_no_workers_is_said(cluster, short_races):
    address, workers = cluster
    for process in workers:
        process.kill()
        process.wait()
    end_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < end_s:
        try:
            DaskCluster(address, short_races).close()
        except InputError as error:
            if "has no workers" in str(error):
                return
        time.sleep(0.5)
    pytest.fail("a cluster without workers was taken")


@pytest.mark.filterwarnings("default")
def test_nobody_answers(monkeypatch, short_races):
    pytest.importorskip("distributed")
    from simulator.spend import cluster

    monkeypatch.setattr(cluster, "CONNECT_S", 0.3)
    with pytest.raises(InputError, match="no scheduler answers at tcp"):
        DaskCluster("tcp://127.0.0.1:9", short_races)


def test_extra_that_is_missing(monkeypatch, short_races):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r'pip install "buildgap\[cluster\]"'):
        DaskCluster("tcp://127.0.0.1:9", short_races)
