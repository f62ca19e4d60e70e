"""Designs shared out over the cores: whole blocks of lanes, so that no design depends on how they are cut."""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor


def share_out(work: Callable[[slice], None], designs: int, lanes: int) -> None:
    """Call `work` with slices that together hold all designs, side by side on all cores.

    Parameters
    ----------
    work
        Runs one slice of designs; it must release the interpreter lock to gain by this.
    designs
        Number of designs.
    lanes
        Width of a block. Blocks are dealt out one by one: slow ones may stand side by side, and none shall wait for them.
    """
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else (os.cpu_count() or 1)
    pieces = [slice(start, min(start + lanes, designs)) for start in range(0, designs, lanes)]
    if len(pieces) == 1:
        work(pieces[0])
        return
    with ThreadPoolExecutor(max_workers=cores) as pool:
        list(pool.map(work, pieces))
