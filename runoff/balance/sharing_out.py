"""Designs shared out over the cores: whole blocks of lanes, so that no design depends on how they are cut."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

_PER_CORE = 32  # slices per core, at least, where there are as many blocks


def share_out(work: Callable[[slice], None], designs: int, lanes: int) -> None:
    """Call `work` with slices that together hold all designs, side by side on all cores.

    Parameters
    ----------
    work
        Runs one slice of designs; it must release the interpreter lock to gain by this.
    designs
        Number of designs.
    lanes
        Width of a block; every slice but the last is a whole number of blocks. Slices are small: slow designs may stand
        side by side, and no core shall wait for the one that got them.
    """
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1)
    width = max(1, -(-designs // lanes) // (_PER_CORE * cores)) * lanes
    pieces = [slice(start, min(start + width, designs)) for start in range(0, designs, width)]
    if len(pieces) == 1 or cores == 1:
        for piece in pieces:
            work(piece)
        return
    with ThreadPoolExecutor(max_workers=cores) as pool:
        list(pool.map(work, pieces))
