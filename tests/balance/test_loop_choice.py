"""Small runs stay in plain Python, many small runs do not; and a compiled loop is never older than its sources."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import runoff
from runoff.balance import block_lanes, column_blocks, free_water, grid_lanes, loop_choice

_SCRIPT = """
import sys
from runoff.balance.loop_choice import compiled_repays, expect_many_runs
{before}
print([compiled_repays(steps) for steps in {runs}], "numba" in sys.modules)
"""


@pytest.mark.parametrize(
    ("before", "runs", "chosen"),
    [
        ("", [11_000] * 3, [False, False, False]),
        ("", [400_000], [True]),
        ("", [25_000, 25_000, 25_000, 1], [False, False, True, True]),  # 65 000 steps are reached with the third
        ("expect_many_runs()", [1], [True]),
        ("import numba", [1], [True]),
    ],
    ids=["small", "large", "adding up", "announced", "loaded anyway"],
)
def test_which_loop_runs(before: str, runs: list[int], chosen: list[bool]) -> None:
    script = _SCRIPT.format(before=before, runs=runs)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == f"{chosen} {'numba' in before}"  # choosing alone loads nothing


# a loop in one file that reads the geometry of another, and the digests of the loops that matter
_LOOP = """
from runoff.balance.free_water import mean_depth

def depths_loop(levels, drop, out):
    for i in range(len(levels)):
        out[i] = mean_depth(levels[i], drop, 1.0 / drop)
"""
_READ = """
import sys
import numpy as np
from runoff.balance import column, column_blocks, loop_choice, minute_steps, trial_loop
out = np.zeros(1)
made = loop_choice.compiled(trial_loop.depths_loop)
made(np.array([50.0]), 100.0, out)
joined = type(made.py_func.__globals__["mean_depth"]).__module__.startswith("numba")
loops = (column.trace_loop, column.irrigated_loop, column_blocks.totals_loop, minute_steps.trace_loop)
print(float(out[0]), joined, "numba.np.linalg" in sys.modules, *(loop_choice.source_digest(loop) for loop in loops))
"""


@pytest.mark.slow
def test_an_edited_geometry_is_compiled_anew_and_an_unchanged_one_is_not(tmp_path: Path) -> None:
    """numba's own cache watches the file of the loop alone, and would give the old result back."""
    package = Path(runoff.__file__).parent
    shutil.copytree(package, tmp_path / "runoff", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "runoff" / "balance" / "trial_loop.py").write_text(_LOOP)
    cache = tmp_path / "runoff" / "balance" / "__pycache__"

    def read(*, compiles: bool) -> tuple[float, list[str]]:
        environment = {**os.environ, "PYTHONPATH": str(tmp_path)}
        done = subprocess.run(
            [sys.executable, "-c", _READ], capture_output=True, text=True, check=True, env=environment, cwd=tmp_path
        )
        depth, joined, ready, *digests = done.stdout.split()
        assert [joined, ready] == [str(compiles)] * 2  # what compiling takes is made ready for it alone
        return float(depth), digests

    before, digests = read(compiles=True)
    assert before == 12.5  # by hand: 50 mm on a drop of 100 mm wet half the roof, 25 mm deep on average
    kept = {file.name: file.stat().st_mtime_ns for file in cache.glob("*.nbc")}
    assert read(compiles=False) == (before, digests)
    assert {file.name: file.stat().st_mtime_ns for file in cache.glob("*.nbc")} == kept and len(kept) == 1
    geometry = tmp_path / "runoff" / "balance" / "free_water.py"
    text = geometry.read_text()
    assert text.count("0.5 * x * (x * per_drop)") == 1
    geometry.write_text(text.replace("0.5 * x * (x * per_drop)", "0.4 * x * (x * per_drop)"))
    after, others = read(compiles=True)
    assert after == pytest.approx(10.0)
    assert all(one != other for one, other in zip(digests, others, strict=True))


def test_a_constant_of_another_file_is_part_of_the_digest(monkeypatch: pytest.MonkeyPatch) -> None:
    """A loop takes a plain number from a file it takes no function from: the width of a block, for one."""
    before = loop_choice.source_digest(grid_lanes.run_blocks)
    assert loop_choice.source_digest(grid_lanes.run_blocks) == before
    monkeypatch.setattr(grid_lanes, "LANES", 2 * grid_lanes.LANES)
    assert loop_choice.source_digest(grid_lanes.run_blocks) != before


def test_parts_read_the_constants_of_the_loop_they_are_compiled_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blocks of designs are wider than those of cells, and their parts are the same functions."""
    loop = column_blocks.totals_loop
    settle = loop_choice.plainly(loop).__globals__["settle"]
    assert (
        settle.__globals__["LANES"]
        == column_blocks.LANES
        != block_lanes.LANES
        == block_lanes.settle.__globals__["LANES"]
    )
    cells = loop_choice.plainly(grid_lanes.run_blocks).__globals__["grid_loop"]
    assert cells.__globals__["settle"].__globals__["LANES"] == block_lanes.LANES
    before = loop_choice.source_digest(loop)
    monkeypatch.setattr(column_blocks, "LANES", 2 * column_blocks.LANES)
    assert loop_choice.source_digest(loop) != before


def test_a_source_that_cannot_be_read_leaves_the_loop_without_a_cache(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert loop_choice.source_digest(free_water.fill_volumes) == ""


@pytest.mark.slow
def test_a_numba_that_keeps_its_caches_elsewhere_runs_loops_all_the_same() -> None:
    """In a process of its own: numba's runtime without the name by which a loop from the cache finds it."""
    code = """
from numba.core.registry import cpu_target
from numba.core.runtime import _nrt_python, rtsys
rtsys.initialize(cpu_target.target_context)
del _nrt_python.c_helpers
import numpy as np
from runoff.balance import free_water, loop_choice
def depths(levels, out):
    for i in range(levels.size):
        out[i] = mean_depth(levels[i], 100.0, 0.01)
depths.__globals__["mean_depth"] = free_water.mean_depth
out = np.zeros(1)
made = loop_choice.compiled(depths)
made(np.array([50.0]), out)
print(*out)
"""
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.stdout.split() == ["12.5"], ran.stderr  # by hand, as above
