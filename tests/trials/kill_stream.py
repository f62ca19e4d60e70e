"""Kill a streamed run at random moments and take it up again: ``python -m tests.trials.kill_stream [RUNS]``.

A small invented store, chunked over cells and time, goes through ``runoff.stream`` in a process of its own, which is killed
(SIGKILL) after a random part of the time a whole run takes, again and again until it has run through. Every result must have
the bits of a run that was left alone, and nothing may be left beside the target.
"""

import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import xarray as xr

import runoff

_RUN = """
import sys, runoff
runoff.stream(runoff.open_sample_roof("cups"), sys.argv[1], sys.argv[2], variables=["overflow"], pieces={"lat": 2, "lon": 2})
"""


def store(folder: Path) -> Path:
    """Write a small invented store, chunked over cells and time."""
    days = runoff.open_sample().sel(time=slice("2001", "2004"))[["rain", "tmin", "tmax"]].drop_vars("lat")
    grid = days.expand_dims(lat=46.0 + np.arange(6) / 10, lon=4.0 + np.arange(6) / 10).copy(deep=True)
    factor = np.random.default_rng(5).uniform(0.5, 1.5, (6, 6, 1))
    grid["rain"] = grid["rain"].copy(data=grid["rain"].to_numpy() * factor)
    grid.drop_attrs(deep=False).chunk(lat=2, lon=2, time=300).to_zarr(
        folder / "in.zarr", zarr_format=3, consolidated=False
    )
    return folder / "in.zarr"


def begin(source: Path, target: Path) -> "subprocess.Popen[bytes]":
    """Start a run in a process of its own."""
    return subprocess.Popen([sys.executable, "-c", _RUN, str(source), str(target)], stderr=subprocess.PIPE)


def same_bits(one: Path, other: Path) -> bool:
    """Tell whether two targets hold the same bits."""
    with xr.open_zarr(one, consolidated=False) as a, xr.open_zarr(other, consolidated=False) as b:
        return set(a.data_vars) == set(b.data_vars) and all(
            np.array_equal(a[name].to_numpy(), b[name].to_numpy(), equal_nan=True) for name in a.data_vars
        )


def main(runs: int) -> None:
    """Run the trial and print its figures."""
    rng = random.Random(18)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source, whole = store(folder), folder / "whole.zarr"
        assert begin(source, whole).wait() == 0
        start = time.perf_counter()
        assert begin(source, folder / "again.zarr").wait() == 0
        takes = time.perf_counter() - start
        good = 0
        for number in range(runs):
            target, kills = folder / f"{number}.zarr", 0
            while True:
                running = begin(source, target)
                try:
                    code = running.wait(timeout=takes * rng.uniform(0.3, 1.1))
                except subprocess.TimeoutExpired:
                    running.kill()
                    running.wait()
                    kills += 1
                    continue
                assert running.stderr is not None
                said = running.stderr.read().decode()[-500:]
                break
            left = [path.name for path in folder.iterdir() if path.name.startswith(".")]
            alike = code == 0 and same_bits(target, whole) and not left
            good += alike
            print(
                f"run {number + 1:2d}: {kills} kills, {'same bits' if alike else f'NOT the same: {said} {left}'}",
                flush=True,
            )
        print(f"{good} of {runs} runs had the bits of the one left alone ({takes:.1f} s a run)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
