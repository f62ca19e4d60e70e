"""How fast many roofs run through one storm: ``python -m tests.benchmarks.bench_storms``.

Roofs with different outlets through a day of rain and a dry day, in steps of 5 min: with every store kept and labelled
(`runoff.simulate`), and with their discharge alone (`storm_flows`). Then the public calls that rest on it. Variants run in turn;
medians of the processor's own time, as other work on the machine only ever adds to it.
"""

import statistics
import time
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np

import runoff
from runoff.balance.loop_choice import expect_many_runs
from runoff.findings.draining import drainage_figures
from runoff.simulation import storm_flows
from runoff.sizing.designs import DesignGrid

ROUNDS = 5


def variants() -> dict[str, tuple[int, Callable[[], Any]]]:
    """Return how many roofs each variant runs, and the variant."""
    roof = runoff.open_sample_roof("cups")
    rain = runoff.design_storm(depth_mm=80.0, duration="24h", step="5min")
    storm = runoff.followed_by_dry(rain)
    sizes = np.linspace(50.0, 150.0, 25).tolist()
    grid = DesignGrid(roof, {"outlet.diameter_mm": sizes, "outlet.count": list(range(1, 9))})
    roofs = [grid.roof_of(i) for i in range(len(grid))]
    tried = [runoff.Outlet(kind="round", diameter_mm=size) for size in sizes]
    limit = {"allowable_depth_mm": 60.0}
    return {
        "simulate, 40 roofs": (40, lambda: runoff.simulate(roofs[:40], storm)),
        "their discharge alone, 40 roofs": (40, lambda: storm_flows(roofs[:40], storm, ("discharge",))),
        "simulate, 200 roofs": (200, lambda: runoff.simulate(roofs, storm)),
        "their discharge alone, 200 roofs": (200, lambda: storm_flows(roofs, storm, ("discharge",))),
        "storm_uncertainty, 40 draws": (40, lambda: runoff.storm_uncertainty(roof, storm)),
        "size_outlets, 32 candidates": (32, lambda: runoff.size_outlets(roof, storm, **limit)),
        "size_outlets, 200 candidates": (200, lambda: runoff.size_outlets(roof, storm, candidates=tried, **limit)),
        "drainage figures, 200 designs": (200, lambda: drainage_figures(roofs, rain, drying_mm_per_day=4.0)),
    }


def main() -> None:
    """Print medians."""
    expect_many_runs()
    warnings.simplefilter("ignore", runoff.RunoffWarning)  # of the step of the storm
    timed = variants()
    times: dict[str, list[float]] = {name: [] for name in timed}
    for number in range(ROUNDS + 1):  # the first compiles
        for name, (_, run) in timed.items():
            begin = time.process_time()
            run()
            if number:
                times[name].append((time.process_time() - begin) * 1e3)
    for name, (roofs, _) in timed.items():
        median = statistics.median(times[name])
        print(f"{name:34s} {median:8.1f} ms   {median / roofs:6.2f} ms a roof")
    for roofs in (40, 200):
        ratio = [
            kept / flows
            for kept, flows in zip(
                times[f"simulate, {roofs} roofs"], times[f"their discharge alone, {roofs} roofs"], strict=True
            )
        ]
        print(f"{roofs} roofs: simulate takes {statistics.median(ratio):.1f} times as long as their discharge alone")


if __name__ == "__main__":
    main()
