"""How long every command takes from start to end, against ``python -c "import numpy"``.

``python -m tests.benchmarks.bench_commands [ROUNDS [COMMAND...]]``: each command in a process of its own on the embedded sample, as it
is installed and, in the second table, as if the extras ``large`` and ``test`` were not. What compiles and what is written as
bytecode is left to a first round that does not count. Rounds are interleaved, until ROUNDS laps of each command were quiet
(`tests.benchmarks.quiet`) or three times as many rounds are over; medians of the quiet laps by the clock, and of the processor time of all. Meant
are under 2 s for every command that draws nothing, and for ``simulate --no-figures`` at most 12 times numpy without the
extra, 16 times with it. The ratio of processor times holds, roughly, on a busy machine too.
"""

from __future__ import annotations

import functools
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks.quiet import in_turn

#: Commands that draw nothing; what stands in the last column is the limit, in times of numpy with and without the extra.
COMMANDS: dict[str, tuple[float, float] | None] = {
    "simulate --no-figures": (16.0, 12.0),
    "simulate --no-figures --no-ranges": None,
    "sweep --no-figures": None,
    "sweep --no-figures --no-ranges": None,
    "storm --no-figures": None,
    "storm --no-figures --no-ranges": None,
    "storm --guideline-test": None,
    "outlets --no-figures": None,
    "outlets --flood-test 50mm": None,
    "fit --no-figures": None,
    "fit --tray": None,
    "order": None,
    "check-weather": None,
    "notebooks": None,
    "stream": None,
    "--help": None,
}
#: Commands that always draw, for comparison.
DRAWING = ("simulate", "sweep", "storm", "outlets", "fit", "dossier", "lesson")
EXTRAS = ("dask", "distributed", "zarr", "pint", "coverage", "pytest", "hypothesis")
SECONDS = 2.0


class Lap(NamedTuple):
    """Seconds of one run."""

    wall: float
    processor: float


def main() -> None:
    """Print a table with the extras and one without."""
    rounds, asked = int(sys.argv[1]) if len(sys.argv) > 1 else 5, sys.argv[2:]
    names = [name for name in (*COMMANDS, *DRAWING) if not asked or name.split()[0] in asked]
    with tempfile.TemporaryDirectory() as folder:
        hidden = Path(folder) / "hidden"
        hidden.mkdir()
        listed = ", ".join(map(repr, EXTRAS))
        (hidden / "sitecustomize.py").write_text(f"import sys\nsys.modules.update(dict.fromkeys(({listed})))\n")
        _table("as installed", rounds, folder, [], 0, names)
        plain = [name for name in names if name in COMMANDS and name != "stream"]
        _table("without the extras", rounds, folder, [str(hidden)], 1, plain)


def _table(title: str, rounds: int, folder: str, paths: list[str], which: int, names: list[str]) -> None:
    """Run everything so many times, in turn, and print the medians."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    here = str(Path(__file__).resolve().parents[2])
    env |= {"PYTHONPATH": os.pathsep.join([*paths, here]), "MPLBACKEND": "Agg"}
    lines = {"numpy": ["-c", "import numpy"]} | {name: ["-m", "runoff", *name.split()] for name in names}
    processor: dict[str, list[float]] = {name: [] for name in lines}

    def lap(name: str) -> float:
        with tempfile.TemporaryDirectory(dir=folder) as empty:
            took = lap_of(lines[name], empty, env)
        processor[name].append(took.processor)
        return took.wall

    told = in_turn({name: functools.partial(lap, name) for name in lines}, laps=rounds, most=3 * rounds)
    base = statistics.median(processor["numpy"][1:])  # the first lap loads, compiles, writes bytecode
    print(f"\n{title}\n{'':<36}   wall  processor   times numpy")
    for name, laps in told.items():
        wall, used = laps.median, statistics.median(processor[name][1:])
        limits = COMMANDS.get(name)
        words = [] if name not in COMMANDS or wall < SECONDS else [f"over {SECONDS:g} s"]
        if limits:
            words.append(f"{'within' if used <= limits[which] * base else 'OVER'} {limits[which]:g} times numpy")
        print(f"{name:<36} {wall:6.2f} s {used:6.2f} s {used / base:9.1f} x  {'; '.join([*words, laps.words])}")


def lap_of(words: list[str], folder: str, env: dict[str, str]) -> Lap:
    """Run Python with some words in a folder, and return what it took."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    done = subprocess.run([sys.executable, *words], cwd=folder, env=env, capture_output=True, text=True)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise SystemExit(f"{' '.join(words)} ended with {done.returncode}:\n{done.stderr}")
    return Lap(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


if __name__ == "__main__":
    main()
