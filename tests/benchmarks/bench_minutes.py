"""How fast the loops over minutes are: ``python -m tests.benchmarks.bench_minutes``.

An invented year of five-minute rain (5 % of the steps wet). One roof with its full trace, planted and bare, and 128 roofs of which
peaks and depths, beside the daily block loop in the same round. At the end what `runoff.simulate`, with its warm-up, and
`runoff.summarize` take beside the loops. Variants run in turn; medians and best values of the processor's own time are printed, as other work on the machine only ever adds to it.
"""

import statistics
import time
from typing import Any

import numpy as np
import xarray as xr

import runoff
from runoff.balance import column, column_totals, minutes
from runoff.balance.loop_choice import expect_many_runs
from runoff.balance.minute_courses import run_courses
from tests.balance.minute_roofs import bare, roof
from tests.benchmarks.quiet import in_turn

STEPS, DESIGNS, DAYS = 105_120, 128, 10_957
MANY_STEPS = 2_016  # the wettest week, for many roofs
OVERFLOW = {"sill_level": 60.0, "emergency_width_mm": 300.0, "emergency_height_mm": 100.0}
MAT = {"board_height": 5.0, "board_capacity": 0.5, "in_plane_flow": 0.01, "in_plane_exponent": 1.0, "cup_capacity": 0.0}
KINDS = {
    "fall 2 %": {}, "fall 0.5 %": {"fall": 0.005}, "level": {"fall": 0.0}, "mat": MAT, "n = 2.3": {"detention_n": 2.3},
    "nine tenths blocked": {"blocked_fraction": 0.9}, "blocked, overflow": {"blocked_fraction": 1.0, **OVERFLOW},
}  # fmt: skip


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


def roofs(**changes) -> list[dict]:
    """Return unlike roofs of one kind."""
    rng = np.random.default_rng(3)
    found = []
    for _ in range(DESIGNS):
        z, field = rng.uniform(60.0, 120.0), rng.uniform(0.25, 0.35)
        own = {
            "medium_depth": z, "field_water": field * z, "full_water": (field + 0.2) * z, "wilting_water": 0.05 * z,
            "area_m2": rng.uniform(60.0, 300.0), "cup_capacity": rng.uniform(0.0, 6.0),
            "detention_k": 0.0115 * rng.uniform(0.7, 1.5), "board_capacity": rng.uniform(8.0, 18.0),
        }  # fmt: skip
        found.append(roof(**{**own, **changes}))
    return found


def main() -> None:
    """Print medians and best values."""
    expect_many_runs()
    rain, e0 = year()
    none = np.zeros(STEPS)
    wettest = int(np.convolve(rain, np.ones(MANY_STEPS), "valid").argmax())
    storm = rain[wettest : wettest + MANY_STEPS]

    def trace(columns: minutes.MinuteColumns):
        start = columns.start()[:, 0]

        def run() -> int:
            minutes.run_trace(rain, e0, columns, start)
            return STEPS

        return run

    def many(columns: minutes.MinuteColumns):
        start = columns.start()

        def run() -> int:
            run_courses(storm, none[:MANY_STEPS], columns, start, ("drained", "largest_depth_on_deck_mm"))
            return MANY_STEPS * DESIGNS

        return run

    variants = {
        f"one roof, {name}": trace(minutes.planted_columns([roof(**kind)], 5.0)) for name, kind in KINDS.items()
    }
    variants |= {
        "one roof, bare": trace(minutes.bare_columns([bare()], 5.0)),
        "one roof, gravel": trace(minutes.bare_columns([bare(gravel_depth=50.0, gravel_pores=0.4)], 5.0)),
    }
    variants |= {
        f"many roofs, {name}": many(minutes.planted_columns(roofs(**kind), 5.0)) for name, kind in KINDS.items()
    }
    variants["block, daily"] = daily()
    for run in variants.values():
        run()  # compile before timing
    times: dict[str, list[float]] = {name: [] for name in variants}
    for _ in range(5):
        for name, run in variants.items():
            begin = time.process_time()
            count = run()
            times[name].append((time.process_time() - begin) / count * 1e9)
    base = statistics.median(times["block, daily"])
    for name, values in times.items():
        median = statistics.median(values)
        print(
            f"{name:28s} {median:8.2f} ns per step (best {min(values):7.2f})   {median / base:6.2f} x the daily block"
        )
    for name in KINDS:
        values = times[f"one roof, {name}"]
        print(f"a year of one roof, {name}: {statistics.median(values) * STEPS / 1e6:.1f} ms")
    beside_the_loops(rain, e0)


def beside_the_loops(rain: np.ndarray, e0: np.ndarray) -> None:
    """Print what labels, checks, sums and figures of a year take beside the loops, processor time, ms."""
    stamps = np.datetime64("2001-01-01", "ns") + np.arange(STEPS) * np.timedelta64(5, "m")
    series = {"rain": ("time", rain, {"units": "mm"}), "reference_et": ("time", e0, {"units": "mm"})}
    weather, planted, in_loops = xr.Dataset(series, {"time": stamps}), runoff.open_sample_roof("cups"), [0.0]
    plain_pick, spent = minutes.pick, []

    def pick(*asked: Any) -> Any:
        loop = plain_pick(*asked)

        def timed(*given: Any) -> None:
            begin = time.process_time()
            loop(*given)
            in_loops[0] += time.process_time() - begin

        return timed

    minutes.pick = pick  # the compiled loop alone is taken off: what is made ready for it, and looked through, counts

    def lap() -> float:
        in_loops[0], begin = 0.0, time.process_time()
        run = runoff.simulate(planted, weather)
        simulated = time.process_time() - begin - in_loops[0]
        begin = time.process_time()
        runoff.summarize(run)
        spent.append((simulated, time.process_time() - begin, in_loops[0]))
        return (spent[-1][0] + spent[-1][1]) * 1e3

    try:
        told = in_turn({"both": lap}, laps=30, longest_s=60.0)["both"]
    finally:
        minutes.pick = plain_pick
    for name, values in zip(("simulate", "summarize", "loops"), np.array(spent[1:]).T * 1e3, strict=True):
        print(f"{name:28s} {np.median(values):8.1f} ms a year (best {values.min():5.1f}), all laps")
    print(f"simulate and summarize beside the loops: {told.median:.1f} ms a year (wanted: under 20); {told.words}")


def daily():
    """Return a run of the daily block loop over 30 years."""
    rng = np.random.default_rng(1)
    rain = np.where(rng.random(DAYS) < 0.35, rng.gamma(0.7, 10.0, DAYS), 0.0)
    e0 = 2.5 + 2.0 * np.sin(np.arange(DAYS) / 58.0)
    par = column.parameter_array([{**one, "outlet_rate": 100.0} for one in roofs()])
    start = column.start_stores(par, "field-capacity")
    years, month, none = np.append(np.arange(0, DAYS - 365, 365), DAYS), (np.arange(DAYS) // 30) % 12, np.zeros(DAYS)
    event = np.where(np.diff((rain >= 1.0).astype(int), prepend=0) > 0, 0.05, 0.0)

    def run() -> int:
        column_totals.run_totals(rain, e0, None, none, none, month, event, years, 2.0, par, start)
        return DAYS * DESIGNS

    return run


if __name__ == "__main__":
    main()
