"""The pieces of a run on whatever scheduler there is: dask's own, or a cluster that is open."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from runoff.errors import RunoffError
from runoff.streaming import target
from runoff.streaming.damage import is_of_the_disk
from runoff.streaming.preparing import Ready
from runoff.streaming.running import Outcome, refuse_cut_short
from runoff.weather.quality.grid_units import OddCells

#: Pieces handed to a scheduler at once: enough to keep many workers busy, few enough that graphs stay small.
_AT_ONCE = 256


def run_all(ready: Ready, progress: Callable[[int, int], None] | None) -> Outcome:
    """Run every piece that is not marked; return what became of their cells.

    Parameters
    ----------
    ready
        The run.
    progress
        Called after each piece with pieces done and pieces in all.

    Returns
    -------
    Outcome
        Of all pieces that were run.
    """
    left = [int(number) for number in np.flatnonzero(target.marks(ready.work.target) == 0)]
    done, whole = len(ready.todo) - len(left), len(ready.todo)
    every = Outcome(0, 0, OddCells())

    def finished(one: Outcome) -> None:
        nonlocal done, every
        odd = OddCells(every.odd.cells + one.odd.cells, every.odd.first or one.odd.first)
        done, every = done + 1, Outcome(every.known + one.known, every.gaps + one.gaps, odd)
        if progress is not None:
            progress(done, whole)

    for first in range(0, len(left), _AT_ONCE):
        chains = [ready.chain(number) for number in left[first : first + _AT_ONCE]]
        client = _open_client()
        if client is None:
            _here(chains, finished)
        else:
            for result in _on_cluster(client, chains, lambda: (done, whole)):
                finished(result)
    if left and done == whole and len(left) == whole:
        refuse_cut_short(ready.source, every.gaps, every.known, ready.work.target)
    return every


def _here(chains: list[Any], finished: Callable[[Outcome], None]) -> None:
    """Run on dask's own scheduler, threads unless another is set."""
    import dask
    from dask.callbacks import Callback

    asked = {chain.key for chain in chains}

    def told(key: Any, result: Any, *rest: Any) -> None:
        if key in asked:
            finished(result)

    with _own_threads() as where, Callback(posttask=told):
        dask.compute(*chains, optimize_graph=False, **where)


@contextlib.contextmanager
def _own_threads() -> Iterator[dict[str, Any]]:
    """Give dask threads that have all come to rest when this ends, after an error too: what they had begun is then written.

    Another scheduler, or threads that somebody has set, are left as they are.
    """
    import dask

    if dask.config.get("scheduler", None) not in (None, "threads", "threading") or dask.config.get("pool", None):
        yield {}
        return
    with ThreadPoolExecutor(int(dask.config.get("num_workers", None) or os.cpu_count() or 1)) as pool:
        yield {"pool": pool}


def read_on_few_threads() -> None:
    """Let Zarr unpack on as many threads as there are workers here, unless told how many.

    By default it takes several more; each keeps the memory of the largest chunk it has unpacked, so that memory grows as a run
    goes on.
    """
    import dask
    import zarr

    if zarr.config.get("threading.max_workers", None) is None:
        alone = dask.config.get("scheduler", None) in ("synchronous", "sync", "single-threaded")
        workers = 1 if alone else dask.config.get("num_workers", None) or os.cpu_count() or 1
        zarr.config.set({"threading.max_workers": int(workers)})


def refuse_wrong_workers(workers: Any) -> None:
    """Raise for a number of workers that is none, or where a cluster has workers of its own."""
    if workers is None:
        return
    if isinstance(workers, bool) or not isinstance(workers, int | np.integer) or workers < 1:
        raise RunoffError(f"stream: workers must be a whole number, 1 or more (given {workers!r})")
    if on_a_cluster():
        raise RunoffError(
            f"stream: workers={workers} are threads of this machine, but a cluster is open, which has workers of its own; leave workers "
            "out, or close its client first"
        )


@contextlib.contextmanager
def on_workers(workers: int | None) -> Iterator[None]:
    """Run on so many threads of this machine; None leaves dask as it is set."""
    import dask

    if workers is None:
        yield
    else:
        with dask.config.set(
            scheduler="synchronous" if workers == 1 else "threads", num_workers=int(workers), pool=None
        ):
            yield


def on_a_cluster() -> bool:
    """Tell whether runs go to a cluster."""
    return _open_client() is not None


def _open_client() -> Any:
    """Return the client of a cluster that is open in this process, if any; asking loads nothing."""
    distributed = sys.modules.get("distributed")
    if distributed is None:
        return None
    try:
        return distributed.get_client()
    except ValueError:
        return None


def _on_cluster(client: Any, chains: list[Any], so_far: Callable[[], tuple[int, int]]) -> Iterator[Outcome]:
    """Run on a cluster, and turn its going away into a sentence."""
    import distributed

    gone = (distributed.CancelledError, distributed.comm.CommClosedError, OSError, TimeoutError)
    futures = client.compute(chains, optimize_graph=False)
    try:
        for future in distributed.as_completed(futures):
            yield future.result()
    except distributed.KilledWorker as error:
        raise RunoffError(
            f"stream: workers of the cluster ended while they ran one and the same piece, often for want of memory; {_kept(so_far())}. Give "
            "workers more memory, or the run less (memory_mb=) or smaller pieces, and call it again"
        ) from error
    except gone as error:
        if is_of_the_disk(error):
            raise
        if isinstance(error, FileNotFoundError):
            raise RunoffError(
                f"stream: a worker of the cluster does not find {error.filename or 'a part of the stores'}; {_kept(so_far())}. Workers "
                "need to see the weather and the target under the same paths as this machine"
            ) from error
        raise RunoffError(
            f"stream: the connection to the cluster was lost ({_reason(error)}); {_kept(so_far())}. Call it again, with a cluster or without, and the "
            "rest is done"
        ) from error
    finally:
        if client.status == "running":
            with contextlib.suppress(*gone):
                client.cancel(futures)


def _kept(pieces: tuple[int, int]) -> str:
    return f"{pieces[0]} of {pieces[1]} pieces are finished and kept"


def _reason(error: BaseException) -> str:
    """Return what is known of the reason; of results that were called off it is the name of a task, which tells nobody."""
    import distributed

    said = str(error).strip().splitlines()
    return (
        said[0][:150] if said and not isinstance(error, distributed.CancelledError) else "its results were called off"
    )
