"""How fast the daily loops are, against each other: ``python -m tests.benchmarks.bench_column``.

Invented weather with frost, 30 years. Variants run in turn, nine rounds; medians of processor time, which other work on
the machine disturbs least, and their ratios within the run are printed.
The block loop per design should be several times faster than the loop of one roof: if it is not, its lanes no longer run side
by side. Roofs in which water stands take two levels a day, and cost the more the more of them there are in a block: in random
order the sorted blocks of ``run_totals`` would be lost.
"""

import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from runoff.balance import block_lanes, column, column_blocks
from runoff.balance.column_totals import _alike, run_totals
from runoff.balance.loop_choice import as_read, compiled
from runoff.balance.vector_width import zeros_for_vectors
from tests.balance.invented_roofs import described, weather

DAYS, DESIGNS, ROUNDS = 10_957, 992, 9


#: What throttled roofs let go, mm/h: so little that water stands on them for days, and 1 to 10 l/(s ha) (common practice, no source).
NEARLY_CLOSED, LIMITED = (0.02, 0.5), (0.36, 3.6)


def roofs(throttled: float, blocked: float, rates: tuple[float, float] = NEARLY_CLOSED) -> list[dict[str, Any]]:
    """Return designs of which a share is throttled to rates between two, and a share of those blocked, in random order."""
    low, high = np.log10(rates)
    rng = np.random.default_rng(5)
    made = []
    for _ in range(DESIGNS):
        z, place = rng.uniform(50.0, 120.0), rng.random()
        slow = 10.0 ** rng.uniform(low, high)
        given = {"outlet_rate": slow, "sill_level": 25.0 + z} if place < throttled else {}
        if place < throttled * blocked:
            given["blocked_fraction"] = 1.0
        made.append(
            described(
                medium_depth=z, wilting_water=0.07 * z, field_water=rng.uniform(0.25, 0.4) * z, full_water=0.55 * z,
                surface_capacity=rng.uniform(1.0, 6.0), cup_capacity=rng.uniform(0.0, 6.0), edge_level=25.0 + z + 150.0,
                **given,
            )
        )  # fmt: skip
    return made


def block(designs: list[dict[str, Any]], given: dict[str, Any]) -> Callable[[], float]:
    """Return a run of all designs, sorted into blocks."""
    par = column.parameter_array(designs)
    stores = column.start_stores(par, "field-capacity")

    def run() -> float:
        run_totals(**given, run_on=None, par=par, stores=stores)
        return DAYS * DESIGNS

    return run


def one_thread(
    designs: list[dict[str, Any]], given: dict[str, Any], *, as_they_come: bool = False, each_year: bool = False
) -> Callable[[], float]:
    """Return a run of the block loop on one thread, the designs sorted as `run_totals` does or as they come.

    The totals are those of all years, as `sweep` asks for, or of each.
    """
    par = column.parameter_array(designs)
    stores = column.start_stores(par, "field-capacity")
    count, lanes, length = par.shape[1], column_blocks.LANES, len(given["liquid"])
    alike = np.arange(count) if as_they_come else _alike(par)
    order = alike[np.minimum(np.arange(-(-count // lanes) * lanes), count - 1)]
    totals = np.empty((len(given["year_start"]) - 1 if each_year else 1, len(block_lanes.TOTALS), order.size))
    weather = [given[name] for name in ("other", "warm", "month", "event_limit", "year_start")]
    days_and_sums = column_blocks.days_of(given["liquid"], given["e0"], None, *weather)
    calendar = as_read(given["year_start"], np.int64), given["tolerance"]
    loop, monthly = compiled(column_blocks.totals_loop), np.empty((12, order.size))
    room = zeros_for_vectors(len(block_lanes.WORK) * lanes)

    def run() -> float:
        loop(*days_and_sums, *calendar, par.take(order, axis=1), stores.take(order, axis=1), room, totals, monthly)
        return float(length * count)

    return run


def trace(design: dict[str, Any], given: dict[str, Any], loop: Any) -> Callable[[], float]:
    """Return a run of one design that keeps every flux and store."""
    par = column.parameter_array([design])
    out, stores = np.empty((len(column.TRACE), DAYS)), column.start_stores(par, "field-capacity")[:, 0]
    series = (given["liquid"], given["e0"], np.zeros(DAYS))
    lists = tuple(one.tolist() for one in series)

    def run() -> float:
        if loop is column.trace_loop:
            loop(*lists, par[:, 0].tolist(), stores.tolist(), out)
        else:
            loop(*series, par[:, 0].copy(), stores.copy(), out)
        return DAYS

    return run


def days(count: int) -> dict[str, Any]:
    """Return so many days of invented weather with frost, as the block loop takes them; run-on apart."""
    rain, e0, temperature = weather(1, count)
    return {
        "liquid": rain,
        "e0": np.where(temperature <= 0.0, 0.0, e0),
        "other": np.maximum(0.0, rain - 1.2),
        "warm": (temperature >= 5.0).astype(float),
        "month": (np.arange(count) // 30) % 12,
        "event_limit": np.where(np.diff((rain >= 1.0).astype(int), prepend=0) > 0, 0.5, 0.0),
        "year_start": np.append(np.arange(0, count - 365, 365), count),
        "tolerance": 2.0,
    }


def main() -> None:
    """Print the medians."""
    given = days(DAYS)
    fast = compiled(column.trace_loop)
    standing = described(blocked_fraction=1.0, sill_level=105.0)
    mixed, third = roofs(0.3, 0.0), roofs(0.3, 1.0 / 3.0)
    variants = {
        "plain Python, trace": trace(described(), given, column.trace_loop),
        "compiled, trace, free": trace(described(), given, fast),
        "compiled, trace, blocked": trace(standing, given, fast),
        "block, all drain freely": block(roofs(0.0, 0.0), given),
        "block, 30 % throttled": block(mixed, given),
        "block, 30 % throttled, as they come": one_thread(mixed, given, as_they_come=True, each_year=True),
        "block, a third of those blocked": block(third, given),
        "block, all blocked": block([standing] * DESIGNS, given),
    }
    times: dict[str, list[float]] = {name: [] for name in variants}
    for once in range(ROUNDS + 1):
        for name, run in variants.items():
            start = time.process_time()
            design_steps = run()
            if once:  # the first round compiles
                times[name].append((time.process_time() - start) / design_steps * 1e9)
    base = statistics.median(times["compiled, trace, free"])
    for name, values in times.items():
        median = statistics.median(values)
        print(f"{name:38s} {median:10.2f} ns per design-day   {median / base:8.2f} x the compiled trace, free")


if __name__ == "__main__":
    main()
