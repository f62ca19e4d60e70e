"""Designs shared out over the cores: whole blocks of lanes, so that no design depends on how they are cut."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

_PARTS = 3  # a slice is so small a part of what is left for each core: few slices, and the last ones are single blocks
_WIDEST = 32  # blocks: what a slice holds in work stays in the caches


def share_out(work: Callable[[slice], None], designs: int, lanes: int) -> None:
    """Call `work` with slices that together hold all designs, side by side on all cores; the caller's thread is one of them.

    Parameters
    ----------
    work
        Runs one slice of designs; it must release the interpreter lock to gain by this.
    designs
        Number of designs.
    lanes
        Width of a block; every slice but the last is a whole number of blocks. Slices are the smaller the less is left: slow
        designs may stand side by side, and no core shall wait for the one that got them.
    """
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1)
    pieces = _slices(designs, lanes, cores)
    waiting = iter(pieces)

    def work_on() -> None:
        try:
            for piece in waiting:  # every piece goes to the thread that asks first
                work(piece)
        finally:
            for _ in waiting:  # nobody goes on with what has failed or was broken off
                pass

    helpers = min(cores, len(pieces)) - 1
    if helpers == 0:
        work_on()
        return
    with ThreadPoolExecutor(max_workers=helpers) as pool:
        others = [pool.submit(work_on) for _ in range(helpers)]
        work_on()
    for other in others:
        other.result()


def _slices(designs: int, lanes: int, cores: int) -> list[slice]:
    """Return slices of whole blocks, the last one cut off at the end."""
    blocks, begin, found = -(-designs // lanes), 0, []
    while begin < blocks:
        width = max(1, min(_WIDEST, (blocks - begin) // (_PARTS * cores)))
        found.append(slice(begin * lanes, min((begin + width) * lanes, designs)))
        begin += width
    return found
