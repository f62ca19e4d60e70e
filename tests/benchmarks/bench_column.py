"""How fast the daily loops are, against each other: ``python -m tests.benchmarks.bench_column``.

Invented weather, 30 years. Variants run in turn, five rounds, medians are printed. The block loop per design
should be several times faster than the scalar loop: if it is not, its lanes no longer run side by side.
"""

import statistics
import time

import numpy as np

from runoff.balance import column
from runoff.balance.column_totals import run_totals
from tests.balance.page_reading import Column
from tests.balance.test_column import described


def main() -> None:
    """Print the medians."""
    days, designs = 10_957, 10_000
    rng = np.random.default_rng(1)
    rain = np.where(rng.random(days) < 0.35, rng.gamma(0.7, 10.0, days), 0.0)
    e0 = 2.5 + 2.0 * np.sin(np.arange(days) / 58.0)
    page = Column(U_max=2.0, S_wp=6.0, S_fc=28.0, S_sat=44.0, z=80.0, K_s=600.0, K_f=3600.0, C_max=4.0, M_max=3.0,
                  B_max=8.0, q_d=2.0, h_b=25.0, cup_supply=0.5, mat_supply=0.25)  # fmt: skip
    columns = [{**described(page), "field_water": 20.0 + 0.001 * i} for i in range(designs)]
    par = column.parameter_array(columns, 24.0, 0.10, 0.10)
    stores = column.start_stores(par, "field-capacity")
    out = np.empty((len(column.TRACE), days))
    calendar = {
        "other": np.zeros(days),
        "warm": np.ones(days),
        "month": (np.arange(days) // 30) % 12,
        "event_start": np.diff((rain >= 1.0).astype(int), prepend=0) > 0,
        "year_start": np.append(np.arange(0, days - 365, 365), days),
        "tolerance": 2.0,
    }

    def plain() -> float:
        column.trace_loop(rain, e0, par[:, 0].copy(), stores[:, 0].copy(), out)
        return days

    def scalar() -> float:
        column.compiled("trace_loop")(rain, e0, par[:, 0].copy(), stores[:, 0].copy(), out)
        return days

    def block() -> float:
        run_totals(rain, e0, **calendar, par=par, stores=stores)
        return days * designs

    variants = {"plain Python, trace": plain, "compiled, trace": scalar, "block of designs, totals, all cores": block}
    for run in (scalar, block):
        run()  # compile before timing
    times: dict[str, list[float]] = {name: [] for name in variants}
    for _ in range(5):
        for name, run in variants.items():
            start = time.perf_counter()
            design_steps = run()
            times[name].append((time.perf_counter() - start) / design_steps * 1e9)
    base = statistics.median(times["compiled, trace"])
    for name, values in times.items():
        median = statistics.median(values)
        print(f"{name:38s} {median:10.2f} ns per design-step   {median / base:8.2f} x the compiled trace")
    whole = statistics.median(times["block of designs, totals, all cores"]) * days * designs / 1e9
    print(f"{designs} designs x {days} days: {whole:.2f} s")


if __name__ == "__main__":
    main()
