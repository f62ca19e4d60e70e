"""How long a long station file takes: ``python -m tests.benchmarks.bench_reading``.

150 invented years of four elements are written as ``.dly`` and as one value per line, and read in turn, five rounds,
medians. The yardstick is pandas parsing the same values from a plain CSV without any check: reading with all flags and
checks should stay within a small multiple of it.
"""

import statistics
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

import runoff
from tests.weather.station_files import line, month_of

ELEMENTS = ("PRCP", "TMAX", "TMIN", "AWND")


def main() -> None:
    """Print the medians and their ratios to the yardstick."""
    with tempfile.TemporaryDirectory() as folder:
        fixed, long, plain = (Path(folder) / name for name in ("a.dly", "a.csv", "plain.csv"))
        _write(fixed, long, plain)
        variants = {
            "pandas, plain CSV, no checks": lambda: pd.read_csv(plain, parse_dates=["date"]),
            "station file, fixed width": lambda: runoff.read_weather(fixed),
            "station file, one value per line": lambda: runoff.read_weather(long),
        }
        times: dict[str, list[float]] = {name: [] for name in variants}
        for run in variants.values():
            run()  # imports before timing
        for _ in range(5):
            for name, run in variants.items():
                start = time.perf_counter()
                run()
                times[name].append(time.perf_counter() - start)
    base = statistics.median(times["pandas, plain CSV, no checks"])
    for name, values in times.items():
        middle = statistics.median(values)
        print(f"{name:<34} {middle:6.3f} s   {middle / base:5.1f} x")


def _write(fixed: Path, long: Path, plain: Path) -> None:
    rng = np.random.default_rng(1)
    months = pd.period_range("1870-01", "2019-12", freq="M")
    fixed_lines, long_lines, rows = [], [], []
    for month in months:
        days = [f"{month.strftime('%Y%m')}{day:02d}" for day in range(1, month.days_in_month + 1)]
        values = {element: rng.integers(0, 90, len(days)) for element in ELEMENTS}
        values["TMAX"] = values["TMIN"] + 100
        for element, amounts in values.items():
            fixed_lines.append(line(element, month_of(amounts.tolist()), month=month.strftime("%Y%m")))
            long_lines += [
                f"OSW00000001,{day},{element},{value},,,Z," for day, value in zip(days, amounts, strict=True)
            ]
        rows += [",".join(map(str, row)) for row in zip(days, *values.values(), strict=True)]
    fixed.write_text("\n".join(fixed_lines))
    long.write_text("\n".join(long_lines))
    plain.write_text("date," + ",".join(ELEMENTS) + "\n" + "\n".join(rows))


if __name__ == "__main__":
    main()
