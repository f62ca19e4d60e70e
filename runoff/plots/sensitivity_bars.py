"""Which unknown property moves a figure most: bars from the longest down."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.findings.summary import FACTS
from runoff.plots.style import BLUE, INK, SKY, DescribedFigure, new_figure, styled
from runoff.plots.wording import property_label
from runoff.saying.numbers import share
from runoff.saying.scales import Units


@styled
def tornado_figure(indices: xr.Dataset, *, most: int = 12) -> DescribedFigure:
    """Draw the sensitivity of a figure to each unsure property, the largest on top.

    Parameters
    ----------
    indices
        What `runoff.sizing.likely_ranges.what_to_measure` returned: ``first_order`` and ``total`` on ``property``.
    most
        Properties shown; the rest is counted in words.

    Returns
    -------
    DescribedFigure
        Two bars per property: what it explains alone (plain), and with its interactions with the others (hatched).

    Raises
    ------
    RunoffError
        When the Dataset holds no such indices.
    """
    if not isinstance(indices, xr.Dataset) or not {"first_order", "total"} <= set(indices.data_vars):
        raise RunoffError(
            "tornado_figure: needs `first_order` and `total` on `property`, as what_to_measure returns them"
        )
    ordered = indices.isel(property=np.argsort(-indices["total"].to_numpy(), kind="stable"))
    seen = ordered.isel(property=slice(0, most))
    words = [property_label(str(name), 0.0, Units("si"))[1] for name in seen["property"].to_numpy()]
    total, alone = (100.0 * np.clip(seen[name].to_numpy(), 0.0, None) for name in ("total", "first_order"))
    figure = new_figure(1.7 + 0.42 * len(words))
    axes = figure.subplots()
    row = np.arange(len(words))
    axes.barh(row - 0.19, alone, 0.36, color=BLUE, edgecolor=INK, label="alone")
    axes.barh(row + 0.19, total, 0.36, color=SKY, edgecolor=INK, hatch="///", label="with interactions")
    for place, value in zip(row, np.maximum(total, alone), strict=True):
        axes.annotate(
            share(total[place] / 100.0),
            (value, place),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            fontsize=9,
        )
    axes.set_yticks(row, words)
    axes.set_ylim(len(words) - 0.4, -0.6)
    axes.set_xlim(0.0, max(10.0, 1.12 * float(np.max([total.max(), alone.max()]))))
    axes.tick_params(axis="y", length=0)
    axes.grid(True, axis="x")
    axes.grid(False, axis="y")
    axes.set_xlabel("share of the variance, %")
    axes.set_ylabel("property")
    figure_name = str(indices.attrs.get("figure", ""))
    about = FACTS[figure_name][1] if figure_name in FACTS else figure_name.replace("_", " ") or "the figure"
    axes.set_title(f"What to measure first, to narrow:\n{about}")
    axes.legend(loc="lower right")
    figure.description = _sentence(about, words, total, ordered.sizes["property"])
    return figure


def _sentence(about: str, words: list[str], total: np.ndarray, count: int) -> str:
    leading = [f"{name} ({share(value / 100.0)})" for name, value in zip(words[:3], total[:3], strict=True)]
    rest = count - len(leading)
    text = f"The spread of {about!r} comes, interactions included, from {_joined(leading)}".replace("'", '"')
    if rest > 0:
        text += (
            f"; the other {rest} carr{'ies' if rest == 1 else 'y'} at most {share(float(total[3:].max()) / 100.0)} each"
        )
    return f"{text}."


def _joined(parts: list[Any]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
