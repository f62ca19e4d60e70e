"""Small runs stay in plain Python, many small runs do not: counted in a process that has not loaded numba."""

import subprocess
import sys

import pytest

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
        ("", [100_000, 100_000, 100_000, 1], [False, False, True, True]),  # 300 000 steps are reached with the third
        ("expect_many_runs()", [1], [True]),
        ("import numba", [1], [True]),
    ],
    ids=["small", "large", "adding up", "announced", "loaded anyway"],
)
def test_which_loop_runs(before: str, runs: list[int], chosen: list[bool]) -> None:
    script = _SCRIPT.format(before=before, runs=runs)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == f"{chosen} {'numba' in before}"  # choosing alone loads nothing
