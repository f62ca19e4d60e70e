"""How fast grids run from store to store: ``python -m tests.benchmarks.bench_grid [CELLS]``.

An invented store of 30 years (single precision, packed by the default of Zarr) in three layouts: aligned, each chunk a block of
cells with its whole record; cut in time, each chunk a year of more cells; cut both ways, a year of few. Variants run in turn,
medians of the processor time of quiet laps (`tests.benchmarks.quiet`) are told per cell-day: reading alone and `runoff.stream` on one thread; then what a
second thread gains by the clock, in pairs, beside what it gains in pure arithmetic; then the peak memory of the process for a small and a
large grid, on one thread and on two. The last lines hold the figures against what they should be.
"""

from __future__ import annotations

import functools
import itertools
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import xarray as xr

import runoff
from tests.benchmarks.operations import nanoseconds
from tests.benchmarks.quiet import Gains, Laps, gains_of_two_threads, in_turn

STEPS = 10_957
#: Chunks of the aligned store.
CHUNKS = {"time": STEPS, "lat": 20, "lon": 20}
#: Chunks of the store cut in time: a year of as many cells as make a chunk of some megabytes.
IN_TIME = {"time": 366, "lat": 40, "lon": 50}
#: Cells of the grid whose peak memory is held against that of one chunk and of two.
LARGE = 20_000
#: Cells of a chunk.
IN_CHUNK = CHUNKS["lat"] * CHUNKS["lon"]
READ, ALIGNED, CUT = "reading alone, aligned", "stream, aligned, one thread", "stream, cut in time, one thread"


def write_store(folder: Path, cells: int, chunks: dict[str, int], steps: int = STEPS) -> Path:
    """Write an invented store of so many cells: neighbours have nearly the same rain days, as in the open air.

    Waves of 1 degC and a third of the rain pass over the grid, so that no day's field is that of another day: rows that recur would be
    packed, and read, as no measured field is, and in long chunks alone.
    """
    import dask.array

    days = runoff.open_sample().isel(time=slice(0, steps))
    lat = int(np.sqrt(cells) // 20) * 20 or 20
    shape = (steps, lat, -(-cells // lat))
    rng = np.random.default_rng(1)
    factor = 0.7 + 0.6 * rng.random(shape[1:])
    cooler = 6.0 * rng.random(shape[1:])
    size = tuple(chunks[dim] for dim in ("time", "lat", "lon"))
    t, i, j = (np.arange(n)[:, None] for n in shape)
    along = dask.array.from_array(np.sin(0.71 * t + 0.09 * i.T).astype("f4"), chunks=(size[0], size[1]))
    across = dask.array.from_array(np.cos(0.37 * t - 0.07 * j.T).astype("f4"), chunks=(size[0], size[2]))
    wave = along[:, :, None] * across[:, None, :]

    def block(values: np.ndarray, field: np.ndarray, add: bool) -> dask.array.Array:
        series = dask.array.from_array(values.astype("f4"), chunks=size[0])[:, None, None]
        over = dask.array.from_array(field.astype("f4"), chunks=size[1:])[None]
        made = series - over + wave if add else series * over * (1.0 + wave / 3.0)
        return made.astype("f4").rechunk(size)

    dims = ("time", "lat", "lon")
    grid = xr.Dataset(
        {
            "rain": (dims, block(days["rain"].to_numpy(), factor, False), {"units": "mm"}),
            "tmin": (dims, block(days["tmin"].to_numpy(), cooler, True), {"units": "degC"}),
            "tmax": (dims, block(days["tmax"].to_numpy(), cooler, True), {"units": "degC"}),
        },
        coords={
            "time": days["time"].to_numpy(),
            "lat": 44.0 + 0.01 * np.arange(shape[1]),
            "lon": 5.0 + 0.01 * np.arange(shape[2]),
        },
    )
    grid.to_zarr(folder, mode="w", zarr_format=3, consolidated=False)
    return folder


def read_alone(store: Path) -> None:
    """Read every chunk of a store into memory, one after the other."""
    import zarr

    group = zarr.open_group(store, mode="r")
    for name in ("rain", "tmin", "tmax"):
        array = group[name]
        size = array.chunks
        for t in range(0, array.shape[0], size[0]):
            for i in range(0, array.shape[1], size[1]):
                for j in range(0, array.shape[2], size[2]):
                    array[t : t + size[0], i : i + size[1], j : j + size[2]]


def run_stream(store: Path, target: Path, workers: int = 1) -> None:
    """Stream a store; a target that is there already must be removed before."""
    runoff.stream(runoff.open_sample_roof("cups"), store, target, memory_mb=2000.0, workers=workers)


def measured(cells: int) -> tuple[dict[str, Laps], Gains]:
    """Return laps, ns a cell-day, of variants that ran in turn on one thread, and what a second thread gains."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        aligned = write_store(folder / "aligned", cells, CHUNKS)
        in_time = write_store(folder / "in_time", cells, IN_TIME)
        both = write_store(folder / "both", cells, {"time": 366, "lat": 20, "lon": 20})
        with xr.open_zarr(aligned, consolidated=False) as grid:
            size = grid["rain"].size

        numbers = itertools.count()

        def streamed(store: Path, workers: int = 1) -> float:
            run_stream(store, folder / f"out {next(numbers)}", workers)  # a new target: none need be removed in a lap
            return float(size)

        def read(store: Path) -> float:
            read_alone(store)
            return float(size)

        variants = {
            READ: functools.partial(read, aligned),
            "reading alone, cut in time": functools.partial(read, in_time),
            ALIGNED: functools.partial(streamed, aligned),
            CUT: functools.partial(streamed, in_time),
            "stream, cut both ways, one thread": functools.partial(streamed, both),
        }
        told = in_turn({name: functools.partial(nanoseconds, run) for name, run in variants.items()})
        gains = gains_of_two_threads(lambda: streamed(aligned), lambda: streamed(aligned, 2), longest_s=180.0)
    return told, gains


def peak_memory_mb(cells: int, workers: int) -> float:
    """Return the peak memory of a process that streams so many cells on so many threads, MB."""
    with tempfile.TemporaryDirectory() as name:
        store = write_store(Path(name) / "in", cells, CHUNKS)
        code = f"from tests.benchmarks.bench_grid import *; run_stream(Path({str(store)!r}), Path({name!r}) / 'out', {workers}); print(peak())"
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        return float(done.stdout.split()[-1])


def peak() -> float:
    """Return the peak memory of this process, MB; where Linux tells it, without that of the process that started this one."""
    status = Path("/proc/self/status")
    if status.exists():
        return float(status.read_text().partition("VmHWM:")[2].split()[0]) / 1000.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000.0


def main(cells: int) -> None:
    """Print the medians, and the figures a grid is held to."""
    told, gains = measured(cells)
    found = {words: laps.median for words, laps in told.items()}
    for words, laps in told.items():
        print(
            f"{words:36s} {laps.median:8.1f} ns a cell-day   {laps.median / found[READ]:6.2f} x reading alone   {laps.words}"
        )
    rows = [
        ("aligned, one thread, ns a cell-day", found[ALIGNED], 40.0, f"reading alone {found[READ]:.1f}"),
        ("cut in time against aligned", found[CUT] / found[ALIGNED], 1.2, f"{found[CUT]:.1f} ns"),
        ("two threads against one, elapsed", gains.median, -1.7, gains.words),
    ]
    large_mb = {workers: peak_memory_mb(LARGE, workers) for workers in (1, 2)}
    for workers, few in (
        (1, IN_CHUNK),
        (2, IN_CHUNK),
        (2, 2 * IN_CHUNK),
    ):  # each thread holds a chunk, where there is one for it
        small, large = peak_memory_mb(few, workers), large_mb[workers]
        words = f"peak memory of {LARGE:,} cells against {few}, {workers} {'thread' if workers == 1 else 'threads'}"
        rows.append((words, large / small, 1.1, f"{small:.0f} and {large:.0f} MB"))
    print(f"\n{cells:,} cells x {STEPS:,} days")
    for words, value, asked_for, beside in rows:
        holds = value <= asked_for if asked_for > 0.0 else value >= -asked_for
        asked = f"at {'most' if asked_for > 0.0 else 'least'} {abs(asked_for):g}"
        print(f"{words:54s} {value:7.2f}   {asked:14s} {'yes' if holds else 'NO':4s} {beside}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else LARGE)
