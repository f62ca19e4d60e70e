"""All ratios in one run: ``python -m tests.benchmarks [--no-history]``.

One table: the loops against plain Python, rows of pandas, numpy and the limit of the machine; a grid against reading it; start-up
against ``import numpy``. Variants run in turn; ratios are of medians of processor time, which other work on the machine disturbs
least. Each run adds its ratios to ``history.csv``, with the date and the commit. It ends with 1 when the block loop is not at least four times as
quick for each design as the loop of one roof, since then its lanes no longer run side by side.
"""

from __future__ import annotations

import argparse
import csv
import datetime
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from runoff.balance import column
from runoff.balance.column import PARAMETERS, column_step
from runoff.balance.day_steps import DayColumn, column_at
from runoff.balance.free_water import deck_at
from runoff.balance.loop_choice import compiled
from tests.balance.invented_roofs import described
from tests.benchmarks import bench_commands, bench_grid, bench_lanes
from tests.benchmarks.bench_column import days, one_thread, roofs, trace
from tests.benchmarks.operations import limit_run
from tests.benchmarks.quiet import medians

HISTORY = Path(__file__).with_name("history.csv")
BLOCK = "block loop, a design"
_DAYS, _FEW_DAYS, _DESIGNS = 10_957, 1096, 992
#: So many that opening and closing stores, half a second, is not most of a run.
_CELLS = 4000
_ROUNDS, _START_ROUNDS = 5, 3


class Row(NamedTuple):
    """One line of the table.

    Parameters
    ----------
    what, against
        What is measured, and its yardstick.
    ratio
        Times as quick as the yardstick where `quicker`, else times as long.
    wanted
        The least, or the most, it shall be; None where nothing is asked.
    quicker
        Whether more is better.
    """

    what: str
    against: str
    ratio: float
    wanted: float | None = None
    quicker: bool = True

    @property
    def holds(self) -> bool:
        """Whether the ratio is as wanted."""
        if self.wanted is None:
            return True
        return self.ratio >= self.wanted if self.quicker else self.ratio <= self.wanted

    def told(self) -> str:
        """Return the line as it is printed."""
        kind = "times as quick" if self.quicker else "times as long"
        wanted = "" if self.wanted is None else f"{'at least' if self.quicker else 'at most'} {self.wanted:g}"
        verdict = "" if self.wanted is None else ("holds" if self.holds else "DOES NOT HOLD")
        return f"{self.what:<38} {self.against:<34} {self.ratio:8.2f} {kind:<15} {wanted:<12} {verdict}".rstrip()


def loops() -> list[Row]:
    """Return how the loops stand to each other, to plain Python, to rows of pandas, to numpy and to the machine."""
    given, design = days(_DAYS), described()
    few = {name: one[:_FEW_DAYS] if isinstance(one, np.ndarray) else one for name, one in given.items()}
    free, sweep = roofs(0.0, 0.0)[:_DESIGNS], bench_lanes.sweep_of(1024)
    in_order = (trace(design, few, column.trace_loop), trace(design, given, compiled(column.trace_loop)))
    found = medians(
        {
            "rows": rows_of_pandas(design, few),
            "plain": lambda: _of_days(in_order[0], _FEW_DAYS),
            "one": lambda: _of_days(in_order[1], _DAYS),
            "block": one_thread(free, given),
            "limit": limit_run(whole_vectors=False),
            "sweep": sweep.public,
            "numpy": sweep.in_numpy,
            "numpy, skips": sweep.in_numpy_with_skips,
        },
        _ROUNDS,
    )
    limit = found["limit"] * bench_lanes.counted(given, free)
    return [
        Row("loop of one roof, compiled", "rows of a pandas table", found["rows"] / found["one"]),
        Row("loop of one roof, compiled", "the same in plain Python", found["plain"] / found["one"]),
        Row(BLOCK, "loop of one roof, compiled", found["one"] / found["block"], 4.0),
        Row(BLOCK, "numpy, all steps, 1,024 designs", found["numpy"] / found["block"]),
        Row(
            BLOCK,
            "the limit of its operations, vectors as by default",
            found["block"] / limit,
            round(1.0 / 0.65, 2),
            quicker=False,
        ),
        Row("sweep of 1,024 designs, public call", "numpy, all steps", found["numpy"] / found["sweep"], 25.0),
        Row("sweep of 1,024 designs, public call", "numpy, still days skipped", found["numpy, skips"] / found["sweep"]),
    ]


def _of_days(run: Callable[[], float], days: int) -> float:
    run()
    return float(days)


def rows_of_pandas(design: dict[str, Any], given: dict[str, Any]) -> Callable[[], float]:
    """Return the day of one roof, row by row of a table, as one would write it first."""
    par = column.parameter_array([design])[:, 0].tolist()
    p, deck = column_at(par, 0, 1), deck_at(par, len(DayColumn._fields), 1)
    assert len(par) == len(PARAMETERS)
    table = pd.DataFrame({"liquid": given["liquid"], "e0": given["e0"]})
    begin = column.start_stores(column.parameter_array([design]), "field-capacity")[:, 0].tolist()

    def run() -> float:
        stores, level, overflow = begin, 0.0, []
        for _, row in table.iterrows():
            day = column_step(row["liquid"], row["e0"], 0.0, *stores, level, p, deck)
            stores, level = list(day[:5]), day[5]
            overflow.append(day[9] + day[10])
        table["overflow"] = overflow
        return float(len(table))

    return run


def grids() -> list[Row]:
    """Return how long a grid takes from store to store, against reading the store."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = bench_grid.write_store(folder / "in", _CELLS, {"time": _DAYS, "lat": 20, "lon": 20})

        def stream() -> float:
            shutil.rmtree(folder / "out", ignore_errors=True)
            bench_grid.run_stream(store, folder / "out")
            return 1.0

        def read() -> float:
            bench_grid.read_alone(store)
            return 1.0

        found = medians({"stream": stream, "read": read}, _ROUNDS)
    return [Row(f"stream, {_CELLS} cells of 30 years", "reading the store alone", found["stream"] / found["read"], 4.0, quicker=False)]  # fmt: skip


def starts() -> list[Row]:
    """Return how long starting takes, against ``import numpy``."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    env |= {"PYTHONPATH": str(Path(__file__).resolve().parents[2]), "MPLBACKEND": "Agg"}
    lines = {
        "numpy": ["-c", "import numpy"],
        "import runoff": ["-c", "import runoff"],
        "runoff simulate --no-figures": ["-m", "runoff", "simulate", "--no-figures"],
    }
    spent: dict[str, list[float]] = {name: [] for name in lines}
    for number in range(_START_ROUNDS + 1):
        for name, words in lines.items():
            with tempfile.TemporaryDirectory() as folder:
                lap = bench_commands.lap_of(words, folder, env)
            if number:
                spent[name].append(lap.processor)
    base, *others = (statistics.median(each) for each in spent.values())
    limits = {"runoff simulate --no-figures": 16.0}
    return [
        Row(name, "import numpy", value / base, limits.get(name), quicker=False)
        for name, value in zip(list(lines)[1:], others, strict=True)
    ]


def note(rows: Sequence[Row], history: Path) -> None:
    """Add the ratios of a run to the history: one line each."""
    now = datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%d %H:%M")
    asked = ["git", "-C", str(HISTORY.parent), "describe", "--always", "--dirty"]
    commit = subprocess.run(asked, capture_output=True, text=True).stdout.strip() or "unknown"
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    begins = not history.exists()
    with history.open("a", newline="", encoding="utf-8") as file:
        lines = csv.writer(file, lineterminator="\n")
        if begins:
            lines.writerow(["date_utc", "commit", "cores", "load", "what", "against", "ratio", "kind", "wanted"])
        for row in rows:
            kind = "times as quick" if row.quicker else "times as long"
            wanted = "" if row.wanted is None else f"{row.wanted:g}"
            lines.writerow([now, commit, os.cpu_count(), load, row.what, row.against, f"{row.ratio:.3g}", kind, wanted])


def verdict(rows: Sequence[Row]) -> int:
    """Return 1 when the lanes of the block loop no longer run side by side, else 0."""
    block = next(row for row in rows if row.what == BLOCK and row.wanted == 4.0)
    if block.holds:
        return 0
    print(
        f"\nThe block loop is {block.ratio:.1f} times as quick for each design as the loop of one roof, and should be at least 4: its lanes no "
        "longer run side by side. Look for a call, a branch or a row of the work array that the compiler cannot see through."
    )
    return 1


def main() -> int:
    """Print the table, note it, and return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description="All ratios in one run.")
    parser.add_argument("--no-history", action="store_true", help="do not add the ratios to history.csv")
    asked = parser.parse_args()
    print(f"{'what':<38} {'against':<34} {'ratio':>8} {'':<15} {'wanted':<12}".rstrip())
    rows: list[Row] = []
    for part in (loops, grids, starts):
        for row in part():
            rows.append(row)
            print(row.told(), flush=True)
    if not asked.no_history:
        note(rows, HISTORY)
        print(f"\nAdded to {HISTORY.name}")
    return verdict(rows)


if __name__ == "__main__":
    sys.exit(main())
