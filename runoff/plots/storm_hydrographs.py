"""A storm at the outlet: rain hanging from the top, discharge of planted and bare roof, water depth on the deck."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.errors import RunoffError, StormError
from runoff.findings.storm_comparison import with_comparison
from runoff.plots.runs import one_run
from runoff.plots.style import BLUE, GREEN, INK, ORANGE, SKY, SOFT, VERMILION, DescribedFigure, new_figure, styled
from runoff.plots.wording import invented_note
from runoff.saying.numbers import fixed, number, rounded
from runoff.saying.patterns import pattern_words
from runoff.saying.scales import Units
from runoff.time_steps import time_step
from runoff.units import to_intensity

if TYPE_CHECKING:
    from runoff.roof import Roof


class _Course(NamedTuple):
    """One hydrograph and how it is drawn."""

    words: str
    flow: np.ndarray  # L/s
    color: str
    dash: Any
    width: float
    mark: str

    @property
    def peak(self) -> int:
        """The first step within 0.1 % of the largest flow: on a plateau rounding must not choose."""
        return int(np.argmax(self.flow >= 0.999 * np.nanmax(self.flow)))


@styled
def storm_figure(
    flood: xr.Dataset,
    *,
    gravel: xr.Dataset | None = None,
    roof: Roof | None = None,
    hours: float | None = None,
    units: str = "si",
) -> DescribedFigure:
    """Draw a storm: hyetograph over the hydrographs, and below them the depth of water on the deck.

    Parameters
    ----------
    flood
        What `runoff.simulate` returned for one roof and a storm in steps of at most an hour. Where its comparison roof is the
        existing one, ``attrs["comparison_words"]`` calls it so.
    gravel
        The same storm run with ``comparison=BareSurface(kind="gravel")``; its comparison roof is drawn as a third line.
        A variable ``gravel_discharge`` (L/s) of `flood` serves as well.
    roof
        Draws the heights of its board, its medium and its emergency overflow beside the water depth.
    hours
        Length shown, h, from the start of the record; default: the core of the storm, around its heaviest rain, with the whole of it
        as an inset. A storm that is all core is shown until the discharge has fallen below a hundredth of its peak.
    units
        ``"si"`` (mm/h, L/s, mm) or ``"us"`` (in/h, gpm, in).

    Returns
    -------
    DescribedFigure
        Three panels on one axis of hours. Flows are means of a step and stand at its middle, depths at its end.

    Raises
    ------
    StormError
        For a daily run: the sum of a day holds no storm peak.
    """
    needed = ("rain", "discharge", "bare_discharge", "water_depth_on_deck_mm")
    one_run(flood, "storm_figure", needed)
    start_h, step_h = _hours(flood["time"])
    if step_h > 1.0:
        raise StormError(
            f"storm_figure: the run has steps of {step_h:g} h; a storm peak needs steps of an hour or less. "
            "Run a design storm, for example runoff.simulate(roof, runoff.design_storm(depth_mm=80))"
        )
    shown = Units(units)
    courses = _courses(flood, gravel)
    whole = (0.0, _last_hour(start_h, step_h, courses, flood) if hours is None else float(hours))
    core = _core(start_h, step_h, courses, intensity_of(flood)) if hours is None else whole
    opens_on_core = core[1] - core[0] < _CORE_SHARE * whole[1]
    window = core if opens_on_core else whole
    figure = new_figure(6.4)
    rain, flows, depth = figure.subplots(3, 1, sharex=True, gridspec_kw={"height_ratios": [1.0, 2.1, 1.2]})
    intensity = intensity_of(flood)
    rain.stairs(shown.show(intensity, "mm/h"), np.append(start_h, start_h[-1] + step_h), fill=True, color=INK)
    rain.set_ylim(1.05 * float(shown.show(max(float(np.nanmax(intensity)), 1.0), "mm/h")), 0.0)
    rain.set_ylabel(f"rain,\n{shown.name('mm/h')}")
    rain.spines["top"].set_visible(True)
    rain.spines["bottom"].set_visible(False)
    rain.tick_params(bottom=False)
    rain.set_title(_title(flood, shown))
    heaviest_h = float(start_h[int(np.nanargmax(intensity))] + step_h / 2.0)
    _draw_flows(flows, start_h + step_h / 2.0, courses, heaviest_h, shown)
    _draw_depth(depth, start_h + step_h, flood["water_depth_on_deck_mm"].to_numpy(), roof, shown)
    depth.set_xlim(*window)
    if opens_on_core:
        _draw_whole(flows, start_h + step_h / 2.0, courses, window, whole[1], shown)
    _mark_times(depth, window)
    figure.align_ylabels()
    figure.description = _sentence(flood, courses, start_h + step_h / 2.0, step_h, heaviest_h, shown)
    return figure


def storm_comparison_figure(
    comparison: xr.Dataset, *, roof: Roof | None = None, hours: float | None = None, units: str = "si"
) -> DescribedFigure:
    """Draw what `runoff.compare_storm` returned: planted, bare and gravel roof in one storm; see `storm_figure`.

    Parameters
    ----------
    comparison
        What `runoff.compare_storm` returned.
    roof, hours, units
        As in `storm_figure`.

    Returns
    -------
    DescribedFigure
        Three panels on one axis of hours.

    Raises
    ------
    StormError
        For a Dataset that is no comparison of a storm.
    """
    if not {"rain", "hydrograph"} <= set(comparison):
        raise StormError("storm_comparison_figure: give what runoff.compare_storm returned")
    flood = with_comparison(comparison[["rain"]].assign_attrs(comparison.attrs), comparison)
    figure: DescribedFigure = storm_figure(flood, roof=roof, hours=hours, units=units)
    return figure


def _hours(time: xr.DataArray) -> tuple[np.ndarray, float]:
    """Return the start of each step in hours since the first, and the step."""
    stamps = time.to_numpy()
    since = np.array([np.timedelta64(one) / np.timedelta64(1, "s") for one in stamps - stamps[0]]) / 3600.0
    return since, time_step(time).hours


def _courses(flood: xr.Dataset, gravel: xr.Dataset | None) -> list[_Course]:
    kind = str(flood.attrs.get("comparison", "membrane")).split(" ")[0]
    bare = str(flood.attrs.get("comparison_words", "bare roof")) + (" (gravel)" if kind == "gravel" else "")
    found = [
        _Course(bare, flood["bare_discharge"].to_numpy(), VERMILION, (0, (5, 1.5)), 1.6, "s"),
        _Course("planted roof", flood["discharge"].to_numpy(), GREEN, "-", 2.4, "o"),
    ]
    third = gravel["bare_discharge"] if gravel is not None else flood.get("gravel_discharge")
    if third is not None:
        if third.sizes.get("time") != flood.sizes["time"]:
            raise RunoffError(
                f"storm_figure: gravel has {third.sizes.get('time')} steps, the storm {flood.sizes['time']}; "
                "run both with the same storm"
            )
        found.insert(1, _Course("gravel roof", third.to_numpy(), ORANGE, (0, (1, 1)), 2.0, "D"))
    return found


def _last_hour(start_h: np.ndarray, step_h: float, courses: list[_Course], flood: xr.Dataset) -> float:
    """Return the hour after which nothing is left to see."""
    busy = flood["rain"].to_numpy() > 0.0
    for course in courses:
        busy = busy | (course.flow > 0.01 * max(float(np.nanmax(course.flow)), 1e-9))
    end = float(start_h[np.flatnonzero(busy)[-1]] + step_h) if busy.any() else float(start_h[-1] + step_h)
    return min(float(start_h[-1] + step_h), 1.04 * end)


#: Flow or rain above this share of its peak belongs to the core of a storm.
_CORE_LEVEL = 0.1
#: A core longer than this share of the whole is no core: all is shown.
_CORE_SHARE = 0.6


def intensity_of(flood: xr.Dataset) -> np.ndarray:
    """Return the rain of a run as intensity, mm/h."""
    return to_intensity(flood["rain"]).to_numpy()


def _core(start_h: np.ndarray, step_h: float, courses: list[_Course], intensity: np.ndarray) -> tuple[float, float]:
    """Return first and last hour of the core: the heaviest rain, and what flows from it, with room to its right."""
    busy = intensity > _CORE_LEVEL * np.nanmax(intensity)
    for course in courses:
        busy = busy | (course.flow > _CORE_LEVEL * max(float(np.nanmax(course.flow)), 1e-9))
    idle = np.flatnonzero(~busy)
    heaviest = int(np.nanargmax(intensity))
    first = idle[idle < heaviest].max(initial=-1) + 1
    last = idle[idle > heaviest].min(initial=busy.size)
    begin, end = float(start_h[first]), float(start_h[last - 1] + step_h)
    span = max(end - begin, 12.0 * step_h)
    return max(0.0, begin - 0.1 * span), end + 0.6 * span


def _draw_whole(
    axes: Any, at: np.ndarray, courses: list[_Course], window: tuple[float, float], last: float, shown: Units
) -> None:
    """Draw the whole storm as an inset, what is shown of it shaded."""
    inset = axes.inset_axes((0.70, 0.40, 0.29, 0.48))
    inset.axvspan(*window, color=SKY, alpha=0.4, lw=0.0)
    for course in courses:
        inset.plot(at, shown.show(course.flow, "L/s"), color=course.color, ls=course.dash, lw=0.6 * course.width)
    inset.set_xlim(0.0, last)
    inset.set_ylim(0.0, axes.get_ylim()[1])
    inset.tick_params(labelsize=7, length=2, pad=1)
    inset.set_title(f"the whole storm, {number(last, 2)} h", fontsize=8, pad=2, loc="left")
    inset.grid(False)
    inset.set_facecolor("white")
    for spine in inset.spines.values():
        spine.set_visible(True)
        spine.set_linewidth(0.6)


#: Steps between ticks, h, and the most ticks that are read easily; up to so many hours minutes are counted.
_TICKS_H = (1 / 12, 1 / 6, 0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0)
_MOST_TICKS, _IN_MINUTES_H = 10, 2.0


def _mark_times(axes: Any, window: tuple[float, float]) -> None:
    """Mark the time of a storm as a clock does: minutes of a short one, hours and minutes, or hours."""
    span = window[1] - window[0]
    step = next(
        (one for one in _TICKS_H if span / one <= _MOST_TICKS), float(np.ceil(span / _MOST_TICKS / 24.0) * 24.0)
    )
    ticks = step * np.arange(np.ceil(window[0] / step - 1e-9), np.floor(window[1] / step + 1e-9) + 1)
    if window[1] <= _IN_MINUTES_H:
        labels, unit = [fixed(60.0 * one, 0) for one in ticks], "minutes"
    elif step < 1.0:
        labels, unit = [_clock(one) for one in ticks], "hours and minutes"
    else:
        labels, unit = [fixed(one, 0) for one in ticks], "hours"
    axes.set_xticks(ticks, labels)
    axes.set_xlabel(f"{unit} since the start of the rain record")


def _clock(hours: float) -> str:
    minutes = int(rounded(60.0 * hours, 0))
    return f"{minutes // 60}:{minutes % 60:02d}"


def _after(hours: float) -> str:
    """Return a time in words, as the table of a storm rounds it: ``18 min``, ``12 h 3 min``."""
    minutes = int(rounded(60.0 * hours, 0))
    return f"{minutes} min" if hours < _IN_MINUTES_H else f"{minutes // 60} h {minutes % 60} min"


def _lag(peak_h: float, heaviest_h: float) -> str:
    """Say how long after the heaviest rain a peak comes."""
    minutes = 60.0 * (peak_h - heaviest_h)
    if abs(minutes) < 0.5:
        return "with the heaviest rain"
    return f"{_after(abs(minutes) / 60.0)} {'after' if minutes > 0.0 else 'before'} the heaviest rain"


def _digits(value: float) -> str:
    """Return three significant digits, zeros at the end too, so that peaks beside each other are read alike."""
    places = 0 if value <= 0.0 else max(0, 2 - int(np.floor(np.log10(value))))
    return fixed(value, min(places, 4))


def _draw_flows(axes: Any, at: np.ndarray, courses: list[_Course], heaviest_h: float, shown: Units) -> None:
    axes.axvline(heaviest_h, color=SOFT, lw=0.9, ls=(0, (1, 2)), zorder=1)
    axes.annotate(
        "heaviest rain", (heaviest_h, 0.02), xycoords=("data", "axes fraction"), xytext=(3, 0), textcoords="offset points",
        ha="left", va="bottom", fontsize=8.5, color=SOFT,
    )  # fmt: skip
    top = 0.0
    for course in courses:
        flow = shown.show(course.flow, "L/s")
        peak = course.peak
        top = max(top, float(flow[peak]))
        words = f"{course.words}: peak {_digits(float(flow[peak]))} {shown.name('L/s')}, {_lag(float(at[peak]), heaviest_h)}"
        axes.plot(at, flow, color=course.color, ls=course.dash, lw=course.width, label=words)
        axes.plot(
            at[peak],
            flow[peak],
            marker=course.mark,
            ms=6,
            color=course.color,
            mec=INK,
            mew=0.8,
            clip_on=False,
            zorder=3,
        )
    axes.set_ylim(0.0, 1.05 * top if top > 0 else 1.0)
    axes.set_ylabel(f"whole roof,\n{shown.name('L/s')}")
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=1, borderaxespad=0.2)


def _draw_depth(axes: Any, at: np.ndarray, depth: np.ndarray, roof: Roof | None, shown: Units) -> None:
    water = shown.show(depth, "mm")
    axes.fill_between(at, 0.0, water, color=SKY, alpha=0.5, lw=0.0)
    axes.plot(at, water, color=BLUE, lw=1.8)
    top = float(np.nanmax(water))
    levels = {}
    if roof is not None:
        board, medium = roof.build_up.board, roof.build_up.medium
        height = board.height_mm if board is not None else 0.0
        if board is not None:
            levels["top of the board"] = height
        levels["top of the medium"] = height + medium.depth_mm
        if roof.emergency_overflow_mm is not None:
            levels["emergency overflow"] = roof.emergency_overflow_mm
    drawn = {words: float(shown.show(level, "mm")) for words, level in levels.items()}
    near = [level for level in drawn.values() if level <= 1.6 * max(top, float(shown.show(10.0, "mm")))]
    ceiling = 1.15 * max([top, float(shown.show(5.0, "mm")), *near])
    for words, level in drawn.items():
        if level <= ceiling:
            emergency = words == "emergency overflow"
            axes.axhline(level, color=VERMILION if emergency else SOFT, lw=1.2, ls="-." if emergency else (0, (2, 3)))
            # the overflow may lie close to the top of the medium: its words stand at the other end
            place, side = (0.005, "left") if emergency else (0.995, "right")
            axes.annotate(
                words, (place, level), xycoords=("axes fraction", "data"), xytext=(0, 2), textcoords="offset points",
                ha=side, va="bottom", fontsize=8.5, color=INK,
            )  # fmt: skip
    axes.set_ylim(0.0, ceiling)
    axes.set_ylabel(f"water on\ndeck, {shown.name('mm')}")


def _title(flood: xr.Dataset, shown: Units) -> str:
    rain = flood["rain"]
    pattern = rain.attrs.get("pattern")
    kind = (
        f", {pattern_words(pattern)}" if pattern and pattern != "series" else ""
    )  # a series is what was measured or given
    return f"Storm of {shown.say(float(rain.sum()), 'mm', 3)}{kind}{_invented(flood)}"


def _invented(flood: xr.Dataset) -> str:
    """Return the mark of invented rain: a storm made from an invented table says so in its source."""
    rain = flood["rain"].attrs
    invented = rain.get("invented") == "yes" or "invented" in str(rain.get("source", ""))
    return invented_note({"invented": "yes"} if invented else flood.attrs)


def _sentence(
    flood: xr.Dataset, courses: list[_Course], at: np.ndarray, step_h: float, heaviest_h: float, shown: Units
) -> str:
    parts = []
    for course in sorted(courses, key=lambda one: one.words != "planted roof"):
        peak = course.peak
        parts.append(
            f"the {course.words} peaks at {_digits(float(shown.show(course.flow[peak], 'L/s')))} {shown.name('L/s')} after "
            f"{_after(float(at[peak]))}, {_lag(float(at[peak]), heaviest_h)}"
        )
    depth = float(flood["water_depth_on_deck_mm"].max())
    return (
        f"Storm of {shown.say(float(flood['rain'].sum()), 'mm', 3)} in steps of {number(60.0 * step_h, 2)} min"
        f"{_invented(flood)}: {'; '.join(parts)}; water on the deck reaches {shown.say(depth, 'mm', 3)}."
    )
