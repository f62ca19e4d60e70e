"""How long the dossier of the sample takes, part by part, against one daily run of the same record.

``python -m tests.benchmarks.bench_dossier``; the whole is meant to stay under 10 s on an ordinary machine once the loops
are compiled and cached. Medians of three rounds; the first round, which compiles, is left out.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from pathlib import Path

import runoff
from runoff.dossier.asked_for import Options
from runoff.dossier.gathering import gather, storm_table
from runoff.dossier.page import render
from runoff.sample_files import sample_folder


def main() -> None:
    """Print the medians."""
    roof, weather = runoff.open_sample_roof("cups"), runoff.open_sample()
    table = storm_table(sample_folder() / "ostrey_depth_duration.csv")
    laps: dict[str, list[float]] = {"one daily run": [], "figures": [], "page": [], "whole": [], "check": []}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "dossier.html"
        for number in range(4):
            begun = time.perf_counter()
            runoff.simulate(roof, weather)
            ran = time.perf_counter()
            evidence = gather(roof, weather, storms=table, existing=None, options=Options())
            gathered = time.perf_counter()
            render(evidence)
            rendered = time.perf_counter()
            runoff.write_dossier(roof, weather, path, storms=table)
            written = time.perf_counter()
            runoff.verify_dossier(path)
            checked = time.perf_counter()
            if number:
                times = (ran - begun, gathered - ran, rendered - gathered, written - rendered, checked - written)
                for lap, seconds in zip(laps.values(), times, strict=True):
                    lap.append(seconds)
        size = path.stat().st_size
    base = statistics.median(laps["one daily run"])
    for name, seconds in laps.items():
        middle = statistics.median(seconds)
        print(f"{name:<14} {middle:6.2f} s   {middle / base:5.1f} x one daily run")
    print(f"size           {size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
