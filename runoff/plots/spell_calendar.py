"""A calendar of spells: years as rows, days as columns, wet spells rising above each row's line, dry ones hanging below."""

from __future__ import annotations

import itertools
from textwrap import fill
from typing import Any

import numpy as np
import xarray as xr
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.legend import Legend
from matplotlib.legend_handler import HandlerPatch
from matplotlib.patches import Patch, Rectangle

from runoff.findings.spells import (
    DRY_BANDS,
    WET_BANDS,
    Band,
    Spell,
    band_of,
    damage_index,
    every_spell,
    spells_of_record,
    years_of_harm,
)  # fmt: skip
from runoff.findings.yearly import to_days, yearly_totals
from runoff.plots.runs import one_run
from runoff.plots.spell_bands import look_of
from runoff.plots.style import INK, PALE, SOFT, DescribedFigure, new_figure, styled
from runoff.plots.wording import invented_note
from runoff.saying.dates import MONTHS, date_words, month_starts
from runoff.saying.numbers import days

_ROW_IN, _LEGEND_IN, _WORDS_IN = 0.19, 1.7, 1.05  # heights: one year, the legends, title and axis words

_LINE_WORDS = "line: harm that lasts to the end of the season"
_LASTING = 2  # the damage index from which harm is drawn to last: stress likely


@styled
def spell_calendar_figure(run: xr.Dataset) -> DescribedFigure:
    """Draw all wet and dry spells of a run as a calendar.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site, in days or minutes.

    Returns
    -------
    DescribedFigure
        One row per year. A waterlogged spell stands above the row's line, a dry one hangs below it; the longer the spell,
        the taller and darker, by the bands of `runoff.findings.spells`. Wet days colder than the limit of the run are
        drawn as outlines: they do not count as rot risk. From the day on which stress is likely a thin line in the colour of
        the band runs on to the end of the season (`runoff.findings.spells.damage_index`): a drowned root does not come back
        when the water is gone. Beside each row stand the year's counts.
    """
    daily = to_days(one_run(run, "spell_calendar_figure"))
    time = daily["time"]
    years, day = time.dt.year.to_numpy(), time.dt.dayofyear.to_numpy() - 1
    wet, dry = (daily[name].to_numpy().astype(bool) for name in ("waterlogged", "dry"))
    warm_c = float(run.attrs.get("warm_c", 5.0))
    cold = (daily["tmean"] < warm_c).to_numpy() if "tmean" in daily else np.zeros(wet.size, dtype=bool)
    rows = {int(year): place for place, year in enumerate(np.unique(years))}
    rows_in = max(0.45, _ROW_IN * len(rows))
    figure = new_figure(rows_in + _LEGEND_IN + _WORDS_IN)
    axes, below = figure.subplots(2, 1, gridspec_kw={"height_ratios": [rows_in, _LEGEND_IN]})
    row = np.array([rows[int(year)] for year in years])
    bars: dict[tuple[Band, bool], list[np.ndarray]] = {}
    for spell in every_spell(wet):
        _cut(bars, spell, band_of(spell.length, WET_BANDS), row, day, cold)
    for spell in every_spell(dry):
        _cut(bars, spell, band_of(spell.length, DRY_BANDS), row, day, np.zeros(dry.size, dtype=bool), hanging=True)
    for (band, is_open), boxes in bars.items():
        axes.add_collection(
            PolyCollection(
                boxes, facecolor="white" if is_open else look_of(band).color, edgecolor=look_of(band).color if is_open else "none",
                linewidth=0.8 if is_open else 0.0,
            )
        )  # fmt: skip
    harm = damage_index(daily, warm_c=warm_c)
    _lasting(axes, harm.to_numpy(), row, day)
    _rows_and_months(axes, rows, time.dt.calendar)
    _counts(axes, rows, yearly_totals(daily))
    _legends(below, warm_c if "tmean" in daily else None)
    axes.set_title(f"Waterlogged and dry spells{invented_note(run.attrs)}")
    harmed = years_of_harm(harm, _LASTING)
    figure.description = _sentence(time.to_numpy(), wet, dry, len(rows), harmed, run.attrs)
    return figure


def _lasting(axes: Any, harm: np.ndarray, row: np.ndarray, day: np.ndarray) -> None:
    """Draw the harm that lasts to the end of a season as a thin line on each row."""
    for level in range(_LASTING, len(WET_BANDS)):
        lines = []
        for first, length in every_spell(harm == level):
            steps = np.arange(first, first + length)
            for piece in np.split(steps, np.flatnonzero(np.diff(row[steps]) != 0) + 1):
                lines.append([(day[piece[0]], row[piece[0]]), (day[piece[0]] + piece.size, row[piece[0]])])
        axes.add_collection(
            LineCollection(lines, colors=look_of(WET_BANDS[level]).color, linewidths=1.6, capstyle="butt")
        )


def _cut(
    bars: dict, spell: Spell, band: Band | None, row: np.ndarray, day: np.ndarray, is_open: np.ndarray, *,
    hanging: bool = False,
) -> None:  # fmt: skip
    """Add the bars of one spell, cut where the year ends and where cold and warm days meet."""
    assert band is not None  # a spell has at least one day
    steps = np.arange(spell.first, spell.first + spell.length)
    cuts = np.flatnonzero((np.diff(row[steps]) != 0) | np.diff(is_open[steps])) + 1
    height = 0.47 * look_of(band).share * (1.0 if hanging else -1.0)  # rows count downwards
    for piece in np.split(steps, cuts):
        left, right, line = day[piece[0]], day[piece[0]] + piece.size, row[piece[0]]
        box = np.array([[left, line], [right, line], [right, line + height], [left, line + height]], dtype=float)
        bars.setdefault((band, bool(is_open[piece[0]])), []).append(box)


def _rows_and_months(axes: Any, rows: dict[int, int], kind: str) -> None:
    starts = month_starts(kind, 2000)
    axes.set_xlim(0.0, starts[-1])
    axes.set_xticks(starts, [""] * 13)
    axes.set_xticks([(a + b) / 2.0 for a, b in itertools.pairwise(starts)], [name[:3] for name in MONTHS], minor=True)
    axes.tick_params(axis="x", which="minor", length=0)
    axes.grid(True, axis="x")
    axes.grid(False, axis="y")
    for row in rows.values():
        axes.axhline(row, color=PALE, lw=0.6, zorder=0.5)
    step = 1 if len(rows) <= 32 else -(-len(rows) // 32)
    axes.set_yticks(list(rows.values())[::step], [str(year) for year in list(rows)[::step]])
    axes.tick_params(axis="y", left=False, labelsize=8.5)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlabel("day of the year")
    axes.set_ylabel("year")
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)


def _counts(axes: Any, rows: dict[int, int], totals: xr.Dataset) -> None:
    style = {"xycoords": ("axes fraction", "data"), "va": "center", "ha": "right", "annotation_clip": False}
    small = {"fontsize": 8.5 if len(rows) <= 40 else 6.5}
    for year, row in rows.items():
        for place, name in ((1.062, "waterlogged_days"), (1.122, "dry_days")):
            count = int(totals[name].sel(year=year))
            axes.annotate(f"{count}", (place, row), color=INK if count else SOFT, **style, **small)
    for place, height, words in ((1.062, 4, "water-\nlogged"), (1.122, 4, "dry"), (1.122, 17, "days")):
        axes.annotate(
            words, (place, 1.0), xycoords="axes fraction", xytext=(0, height), textcoords="offset points", ha="right",
            fontsize=8.5, fontweight="normal" if words == "days" else "bold", annotation_clip=False,
        )  # fmt: skip


def _legends(axes: Any, warm_c: float | None) -> None:
    """Explain the bars by bars of the same height and colour."""
    sides: tuple[tuple[str, tuple[Band, ...], Any], ...] = (
        ("waterlogged (above the line)", WET_BANDS, "upper left"),
        ("dry (below the line)", DRY_BANDS, "upper right"),
    )
    for title, bands, place in sides:
        handles = [
            Patch(facecolor=look_of(band).color, edgecolor="none", label=fill(f"{band.days}: {band.words}", 48))
            for band in bands
        ]
        heights = {handle: look_of(band).share for handle, band in zip(handles, bands, strict=True)}
        if bands is WET_BANDS and warm_c is not None:
            handles.append(Patch(facecolor="white", edgecolor=INK, lw=0.9, label=f"outline: colder than {warm_c:g} °C"))
        if bands is WET_BANDS:
            handles.append(Patch(facecolor=look_of(bands[_LASTING]).color, edgecolor="none", label=_LINE_WORDS))
            heights[handles[-1]] = 0.15
        legend = Legend(
            axes, handles, [str(handle.get_label()) for handle in handles], loc=place, title=title, fontsize=8.5,
            title_fontsize=9, alignment="left", borderaxespad=0.0, handlelength=1.8, handleheight=0.9,
            handler_map={Patch: HandlerPatch(patch_func=_bar_of(heights, hanging=bands is DRY_BANDS))},
        )  # fmt: skip
        axes.add_artist(legend)
    axes.set_axis_off()


def _bar_of(heights: dict[Patch, float], *, hanging: bool) -> Any:
    def draw(
        *, orig_handle: Patch, xdescent: float, ydescent: float, width: float, height: float, **_: Any
    ) -> Rectangle:
        tall = height * heights.get(orig_handle, 0.85)
        return Rectangle((-xdescent, -ydescent + (height - tall if hanging else 0.0)), width, tall)

    return draw


def _sentence(time: np.ndarray, wet: np.ndarray, dry: np.ndarray, years: int, harmed: int, attrs: Any) -> str:
    parts = []
    for words, flags, bands, limit in (("waterlogged", wet, WET_BANDS, 8), ("dry", dry, DRY_BANDS, 14)):
        found = spells_of_record(flags, bands, limit)
        if found.longest is None:
            parts.append(f"no day was {words}")
            continue
        parts.append(
            f"{found.long or 'no'} {words} spell{'' if found.long == 1 else 's'} of {limit} days or more, the longest "
            f"{days(found.longest.length)} from {date_words(time[found.longest.first])} "
            f"(band: {found.band.words if found.band else 'none'})"
        )
    if harmed:
        parts.append(f"in {harmed} of the years roots bear the harm of a warm wet spell of that season")
    held = f"{years} year{'' if years == 1 else 's'}"
    return f"In {held}{invented_note(attrs)}: {'; '.join(parts)}; the bands are a reading aid, no published limit exists for roofs."
