"""Kill a worker of a cluster, and the cluster itself, in the middle of a run: ``python -m tests.trials.kill_worker [RUNS]``.

A small invented store goes through a cluster of two worker processes. One of them is killed (SIGKILL) after a random number of
pieces, or while a lazy `simulate` and `summarize` is computed; the results must have the bits of a run without a cluster. Then the
scheduler goes away half-way: the run must end in a sentence, and the rest is done without a cluster.
"""

import contextlib
import multiprocessing
import os
import random
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from multiprocessing import forkserver
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

import runoff
from runoff.streaming import pieces_left
from tests.trials.kill_stream import PIECES, left_behind, same_bits, store

SIZES = {"lat": 2, "lon": 2}
_LOADED_ONCE = [
    "distributed.nanny",
    "numba",
    "runoff.streaming.running",
    "runoff.simulation",
    "runoff.balance.grid_totals",
]


def two_workers() -> Any:
    """Return a cluster of two worker processes of one thread each, split off from one that has loaded the package once for all."""
    import dask
    import distributed

    dask.config.set({"distributed.worker.multiprocessing-method": "forkserver"})
    multiprocessing.get_context("forkserver").set_forkserver_preload(_LOADED_ONCE)
    forkserver.ensure_running()
    return distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None)


def kill_one(client: Any) -> int:
    """Kill one worker process and return its number."""
    number = int(next(iter(client.run(os.getpid).values())))
    os.kill(number, signal.SIGKILL)
    return number


def streamed(source: Path, target: Path, after: int, then: Callable[[], Any]) -> list[Any]:
    """Stream a store; once so many pieces are done, do something, and return what it gave."""
    given: list[Any] = []

    def progress(done: int, whole: int) -> None:
        if done == after:
            given.append(then())

    runoff.stream(
        runoff.open_sample_roof("cups"), source, target, variables=["overflow"], pieces=SIZES, progress=progress
    )
    return given


def worker_killed(client: Any, source: Path, target: Path, whole: Path, after: int) -> str:
    """Kill a worker after so many pieces of a streamed run; return what is wrong with the results, empty if nothing."""
    killed = streamed(source, target, after, lambda: kill_one(client))
    now = set(client.run(os.getpid).values())
    if len(killed) != 1 or killed[0] in now:
        return "no worker was killed"
    if pieces_left(target) or left_behind(target.parent, target):
        return f"left behind: {left_behind(target.parent, target)}"
    return "" if same_bits(target, whole) else "other bits"


def figures_of(source: Path) -> xr.Dataset:
    """Return the figures of a store, lazily, through the calls of a run in memory."""
    weather = runoff.read_weather(source, chunks={}).chunk(lat=2, lon=2, time=-1)
    return runoff.summarize(runoff.simulate(runoff.open_sample_roof("cups"), weather))


def worker_killed_in_lazy_run(client: Any, source: Path, alone: xr.Dataset, after_s: float) -> str:
    """Kill a worker while a lazy run is computed; return what is wrong with the results, empty if nothing."""
    killed: list[int] = []

    def later() -> None:
        time.sleep(after_s)
        killed.append(kill_one(client))

    helper = threading.Thread(target=later)
    helper.start()
    computed = figures_of(source).compute()
    early = not killed
    helper.join()
    if early:
        return "the run had ended before a worker was killed"
    wrong = [
        str(name)
        for name in alone.data_vars
        if not np.array_equal(computed[name].to_numpy(), alone[name].to_numpy(), equal_nan=True)
    ]
    return ", ".join(wrong)


def cluster_goes_away(source: Path, target: Path, whole: Path, after: int, *, politely: bool) -> str:
    """Close a cluster after so many pieces, or kill its scheduler; end the run without it; return what the run said."""
    import distributed
    from distributed.deploy.subprocess import SubprocessCluster

    cluster: Any = two_workers() if politely else SubprocessCluster(n_workers=2, scheduler_kwargs={"dashboard": False})
    client = distributed.Client(cluster)
    leave = cluster.close if politely else cluster.scheduler.process.kill
    said = ""
    try:
        streamed(source, target, after, leave)
    except runoff.RunoffError as error:
        said = str(error)
    finally:
        with contextlib.suppress(OSError, TimeoutError):  # a dead scheduler answers neither
            client.close(timeout=1)
            cluster.close(timeout=1)
    assert said, "the run ended although its cluster had gone"
    left = pieces_left(target)
    streamed(source, target, -1, lambda: None)
    assert 0 < left < PIECES and same_bits(target, whole) and not left_behind(target.parent, target), left
    return said


def main(runs: int) -> None:
    """Run the trial and print its figures."""
    import dask
    import distributed

    rng = random.Random(18)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source, whole = store(folder), folder / "whole.zarr"
        streamed(source, whole, -1, lambda: None)
        with dask.config.set(scheduler="synchronous"):
            alone = figures_of(source).compute()
        for number in range(runs):
            after = rng.randrange(1, PIECES - 2)
            with two_workers() as cluster, distributed.Client(cluster) as client:
                wrong = worker_killed(client, source, folder / f"{number}.zarr", whole, after)
                print(f"stream, worker killed after {after} of {PIECES} pieces: {wrong or 'same bits'}", flush=True)
                wrong = worker_killed_in_lazy_run(client, source, alone, rng.uniform(0.05, 0.5))
                print(f"lazy simulate and summarize, worker killed: {wrong or 'same bits'}", flush=True)
        for politely in (True, False):
            said = cluster_goes_away(source, folder / f"gone {politely}.zarr", whole, PIECES // 3, politely=politely)
            print(f"cluster {'closed' if politely else 'killed'}, the rest done without it, same bits; it said: {said}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
