"""Headline figures of a region as maps, one row a figure, one column a climate or a roof."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, nearest
from runoff.plots.style import SOFT, DescribedFigure, new_figure, styled
from runoff.plots.wording import figure_label, invented_note, with_unit
from runoff.saying.numbers import number
from runoff.saying.scales import Units

_ROW_IN, _MAP_COLOURS, _LABEL_CHARACTERS = 2.1, "cividis", 24


@styled
def region_maps_figure(
    regions: Mapping[str, xr.Dataset], figures: Sequence[str] = ("retention", "dry_days"), *, units: str = "si"
) -> DescribedFigure:
    """Draw headline figures of a region as maps.

    Parameters
    ----------
    regions
        What `runoff.summarize` or `runoff.stream` returned for a grid of ``lat`` and ``lon``, by the name of its column, for
        example ``{"present": ..., "changed": ...}``.
    figures
        Headline figures, one row each; the maps of a row share one scale.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    DescribedFigure
        The maps; darker is less, a cell without weather is hatched.

    Raises
    ------
    RunoffError
        When a figure is not known, or does not lie on ``lat`` and ``lon`` alone.
    """
    names, shown = list(regions), Units(units)
    values = {name: [_map(one, name, column) for column, one in regions.items()] for name in figures}
    note = invented_note(next(iter(regions.values())).attrs)
    drawn = new_figure(0.6 + _ROW_IN * len(figures))
    grid = drawn.subplots(len(figures), len(names), squeeze=False, sharex=True, sharey=True)
    said = []
    for row, (name, maps) in enumerate(values.items()):
        attrs = next(iter(regions.values()))[name].attrs
        both, words, unit = figure_label(name, np.stack([one.to_numpy() for one in maps]), attrs, shown)
        low, high = float(np.nanmin(both)), float(np.nanmax(both))
        low, high = (low, high) if high > low else (low - 0.5, high + 0.5)
        for axes, one, field in zip(grid[row], maps, both, strict=True):
            axes.set_facecolor("white")
            axes.patch.set(hatch="xxx", edgecolor=SOFT)
            mesh = axes.pcolormesh(
                one["lon"],
                one["lat"],
                np.ma.masked_invalid(field),
                cmap=_MAP_COLOURS,
                vmin=low,
                vmax=high,
                shading="nearest",
            )
            axes.grid(False)
        bar = drawn.colorbar(mesh, ax=list(grid[row]), pad=0.02, aspect=18)
        short = with_unit(words.partition(" (")[0], unit)
        bar.set_label(textwrap.fill(short, _LABEL_CHARACTERS), fontsize=8)
        bar.outline.set_visible(False)
        said.append(_sentence(words, unit, names, both))
    for axes, name in zip(grid[0], names, strict=True):
        axes.set_title(name)
    for axes in grid[-1]:
        axes.set_xlabel("longitude, degrees")
    for axes in grid[:, 0]:
        axes.set_ylabel("latitude, degrees")
    drawn.suptitle(f"A roof in every place of the region{note}", fontsize=10)
    drawn.description = f"Maps{note}. {' '.join(said)}"
    return drawn


def _map(region: Any, name: str, column: str) -> xr.DataArray:
    if name not in region:
        known = [str(one) for one in region.data_vars]
        raise RunoffError(f'region_maps_figure: "{column}" has no figure "{name}"{nearest(name, known)}')
    field = region[name]
    if set(field.dims) != {"lat", "lon"}:
        raise RunoffError(
            f'region_maps_figure: {name} of "{column}" lies on {", ".join(map(str, field.dims)) or "no dimension"}; a map needs lat and '
            "lon alone, select the rest first, for example .sel(design=...)"
        )
    return field.transpose("lat", "lon")


def _sentence(words: str, unit: str, names: list[str], both: np.ndarray) -> str:
    parts = [
        f"{name} {number(float(np.nanmin(one)), 3)} to {number(float(np.nanmax(one)), 3)}"
        for name, one in zip(names, both, strict=True)
    ]
    return f"{words[0].upper()}{words[1:]}{f', {unit}' if unit else ''}: {'; '.join(parts)}."
