"""How near the block loop is to the limit of the machine, and a sweep to numpy: ``python -m tests.benchmarks.bench_lanes [DESIGNS]``.

The long version, for a quiet machine: 10,000 designs over 30 years. Wanted are, per design-day and on one thread, 1.7 ns and
65 % of the limit for designs that drain freely, 1.8 ns where three in ten are throttled; two threads through `sweep` 1.8 times as
quick as one, where the machine gives two threads of pure arithmetic twice the pace; a sweep of 1,024 and of 10,000 designs 25
and 20 times as quick as a loop over days in numpy. The limit is the operations of a day, counted
(`tests.benchmarks.operations`), at the pace of a small compiled loop in the same run. Variants run in turn, medians of processor time of the laps of a quiet machine
(`tests.benchmarks.quiet`); threads by the clock.
"""

import functools
import os
import statistics
import sys
from collections.abc import Callable
from typing import Any, NamedTuple
from unittest import mock

import numpy as np

import runoff
from runoff.balance import column, column_blocks
from runoff.balance.column_totals import _alike
from runoff.simulation import kernel
from tests.benchmarks.bench_column import LIMITED, NEARLY_CLOSED, days, one_thread, roofs
from tests.benchmarks.day_in_numpy import run_in_numpy
from tests.benchmarks.operations import limit_run, nanoseconds, operations_of_a_day
from tests.benchmarks.quiet import gains_of_two_threads, in_turn

_COUNTED_DAYS, _NUMPY_DAYS = 1096, 366
#: Properties of the sweeps, and how many values of each.
_SWEPT = {"medium.depth_mm": (40.0, 120.0), "medium.field_capacity": (0.25, 0.40), "board.cup_storage_mm": (0.0, 8.0)}
_GRIDS = {1024: (16, 8, 8), 10_000: (25, 20, 20)}


def counted(given: dict[str, Any], designs: list[dict[str, Any]]) -> float:
    """Return the operations of a design-day: the mean of three blocks as they are sorted, and three years of the weather."""
    par = column.parameter_array(designs)
    order, lanes = _alike(par), column_blocks.LANES
    short = {name: one[:_COUNTED_DAYS] for name, one in given.items() if name not in ("year_start", "tolerance")}
    short |= {"year_start": np.array([0, 365, 730, _COUNTED_DAYS]), "tolerance": given["tolerance"]}
    done = []
    for first in (0, (len(designs) // 2 // lanes) * lanes, len(designs) - lanes):
        some = par[:, order[first : first + lanes]]
        done.append(operations_of_a_day(short, some, column.start_stores(some, "field-capacity")))
    return statistics.mean(done)


class Sweep(NamedTuple):
    """A sweep through the public call, and the same in numpy; each gives the design-days it ran."""

    public: Callable[[], float]
    in_numpy: Callable[[], float]
    in_numpy_with_skips: Callable[[], float]


def sweep_of(designs: int) -> Sweep:
    """Return a sweep over the 30 years of the sample, and a loop over days in numpy given what the sweep's own loop is given."""
    record, roof = runoff.open_sample(), runoff.open_sample_roof("cups")
    values = zip(_SWEPT.items(), _GRIDS[designs], strict=True)
    choices = {name: np.linspace(low, high, count).tolist() for (name, (low, high)), count in values}
    length = record.sizes["time"]

    def public() -> float:
        runoff.sweep(roof, record, choices)
        return float(length * designs)

    taken: list[tuple[Any, ...]] = []
    own = kernel.run_totals

    def noted(*words: Any, **how: Any) -> Any:
        taken.append(words)
        return own(*words, **how)

    with mock.patch.object(kernel, "run_totals", noted):
        public()
    words = max(taken, key=lambda one: len(one[0]))
    result = own(*words)
    liquid, e0, _, other, warm, month, event_limit, ends, tolerance, par, stores = words
    short = [one[:_NUMPY_DAYS] for one in (liquid, e0, other, warm, month, event_limit)]

    def in_numpy(skips: bool) -> float:
        run_in_numpy(*short, np.array([0, _NUMPY_DAYS]), tolerance, par, stores, skips=skips)
        return float(_NUMPY_DAYS * designs)

    few, whole = slice(0, 4), (liquid, e0, other, warm, month, event_limit, ends, tolerance)
    totals, monthly = run_in_numpy(*whole, par[:, few], stores[:, few], skips=False)
    if not (np.array_equal(totals, result[0][..., few]) and np.array_equal(monthly, result[1][..., few])):
        raise AssertionError("numpy and the block loop disagree")
    return Sweep(public, functools.partial(in_numpy, False), functools.partial(in_numpy, True))


def on_cores(count: int, run: Callable[[], float]) -> Callable[[], float]:
    """Return a run on so many of the processors this process may use."""

    def there() -> float:
        cores = os.sched_getaffinity(0)
        os.sched_setaffinity(0, set(list(cores)[:count]))
        try:
            return run()
        finally:
            os.sched_setaffinity(0, cores)

    return there


def main(designs: int) -> None:
    """Print the medians."""
    given = days(10_957)
    copies = -(-designs // 992)
    free = (roofs(0.0, 0.0) * copies)[:designs]
    mixed, limited = ((roofs(0.3, 0.0, rates) * copies)[:designs] for rates in (NEARLY_CLOSED, LIMITED))
    small, large = sweep_of(1024), sweep_of(10_000)
    told = in_turn(
        {
            name: functools.partial(nanoseconds, run)
            for name, run in {
                "limit": limit_run(whole_vectors=False),
                "limit, whole": limit_run(whole_vectors=True),
                "free": one_thread(free, given),
                "free, each year": one_thread(free, given, each_year=True),
                "mixed": one_thread(mixed, given),
                "limited": one_thread(limited, given),
                "mixed, as they come": one_thread(mixed, given, as_they_come=True),
                "sweep 1,024": small.public,
                "numpy 1,024": small.in_numpy,
                "numpy 1,024, skips": small.in_numpy_with_skips,
                "sweep 10,000": large.public,
                "numpy 10,000": large.in_numpy,
                "numpy 10,000, skips": large.in_numpy_with_skips,
            }.items()
        },
        laps=5,
        longest_s=300.0,
    )
    for name, one in told.items():
        print(f"{name:24s} {one.words}")
    found = {name: one.median for name, one in told.items()}
    operations = counted(given, free)
    limits = {name: operations * found[name] for name in ("limit", "limit, whole")}
    shares = ", ".join(f"{100 * limit / found['free']:.0f}" for limit in limits.values())
    print(f"{operations:.1f} operations a design-day; at {found['limit']:.4f} ns each in the vectors the compiler takes by itself, and {found['limit, whole']:.4f} in whole ones, the limits are {limits['limit']:.2f} and {limits['limit, whole']:.2f} ns")  # fmt: skip
    print(f"{designs:,} designs, all drain freely     {found['free']:6.2f} ns a design-day (wanted 1.7), {shares} % of the limits (wanted 65)")  # fmt: skip
    print(f"  the same with totals of each year {found['free, each year']:6.2f} ns")
    print(
        f"{designs:,} designs, 30 % limited to {LIMITED[0]} to {LIMITED[1]} mm/h {found['limited']:6.2f} ns (wanted 1.8)"
    )
    print(
        f"{designs:,} designs, 30 % nearly closed, {NEARLY_CLOSED[0]} to {NEARLY_CLOSED[1]} mm/h {found['mixed']:6.2f} ns (wanted 1.8)"
    )
    print(f"  the same in the order they come  {found['mixed, as they come']:6.2f} ns")
    for name, wanted in (("1,024", 25), ("10,000", 20)):
        one, other, skips = (found[f"{what}"] for what in (f"sweep {name}", f"numpy {name}", f"numpy {name}, skips"))
        print(f"sweep of {name} designs, public call {one:6.2f} ns; numpy {other:.0f} ns, {other / one:.1f} times (wanted {wanted}); numpy that skips still days {skips / one:.1f} times")  # fmt: skip
    gains = gains_of_two_threads(on_cores(1, large.public), on_cores(2, large.public), laps=15)
    print(f"sweep of 10,000 designs on two threads: {gains.median:.2f} times as quick (wanted 1.8); {gains.words}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
