"""Draw both physics side by side: ``python -m tests.second_physics.figure`` writes `second_physics.png` beside this file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from runoff.plots.style import BLACK, BLUE, SOFT, VERMILION, figure_style
from tests.second_physics.comparison import (
    BURST_MIN,
    DEFAULT_DETENTION,
    DEPTH_MM,
    MEDIA,
    bucket,
    drainage,
    fitted_detention,
    storm,
)


def draw() -> Any:
    """Return the figure: held water over height, drainage against mobile water, a burst; one column per medium."""
    from matplotlib.figure import Figure

    with figure_style():
        figure = Figure(figsize=(9.0, 8.6), layout="constrained")
        grid = figure.subplots(3, len(MEDIA))
        for column, name in enumerate(MEDIA):
            k, n = fitted_detention(name)
            _profile(grid[0, column], name)
            _drainage(grid[1, column], name, k, n)
            _burst(grid[2, column], name, k, n)
        for row, text in enumerate(("height over the drainage layer, mm", "outflow, mm/h", "outflow, mm/h")):
            grid[row, 0].set_ylabel(text)
        for axes, place in ((grid[0, 2], "upper left"), (grid[1, 0], "upper left"), (grid[2, 0], "upper right")):
            axes.legend(loc=place, fontsize=8.0)
    return figure


def _profile(axes: Any, name: str) -> None:
    medium, course = MEDIA[name], drainage(name)
    height = DEPTH_MM - (np.arange(course.water.shape[1]) + 0.5) * DEPTH_MM / course.water.shape[1]
    axes.plot(course.water[-1], height, color=BLUE, linestyle="-", label="flow equation, a day after")
    axes.axvline(medium.at_rest(DEPTH_MM) / DEPTH_MM, color=VERMILION, linestyle="--", label="bucket")
    axes.axvline(medium.saturated, color=SOFT, linestyle=":", label="all pores full")
    axes.set(title=f"{name} mix", xlabel="water content at rest, of volume", xlim=(0.0, 0.65), ylim=(0.0, DEPTH_MM))


def _drainage(axes: Any, name: str, k: float, n: float) -> None:
    course = drainage(name)
    mobile = course.held - course.held[-1]
    seen = (mobile > 0.02) & (course.rate > 1e-4)
    axes.loglog(mobile[seen], 60.0 * course.rate[seen], color=BLUE, linestyle="-", label="flow equation")
    line = np.geomspace(0.05, 20.0, 50)
    axes.loglog(line, 60.0 * k * line**n, color=VERMILION, linestyle="--", label="k hⁿ fitted")
    axes.loglog(
        line,
        60.0 * DEFAULT_DETENTION[0] * line ** DEFAULT_DETENTION[1],
        color=BLACK,
        linestyle=":",
        label="k hⁿ by default",
    )
    axes.set(title=f"k {k:.2g}, n {n:.2f}", xlabel="water above rest, mm", xlim=(0.05, 20.0), ylim=(0.05, 2000.0))


def _burst(axes: Any, name: str, k: float, n: float) -> None:
    course = storm(name)
    middle = 0.5 * (course.time[1:] + course.time[:-1])
    axes.axvspan(0, BURST_MIN, color="#EEEEEE", zorder=0)
    axes.plot(middle, 60.0 * np.diff(course.outflow), color=BLUE, linestyle="-", label="flow equation")
    for label, line, color, values in (
        ("bucket, fitted", "--", VERMILION, (k, n)),
        ("bucket, default", ":", BLACK, DEFAULT_DETENTION),
    ):
        axes.plot(middle, 60.0 * bucket(name, *values)["percolation"], color=color, linestyle=line, label=label)
    axes.set(title="7.5 mm in 15 min", xlabel="minutes (rain: grey)", xlim=(0, 75), ylim=(0, 32))


def main() -> None:
    """Write the figure, in 64 colours as the pictures of the notebooks are."""
    import io

    from PIL import Image

    drawn = io.BytesIO()
    draw().savefig(drawn, format="png", dpi=90)
    small = Image.open(drawn).convert("RGB").quantize(64, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    small.save(Path(__file__).with_name("second_physics.png"), optimize=True)


if __name__ == "__main__":
    main()
