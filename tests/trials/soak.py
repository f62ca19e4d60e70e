"""The same work over and over in one process: memory flat, handles flat, bytes identical.

    python -m tests.trials.soak [CYCLES] [--every N]

One cycle runs the sample, sums it up, draws the section and the year, writes figures, order sheet and drainage sheet, and
moves a control of the design desk; every Nth also writes the dossier. Memory is that of the process after a collection; the
first tenth of the cycles (forty at most) only warms up.
"""

from __future__ import annotations

import argparse
import gc
import hashlib
import os
import tempfile
from pathlib import Path

import matplotlib.pyplot as plt

import runoff
from runoff import plots
from runoff.dossier.order_sheet import write_order_sheet

DESK_PLACES = 16  # over which the depth of the desk goes round


def resident_mb() -> float:
    """Return the memory the process holds, MB (the second number of statm counts pages)."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGESIZE") / 1e6


def handles() -> int:
    """Return how many files the process holds open."""
    return len(os.listdir("/proc/self/fd"))


class Work:
    """What is done in every cycle, and the two things that stay from one to the next: the weather and a design desk."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.weather = runoff.open_sample().isel(time=slice(0, 6 * 365))
        self.desk = runoff.design_desk(runoff.open_sample_roof("cups"), self.weather)
        self.storm = runoff.design_storm(depth_mm=50, duration="1h", step="5min", central_part=True)

    def once(self, cycle: int, *, dossier: bool) -> dict[str, str]:
        """Do the work once; return the digest of every file it wrote, and of what the desk shows."""
        roof, folder = runoff.open_sample_roof("cups"), self.folder
        run = runoff.simulate(roof, self.weather)
        facts = runoff.summarize(run)
        plots.save(plots.build_up_section_figure(roof), folder / "section.png")
        plots.save(plots.year_figure(run, 1994), folder / "year.svg")
        facts.to_dataframe().to_csv(folder / "facts.csv")
        write_order_sheet(runoff.order_list(roof), folder / "order.html")
        runoff.write_drainage_sheet(roof, self.storm, folder / "sheet.html")
        if dossier:
            runoff.write_dossier(roof, self.weather, folder / "dossier.html", members=20)
        digests = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir())}
        depth = 60.0 + 5.0 * (cycle % DESK_PLACES)
        self.desk.depth.slider.value = depth
        shown = repr(self.desk.figures.value) + repr(self.desk.verdict.value)
        digests[f"desk at {depth:g} mm"] = hashlib.sha256(shown.encode()).hexdigest()
        plt.close("all")
        return digests


def soak(cycles: int, every: int) -> tuple[float, float, int, int, dict[str, int]]:
    """Return memory and handles after the warm-up and at the end, and how many different bytes each file had."""
    seen: dict[str, set[str]] = {}
    start_mb = start_handles = 0
    warm = min(40, max(2, cycles // 10))
    with tempfile.TemporaryDirectory() as name:
        work = Work(Path(name))
        for cycle in range(cycles):
            for file, digest in work.once(cycle, dossier=cycle % every == 0).items():
                seen.setdefault(file, set()).add(digest)
            if cycle == warm - 1:
                start_mb, start_handles = resident_mb(), handles()
        return start_mb, resident_mb(), start_handles, handles(), {file: len(found) for file, found in seen.items()}


if __name__ == "__main__":
    words = argparse.ArgumentParser()
    words.add_argument("cycles", nargs="?", type=int, default=1000)
    words.add_argument("--every", type=int, default=10)
    asked = words.parse_args()
    before, after, held, holds, kinds = soak(asked.cycles, asked.every)
    print(
        f"{asked.cycles} cycles: {before:.0f} -> {after:.0f} MB ({after / before - 1.0:+.1%}), handles {held} -> {holds}"
    )
    print("different bytes of each file:", kinds)
