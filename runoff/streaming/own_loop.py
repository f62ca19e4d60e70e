"""Zarr's writing on the thread that asks for it, so that workers do not wait for the one thread that serves all of them."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, TypeVar

Made = TypeVar("Made")


class _OnTheSpot(ThreadPoolExecutor):
    """Runs what it is given at once, on the thread that gives it: packing and writing a file of some kB are no work for another."""

    def submit(self, work: Callable[..., Any], /, *args: Any, **words: Any) -> Future[Any]:
        done: Future[Any] = Future()
        try:
            done.set_result(work(*args, **words))
        except BaseException as error:
            done.set_exception(error)
        return done


class _Loop:
    """The event loop of a thread; it is closed when the thread ends."""

    def __init__(self) -> None:
        self.loop = asyncio.new_event_loop()
        self.loop.set_default_executor(_OnTheSpot(max_workers=1))

    def run(self, work: Coroutine[Any, Any, Made]) -> Made:
        try:
            return self.loop.run_until_complete(work)
        finally:
            self._call_off_the_rest()

    def _call_off_the_rest(self) -> None:
        """After an error: what was to be written beside it would else be written when the loop runs next."""
        rest = asyncio.all_tasks(self.loop)
        for task in rest:
            task.cancel()
        if rest:
            self.loop.run_until_complete(asyncio.gather(*rest, return_exceptions=True))

    def __del__(self) -> None:
        self.loop.close()


_own = threading.local()


def done_here(work: Callable[[], Coroutine[Any, Any, Made]]) -> Made:
    """Return what a coroutine gives, run on this thread.

    Parameters
    ----------
    work
        Makes the coroutine. It may use stores on a local disk, which are tied to no loop.

    Returns
    -------
    Any
        What it gives.
    """
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        pass
    else:  # in a notebook the main thread has one, which runs: another thread then
        with ThreadPoolExecutor(max_workers=1) as other:
            return other.submit(lambda: done_here(work)).result()
    if not hasattr(_own, "loop"):
        _own.loop = _Loop()
    own: _Loop = _own.loop
    return own.run(work())
