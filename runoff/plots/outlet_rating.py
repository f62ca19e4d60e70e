"""The rating curve of the outlets, and where the storm's peak falls on it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.balance.outlet_flow import flow
from runoff.errors import RunoffError
from runoff.plots.style import BLUE, INK, ORANGE, SOFT, VERMILION, DescribedFigure, new_figure, styled
from runoff.roof.column_values import outlet_laws
from runoff.saying.scales import Units
from runoff.sizing.outlets import chosen_outlet

if TYPE_CHECKING:
    import xarray as xr

_DASHES: tuple[tuple[str, Any, float], ...] = (
    (BLUE, "-", 2.2),
    (ORANGE, (0, (5, 1.5)), 2.0),
    (INK, (0, (1, 1)), 2.0),
    (SOFT, "-.", 1.6),
)
CAUTION = "Emergency drainage and ponding are safety matters: check against the local code and ask a licensed engineer."


@styled
def outlet_rating_figure(
    levels_mm: Any,
    flows_l_per_s: Any,
    *,
    peak_l_per_s: float | None = None,
    peak_level_mm: float | None = None,
    design_peak_l_per_s: float | None = None,
    turning_level_mm: float | None = None,
    allowable_level_mm: float | None = None,
    units: str = "si",
) -> DescribedFigure:
    """Draw flow against depth of water at the outlet, with the peak of a storm run on it.

    Parameters
    ----------
    levels_mm
        Depths of water at the outlet, mm, rising.
    flows_l_per_s
        Flow at each depth, L/s; or a mapping of names to such flows, for example ``{"all outlets": ..., "one blocked":
        ...}``. The first is the one the peak is read on.
    peak_l_per_s
        Peak discharge of a storm run in minutes; never the mean of a day.
    peak_level_mm
        Depth at that peak; default: read from the first curve.
    design_peak_l_per_s
        Flow that outlets are sized for, L/s: the heaviest rain on the whole area, no credit for storage. Marked on every curve.
    turning_level_mm
        Depth at which the outlet turns from weir to orifice.
    allowable_level_mm
        Depth that must not be passed.
    units
        ``"si"`` (mm, L/s) or ``"us"`` (in, gpm).

    Returns
    -------
    DescribedFigure
        One curve per name, the peak marked with its numbers; a peak beyond the curve is said to be so.

    Raises
    ------
    RunoffError
        When levels do not rise, a flow has another length, or something is negative.
    """
    levels, curves = _checked(levels_mm, flows_l_per_s)
    shown = Units(units)
    figure = new_figure(4.4)
    axes = figure.subplots()
    depth = shown.show(levels, "mm")
    for (name, passed), (color, dash, width) in zip(curves.items(), _DASHES, strict=False):
        axes.plot(shown.show(passed, "L/s"), depth, color=color, ls=dash, lw=width, label=name)
    axes.set_xlim(0.0, None)
    axes.set_ylim(0.0, None)
    axes.grid(True, axis="both")
    axes.set_xlabel(f"flow through the outlets, {shown.name('L/s')}")
    axes.set_ylabel(f"depth of water at the outlet, {shown.name('mm')}")
    axes.set_title("Flow through the outlets by depth of water")
    name, flow = next(iter(curves.items()))
    level = _read_level(levels, flow, peak_l_per_s) if peak_level_mm is None else peak_level_mm
    lines = {"turns from weir to orifice": turning_level_mm, "allowed depth": allowable_level_mm}
    _levels(axes, {words: value for words, value in lines.items() if value is not None}, shown)
    if peak_l_per_s is not None:
        _peak(axes, peak_l_per_s, level, float(levels[-1]), shown)
    if design_peak_l_per_s is not None:
        heads = {name: _read_level(levels, one, design_peak_l_per_s) for name, one in curves.items()}
        _design_peak(axes, design_peak_l_per_s, heads, shown)
    axes.legend(loc="lower right")
    figure.supxlabel(CAUTION, fontsize=8.5, color=SOFT)
    figure.description = _sentence(name, levels, flow, peak_l_per_s, level, allowable_level_mm, shown)
    if design_peak_l_per_s is not None:
        figure.description = (
            f"{_design_words(design_peak_l_per_s, heads, shown, allowable_level_mm)}. {figure.description}"
        )
    return figure


def _design_peak(axes: Any, peak: float, heads: Mapping[str, float | None], shown: Units) -> None:
    """Draw the flow that outlets are sized for, and its head on every curve that reaches it."""
    at = float(shown.show(peak, "L/s"))
    axes.axvline(at, color=INK, lw=1.1, ls=(0, (6, 2, 1, 2)), zorder=2)
    axes.set_xlim(0.0, max(axes.get_xlim()[1], 1.25 * at))
    for head in heads.values():
        if head is not None:
            axes.plot(at, float(shown.show(head, "mm")), marker="D", ms=7, mfc="white", mec=INK, mew=1.4, zorder=4)
    told = "\n".join(_heads_told(heads, shown))
    axes.annotate(
        f"design peak {shown.say(peak, 'L/s', 3)}, C = 1\n{told}", (at, 0.98), xycoords=("data", "axes fraction"),
        xytext=(-6, 0), textcoords="offset points", ha="right", va="top", fontsize=9, fontweight="bold",
        bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none", "alpha": 0.85}, zorder=5,
    )  # fmt: skip


def _heads_told(heads: Mapping[str, float | None], shown: Units) -> list[str]:
    return [
        f"{name}: {'more than the curve gives' if head is None else shown.say(head, 'mm', 3)}"
        for name, head in heads.items()
    ]


def _design_words(peak: float, heads: Mapping[str, float | None], shown: Units, allowed: float | None) -> str:
    limit = "" if allowed is None else f", {shown.say(allowed, 'mm', 3)} allowed"
    said = ", ".join(_heads_told(heads, shown))
    return f"Design peak of {shown.say(peak, 'L/s', 3)}, C = 1, no credit for storage: {said}{limit}"


def _checked(levels_mm: Any, flows: Any) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    levels = np.asarray(levels_mm, dtype=float)
    curves = (
        {str(name): np.asarray(one, dtype=float) for name, one in flows.items()}
        if isinstance(flows, Mapping)
        else {"outlets": np.asarray(flows, dtype=float)}
    )
    if levels.ndim != 1 or levels.size < 2 or (np.diff(levels) <= 0).any() or levels[0] < 0:
        raise RunoffError("outlet_rating_figure: levels_mm must be two or more depths, rising from 0 or above")
    if not 1 <= len(curves) <= len(_DASHES):
        raise RunoffError(f"outlet_rating_figure: one to {len(_DASHES)} curves can be told apart (given {len(curves)})")
    for name, passed in curves.items():
        if passed.shape != levels.shape:
            raise RunoffError(f"outlet_rating_figure: {name} has {passed.size} flows for {levels.size} levels")
        if not (passed >= 0).all():
            raise RunoffError(f"outlet_rating_figure: {name} holds a negative or missing flow")
    return levels, curves


def _read_level(levels: np.ndarray, flow: np.ndarray, peak: float | None) -> float | None:
    """Return the depth at which the curve passes the peak; None when it never does."""
    if peak is None or peak > flow.max():
        return None
    return float(np.interp(peak, np.maximum.accumulate(flow), levels))


def _levels(axes: Any, lines: dict[str, float], shown: Units) -> None:
    for words, value in lines.items():
        height = float(shown.show(float(value), "mm"))
        strong = words == "allowed depth"
        axes.axhline(height, color=VERMILION if strong else SOFT, ls="-." if strong else (0, (2, 3)), lw=1.3)
        axes.annotate(
            f"{words}: {shown.say(value, 'mm')}", (0.01, height), xycoords=("axes fraction", "data"), xytext=(0, 2),
            textcoords="offset points", va="bottom", fontsize=9,
        )  # fmt: skip


def _peak(axes: Any, peak: float, level: float | None, highest: float, shown: Units) -> None:
    flow = float(shown.show(float(peak), "L/s"))
    height = float(shown.show(highest if level is None else level, "mm"))
    words = f"routed storm: {shown.say(peak, 'L/s', 3)}"
    words += ",\nmore than the curve gives" if level is None else f"\nat {shown.say(level, 'mm', 3)} of water"
    corner = ([flow, flow], [0.0, height]) if level is None else ([flow, flow, 0.0], [0.0, height, height])
    axes.plot(*corner, color=INK, lw=0.8, ls=":")
    axes.plot(flow, height, marker="X" if level is None else "o", ms=9, mfc=VERMILION, mec=INK, zorder=4)
    axes.set_xlim(0.0, max(axes.get_xlim()[1], 1.5 * flow))
    axes.set_ylim(0.0, max(axes.get_ylim()[1], 1.1 * height))
    axes.annotate(
        words, (flow, height), xytext=(12, -8), textcoords="offset points", va="top", fontweight="bold", fontsize=9.5,
        bbox={"boxstyle": "round,pad=0.2", "fc": "white", "ec": "none", "alpha": 0.85},
    )  # fmt: skip


def _sentence(
    name: str, levels: np.ndarray, flow: np.ndarray, peak: float | None, level: float | None, allowed: float | None,
    shown: Units,
) -> str:  # fmt: skip
    text = (
        f"Curve of {name}: {shown.say(float(flow[-1]), 'L/s', 3)} at {shown.say(float(levels[-1]), 'mm', 3)} of water"
    )
    if peak is not None:
        text += f"; the storm's peak of {shown.say(peak, 'L/s', 3)} "
        text += "is more than the curve gives" if level is None else f"needs {shown.say(level, 'mm', 3)}"
        if allowed is not None and level is not None:
            text += f", {'within' if level <= allowed else 'more than'} the {shown.say(allowed, 'mm', 3)} allowed"
    return f"{text}; {CAUTION[0].lower()}{CAUTION[1:]}"


def chosen_outlet_figure(table: xr.Dataset, *, units: str = "si") -> DescribedFigure:
    """Draw the rating curve of the outlets that were chosen, open and with some lost, with design peak and routed storm on it.

    Parameters
    ----------
    table
        What `runoff.size_outlets` returned, with a candidate chosen.
    units
        ``"si"`` or ``"us"``.

    Raises
    ------
    SizingError
        When none was chosen.
    """
    outlet, lost = chosen_outlet(table), int(table.attrs["lost"])
    allowable, depth = float(table.attrs["allowable_depth_mm"]), float(table["depth"][int(table["chosen"])])
    design, head = float(table["rational_flow"]), float(table["rational_head"][int(table["chosen"])])
    worst = float(table["rational_head_some_lost"][int(table["chosen"])]) if lost else head
    deepest = max(allowable, depth, worst if np.isfinite(worst) else head)
    levels = np.linspace(0.0, 1.2 * deepest, 121)
    laws = outlet_laws([outlet])
    turning = laws[0].turning_head_mm
    near = abs(turning - allowable) < 0.1 * levels[-1]  # two lines of words would overlap
    open_share = 1.0 - float(table.attrs.get("blocked_fraction", 0.0))
    curves = {f"{outlet.count} outlets open": flow(levels, laws) * open_share}
    if lost:
        curves[f"{lost} lost"] = flow(levels, laws[lost:]) * open_share
    figure: DescribedFigure = outlet_rating_figure(
        levels,
        curves,
        peak_l_per_s=float(flow(depth, laws)) * open_share,
        peak_level_mm=depth,
        design_peak_l_per_s=design,
        turning_level_mm=turning if turning < levels[-1] and not near else None,
        allowable_level_mm=allowable,
        units=units,
    )
    return figure
