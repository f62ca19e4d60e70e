"""Candidates side by side: what is kept against what it weighs, and which spells of standing water go with it."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, nearest
from runoff.findings.spells import WET_BANDS, Band, band_of
from runoff.plots.label_spacing import fit
from runoff.plots.spell_bands import look_of
from runoff.plots.style import (
    BLACK,
    INK,
    ORANGE,
    SKY,
    SOFT,
    VERMILION,
    WIDTH_IN,
    YELLOW,
    DescribedFigure,
    new_figure,
    styled,
)
from runoff.plots.wording import figure_label, invented_note, nearest_words, property_label, with_unit
from runoff.saying.numbers import days, number, plain
from runoff.saying.scales import Units

_GOOD = {"retention", "annual_capture_mm", "annual_capture_m3", "events_held", "annual_evapotranspiration"}
# from harmless to grave: the points must differ on white, so the pale tones of the calendar do not serve here
_BAND_COLORS = (SKY, YELLOW, ORANGE, VERMILION, BLACK)
_NEVER = ("never waterlogged", "#FFFFFF", "o")


@styled
def trade_off_figure(
    table: xr.Dataset,
    x: str = "drained_mass",
    y: str = "retention",
    *,
    chosen: int | None = None,
    units: str = "si",
) -> DescribedFigure:
    """Draw one figure of all candidates against another, marked by the band of their longest waterlogged spell.

    Parameters
    ----------
    table
        What `runoff.size` returned, or any Dataset of figures along ``design`` with ``longest_waterlogged_spell``.
    x, y
        Figures on the axes.
    chosen
        Position of the candidate that is ringed; default: the one `runoff.size` chose, or the nearest where it chose none.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    DescribedFigure
        Points with a colour and a mark per band, the line of those no other outdoes in both figures, the chosen one (or the
        nearest) ringed, and the targets on the two figures as lines, the side that misses them shaded.

    Raises
    ------
    RunoffError
        When the table lacks a figure or holds no candidate.
    """
    _need(table, (x, y, "longest_waterlogged_spell"))
    shown = Units(units)
    across, x_words, x_unit = figure_label(x, table[x].to_numpy(), table[x].attrs, shown)
    up, y_words, y_unit = figure_label(y, table[y].to_numpy(), table[y].attrs, shown)
    front = _front(table[x].to_numpy(), table[y].to_numpy(), more_x=x in _GOOD, more_y=y in _GOOD)
    ringed = int(table["chosen"]) if chosen is None and "chosen" in table else (-1 if chosen is None else chosen)
    ring = "chosen"
    if ringed < 0 and "nearest" in table:
        ringed, ring = int(table["nearest"]), nearest_words(table)
    figure = new_figure(5.6)
    axes, below = figure.subplots(2, 1, gridspec_kw={"height_ratios": [4.0, 1.25]})
    axes.plot(across[front], up[front], color=SOFT, lw=1.2, ls="--", zorder=1.5, label="no candidate is better in both")
    spells = table["longest_waterlogged_spell"].to_numpy()
    _mark_bands(axes, across, up, spells)
    if ringed >= 0:
        axes.scatter(
            across[[ringed]], up[[ringed]], s=260, marker="o", facecolor="none", edgecolor=INK, linewidth=2.0, zorder=3,
            label=ring, linestyle="-" if ring == "chosen" else (0, (2, 1.5)),
        )  # fmt: skip
    axes.grid(True, axis="both")
    axes.margins(0.08)
    said_targets = _mark_targets(axes, table, x, y, shown)
    axes.set_xlabel(with_unit(x_words, x_unit))
    axes.set_ylabel(with_unit(y_words, y_unit))
    title = f"{table.sizes['design']} candidates{invented_note(table.attrs)}"
    if ringed >= 0:
        words = fit(f"ringed: {_design_words(table, ringed, shown)}", 0.86 * 72.0 * WIDTH_IN, 9.0)
        axes.annotate(
            words, (0.0, 1.0), xycoords="axes fraction", xytext=(0, 5), textcoords="offset points", fontsize=9
        )
    axes.set_title(title, pad=22 if ringed >= 0 else None)
    below.legend(
        *axes.get_legend_handles_labels(), loc="upper left", ncols=2, title="mark: longest waterlogged spell",
        alignment="left", title_fontsize=9, borderaxespad=0.0,
    )  # fmt: skip
    below.get_legend().set_in_layout(False)
    below.set_axis_off()
    figure.description = _sentence(
        table, front, (ringed, ring), spells, (x_words, x_unit, across), (y_words, y_unit, up), shown
    )
    figure.description += said_targets
    return figure


def _mark_targets(axes: Any, table: xr.Dataset, x: str, y: str, shown: Units) -> str:
    """Draw the targets on the two figures as lines and shade the side that misses them; return the sentence about them."""
    said: list[str] = []
    for label in table["target"].to_numpy() if "target" in table.coords else ():
        figure, at, bound, limit = str(label).split(" ")
        if figure not in (x, y):
            continue
        values = np.append(table[figure].to_numpy(), float(limit))
        drawn, words, unit = figure_label(figure, values, table[figure].attrs, shown)
        line, up = float(drawn[-1]), figure == y
        low, high = axes.get_ylim() if up else axes.get_xlim()
        low, high = min(low, line - 0.04 * (high - low)), max(high, line + 0.04 * (high - low))
        missed = (low, line) if bound == "least" else (line, high)
        (axes.axhline if up else axes.axvline)(
            line, color=VERMILION, lw=1.3, ls="-.", zorder=1.4, label=None if said else "target; shaded: missed"
        )
        (axes.axhspan if up else axes.axvspan)(*missed, color=VERMILION, alpha=0.06, lw=0.0, zorder=0)
        (axes.set_ylim if up else axes.set_xlim)(low, high)
        said.append(f"{words} {at} {bound} {number(line, 3)} {unit}".strip())
    return f" Targets drawn: {'; '.join(said)}." if said else ""


def _mark_bands(axes: Any, across: np.ndarray, up: np.ndarray, spells: np.ndarray) -> None:
    """Draw the candidates, one mark and colour per band of their longest waterlogged spell."""
    for band, color in [(None, _NEVER[1]), *zip(WET_BANDS, _BAND_COLORS, strict=True)]:
        inside = np.array([band_of(one) is band for one in spells])
        if inside.any():
            axes.scatter(
                across[inside], up[inside], s=46, marker=look_of(band).mark if band else _NEVER[2], color=color, edgecolor=INK,
                linewidth=0.8, zorder=2.5, label=_band_words(band),
            )  # fmt: skip


def _design_words(table: xr.Dataset, position: int, units: Units) -> str:
    """Return what was varied and the values of one candidate, for example ``medium: depth 80 mm``."""
    parts = []
    for name in table.coords:
        if name != "design" and table[name].dims == ("design",):
            value, words, unit = property_label(str(name), table[name].to_numpy()[position], units)
            parts.append(f"{words} {plain(value)} {unit}".strip())
    return ", ".join(parts) or f"candidate {table['design'].to_numpy()[position]}"


def _need(table: Any, names: tuple[str, ...]) -> None:
    if not isinstance(table, xr.Dataset) or "design" not in table.dims:
        raise RunoffError("trade_off_figure: needs a table along `design`, as runoff.sweep and runoff.size return it")
    for name in names:
        if name not in table:
            hint = "; runoff.size adds it" if name in ("drained_mass", "build_up_depth", "cost") else ""
            raise RunoffError(
                f'trade_off_figure: the table has no figure "{name}"{hint or nearest(name, map(str, table))}'
            )


def _front(x: np.ndarray, y: np.ndarray, *, more_x: bool, more_y: bool) -> np.ndarray:
    """Return the candidates that no other outdoes in both figures, in the order of x."""
    gain_x, gain_y = (x if more_x else -x), (y if more_y else -y)
    order = np.lexsort((-gain_y, -gain_x))  # best x first, then best y
    kept, best = [], -np.inf
    for i in order:
        if gain_y[i] > best:
            kept.append(int(i))
            best = gain_y[i]
    return np.array(sorted(kept, key=lambda i: x[i]))


def _band_words(band: Band | None) -> str:
    return _NEVER[0] if band is None else f"{band.days}: {band.words}"


def _sentence(
    table: xr.Dataset, front: np.ndarray, ring: tuple[int, str], spells: np.ndarray, x: tuple, y: tuple, shown: Units
) -> str:
    ringed, which = ring
    x_words, x_unit, across = x
    y_words, y_unit, up = y

    def span(values: np.ndarray, unit: str) -> str:
        return f"{number(float(values.min()), 3)} to {number(float(values.max()), 3)} {unit}".strip()

    text = (
        f"{table.sizes['design']} candidates{invented_note(table.attrs)}: {y_words} {span(up, y_unit)} against {x_words} "
        f"{span(across, x_unit)}, {front.size} of them outdone by none in both"
    )
    if ringed >= 0:
        text += (
            f"; {which.replace(', ', ' (') + ')' if ', ' in which else which} is {_design_words(table, ringed, shown)} with {number(float(up[ringed]), 3)} {y_unit} at "
            f"{number(float(across[ringed]), 3)} {x_unit} and a longest waterlogged spell of {days(spells[ringed])}"
        )
    return f"{text}."
