"""The loops compiled before tests run side by side: on a fresh clone each process would compile all of them for itself.

``python -m tests.compiled_loops days`` (or ``minutes``) runs one half of them; `make_ready` starts both halves at once.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import FunctionType

ROOT = Path(__file__).resolve().parents[1]


def days() -> None:
    """Run a roof, designs side by side, watering and a few cells in days."""
    import runoff
    from runoff.balance.loop_choice import expect_many_runs

    expect_many_runs()
    roof, weather = runoff.open_sample_roof("cups"), runoff.open_sample().sel(time=slice("1991", "1996"))
    runoff.simulate(roof, weather)
    runoff.sweep(roof, weather, {"medium.depth_mm": [60, 80]})
    runoff.irrigation_demand(roof, weather)
    grid = weather.drop_vars("lat").expand_dims(lat=[46.0, 47.0], lon=[7.0, 8.0])
    runoff.simulate(roof, grid.isel(time=slice(0, 730)))


def minutes() -> None:
    """Run a storm on a roof as described and on roofs drawn from its ranges."""
    import runoff
    from runoff.balance.loop_choice import expect_many_runs

    expect_many_runs()
    storm = runoff.design_storm(depth_mm=40, duration="1h", step="5min", pattern="uniform")
    roof = runoff.open_sample_roof("cups")
    runoff.simulate(roof, storm)
    runoff.storm_uncertainty(roof, storm, members=10)


HALVES: dict[str, Callable[[], None]] = {"days": days, "minutes": minutes}


def not_compiled() -> list[str]:
    """Return the halves that have a loop without a compiled form on disk."""
    from runoff.balance import column, column_blocks, minute_steps
    from runoff.balance.loop_choice import source_digest

    def has_none(loop: FunctionType) -> bool:
        kept = Path(loop.__code__.co_filename).parent / "__pycache__"
        return not any(kept.glob(f"*.{loop.__qualname__}_{source_digest(loop)[:20]}-*.nbc"))

    loops = {
        "days": (column.trace_loop, column.irrigated_loop, column_blocks.totals_loop),
        "minutes": (minute_steps.trace_loop,),
    }
    return [half for half, of_it in loops.items() if any(map(has_none, of_it))]


def make_ready() -> None:
    """Compile what is missing, both halves side by side."""
    running = [subprocess.Popen([sys.executable, "-m", __name__, half], cwd=ROOT) for half in not_compiled()]
    for one in running:
        one.wait()


if __name__ == "__main__":
    HALVES[sys.argv[1]]()
