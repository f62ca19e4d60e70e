"""How long many designs take, part by part: ``python -m tests.benchmarks.bench_sizing``.

Ten thousand designs, and a thousand parameter sets with their years drawn anew, over the thirty years of the sample. Wanted on
two free cores, warm: the sweep under half a second, the ranges under two. Variants run in turn, nine rounds after one that
compiles. Least and median time by the clock, and the processor time of all threads, which says more on a busy machine.
What the sweep adds to the loop should stay well below the loop itself: if not, parts are made once per design again.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

import runoff
from runoff.findings.events import WET_DAY_MM, event_starts
from runoff.simulation import Columns, DailyRecord, RunRules, daily_forcing, run_totals
from runoff.sizing.designs import DesignGrid
from runoff.sizing.sweeping import columns_of_designs


def main() -> None:
    """Print times and shares."""
    weather, roof = runoff.open_sample(), runoff.open_sample_roof("cups")
    choices = {
        "medium.depth_mm": np.linspace(40.0, 120.0, 25).tolist(),
        "medium.field_capacity": np.linspace(0.25, 0.40, 20).tolist(),
        "board.cup_storage_mm": np.linspace(0.0, 8.0, 20).tolist(),
    }
    targets = {"retention": {"at_least": 0.55}, "dry_days": {"at_most": 60}}
    columns = columns_of_designs(DesignGrid(roof, choices))
    variants: dict[str, Callable[[], object]] = {
        "the loop alone, 10,000 designs": _loop(weather, columns),
        "designs and their columns": lambda: columns_of_designs(DesignGrid(roof, choices)),
        "sweep, 10,000 designs": lambda: runoff.sweep(roof, weather, choices),
        "size, 10,000 candidates": lambda: runoff.size(roof, weather, targets, choices),
        "ranges, 1,000 parameter sets": lambda: runoff.uncertainty(roof, weather, members=1000, targets=targets),
    }
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in variants}
    for number in range(10):
        for name, run in variants.items():
            start, worked = time.perf_counter(), time.process_time()
            run()
            if number:
                times[name].append((time.perf_counter() - start, time.process_time() - worked))
    whole = min(worked for _, worked in times["sweep, 10,000 designs"])
    print(f"{'seconds':32s}   least  median  processor  share of the sweep's processor time")
    for name, spent in times.items():
        clock, worked = [one[0] for one in spent], min(one[1] for one in spent)
        print(
            f"{name:32s} {min(clock):7.2f} {statistics.median(clock):7.2f} {worked:10.2f} {100.0 * worked / whole:6.0f} %"
        )


def _loop(weather: object, columns: Columns) -> Callable[[], object]:
    rules = RunRules()
    forcing = daily_forcing(weather, rules)
    starts = event_starts(forcing["rain"].to_numpy(), WET_DAY_MM)
    record = DailyRecord.of(forcing, rules)
    return lambda: run_totals(columns, rules, record, starts)


if __name__ == "__main__":
    main()
