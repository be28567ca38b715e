"""The same jobs on a Dask cluster: same rides, same order, and a worker may die on the way.

Every job is a pure function of what is sent with it, and so is the copy of a race that workers
hold; whatever is lost with a worker is done again by another one.
"""

from __future__ import annotations

import os
import platform
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from importlib.metadata import version
from typing import Any

import numpy as np

from simulator import __version__
from simulator.errors import CannotFinish, InputError
from simulator.spend.optimum import FloatArray
from simulator.spend.rerides import Race, RideJob, ride_job

CONNECT_S = 20.0
"""How long to wait for the scheduler to answer."""

LONELY_S = 60.0
"""How long to wait for a worker when none is left."""

AHEAD = 3
"""Jobs on the way for each thread of the cluster, so that memory stays bounded here and there."""

_ONE_AT_A_TIME = threading.Lock()


class DaskCluster:
    """Rides jobs on a cluster that is there already.

    Parameters
    ----------
    address : str
        Of the scheduler, as in ``tcp://host:8786``.
    races : tuple of Race
        What the jobs will ask for.

    Raises
    ------
    InputError
        If the extra is not installed, nobody answers, there are no workers, or they run another
        version of this program.
    """

    def __init__(self, address: str, races: tuple[Race, ...]) -> None:
        try:
            import distributed
        except ImportError:
            raise InputError(
                file="--cluster",
                found="the package `distributed` is not installed",
                expected="the extra `cluster` of this program",
                mend='install it with: pip install "buildgap[cluster]"',
            ) from None
        open_client: Any = distributed.Client
        try:
            self._client: Any = open_client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError) as failure:
            raise InputError(
                file="--cluster",
                found=f"no scheduler answers at {address}",
                expected="the address of a running Dask scheduler, as in tcp://host:8786",
            ) from failure
        try:
            self.notes = self._check_workers(address)
        except BaseException:
            self.close()
            raise
        self._races = [
            self._client.submit(_held, race, pure=False, key=f"race-{time.time_ns()}-{i}")
            for i, race in enumerate(races)
        ]

    def close(self) -> None:
        """Leave the cluster; it stays as it was found."""
        self._client.close()

    def times(self, jobs: Iterable[RideJob]) -> Iterator[FloatArray]:
        """Times in s of each job, in the order of the jobs.

        Raises
        ------
        CannotFinish
            If the cluster goes away.
        """
        waiting: deque[Any] = deque()
        for job in jobs:
            waiting.append(
                self._client.submit(_ride_there, self._races[job.i_race], job, pure=False)
            )
            if len(waiting) > AHEAD * max(1, sum(self._workers().values())):
                yield self._result(waiting.popleft())
        while waiting:
            yield self._result(waiting.popleft())

    def _workers(self) -> dict[str, int]:
        """Threads of each worker."""
        return dict(self._client.nthreads())

    def _result(self, future: Any) -> FloatArray:
        from distributed import CancelledError, KilledWorker
        from distributed.comm.core import CommClosedError

        lonely_since_s: float | None = None
        while True:
            try:
                return np.asarray(future.result(timeout=2.0), dtype=np.float64)
            except TimeoutError:
                pass
            except (CancelledError, KilledWorker, CommClosedError) as failure:
                msg = f"The cluster could not finish the rides ({type(failure).__name__})."
                raise CannotFinish(msg) from failure
            now_s = time.monotonic()
            if self._workers():
                lonely_since_s = None
            elif lonely_since_s is None:
                lonely_since_s = now_s
            elif now_s - lonely_since_s > LONELY_S:
                msg = f"The cluster has had no workers for {LONELY_S:.0f} s."
                raise CannotFinish(msg)

    def _check_workers(self, address: str) -> tuple[str, ...]:
        if not self._workers():
            raise InputError(
                file="--cluster",
                found=f"the scheduler at {address} has no workers",
                expected="at least one",
                mend="start some with: dask worker " + address,
            )
        try:
            told = self._client.run(_versions)
        except Exception as failure:
            raise InputError(
                file="--cluster",
                found=f"a worker cannot run this program ({type(failure).__name__})",
                expected=f"buildgap {__version__} installed on every worker",
            ) from failure
        here = _versions()
        for worker, there in told.items():
            if there["buildgap"] != here["buildgap"]:
                raise InputError(
                    file="--cluster",
                    place=f"worker {worker}",
                    found=f"it runs buildgap {there['buildgap']}",
                    expected=f"version {here['buildgap']}, as here",
                )
        if all(there == here for there in told.values()):
            return ()
        return (
            "The workers' processor or library versions are not those of this machine; "
            "the last digits of times may differ, by less than 10⁻⁹ s.",
        )


def _held(race: Race) -> Race:
    return race


def _ride_there(race: Race, job: RideJob) -> FloatArray:
    # One job takes all cores of its worker; two at once in one process would get in each
    # other's way.
    with _ONE_AT_A_TIME:
        return ride_job(race, job)


def _versions() -> dict[str, str]:
    return {
        "buildgap": __version__,
        "numba": version("numba"),
        "numpy": np.__version__,
        "processor": f"{platform.machine()} {_processor()}",
    }


def _processor() -> str:
    """What kernels are compiled for: the processor's type and what it can do."""
    import llvmlite.binding  # type: ignore[import-untyped]

    kind = os.environ.get("NUMBA_CPU_NAME") or llvmlite.binding.get_host_cpu_name()
    able = os.environ.get("NUMBA_CPU_FEATURES")
    if able is None:
        able = llvmlite.binding.get_host_cpu_features().flatten()
    return f"{kind} {able}"
