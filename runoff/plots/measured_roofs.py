"""Measured roofs against ours: the picture a sceptic asks for first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RunoffError
from runoff.plots.style import BLUE, GREEN, INK, ORANGE, SOFT, DescribedFigure, new_figure, styled

if TYPE_CHECKING:
    from runoff.sizing.measured_against import JudgedRoof

# season -> mark and colour; told apart by the mark as well
_SEASONS = {"year": ("o", BLUE), "April to September": ("^", ORANGE), "October to March": ("s", GREEN)}

_APART = 2.2  # points between roofs measured alike


@styled
def measured_roofs_figure(
    roofs: Sequence[JudgedRoof] | None = None, *, expected: float | None = None
) -> DescribedFigure:
    """Draw what measured roofs kept against what the model makes of them, with ranges and the 1:1 line.

    Parameters
    ----------
    roofs
        Comparisons as `runoff.sizing.measured_against.all_comparisons` returns them, which is the default. Rows that
        stand beside are drawn where they are a season.
    expected
        Retention that is expected of a roof nobody has measured, 0-1: a line across, to see it among the measured ones.

    Returns
    -------
    DescribedFigure
        One mark a roof and season. Bars: 5 to 95 %, the error of the model formed without the roof's own site.

    Raises
    ------
    RunoffError
        Without any roof.
    """
    from runoff.sizing.measured_against import all_comparisons

    given = all_comparisons() if roofs is None else roofs
    shown = [one for one in given if one.counts or _season(one) != "year"]
    if not shown:
        raise RunoffError("measured_roofs_figure: no comparisons given; leave `roofs` out for those of the package")
    shown = sorted(shown, key=lambda one: (list(_SEASONS).index(_season(one)), one.measured, one.roof))
    figure = new_figure(5.2)
    axes, key = figure.subplots(1, 2, width_ratios=(1.2, 1.0))
    axes.plot([0, 100], [0, 100], color=SOFT, linestyle="--", linewidth=1.0)
    axes.annotate("as measured", (4, 4), xytext=(2, -9), textcoords="offset points", rotation=45,
                  rotation_mode="anchor", fontsize=8, color=SOFT)  # fmt: skip
    if expected is not None:
        axes.axhline(
            100.0 * expected, color=INK, linestyle=":", linewidth=1.2, label=f"expected of this roof: {100.0 * expected:.0f} %"
        )  # fmt: skip
    for season, (mark, color) in _SEASONS.items():
        some = [one for one in shown if _season(one) == season]
        if some:
            _draw_marks(axes, some, mark, color, _label(season))
    for number, one in enumerate(shown, 1):
        at = (_moved(shown, number - 1), one.high)
        axes.annotate(str(number), at, xytext=(0, 2), textcoords="offset points", ha="center", fontsize=8.5)
    axes.set(
        xlim=(0, 100), ylim=(0, 105), xlabel="measured retention, %", ylabel="modelled retention, %", aspect="equal"
    )
    axes.grid(True)
    # outside the axes: a mark of the legend among the roofs is taken for a roof
    figure.legend(loc="outside lower left", ncols=3 if expected is None else 2)
    axes.set_title("Retention: measured and modelled roofs")
    _list(key, shown)
    figure.description = _sentence([one for one in shown if one.counts], shown)
    if expected is not None:
        figure.description += f" The dotted line: {100.0 * expected:.0f} %, expected of this roof."
    return figure


def _season(one: JudgedRoof) -> str:
    return next((season for season in _SEASONS if season in one.quantity), "year")


def _label(season: str) -> str:
    return "whole years or events" if season == "year" else season


def _moved(shown: Sequence[JudgedRoof], place: int) -> float:
    """Return where a mark stands: roofs measured alike are set apart, so that their bars can be seen."""
    alike = [i for i, one in enumerate(shown) if one.measured == shown[place].measured]
    return shown[place].measured + _APART * (alike.index(place) - (len(alike) - 1) / 2.0)


def _draw_marks(axes: Any, some: Sequence[JudgedRoof], mark: str, color: str, label: str) -> None:
    x = [_moved(some, i) for i in range(len(some))]
    ours = np.array([one.ours for one in some])
    bars = np.abs(np.array([[one.low for one in some], [one.high for one in some]]) - ours)
    axes.errorbar(
        x, ours, yerr=bars, fmt=mark, color=color, markersize=6, markeredgecolor=INK, markeredgewidth=0.6, elinewidth=1.4,
        label=label,
    )  # fmt: skip


def _list(key: Any, shown: Sequence[JudgedRoof]) -> None:
    key.set_axis_off()
    lines = ["      roof: measured, modelled (5-95 %)"]
    for number, one in enumerate(shown, 1):
        season = (
            ""
            if _season(one) == "year"
            else f", {_season(one).replace('April to September', 'Apr-Sep').replace('October to March', 'Oct-Mar')}"
        )
        mark = "" if one.inside else "  outside"
        lines.append(
            f"{number:>2}  {one.roof}{season}: {one.measured:.0f}, {one.ours:.0f} ({one.low:.0f}-{one.high:.0f}){mark}"
        )
    key.text(0.0, 1.0, "\n".join(lines), transform=key.transAxes, va="top", fontsize=8.0, linespacing=1.6)


def _sentence(counting: Sequence[JudgedRoof], shown: Sequence[JudgedRoof]) -> str:
    from runoff.sizing.measured_against import ModelError

    error = ModelError.of(counting)
    inside = sum(one.inside for one in counting)
    told = f"{inside} of {len(counting)} measured roofs lie inside the 5 to 95 % range formed without their own site"
    outside = [f"{one.roof} ({one.measured:.0f} %, modelled {one.ours:.0f})" for one in counting if not one.inside]
    if outside:
        told += f"; outside: {', '.join(outside)}"
    if error is not None:
        low = "less" if error.mean < 0 else "more"
        told += f". On average the model keeps {abs(100 * error.mean):.1f} points {low} of the rain than measured"
    warm = [one for one in shown if _season(one) == "April to September"]
    if warm:
        told += f"; in the warm half of the year it is off by {', '.join(f'{one.difference:+.1f} points ({one.site})' for one in warm)}"
    return f"{told}."
