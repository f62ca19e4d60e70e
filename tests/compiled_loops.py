"""The loops compiled before tests run side by side: on a fresh clone each process would compile all of them for itself.

``python -m tests.compiled_loops`` compiles all that is missing; ``python -m tests.compiled_loops days`` (or ``minutes``, ``grids``) runs one part.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from types import FunctionType

ROOT = Path(__file__).resolve().parents[1]


def days() -> None:
    """Run a roof, designs side by side and watering in days."""
    import runoff
    from runoff.balance.loop_choice import expect_many_runs

    expect_many_runs()
    roof, weather = runoff.open_sample_roof("cups"), runoff.open_sample().sel(time=slice("1991", "1996"))
    runoff.simulate(roof, weather)
    runoff.sweep(roof, weather, {"medium.depth_mm": [60, 80]})
    runoff.irrigation_demand(roof, weather)


def minutes() -> None:
    """Run a storm on a roof as described and on roofs drawn from its ranges."""
    import runoff
    from runoff.balance.loop_choice import expect_many_runs

    expect_many_runs()
    storm = runoff.design_storm(depth_mm=40, duration="1h", step="5min", pattern="uniform")
    roof = runoff.open_sample_roof("cups")
    runoff.simulate(roof, storm)
    runoff.storm_uncertainty(roof, storm, members=10)


def grids() -> None:
    """Run a few cells of a grid."""
    import runoff

    weather = runoff.open_sample_grid().isel(lat=slice(0, 2), lon=slice(0, 2)).sel(time=slice("1995", "1996"))
    with tempfile.TemporaryDirectory() as folder:
        runoff.stream(runoff.open_sample_roof("cups"), weather, Path(folder) / "cells.zarr")


PARTS: dict[str, Callable[[], None]] = {"days": days, "minutes": minutes, "grids": grids}


def not_compiled() -> list[str]:
    """Return the parts that have a loop without a compiled form on disk."""
    from runoff.balance import column, column_blocks, grid_lanes, minute_steps
    from runoff.balance.loop_choice import source_digest

    def has_none(loop: FunctionType) -> bool:
        kept = Path(loop.__code__.co_filename).parent / "__pycache__"
        return not any(kept.glob(f"*.{loop.__qualname__}_{source_digest(loop)[:20]}-*.nbc"))

    loops = {
        "days": (column.trace_loop, column.irrigated_loop, column_blocks.totals_loop),
        "minutes": (minute_steps.trace_loop,),
        "grids": (grid_lanes.run_blocks,),
    }
    return [part for part, of_it in loops.items() if any(map(has_none, of_it))]


def make_ready() -> None:
    """Compile what is missing, part beside part."""
    running = [
        subprocess.Popen([sys.executable, "-m", "tests.compiled_loops", part], cwd=ROOT) for part in not_compiled()
    ]
    for one in running:
        one.wait()


if __name__ == "__main__":
    for part in sys.argv[1:]:
        PARTS[part]()
    if not sys.argv[1:]:
        make_ready()
