"""One figure over two properties of the build-up, as a grid of shades with the numbers written in."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr
from matplotlib.patches import Rectangle

from runoff.errors import RunoffError, nearest
from runoff.plots.style import INK, SOFT, VERMILION, DescribedFigure, new_figure, styled
from runoff.plots.wording import figure_label, invented_note, nearest_words, property_label, with_unit
from runoff.saying.numbers import number, plain
from runoff.saying.scales import Units

_MOST_NUMBERS = 160  # more cells than this leave no room for the numbers


@styled
def heat_map_figure(
    table: xr.Dataset, x: str, y: str, figure: str = "retention", *, units: str = "si"
) -> DescribedFigure:
    """Draw a headline figure over two swept properties.

    Parameters
    ----------
    table
        What `runoff.sweep` or `runoff.size` returned, with `x` and `y` among the properties swept.
    x, y
        Properties on the axes, for example ``"medium.depth_mm"`` and ``"board.cup_storage_mm"``.
    figure
        A headline figure of the table.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    DescribedFigure
        A grid; darker is less, and every cell carries its number where there is room. A cell without a candidate is
        hatched.

    Raises
    ------
    RunoffError
        When a property or the figure is not in the table, or several candidates fall into one cell.
    """
    grid = _grid(table, x, y, figure)
    shown = Units(units)
    values, words, unit = figure_label(figure, grid.to_numpy(), table[figure].attrs, shown)
    across, x_words, x_unit = property_label(x, grid[x].to_numpy(), shown)
    up, y_words, y_unit = property_label(y, grid[y].to_numpy(), shown)
    rows, columns = values.shape
    drawn = new_figure(1.5 + float(np.clip(0.45 * rows, 1.8, 5.0)))
    axes = drawn.subplots()
    axes.set_facecolor("white")
    axes.patch.set(hatch="xx", edgecolor=SOFT)
    mesh = axes.pcolormesh(
        np.arange(columns + 1),
        np.arange(rows + 1),
        np.ma.masked_invalid(values),
        cmap="cividis",
        edgecolor="white",
        lw=0.8,
    )
    axes.set_xticks(np.arange(columns) + 0.5, [plain(value) for value in across], rotation=0 if columns <= 12 else 90)
    axes.set_yticks(np.arange(rows) + 0.5, [plain(value) for value in up])
    axes.tick_params(length=0)
    axes.grid(False)
    axes.set_xlabel(with_unit(x_words, x_unit))
    axes.set_ylabel(with_unit(y_words, y_unit))
    axes.set_title(f"{words[0].upper()}{words[1:]}{invented_note(table.attrs)}")
    bar = drawn.colorbar(mesh, ax=axes, pad=0.02, aspect=28)
    bar.set_label(with_unit(words, unit))
    bar.outline.set_visible(False)
    if values.size <= _MOST_NUMBERS and columns <= 14:
        _write_numbers(axes, values, mesh)
    marked = _mark_chosen(axes, table, grid, x, y)
    drawn.description = _sentence(
        values, (words, unit), (x_words, x_unit, across), (y_words, y_unit, up), invented_note(table.attrs)
    )
    drawn.description += marked
    return drawn


def _mark_chosen(axes: Any, table: xr.Dataset, grid: xr.DataArray, x: str, y: str) -> str:
    """Frame the candidate that a sizing chose, or the nearest where it chose none; return the sentence about it."""
    if "chosen" not in table:
        return ""
    chosen = int(table["chosen"])
    words = "chosen" if chosen >= 0 else nearest_words(table)
    one = table.isel(design=chosen if chosen >= 0 else int(table["nearest"]))
    column, row = (int(np.searchsorted(grid[name].to_numpy(), one[name].item())) for name in (x, y))
    axes.add_patch(
        Rectangle(
            (column + 0.04, row + 0.04), 0.92, 0.92, fill=False, edgecolor=VERMILION, lw=2.4,
            ls="-" if chosen >= 0 else (0, (3, 2)), zorder=3,
        )
    )  # fmt: skip
    axes.annotate(f"framed: {words}", (1.0, 1.0), xycoords="axes fraction", xytext=(0, 4), textcoords="offset points",
                  ha="right", va="bottom", fontsize=9)  # fmt: skip
    return f" Framed: {words}."


def _grid(table: Any, x: str, y: str, figure: str) -> xr.DataArray:
    """Return the figure on (y, x)."""
    if not isinstance(table, xr.Dataset) or "design" not in table.dims:
        raise RunoffError("heat_map_figure: needs a table along `design`, as runoff.sweep returns it")
    swept = [str(name) for name in table.coords if name != "design" and table[name].dims == ("design",)]
    for name in (x, y):
        if name not in swept:
            raise RunoffError(
                f'heat_map_figure: "{name}" was not swept{nearest(name, swept)}; swept: {", ".join(swept) or "nothing"}'
            )
    if figure not in table or table[figure].dims != ("design",):
        known = [str(name) for name in table if table[name].dims == ("design",)]
        raise RunoffError(f'heat_map_figure: the table has no figure "{figure}"{nearest(figure, known)}')
    x_all, y_all = np.unique(table[x].to_numpy()), np.unique(table[y].to_numpy())
    place = np.searchsorted(y_all, table[y].to_numpy()), np.searchsorted(x_all, table[x].to_numpy())
    count = np.zeros((y_all.size, x_all.size), dtype=int)
    np.add.at(count, place, 1)
    if (count > 1).any():
        others = [name for name in swept if name not in (x, y) and np.unique(table[name].to_numpy()).size > 1]
        raise RunoffError(
            f"heat_map_figure: up to {count.max()} candidates share a cell, because {', '.join(others) or 'values'} "
            f"also vary; keep one value, for example table.isel(design=table['{(others or [x])[0]}'] == value)"
        )
    values = np.full(count.shape, np.nan)
    values[place] = table[figure].to_numpy()
    return xr.DataArray(values, dims=(y, x), coords={y: y_all, x: x_all})


def _write_numbers(axes: Any, values: np.ndarray, mesh: Any) -> None:
    span = float(np.nanmax(values) - np.nanmin(values))
    places = 0 if span >= 20 else 1 if span >= 2 else 2
    for (row, column), value in np.ndenumerate(values):
        if np.isnan(value):
            continue
        red, green, blue, _ = mesh.cmap(mesh.norm(value))
        dark = 0.299 * red + 0.587 * green + 0.114 * blue < 0.5
        axes.text(
            column + 0.5, row + 0.5, f"{value:,.{places}f}", ha="center", va="center", fontsize=9,
            color="white" if dark else INK,
        )  # fmt: skip


def _sentence(values: np.ndarray, figure: tuple, x: tuple, y: tuple, invented: str) -> str:
    words, unit = figure
    x_words, x_unit, across = x
    y_words, y_unit, up = y

    def at(position: int) -> str:
        row, column = np.unravel_index(position, values.shape)
        return (
            f"{number(float(values[row, column]), 3)} {unit}".strip()
            + f" ({x_words} {plain(across[column])} {x_unit}, {y_words} {plain(up[row])} {y_unit})".replace(
                " )", ")"
            ).replace(" ,", ",")
        )

    return (
        f"{words[0].upper()}{words[1:]}{invented}: from {at(int(np.nanargmin(values)))} to {at(int(np.nanargmax(values)))} "
        f"over {int(np.isfinite(values).sum())} candidates."
    )
