"""Run a drawn set of mutants against the fast tests that should notice them: ``python -m tests.mutation.run``.

Works on a copy of the checkout in a temporary folder, two at a time, and writes `result.csv`: one row per mutant with the
fate (killed, timed out, survived) and the digest of the module it was made from. A mutant is drawn by seed, so the same sources give
the same set. Not part of the test run: it takes a quarter of an hour. ``--only FILE ...`` runs the modules whose name holds one of FILE ...,
``--survivors`` runs the survivors of the last result again.

What the tests need of other packages is loaded once, in a server from which each run is forked: of the four seconds of a run most
went into loading.
"""

from __future__ import annotations

import argparse
import ast
import concurrent.futures
import csv
import hashlib
import multiprocessing
import os
import random
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.mutation.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
RESULT = Path(__file__).with_name("result.csv")
SEED = 5
SECONDS = 60
_LOADED_ONCE = ["numpy", "pandas", "xarray", "scipy.integrate", "scipy.optimize", "hypothesis", "pydantic", "pytest"]
_NO_TEST = 5  # pytest's code


def _of(file: str, *names: str) -> list[str]:
    return [f"tests/balance/{file}.py::test_{name}" for name in names]


_COLUMN = [
    *_of(
        "test_column",
        "bypass_by_hand", "bypass_passes_cups_and_mat_and_percolation_does_not",
        "run_on_led_to_the_outlets_passes_the_roof_and_is_in_the_balance", "what_evaporates_from_a_pond_is_not_taken_up_as_well",
        "standing_water_fills_cups_and_mat_and_is_taken_up_by_the_medium_it_stands_in",
        "a_pond_runs_to_the_outlets_over_the_surface", "where_water_stands_by_hand",
        "exactly_at_a_limit_is_neither_waterlogged_nor_dry", "little_spare_air_counts_by_its_half_millimetre", "a_wet_medium_is_waterlogged_up_to_where_its_air_ends", "a_level_roof_drains_slowly_and_its_own_water_drives_it",
        "watering_by_hand_and_never_watered_is_the_plain_loop",
        *(
            f"every_flux_and_store_of_twelve_roofs_equals_the_second_reading[{roof}]"
            for roof in ("slight fall, half blocked, overflow in the medium", "fleece nearly clogged", "usual fall, open, mulch")
        ),
    ),
    "tests/balance/test_packing.py",
]  # fmt: skip
#: The quicker ones of the loop in minutes, as plain Python.
_MINUTES = [
    *_of(
        "test_minutes",
        "where_the_fleece_limits_the_mobile_water_by_hand", "the_foot_ends_where_the_drainage_layer_begins_to_limit_by_hand",
        "medium_under_steady_rain_follows_tanh", "linear_medium_is_a_linear_reservoir", "medium_recession_of_any_exponent",
        "a_level_board_empties_as_a_pond_over_a_weir", "the_foot_of_a_wedge_empties_evenly_in_the_root_of_its_level",
        "a_pond_on_a_level_roof_empties_through_a_drowned_outlet",
        "a_wedge_that_empties_within_a_few_steps_is_not_empty_before", "throughfall_is_the_rain_less_what_the_surface_takes",
        "a_medium_takes_up_the_water_that_stands_in_it", "while_a_level_deck_fills_its_deepest_is_at_the_end_of_each_step",
        "bypass_is_the_same_at_any_step_and_none_from_a_dry_medium",
        "what_exceeds_the_pores_behind_a_clogged_fleece_runs_over_the_surface",
        "emergency_overflow_alone_stands_at_the_head_of_its_own_opening", "a_drowned_overflow_follows_the_orifice",
        "water_above_the_edge_runs_over_and_is_told", "the_drainage_layer_limits_what_reaches_the_outlets",
        "standing_water_drives_itself_on_a_level_deck", "above_the_medium_water_runs_over_its_surface_to_the_outlets",
        "run_on_joins_the_free_water_directly", "a_saturated_place_counts_as_waterlogged_and_a_drained_one_does_not",
        "a_bare_film_evaporates_at_reference_rate_until_it_is_gone", "largest_mean_is_over_5_minutes_or_the_step",
        "a_missing_value_is_missing_throughout", "bad_input_is_named",
        *(f"days_with_sun_follow_the_page_read_minute_by_minute[{seed}]" for seed in (0, 2)),
        *(f"volume_and_peak_follow_the_differential_equation[{seed}]" for seed in (1, 2, 4)),
    ),
]  # fmt: skip
_STORMS = [
    "tests/published/test_storm_cases.py",
    "tests/storms/test_design_storms.py",
    "tests/storms/test_depth_duration.py",
]
_VAPOUR = ["tests/published/test_evapotranspiration_cases.py", "tests/weather/test_evapotranspiration.py"]
#: Module, how many mutants are drawn from it, and the tests that should notice.
TARGETS: dict[str, tuple[int, list[str]]] = {
    "runoff/balance/column.py": (12, _COLUMN),
    "runoff/balance/day_steps.py": (16, _COLUMN),
    "runoff/balance/free_water.py": (15, ["tests/balance/test_free_water.py"]),
    "runoff/balance/packing.py": (10, _COLUMN),
    "runoff/balance/surfaces.py": (10, ["tests/balance/test_surfaces.py"]),
    "runoff/balance/minute_steps.py": (14, _MINUTES),
    "runoff/balance/minute_runoff.py": (6, _MINUTES),
    "runoff/balance/deck_foot.py": (12, ["tests/balance/test_deck_foot.py", *_MINUTES]),
    "runoff/balance/minute_courses.py": (6, _of("test_minute_courses", "each_column_may_have_its_own_weather", "columns_alike_to_the_last_bit_are_run_once", "water_that_is_lost_shows_in_the_balance", "missing_values_are_missing_in_their_columns", "series_of_unlike_lengths_are_refused")),
    "runoff/balance/minutes.py": (15, _MINUTES),
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
    "runoff/findings/summary.py": (15, ["tests/findings/test_claims.py", "tests/findings/test_summary.py", "tests/simulation/test_run_on.py"]),
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


def drawn(only: Sequence[str] = ()) -> list[tuple[str, Mutant]]:
    """Return the mutants of every module, or of those whose name holds one of `only`, drawn by seed."""
    found = []
    for name, (count, _) in TARGETS.items():
        if only and not any(part in name for part in only):
            continue
        draw = random.Random(f"{SEED} {name}")
        source = (ROOT / name).read_text(encoding="utf-8")
        found += [
            (name, one)
            for one in mutants(source, lambda n, draw=draw, count=count: sorted(draw.sample(range(n), min(count, n))))
        ]
    return found


def fate(copy: Path, name: str, source: str | None = None) -> str:
    """Put one mutant of a module into a copy of the checkout, run its tests, put the module back."""
    place = copy / name
    whole = place.read_text(encoding="utf-8")
    place.write_text(source or whole, encoding="utf-8")
    run = _forking().Process(target=_test, args=(str(copy), TARGETS[name][1]))
    run.start()
    run.join(SECONDS)
    if run.is_alive():
        run.kill()
        run.join()
        code = None
    else:
        code = run.exitcode
    place.write_text(whole, encoding="utf-8")
    if code == _NO_TEST:
        raise SystemExit(f"{name}: no test was run")
    return "timed out" if code is None else "killed" if code else "survived"


def _forking() -> multiprocessing.context.ForkServerContext:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(_LOADED_ONCE)
    return context


def _test(copy: str, tests: list[str]) -> None:
    """Run tests of a copy of the checkout in this process, and leave it with pytest's code."""
    os.chdir(copy)
    os.environ.update(NUMBA_DISABLE_JIT="1", MPLBACKEND="Agg", PYTHONPATH=copy)
    sys.dont_write_bytecode = True
    sys.path[:] = [copy, *(one for one in sys.path if one not in ("", str(ROOT)))]
    for name in [name for name in sys.modules if name.partition(".")[0] in ("tests", "runoff")]:
        del sys.modules[name]
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        for stream in (1, 2):
            os.dup2(nowhere.fileno(), stream)
    import pytest

    os._exit(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-m", "not slow and not real_weather", *tests]))


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
    arguments.add_argument("--only", nargs="+", default=[])
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
