"""What the readings of a tray say beside the fitted values: what they cannot tell, and what speaks against using them."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd

from runoff.calibration.runs import runs_of
from runoff.calibration.tray_events import Explanation
from runoff.calibration.tray_fit import TrayFit

#: A range wider than this share of its value says little (own proposal).
_WIDE = 0.5
#: Below this share of usable water given up, the wilting point is an extrapolation (own proposal).
_DRIED = 0.7
#: Differences that keep their sign matter from this size on, mm (own proposal).
_NOTICED_MM = 0.3
#: Days without a reading in a row that are named.
_GAP_DAYS = 4
#: Errors of neighbouring days more alike than this are named.
_ALIKE = 0.3


def advice_of(fit: TrayFit) -> tuple[str, ...]:
    """Return what a test tells and what not, one sentence or two per finding."""
    said = []
    for name, row in fit.table.iterrows():
        words = str(name).replace("_", " ")
        if row["status"].startswith("at its"):
            said.append(
                f"The {words} lies {row['status']} ({row['value']:.3g}): the readings do not fix it. Let the tray dry longer, or "
                "give the value from another test."
            )
        elif row["high"] - row["low"] > _WIDE * row["value"]:
            said.append(
                f"The {words} is known only between {row['low']:.3g} and {row['high']:.3g}: let the tray dry longer, or give "
                "the value from another test."
            )
    read = fit.water["read"]
    share = float(read.max() - read.min()) / fit.usable_water_mm
    if share < _DRIED:
        said.append(
            f"The tray gave up {100 * share:.0f} % of its usable water. The wilting point is an extrapolation until about "
            f"{100 * _DRIED:.0f} % is gone."
        )
    said += _of_gaps(read)
    if fit.error_next_day > _ALIKE:
        said.append(
            f"The errors of neighbouring days hang together (correlation about {fit.error_next_day:.1f}), as a drifting scale or "
            "a windy place make them: the ranges are widened for it."
        )
    if fit.kg_per_mm:
        shift = 0.1 / (fit.kg_per_mm * fit.depth_mm)
        said.append(
            f"An empty mass wrong by 100 g moves field capacity and wilting point by {shift:.3f}, both the same way; usable "
            "water and crop coefficient do not feel it."
        )
    said.append(
        "The ranges take rain, watering and reference evapotranspiration as true: 10 % more of the last makes the crop "
        "coefficient 10 % smaller."
    )
    said.append("A tray tells about its medium and plants, not about boards, mats or outlets.")
    return tuple(said)


def doubts_of(fit: TrayFit, explanation: Explanation) -> tuple[str, ...]:
    """Return what speaks against using the values.

    Parameters
    ----------
    fit
        The result, without its words.
    explanation
        What explains its readings best.
    """
    said = [_jump_words(fit, at, size) for at, size in explanation.jumps]
    said += [_slip_words(fit, at, size) for at, size in explanation.slips]
    if explanation.steady_share:
        said.append(
            f"The tray dries in two stages: at a steady rate until about {100 * explanation.steady_share:.0f} % of the usable "
            f"water is gone, then ever slower. With a depletion fraction of {explanation.steady_share:.2f} readings and model "
            f"differ by {fit.amount_words(explanation.rmse_mm)} instead of {fit.amount_words(fit.rmse_mm)}; fit it too."
        )
    runs = runs_of(fit.left.to_numpy())
    if runs.too_few and explanation.is_plain and fit.rmse_mm > _NOTICED_MM:
        said.append(
            f"Readings and model differ the same way for many days on end ({runs.words}): the scale drifts, or the tray does not "
            "dry as the model has it. Weigh something of known mass beside it, and check the reference evapotranspiration."
        )
    return tuple(said)


def _of_gaps(read: pd.Series) -> list[str]:
    """Name spans without a reading."""
    said = []
    days = np.flatnonzero(read.notna().to_numpy())
    for before, after in itertools.pairwise(days):
        if after - before - 1 >= _GAP_DAYS:
            said.append(
                f"No reading from {_day(read.index[before + 1])} to {_day(read.index[after - 1])}: the model ran on through "
                "these days, nothing shows whether the tray did."
            )
    return said


def _slip_words(fit: TrayFit, at: int, size: float) -> str:
    side = "above" if size > 0 else "below"
    return (
        f"The reading of {_day(fit.water.index[at])} stands {fit.amount_words(size)} {side} its neighbours: a slip of the pen or "
        "of the scale? Mend or empty it."
    )


def _jump_words(fit: TrayFit, at: int, size: float) -> str:
    day, amount = _day(fit.water.index[at]), fit.amount_words(size)
    read = np.flatnonzero(fit.water["read"].notna().to_numpy())
    before = int(read[np.searchsorted(read, at) - 1])
    if before == read[0] and size < 0:
        return (
            f"Up to {day} the tray lost {amount} more than it can have given off: it was still draining. Leave the first reading "
            f"out, start the log with {day}."
        )
    if size < 0:
        return (
            f"Up to {day} the tray lost {amount} more than it can have given off: a spill, medium or plants taken out, or the scale "
            f"was set anew. Use the days before {day} alone, or those after it with a new empty mass."
        )
    if (fit.water["given"].iloc[before:at] > 0).any():
        return (
            f"Up to {day} the tray gained {amount} more than its medium holds of what was given: still draining when it was weighed, "
            "or the amount is not what was written. Weigh a day later, or mend the amount."
        )
    return (
        f"Up to {day} the tray gained {amount} though nothing was given: watering or rain that is not in the log, or the scale "
        f"was set anew. Add what was given, or use the days before {day} alone."
    )


def _day(stamp: object) -> str:
    return f"{stamp:%Y-%m-%d}" if isinstance(stamp, pd.Timestamp) else f"day {stamp}"
