"""What a tray test found: values with their ranges, what it can tell and what not, and a roof that has the values."""

from __future__ import annotations

import dataclasses
import itertools
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.calibration.sign_runs import runs_of
from runoff.calibration.tray_events import Explanation
from runoff.roof.fitted_range import FittedRange
from runoff.saying.numbers import fixed, number
from runoff.saying.scales import Units
from runoff.saying.tables import Table

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof import Roof

_WORDS = {
    "wilting_point": "wilting point",
    "field_capacity": "field capacity",
    "crop_coefficient": "crop coefficient",
    "depletion_fraction": "depletion fraction",
}
_HOMES = {
    "field_capacity": "medium.field_capacity",
    "wilting_point": "medium.wilting_point",
    "crop_coefficient": "planting.crop_coefficient",
    "depletion_fraction": "planting.depletion_fraction",
}
#: As they are written into a roof file.
_DECIMALS = 4
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


@dataclasses.dataclass(frozen=True, kw_only=True)
class TrayFit:
    """What a tray test tells about its medium.

    Parameters
    ----------
    field_capacity, wilting_point
        Water by volume, fractions.
    crop_coefficient
        Evapotranspiration of the tray at field capacity over the reference.
    depletion_fraction
        Share of the usable water that is given up without stress.
    usable_water_mm
        Field capacity less wilting point, over the depth of the tray.
    depth_mm
        Depth of the medium in the tray.
    kg_per_mm
        Mass of a millimetre of water on the tray, kg; 0 where the readings were depths.
    table
        One row per quantity: ``value``, ``low``, ``high`` (5-95 % range; missing where held or on a bound), ``status``
        (``fitted``, ``held``, ``at its low bound``, ``at its high bound``).
    water
        Per day, mm: ``read`` and ``modelled`` water of the tray; ``low`` and ``high``, between which nine readings of ten
        should lie; ``given`` (rain and watering) and ``reference_et``.
    rmse_mm
        Root mean square difference of readings and model, mm.
    readings, missing_readings
        Days with and without a reading.
    reading_error_mm, error_next_day
        Standard deviation of one reading, mm, and correlation of the errors of two readings a day apart.
    explanation
        What explains the readings best, beside drying as the model has it.
    name
        Name of the log.
    is_invented
        Whether the log says that it was invented.
    """

    field_capacity: float
    wilting_point: float
    crop_coefficient: float
    depletion_fraction: float
    usable_water_mm: float
    depth_mm: float
    kg_per_mm: float
    table: pd.DataFrame
    water: pd.DataFrame
    rmse_mm: float
    readings: int
    missing_readings: int
    reading_error_mm: float
    error_next_day: float
    explanation: Explanation
    name: str = ""
    is_invented: bool = False

    @property
    def left(self) -> pd.Series:
        """Readings less model, mm, on the days with a reading."""
        return (self.water["read"] - self.water["modelled"]).dropna()

    @property
    def advice(self) -> tuple[str, ...]:
        """What the test tells and what not, one sentence or two per finding."""
        return advice_of(self)

    @property
    def doubts(self) -> tuple[str, ...]:
        """What speaks against using the values, in words; empty for a sound test."""
        return doubts_of(self)

    def applied_to(self, roof: Roof) -> Roof:
        """Return a roof whose medium and planting have the values of the tray, and their ranges.

        A medium with a release curve keeps it, read from the depth of the tray to its own.
        """
        medium: Any = roof.build_up.medium
        changes: dict[str, Any] = {_HOMES[name]: round(float(getattr(self, name)), _DECIMALS) for name in _HOMES}
        if medium.release_alpha_per_mm is not None:
            changes |= {
                "medium.field_capacity_depth_mm": self.depth_mm,
                "medium.release_alpha_per_mm": medium.release_alpha_per_mm,
                "medium.release_n": medium.release_n,
            }
        fitted = [
            FittedRange(
                property=_HOMES[str(name)], value=round(float(row["value"]), _DECIMALS),
                low=round(float(row["low"]), _DECIMALS), high=round(float(row["high"]), _DECIMALS), fitted_on=self.fitted_on,
            )
            for name, row in self.table.iterrows()
            if row["status"] == "fitted" and round(row["low"], _DECIMALS) < round(row["high"], _DECIMALS)
        ]  # fmt: skip
        return roof.replace(changes).with_fitted(fitted)

    @property
    def fitted_on(self) -> str:
        """What the values were fitted on, in words."""
        first, last = (_day(self.water.index[at]) for at in (0, -1))
        return f"{self.name or 'a tray'}, {first} to {last}, {self.readings} readings"

    def words_for(self, roof: Roof, units: str = "si") -> str:
        """Return what to mind where the medium of a roof is not as deep as the tray; empty where it is."""
        medium: Any = roof.build_up.medium
        if abs(medium.depth_mm - self.depth_mm) < 1.0:
            return ""
        say = Units(units).say
        words = (
            f"The tray is {say(self.depth_mm, 'mm', 3)} deep, the medium of the roof {say(medium.depth_mm, 'mm', 3)}: a shallow layer "
            "holds more for its depth than a deep one."
        )
        if medium.release_alpha_per_mm is None:
            return f"{words} The roof has no release curve to allow for it: weigh a tray as deep as the roof."
        return f"{words} The release curve of the roof's material allows for it."

    def shown(self, units: str = "si") -> Table:
        """Return values, doubts and advice as a table with sentences below.

        Parameters
        ----------
        units
            ``"si"`` or ``"us"``.
        """
        rows = []
        for name, row in self.table.iterrows():
            known = np.isfinite(row["low"]) and row["status"] == "fitted"
            reach = f"{fixed(row['low'], 3)} to {fixed(row['high'], 3)}" if known else row["status"]
            rows.append((_WORDS[str(name)], fixed(row["value"], 3), reach))
        depth = Units(units).say(self.depth_mm, "mm", 3)
        rows.append(("plant-available water", Units(units).say(self.usable_water_mm, "mm", 3), f"in {depth} of medium"))
        difference = (
            f"{self.readings} readings, {self.missing_readings} days without one; readings and model differ by "
            f"{_amount(self, self.rmse_mm, units)} (root mean square)."
        )
        doubts = [f"Doubt: {said}" for said in doubts_of(self, units)]
        return Table(
            head=("", "fitted", "5 to 95 %"), rows=rows, align="<><", title="What the tray tells",
            notes=[difference, *doubts, *advice_of(self, units)],
        )  # fmt: skip

    def text(self, units: str = "si") -> str:
        """Return values, doubts and advice as a person reads them."""
        shown = self.shown(units)
        return "\n".join([shown.text(), "", shown.notes[0], "", *(f"- {said}" for said in shown.notes[1:])])

    def _repr_html_(self) -> str:
        return self.shown().html()


def advice_of(fit: TrayFit, units: str = "si") -> tuple[str, ...]:
    """Return what a test tells and what not, in a unit system."""
    said = []
    for name, row in fit.table.iterrows():
        words = _WORDS[str(name)]
        if row["status"] == "fitted" and row["high"] - row["low"] > _WIDE * row["value"]:
            said.append(
                f"The {words} is known only between {number(row['low'])} and {number(row['high'])}: let the tray dry longer, or "
                "give the value from another test."
            )
    read = fit.water["read"]
    share = float(read.max() - read.min()) / fit.usable_water_mm
    if share < _DRIED:
        said.append(
            f"The tray gave up {100 * share:.0f} % of its plant-available water. The wilting point is an extrapolation until about "
            f"{100 * _DRIED:.0f} % is gone."
        )
    said += _of_gaps(read)
    if fit.error_next_day > _ALIKE:
        said.append(
            f"The errors of neighbouring days are correlated (by about {fit.error_next_day:.1f}), as a drifting scale or "
            "a windy place make them: the ranges are widened for it."
        )
    if fit.kg_per_mm:
        shift = 0.1 / (fit.kg_per_mm * fit.depth_mm)
        mass = Units(units).say(0.1, "kg") if units == "us" else "100 g"
        said.append(
            f"An empty mass wrong by {mass} moves field capacity and wilting point by {shift:.3f}, both the same way; "
            "plant-available water and crop coefficient are not affected."
        )
    said.append(
        "The ranges take rain, watering and reference evapotranspiration as true: 10 % more of the last makes the crop "
        "coefficient 10 % smaller."
    )
    said.append("A tray tells about its medium and plants, not about boards, mats or outlets.")
    return tuple(said)


def doubts_of(fit: TrayFit, units: str = "si") -> tuple[str, ...]:
    """Return what speaks against using the values, in a unit system."""
    found = fit.explanation
    said = [_jump_words(fit, at, size, units) for at, size in found.jumps]
    said += [_slip_words(fit, at, size, units) for at, size in found.slips]
    if found.steady_share:
        said.append(
            f"The tray dries in two stages: at a steady rate until about {100 * found.steady_share:.0f} % of the plant-available water is "
            f"gone, then ever slower. With a depletion fraction of {found.steady_share:.2f} readings and model differ by "
            f"{_amount(fit, found.rmse_mm, units)} instead of {_amount(fit, fit.rmse_mm, units)}; fit it too."
        )
    said += [
        f"The {_WORDS[str(name)]} lies {row['status']} ({number(row['value'])}): the readings do not fix it. Check area and empty "
        "mass, let the tray dry longer, or give the value from another test."
        for name, row in fit.table.iterrows()
        if row["status"].startswith("at its")
    ]
    runs = runs_of(fit.left.to_numpy())
    if runs.too_few and found.is_plain and fit.rmse_mm > _NOTICED_MM:
        said.append(
            f"Readings and model differ the same way for many days in a row ({runs.words}): the scale drifts, or the tray does not "
            "dry as the model has it. Weigh something of known mass beside it, and check the reference evapotranspiration."
        )
    return tuple(said)


def _of_gaps(read: pd.Series) -> list[str]:
    """Name spans without a reading."""
    said = []
    days = np.flatnonzero(read.notna().to_numpy())
    for before, after in itertools.pairwise(days.tolist()):
        if after - before - 1 >= _GAP_DAYS:
            said.append(
                f"No reading from {_day(read.index[before + 1])} to {_day(read.index[after - 1])}: the model ran on through "
                "these days, nothing shows whether the tray did."
            )
    return said


def _slip_words(fit: TrayFit, at: int, size: float, units: str) -> str:
    side = "above" if size > 0 else "below"
    return (
        f"The reading of {_day(fit.water.index[at])} stands {_amount(fit, size, units)} {side} its neighbours: a slip in writing "
        "or of the scale? Correct or empty it."
    )


def _jump_words(fit: TrayFit, at: int, size: float, units: str) -> str:
    day, amount = _day(fit.water.index[at]), _amount(fit, size, units)
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
            "or the amount is not what was written. Weigh a day later, or correct the amount."
        )
    return (
        f"Up to {day} the tray gained {amount} though nothing was given: watering or rain that is not in the log, or the scale "
        f"was set anew. Add what was given, or use the days before {day} alone."
    )


def _amount(fit: TrayFit, depth_mm: float, units: str) -> str:
    """Return a depth on the tray as a person reads it, and its mass where the tray was weighed."""
    words = Units(units).say(abs(depth_mm), "mm")
    mass = abs(depth_mm) * fit.kg_per_mm
    if not mass:
        return words
    return f"{words} ({f'{number(1000.0 * mass)} g' if units == 'si' else Units(units).say(mass, 'kg')})"


def _day(stamp: object) -> str:
    return f"{stamp:%Y-%m-%d}" if hasattr(stamp, "strftime") else f"day {stamp}"
