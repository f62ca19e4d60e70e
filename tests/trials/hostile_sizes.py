"""Time and memory that files meant to exhaust a reader take: ``python -m tests.trials.hostile_sizes``.

Each file is read in a process of its own; printed are the seconds, the memory above that of a small file, and the first
words of the refusal.
"""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
import tempfile
from pathlib import Path

_CODE = """
import sys, time
import runoff
from runoff.errors import RunoffError
start = time.perf_counter()
try:
    words = f"read, {runoff.read_weather(sys.argv[1]).sizes['time']} steps"
except RunoffError as error:
    words = str(error)[:90]
peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM")).split()[1]
print(round(time.perf_counter() - start, 1), int(peak) // 1024, words.replace(chr(10), " "))
"""
_HEAD = "time,rain_mm\n"


def _small(path: Path) -> None:
    path.write_text(_HEAD + "2024-01-01,1\n2024-01-02,2\n")


def _odd_year(path: Path) -> None:
    path.write_text(_HEAD + "2024-01-01 00:00,1\n2024-01-01 00:01,2\n2224-01-01 00:00,2\n")


def _bomb(path: Path) -> None:
    with gzip.open(path, "wb") as file:
        for _ in range(2000):
            file.write(b"0\n" * 500_000)


def _long_line(path: Path) -> None:
    path.write_bytes(b"time,rain_mm\n" + b"x" * 150_000_000)


def _columns(path: Path) -> None:
    names, values = ",".join(f"c{k}" for k in range(1_000_000)), ",".join(["0"] * 1_000_000)
    path.write_text(f"time,rain_mm,{names}\n2024-01-01,1,{values}\n2024-01-02,2,{values}\n")


def _blank_lines(path: Path) -> None:
    path.write_bytes(b"\n" * 190_000_000 + b"x")


def _commas(path: Path) -> None:
    path.write_bytes(b"," * 60_000_000 + b"\n")


def _quotes(path: Path) -> None:
    path.write_bytes(_HEAD.encode() + b'"' * 60_000_000)


def _silent_pipe(path: Path) -> None:
    os.mkfifo(path)


def _zeros(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _endless_axis(path: Path) -> None:
    import h5py

    with h5py.File(path, "w") as file:
        time = file.create_dataset("time", shape=(10**11,), dtype="f8", chunks=(10**6,))
        time.make_scale("time")
        time.attrs["units"] = "days since 2000-01-01"


def _hollow_grid(path: Path) -> None:
    import h5py
    import numpy as np

    with h5py.File(path, "w") as file:
        rain = file.create_dataset("pr", shape=(10000, 2000, 2000), dtype="f4", chunks=(10000, 10, 10))
        rain.attrs["units"] = "mm"
        for axis, (name, values) in enumerate(
            {"time": np.arange(1e4), "lat": np.linspace(0, 80, 2000), "lon": np.linspace(0, 80, 2000)}.items()
        ):
            scale = file.create_dataset(name, data=values)
            scale.make_scale(name)
            rain.dims[axis].attach_scale(scale)
        file["time"].attrs["units"] = "days since 2000-01-01"


CASES = {
    "small file": (_small, ".csv"), "3 lines, a year mistyped": (_odd_year, ".csv"), "gzip bomb, 2 GB": (_bomb, ".csv.gz"),
    "a line of 150 MB": (_long_line, ".csv"), "a million columns": (_columns, ".csv"), "190 MB of blank lines": (_blank_lines, ".csv"),
    "60 million commas": (_commas, ".csv"), "60 million quotation marks": (_quotes, ".csv"), "a silent pipe": (_silent_pipe, ".csv"),
    "/dev/zero": (_zeros, ".csv"), "HDF5, 100 billion steps": (_endless_axis, ".nc"), "HDF5, 320 GB of nothing": (_hollow_grid, ".nc"),
}  # fmt: skip


def main() -> None:
    """Print a line for each file."""
    base = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, (make, suffix) in CASES.items():
            path = Path(folder) / f"case{suffix}"
            path.unlink(missing_ok=True)
            make(path)
            try:
                done = subprocess.run(
                    [sys.executable, "-c", _CODE, str(path)], capture_output=True, text=True, timeout=60
                )
                words = done.stdout.strip() or done.stderr.strip().split("\n")[-1][:100]
            except subprocess.TimeoutExpired:
                words = "60 0 not done after a minute"
            seconds, memory, said = [*words.split(" ", 2), "", ""][:3]
            base = base or int(memory)
            print(f"{name:<28} {seconds:>5} s  {int(memory) - base if memory.isdigit() else memory:>6} MB  {said}")


if __name__ == "__main__":
    main()
