"""One year of a roof: rain hanging from the top, the stores, signs of wet and dry roots, overflow below."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.findings.spells import every_spell
from runoff.findings.yearly import day_of_most_overflow, to_days, typical_year, yearly_totals
from runoff.plots.label_spacing import spread
from runoff.plots.runs import ARRIVING, STORES, one_run
from runoff.plots.style import (
    BLACK,
    BLUE,
    GREEN,
    INK,
    ORANGE,
    PURPLE,
    SKY,
    SOFT,
    VERMILION,
    DescribedFigure,
    new_figure,
    styled,
)  # fmt: skip
from runoff.plots.wording import invented_note
from runoff.saying.dates import date_words, month_starts
from runoff.saying.numbers import days
from runoff.saying.scales import Units

# colour, line style, width of each store
_LINES: dict[str, tuple[str, Any, float]] = {
    "medium_water": (GREEN, "-", 2.2),
    "cup_water": (BLUE, (0, (5, 1.5)), 1.6),
    "mat_water": (ORANGE, (0, (1, 1)), 1.8),
    "board_water": (BLACK, "-.", 1.2),
    "surface_water": (PURPLE, "-", 0.8),
    "pond_water": (VERMILION, "-", 1.6),
    "snow_water": (SKY, (0, (8, 2, 1, 2)), 1.6),
}
_SEEN_MM = 0.3  # a store that never holds this much is left out


@styled
def year_figure(run: xr.Dataset, year: int | None = None, *, units: str = "si") -> DescribedFigure:
    """Draw one year of a run.

    Parameters
    ----------
    run
        What `runoff.simulate` returned for one roof and site, in days or minutes (shown in days).
    year
        Calendar year; default: of the complete years, the one whose rain is nearest the median.
    units
        ``"si"`` (mm) or ``"us"`` (in).

    Returns
    -------
    DescribedFigure
        Four panels on one time axis: rain on an inverted axis, stores, waterlogged and dry days, overflow per day.

    Raises
    ------
    RunoffError
        When the run has several designs or sites, or does not hold the year.
    """
    shown = Units(units)
    daily = to_days(one_run(run, "year_figure"))
    totals = yearly_totals(daily)
    chosen = typical_year(totals, daily["time"]) if year is None else int(year)
    part = daily.isel(time=np.flatnonzero((daily["time"].dt.year == chosen).to_numpy()))
    if part.sizes["time"] == 0:
        years = daily["time"].dt.year.to_numpy()
        raise RunoffError(f"year_figure: the run has no year {chosen}; it holds {years[0]} to {years[-1]}")
    figure = new_figure(6.6)
    rain, stores, signs_axes, overflow = figure.subplots(
        4, 1, sharex=True, gridspec_kw={"height_ratios": [1.15, 2.6, 0.55, 1.15]}
    )
    day = part["time"].dt.dayofyear.to_numpy() - 1.0
    _hanging_rain(rain, day, part, shown)
    _stores(stores, day, part, shown)
    of_year = totals.sel(year=chosen)
    _signs(signs_axes, day, part, of_year)
    overflow.stairs(shown.show(part["overflow"].to_numpy(), "mm"), _edges(day), fill=True, color=BLUE)
    overflow.set_ylabel(f"overflow,\n{shown.name('mm')} per day")
    overflow.set_ylim(0.0, _top(overflow.get_ylim()[1], part["overflow"], shown))
    overflow.annotate(
        "sums of days, not storm peaks",
        (1.0, 0.97),
        xycoords="axes fraction",
        ha="right",
        va="top",
        color=SOFT,
        fontsize=8.5,
    )
    _month_axis(overflow, part, chosen)
    rain.set_title(f"Water on the planted roof in {chosen}{invented_note(run.attrs)}")
    figure.align_ylabels()
    figure.description = _sentence(of_year, day_of_most_overflow(part, chosen), shown, run.attrs)
    return figure


def _top(automatic: float, values: xr.DataArray, shown: Units) -> float:
    """Keep an axis open at 5 mm at least, so that a year without overflow does not look like a full one."""
    return max(automatic, float(shown.show(5.0, "mm")), 1.3 * float(shown.show(float(values.max()), "mm")))


def _hanging_rain(axes: Any, day: np.ndarray, part: xr.Dataset, shown: Units) -> None:
    axes.stairs(shown.show(part["rain"].to_numpy(), "mm"), _edges(day), fill=True, color=INK)
    axes.set_ylabel(f"rain,\n{shown.name('mm')} per day")
    axes.set_ylim(max(axes.get_ylim()[1], float(shown.show(5.0, "mm"))), 0.0)
    axes.spines["top"].set_visible(True)
    axes.spines["bottom"].set_visible(False)
    axes.tick_params(bottom=False)


def _edges(day: np.ndarray) -> np.ndarray:
    """Return where the days begin, and where the last one ends."""
    return np.append(day, day[-1] + 1.0)


def _stores(axes: Any, day: np.ndarray, part: xr.Dataset, shown: Units) -> None:
    highest = 0.0
    for name, (color, dash, width) in _LINES.items():
        values = part[name].to_numpy()
        if np.nanmax(values) >= _SEEN_MM:
            highest = max(highest, float(np.nanmax(values)))
            axes.plot(day + 1.0, shown.show(values, "mm"), color=color, ls=dash, lw=width, label=STORES[name])
    axes.set_ylabel(f"water held, {shown.name('mm')}")
    levels = {"medium full": "full_water", "field capacity": "field_water", "wilting point": "wilting_water"}
    heights = {words: float(shown.show(float(part[name]), "mm")) for words, name in levels.items()}
    top = 1.06 * max(float(shown.show(highest, "mm")), *heights.values())
    axes.set_ylim(0.0, top)
    gap = 0.085 * top
    for (words, height), place in zip(
        heights.items(), spread(list(heights.values()), [gap] * 3, 0.0, top), strict=True
    ):
        axes.axhline(height, color=SOFT, lw=0.9, ls=(0, (2, 3)))
        axes.annotate(
            words, (1.0, height), xytext=(1.012, place), xycoords=("axes fraction", "data"), va="center", fontsize=8.5,
            textcoords=("axes fraction", "data"), color=SOFT, annotation_clip=False,
        )  # fmt: skip
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.2, columnspacing=1.4)


def _signs(axes: Any, day: np.ndarray, part: xr.Dataset, totals: xr.Dataset) -> None:
    wet, dry = (part[name].to_numpy().astype(bool) for name in ("waterlogged", "dry"))
    counts = (int(totals["waterlogged_days"]), int(totals["dry_days"]))
    for row, flags, count, color, hatch in ((1, wet, counts[0], BLUE, "////"), (0, dry, counts[1], ORANGE, "....")):
        axes.broken_barh(_bars(flags, day), (row + 0.08, 0.84), facecolor=color, edgecolor=BLACK, hatch=hatch, lw=0.3)
        axes.annotate(
            days(count), (1.012, row + 0.5), xycoords=("axes fraction", "data"), va="center", fontsize=8.5,
            color=INK, annotation_clip=False,
        )  # fmt: skip
    axes.set_ylim(0.0, 2.0)
    axes.set_yticks([0.5, 1.5], ["dry", "waterlogged"])
    axes.tick_params(left=False)
    axes.grid(False)


def _bars(flags: np.ndarray, day: np.ndarray) -> list[tuple[float, float]]:
    """Return start and length of each spell of true days."""
    return [(float(day[one.first]), float(one.length)) for one in every_spell(flags)]


def _month_axis(axes: Any, part: xr.Dataset, year: int) -> None:
    starts = month_starts(part["time"].dt.calendar, year)
    axes.set_xlim(0.0, starts[-1])
    axes.set_xticks(starts, [""] * 13)
    middles = [(a + b) / 2.0 for a, b in itertools.pairwise(starts)]
    axes.set_xticks(
        middles, ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"], minor=True
    )
    axes.tick_params(axis="x", which="minor", length=0)
    axes.set_xlabel(f"month of {year}")


def _sentence(totals: xr.Dataset, wettest: Any, shown: Units, attrs: Any) -> str:
    year, overflow = int(totals["year"]), float(totals["overflow"])
    wet, dry = int(totals["waterlogged_days"]), int(totals["dry_days"])
    depths = {words: float(totals[name]) for words, name in ARRIVING.items() if name in totals}
    told = [f"{shown.say(mm, 'mm', 3)} of {words}" for words, mm in depths.items() if mm > 0 or words == "rain"]
    arrived = " and ".join([", ".join(told[:-1]), told[-1]] if told[1:] else told)
    text = f"Year {year}{invented_note(attrs)}: of {arrived} {shown.say(overflow, 'mm', 3)} left as overflow"
    if overflow > 0:
        text += (
            f", at most {shown.say(float(totals['peak_overflow']), 'mm', 3)} on one day "
            f"({date_words(wettest)}; the sum of a day, not a storm peak)"
        )
    text += f"; the medium was {f'waterlogged on {days(wet)}' if wet else 'waterlogged on no day'}"
    if wet:
        text += f" (longest spell {days(float(totals['longest_waterlogged_spell']))})"
    return f"{text} and dry on {days(dry)}."
