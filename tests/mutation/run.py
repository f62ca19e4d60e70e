"""Run a drawn set of mutants against the fast tests that should notice them: ``python -m tests.mutation.run``.

Works on a copy of the checkout in a temporary folder, two at a time, and writes `result.csv`: one row per mutant with the
fate (killed, timed out, survived) and the digest of the module it was made from. A mutant is drawn by seed, so the same sources give
the same set. Not part of the test run: it takes about an hour. ``--only FILE`` runs one module, ``--survivors`` runs the survivors of the last result again.
"""

from __future__ import annotations

import argparse
import ast
import concurrent.futures
import csv
import hashlib
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.mutation.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
RESULT = Path(__file__).with_name("result.csv")
SEED = 5
SECONDS = 240

_BALANCE = [
    "tests/balance/test_column_totals.py",
    "tests/test_six_days.py",
    "tests/published/test_soil_water.py",
    "tests/balance/test_column.py",
]
#: The quicker ones, as plain Python: two of a block's long weather are left out.
_MINUTES = [
    f"tests/balance/test_minutes.py::test_{name}"
    for name in (
        "volume_and_peak_follow_the_differential_equation",
        "medium_under_steady_rain_follows_tanh",
        "release_keeps_to_tanh_for_a_large_inflow",
        "outflow_at_a_level_is_that_of_the_outlets_or_of_the_board",
        "while_the_overflow_runs_the_outlets_pass_what_its_level_drives",
        "linear_medium_is_a_linear_reservoir",
        "medium_recession_of_any_exponent",
        "board_empties_as_a_pond_over_a_weir",
        "pond_on_a_saturated_roof_empties_through_a_drowned_outlet",
        "unlike_outlets_empty_a_roof_at_one_common_level",
        "no_oscillation_on_a_small_roof_with_a_large_drain",
        "volumes_agree_between_1_5_and_15_minutes_and_peaks_lie_close",
        "steady_rain_drains_as_on_the_daily_column",
        "clogged_outlets_leave_the_emergency_overflow_to_work_alone",
        "rain_that_cannot_soak_in_keeps_a_full_board_at_its_own_head",
        "overflow_below_the_board_top_never_lets_the_medium_flood",
        "water_is_neither_made_nor_lost_and_no_store_leaves_its_bounds",
        "block_of_designs_equals_the_single_roof_bit_for_bit[5.0]",
    )
]
_STORMS = [
    "tests/published/test_storm_cases.py",
    "tests/storms/test_design_storms.py",
    "tests/storms/test_depth_duration.py",
]
_VAPOUR = ["tests/published/test_evapotranspiration_cases.py", "tests/weather/test_evapotranspiration.py"]
#: Module, how many mutants are drawn from it, and the tests that should notice.
TARGETS: dict[str, tuple[int, list[str]]] = {
    "runoff/balance/outlet_flow.py": (20, ["tests/published/test_drainage_cases.py", "tests/published/test_reservoir_cases.py", "tests/balance/test_outlet_flow.py"]),
    "runoff/weather/evaporation/formulas.py": (30, _VAPOUR),
    "runoff/weather/evaporation/sun.py": (20, [*_VAPOUR, "tests/weather/test_sun.py"]),
    "runoff/storms/intensity_curves.py": (15, _STORMS),
    "runoff/storms/hyetographs.py": (10, _STORMS),
    "runoff/storms/level_intervals.py": (10, ["tests/storms/test_extremes.py"]),
    "runoff/storms/rain_maxima.py": (10, ["tests/storms/test_extremes.py", "tests/storms/test_own_record.py"]),
    "runoff/storms/own_record.py": (10, ["tests/storms/test_own_record.py"]),
    "runoff/storms/extremes.py": (15, ["tests/published/test_frequency_cases.py", "tests/storms/test_extremes.py"]),
    "runoff/roof/column_values.py": (15, ["tests/roof/test_column_parameters.py", "tests/roof/test_release_curve.py"]),
    "runoff/roof/loads.py": (15, ["tests/roof/test_loads.py"]),
    "runoff/weather/record/forcing.py": (15, ["tests/weather/test_forcing.py"]),
    "runoff/findings/summary.py": (15, ["tests/findings/test_claims.py", "tests/findings/test_summary.py"]),
    "runoff/findings/curve_number.py": (15, ["tests/published/test_curve_number_cases.py", "tests/test_curve_number.py"]),
}  # fmt: skip


def digest_of(source: str) -> str:
    """Return a short digest of what a module does: its syntax tree without texts, so that words and comments may change."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if (
            isinstance(body, list)
            and body
            and isinstance(body[0], ast.Expr)
            and isinstance(body[0].value, ast.Constant)
        ):
            body[0].value.value = ""
    return hashlib.sha256(ast.dump(tree).encode()).hexdigest()[:12]


def fresh(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Return the rows whose module is today what it was when they were made."""
    now = {name: digest_of((ROOT / name).read_text(encoding="utf-8")) for name in {row["module"] for row in rows}}
    return [row for row in rows if row["digest"] == now[row["module"]]]


def drawn(only: str | None = None) -> list[tuple[str, Mutant]]:
    """Return the mutants of every module, drawn by seed."""
    found = []
    for name, (count, _) in TARGETS.items():
        if only and only not in name:
            continue
        every = mutants((ROOT / name).read_text(encoding="utf-8"))
        chosen = random.Random(f"{SEED} {name}").sample(range(len(every)), min(count, len(every)))
        found += [(name, every[i]) for i in sorted(chosen)]
    return found


def fate(copy: Path, name: str, source: str | None = None) -> str:
    """Put one mutant of a module into a copy of the checkout, run its tests, put the module back."""
    place = copy / name
    whole = place.read_text(encoding="utf-8")
    place.write_text(source or whole, encoding="utf-8")
    marks = ["-p", "no:cacheprovider", "-m", "not slow and not real_weather"]
    command = [sys.executable, "-m", "pytest", "-x", "-q", *marks, *TARGETS[name][1]]
    env = {
        **os.environ,
        "NUMBA_DISABLE_JIT": "1",
        "PYTHONPATH": str(copy),
        "MPLBACKEND": "Agg",
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    try:
        done = subprocess.run(command, cwd=copy, env=env, timeout=SECONDS, capture_output=True, text=True)
    except subprocess.TimeoutExpired:
        return "timed out"
    finally:
        place.write_text(whole, encoding="utf-8")
    if done.returncode == 5:  # pytest's code for no test at all
        raise SystemExit(f"{name}: no test was run: {done.stdout[-500:]}")
    return "killed" if done.returncode else "survived"


def checkout(folder: str) -> Path:
    """Copy what the tests need."""
    copy = Path(tempfile.mkdtemp(dir=folder))
    for part in ("runoff", "tests", "sample_storms", "notebooks"):
        shutil.copytree(ROOT / part, copy / part, ignore=shutil.ignore_patterns("__pycache__", "*.nbi", "*.nbc"))
    shutil.copy(ROOT / "pyproject.toml", copy)
    return copy


def run(work: list[tuple[str, Mutant]], workers: int) -> list[dict[str, str]]:
    """Run mutants, so many at once, and return their rows."""
    digests = {name: digest_of((ROOT / name).read_text(encoding="utf-8")) for name, _ in work}
    with tempfile.TemporaryDirectory() as folder:
        copies = [checkout(folder) for _ in range(workers)]
        for name in dict.fromkeys(name for name, _ in work):  # a fault found must be the mutant's
            if fate(copies[0], name) != "survived":
                raise SystemExit(f"{name}: its tests fail or take too long without any mutant")

        def share(number: int) -> list[tuple[int, str]]:
            mine = list(enumerate(work))[number::workers]
            return [(i, fate(copies[number], name, work[i][1].source)) for i, (name, _) in mine]

        with concurrent.futures.ThreadPoolExecutor(workers) as pool:
            fates = dict(pair for part in pool.map(share, range(workers)) for pair in part)
    return [
        {"module": name, "digest": digests[name], "line": str(mutant.line), "column": str(mutant.column), "kind": mutant.kind, "change": _short(mutant.change), "fate": fates[i], "why_it_lives": ""}
        for i, (name, mutant) in enumerate(work)
    ]  # fmt: skip


def _short(text: str) -> str:
    return text if len(text) <= 160 else text[:157] + "..."


def key(row: dict[str, str]) -> tuple[str, ...]:
    """Return what names a mutant."""
    return row["module"], row["line"], row["column"], row["kind"], row["change"]


def main() -> None:
    """Run and write the result."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--only")
    arguments.add_argument("--survivors", action="store_true")
    arguments.add_argument("--workers", type=int, default=min(2, os.cpu_count() or 1))
    given = arguments.parse_args()
    old = list(csv.DictReader(RESULT.read_text(encoding="utf-8").splitlines())) if RESULT.exists() else []
    alive = {key(row) for row in old if row["fate"] == "survived"}
    why = {key(row): row["why_it_lives"] for row in old}
    work = drawn(given.only)
    if given.survivors:
        work = [
            (name, one)
            for name, one in work
            if (name, str(one.line), str(one.column), one.kind, _short(one.change)) in alive
        ]
    tried = {key(row): row | {"why_it_lives": why.get(key(row), "")} for row in run(work, given.workers)}
    if given.survivors:
        rows = [tried.get(key(row), row) for row in old]
    else:  # a module that was run anew has other faults than before if its source has changed
        anew = {name for name, _ in work}
        rows = [row for row in old if given.only and row["module"] not in anew] + list(tried.values())
    rows.sort(key=lambda row: list(TARGETS).index(row["module"]))
    with RESULT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    dead = sum(row["fate"] in ("killed", "timed out") for row in rows)
    print(f"{len(rows)} mutants, {dead} dead ({100 * dead / len(rows):.0f} %)")


if __name__ == "__main__":
    main()
