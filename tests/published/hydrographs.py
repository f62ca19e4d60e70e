"""Two events of the open series of Neubrandenburg, hour by hour: rain, measured runoff and ours."""

from __future__ import annotations

import numpy as np
import pandas as pd

from runoff.plots import DescribedFigure, new_figure, styled
from runoff.plots.style import BLUE, INK, SKY, VERMILION

_WORDS = {"summer": "April to September", "winter": "October to March"}


@styled
def draw(table: pd.DataFrame) -> DescribedFigure:
    """Draw the event with most runoff of either half of the year, from the hours of `open_series.hours`."""
    figure = new_figure(3.9)
    said = []
    for axes, (name, one) in zip(figure.subplots(1, 2), table.groupby("event"), strict=True):
        hours = np.arange(len(one))
        falling = axes.twinx()
        falling.bar(hours, one["rain"], width=1.0, align="edge", color=SKY, alpha=0.55, label="rain")
        falling.set(ylim=(3.2 * one["rain"].max(), 0.0))
        falling.grid(False)
        falling.set_yticks([0, round(one["rain"].max())])
        axes.step(hours, one["measured"], where="post", color=INK, label="measured")
        axes.step(hours, one["ours"], where="post", color=VERMILION, linestyle="--", label="ours")
        top = max(one["measured"].max(), one["ours"].max())
        axes.set(xlabel=f"hours from {one['hour'].iloc[0]:%d %B %Y, %H:%M}", xlim=(0, 48), ylim=(0.0, 1.5 * top))
        axes.set_title(_WORDS[str(name)])
        axes.set_zorder(falling.get_zorder() + 1)
        axes.patch.set_visible(False)
        if not said:
            axes.set_ylabel("runoff, mm in an hour")
            handles = [*axes.get_legend_handles_labels()[0], *falling.get_legend_handles_labels()[0]]
            axes.legend(handles, ["measured", "ours", "rain (from above)"], loc="center right")
        else:
            falling.set_ylabel("rain, mm in an hour", color=BLUE)
        rain, measured, ours = (one[column].sum() for column in ("rain", "measured", "ours"))
        ratio = one["ours"].max() / one["measured"].max()
        said.append(
            f"{_WORDS[str(name)]}: of {rain:.0f} mm of rain {measured:.1f} mm left the roof, ours {ours:.1f}, the highest hour "
            f"{ratio:.2f} of the measured one"
        )
    figure.description = f"Neubrandenburg, 101 m2, nothing tuned. {'. '.join(said)}."
    return figure
