"""Kill a streamed run at random moments and take it up again: ``python -m tests.trials.kill_stream [KILLS]``.

A small invented store, chunked over cells and time, goes through ``runoff stream`` in a process of its own. Each run is killed
(SIGKILL) some milliseconds after it has written a share, drawn at random, of the files of a whole run (files tell how far it is, however
busy the machine), then the same command is given again until it has run through; the second and the third may be killed too.
Every result must have the bits of a run that was left alone, and nothing may be left beside the target or half written in it.
"""

import collections
import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import xarray as xr

import runoff
from runoff.streaming import pieces_left

PIECES = 12
_MOST_KILLS = 3


def store(folder: Path, *, last_year: int = 2004) -> Path:
    """Write a small invented store that begins with 2001, chunked over cells and time."""
    days = runoff.open_sample().sel(time=slice("2001", str(last_year)))[["rain", "tmin", "tmax"]].drop_vars("lat")
    grid = days.expand_dims(lat=46.0 + np.arange(6) / 10, lon=4.0 + np.arange(8) / 10).copy(deep=True)
    factor = np.random.default_rng(5).uniform(0.5, 1.5, (6, 8, 1))
    grid["rain"] = grid["rain"].copy(data=grid["rain"].to_numpy() * factor)
    grid.drop_attrs(deep=False).chunk(lat=2, lon=2, time=300).to_zarr(
        folder / "in.zarr", zarr_format=3, consolidated=False
    )
    return folder / "in.zarr"


def begin(roof: Path, source: Path, target: Path) -> "subprocess.Popen[bytes]":
    """Start a run in a process of its own."""
    words = ["stream", roof, source, "--piece", "lat=2", "--piece", "lon=2", "--series", "overflow", "--out", target]
    return subprocess.Popen(
        [sys.executable, "-m", "runoff", *map(str, words)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )


def files_of(target: Path) -> int:
    """Count the files of a target, those beside it that it is begun with included; a folder may move while it is counted."""
    beside = target.with_name(f".{target.name}.unfinished")
    return sum(len(files) for folder in (target, beside) for _, _, files in os.walk(folder))


def ends_before(running: "subprocess.Popen[bytes]", target: Path, files: int, wait_s: float) -> bool:
    """Wait until a run has written so many files, and a moment more; tell whether it ended before that."""
    while running.poll() is None and files_of(target) < files:
        time.sleep(0.001)
    time.sleep(wait_s)
    return running.poll() is not None


def left_behind(folder: Path, target: Path) -> list[str]:
    """Return what a killed run left: files beside its target, or half of one in it."""
    beside = [path.name for path in folder.iterdir() if path.name.startswith(".")]
    return beside + [path.name for path in target.rglob("*.partial")]


def same_bits(one: Path, other: Path) -> bool:
    """Tell whether two targets hold the same bits."""
    with xr.open_zarr(one, consolidated=False) as a, xr.open_zarr(other, consolidated=False) as b:
        return set(a.data_vars) == set(b.data_vars) and all(
            np.array_equal(a[name].to_numpy(), b[name].to_numpy(), equal_nan=True) for name in a.data_vars
        )


def pieces_done(target: Path) -> str:
    """Say how far a killed run had come."""
    if not target.exists():
        return "no target yet"
    return f"{PIECES - pieces_left(target)} of {PIECES} pieces"


def main(wanted: int) -> None:
    """Run the trial and print its figures."""
    rng = random.Random(18)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        roof = folder / "roof.toml"
        roof.write_text(runoff.open_sample_roof("cups").to_toml(), encoding="utf-8")
        source, whole = store(folder), folder / "whole.zarr"
        assert begin(roof, source, whole).wait() == 0
        files = files_of(whole)
        kills, runs, good = 0, 0, 0
        stood: collections.Counter[str] = collections.Counter()
        while kills < wanted:
            target, own, so_far = folder / f"{runs}.zarr", [], 0
            while True:
                running = begin(roof, source, target)
                at = so_far + rng.random() * (files - so_far)
                if len(own) == _MOST_KILLS or ends_before(running, target, int(at), rng.uniform(0.0, 0.05)):
                    code = running.wait()
                    assert running.stderr is not None
                    said = running.stderr.read().decode()[-500:]
                    break
                running.kill()
                running.wait()
                own.append(pieces_done(target))
                so_far = files_of(target)
            left = left_behind(folder, target)
            alike = code == 0 and same_bits(target, whole) and not left
            kills, runs, good = kills + len(own), runs + 1, good + alike
            stood.update(own)
            print(
                f"run {runs:2d}: {len(own)} kills ({', '.join(own) or 'none'}), "
                f"{'same bits' if alike else f'NOT the same: {said} {left}'}", flush=True,
            )  # fmt: skip
        print(
            f"{kills} kills in {runs} runs; {good} of them had the bits of the one left alone, with nothing left over"
        )
        print(f"Kills met {', '.join(f'{done} ({count})' for done, count in sorted(stood.items()))}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
