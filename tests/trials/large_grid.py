"""What grids take as they grow: ``python -m tests.trials.large_grid [YEARS] CELLS [CELLS ...]``, for example ``30 400 2000 20000``.

For each size an invented store is written into a temporary folder (removed afterwards) and streamed in a process of its own, on one
thread. Told are processor time, the peak memory of that process and the size of the store; then the exponents of time and memory
against cells, and what a million cells would take by them, and at the pace of the last grid.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np
import xarray as xr

import runoff
from tests.benchmarks.bench_grid import CHUNKS, write_store

_RUN = """
import sys, time
from pathlib import Path
from tests.benchmarks.bench_grid import peak, run_stream
begun = time.process_time()
run_stream(Path(sys.argv[1]), Path(sys.argv[2]))
print(time.process_time() - begun, peak())
"""
_A_MILLION = 1_000_000


class Taken(NamedTuple):
    """What a run took: cells, processor seconds, peak memory (MB), retention of its cells from least to most."""

    cells: int
    seconds: float
    memory_mb: float
    retention: tuple[float, float]


def taken(cells: int, days: int) -> Taken:
    """Write, stream and remove a grid of about so many cells."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = write_store(folder / "in", cells, {**CHUNKS, "time": days}, days)
        done = subprocess.run(
            [sys.executable, "-c", _RUN, str(store), str(folder / "out")], capture_output=True, text=True, check=True
        )
        seconds, memory = map(float, done.stdout.split())
        with xr.open_zarr(folder / "out", consolidated=False) as made:
            retention = made["retention"].load()
        return Taken(retention.size, seconds, memory, (float(retention.min(skipna=False)), float(retention.max())))


def exponent(cells: list[int], values: list[float]) -> tuple[float, float]:
    """Return a and b of ``values = a cells^b``, by least squares of the logarithms."""
    b, log_a = np.polyfit(np.log(cells), np.log(values), 1)
    return float(np.exp(log_a)), float(b)


def main(years: int, sizes: list[int]) -> list[Taken]:
    """Run the sizes one after the other and print what they took."""
    days = min(runoff.open_sample().sizes["time"], round(365.25 * years))
    found = []
    for cells in sizes:
        one = taken(cells, days)
        found.append(one)
        each = one.seconds / one.cells / days * 1e9
        print(
            f"{one.cells:>9,} cells x {days:,} days: {one.seconds:8.1f} s of one core, {each:6.1f} ns a cell-day, "
            f"{one.memory_mb:6.0f} MB at most; retention {one.retention[0]:.3f} to {one.retention[1]:.3f}",
            flush=True,
        )
    if len(found) > 1:
        cells = [one.cells for one in found]
        for words, unit, values in (
            ("time", "s of one core", [one.seconds for one in found]),
            ("memory", "MB", [one.memory_mb for one in found]),
        ):
            a, b = exponent(cells, values)
            print(f"{words}: exponent {b:.3f}; by it a million cells would take {a * _A_MILLION**b:,.0f} {unit}")
        # seconds that every run takes flatten the exponent: it must not promise what no grid has shown
        pace = found[-1].seconds / found[-1].cells * _A_MILLION
        print(
            f"at the pace of the last grid a million cells take {pace:,.0f} s of one core: hold the larger of the two"
        )
    return found


if __name__ == "__main__":
    main(int(sys.argv[1]), [int(cells) for cells in sys.argv[2:]])
