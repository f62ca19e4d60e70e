"""How fast the loops over minutes are: ``python -m tests.benchmarks.bench_minutes``.

An invented year of five-minute rain (5 % of the steps wet). One roof with its full trace, and 992 roofs as totals on
one core, beside the daily block loop on the same core in the same round. Variants run in turn; medians and best values
are printed, as other work on the machine only ever adds time. The block in minutes should cost at most 1.33 times
the daily block per step and design.
"""

import statistics
import time

import numpy as np

from runoff.balance import column, minute_steps, minutes
from tests.balance.minute_roofs import roof
from tests.balance.page_reading import Column
from tests.balance.test_column import described

STEPS, DESIGNS, DAYS = 105_120, 992, 10_957


def year() -> tuple[np.ndarray, np.ndarray]:
    """Return rain and reference evapotranspiration of a year, mm per 5 min: events of some hours, sine days."""
    rng = np.random.default_rng(1)
    rain = np.zeros(STEPS)
    while (rain > 0.0).mean() < 0.05:
        start, length = rng.integers(0, STEPS - 400), int(rng.exponential(40.0)) + 2
        shape = rng.gamma(0.6, 1.0, length)
        rain[start : start + length] = (rng.exponential(9.0) + 0.3) * shape / shape.sum()
    day = np.arange(STEPS) / 288.0
    sun = np.maximum(0.0, np.sin(2.0 * np.pi * (day - 0.25)))
    return rain, sun * 0.028 * (1.0 + 0.6 * np.sin(2.0 * np.pi * (day - 80.0) / 365.0))


def roofs(*, odd: bool = False, board: bool = True) -> list[dict]:
    """Return unlike roofs."""
    rng = np.random.default_rng(3)
    found = []
    for _ in range(DESIGNS):
        z, field = rng.uniform(60.0, 120.0), rng.uniform(0.25, 0.35)
        found.append(
            roof(
                medium_depth=z,
                field_water=field * z,
                full_water=(field + 0.2) * z,
                wilting_water=0.05 * z,
                area_m2=rng.uniform(60.0, 300.0),
                cup_capacity=rng.uniform(0.0, 6.0) if board else 0.0,
                detention_k=rng.uniform(0.02, 0.05),
                detention_n=2.3 if odd else 2.0,
                board_capacity=rng.uniform(8.0, 18.0) if board else 0.5,
                board_height=25.0 if board else 0.0,
            )
        )
    return found


def main() -> None:
    """Print medians and best values."""
    rain, e0 = year()
    columns, stores = minutes.minute_columns([roof()], 5.0), minutes.start_stores([roof()])[:, 0]
    totals_loop = minute_steps.compiled("totals_loop")
    kinds = {
        "boards, n = 2": minutes.minute_columns(roofs(), 5.0),
        "no board, n = 2": minutes.minute_columns(roofs(board=False), 5.0),
        "boards, n = 2.3": minutes.minute_columns(roofs(odd=True), 5.0),
    }
    starts = minutes.start_stores(roofs())

    def trace() -> float:
        minutes.run_trace(rain, e0, columns, stores)
        return STEPS

    def block(kind: str):
        def run() -> float:
            got = np.empty((len(minute_steps.TOTALS), DESIGNS))
            ready = kinds[kind]
            totals_loop(rain, e0, 5.0, ready.substeps, ready.parameters, ready.zones, starts.copy(), got)
            return STEPS * DESIGNS

        return run

    rng = np.random.default_rng(1)
    daily_rain = np.where(rng.random(DAYS) < 0.35, rng.gamma(0.7, 10.0, DAYS), 0.0)
    daily_e0 = 2.5 + 2.0 * np.sin(np.arange(DAYS) / 58.0)
    page = Column(U_max=2.0, S_wp=6.0, S_fc=28.0, S_sat=44.0, z=80.0, K_s=600.0, K_f=3600.0, C_max=4.0, M_max=3.0,
                  B_max=8.0, q_d=2.0, h_b=25.0, cup_supply=0.5, mat_supply=0.25)  # fmt: skip
    daily_columns = [{**described(page), "field_water": 20.0 + 0.001 * i} for i in range(DESIGNS)]
    par = column.parameter_array(daily_columns, 24.0, 0.10, 0.10)
    kept = np.concatenate([column.start_stores(par, "field-capacity"), np.zeros((len(column.COUNTERS), DESIGNS))])
    years = np.append(np.arange(0, DAYS - 365, 365), DAYS)
    events = np.diff((daily_rain >= 1.0).astype(int), prepend=0) > 0
    daily_loop = column.compiled("totals_loop")

    def daily() -> float:
        got, months = np.empty((len(years) - 1, len(column.TOTALS), DESIGNS)), np.empty((12, DESIGNS))
        calendar = (np.zeros(DAYS), np.ones(DAYS), (np.arange(DAYS) // 30) % 12, events, years, 2.0)
        daily_loop(daily_rain, daily_e0, *calendar, par, kept.copy(), got, months)
        return DAYS * DESIGNS

    variants = {"one roof, trace": trace, **{f"block, {kind}": block(kind) for kind in kinds}, "block, daily": daily}
    for run in variants.values():
        run()  # compile before timing
    times: dict[str, list[float]] = {name: [] for name in variants}
    for _ in range(7):
        for name, run in variants.items():
            begin = time.perf_counter()
            count = run()
            times[name].append((time.perf_counter() - begin) / count * 1e9)
    base = statistics.median(times["block, daily"])
    for name, values in times.items():
        median = statistics.median(values)
        print(
            f"{name:26s} {median:8.2f} ns per step (best {min(values):7.2f})   {median / base:6.2f} x the daily block"
        )
    print(f"a year of one roof: {statistics.median(times['one roof, trace']) * STEPS / 1e6:.1f} ms")


if __name__ == "__main__":
    main()
