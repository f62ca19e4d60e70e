"""What a tray test found: the values with their ranges, what it can tell and what not, and a roof that has them."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof import Roof

_WORDS = {
    "wilting_point": "wilting point",
    "field_capacity": "field capacity",
    "crop_coefficient": "crop coefficient",
    "depletion_fraction": "depletion fraction",
}


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
        Per day: ``read`` and ``modelled`` water of the tray, ``given`` (rain and watering) and ``reference_et``, mm.
    rmse_mm
        Root mean square difference of readings and model, mm.
    readings, missing_readings
        Days with and without a reading.
    reading_error_mm, error_next_day
        Standard deviation of one reading, mm, and correlation of the errors of two readings a day apart.
    advice
        What the test does and does not tell, in words.
    doubts
        What speaks against using the values, in words; empty for a sound test.
    name
        Name of the log.
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
    advice: tuple[str, ...]
    doubts: tuple[str, ...]
    name: str = ""

    @property
    def left(self) -> pd.Series:
        """Readings less model, mm, on the days with a reading."""
        return (self.water["read"] - self.water["modelled"]).dropna()

    def amount_words(self, depth_mm: float) -> str:
        """Return a depth on the tray as a person reads it: mm, and the mass where the tray was weighed."""
        words = f"{abs(depth_mm):.1f} mm"
        return f"{words} ({1000.0 * abs(depth_mm) * self.kg_per_mm:.0f} g)" if self.kg_per_mm else words

    def applied_to(self, roof: Roof) -> Roof:
        """Return a roof whose medium and planting have the values of the tray."""
        return roof.replace(
            {
                "medium.field_capacity": self.field_capacity,
                "medium.wilting_point": self.wilting_point,
                "planting.crop_coefficient": self.crop_coefficient,
                "planting.depletion_fraction": self.depletion_fraction,
            }
        )

    def text(self) -> str:
        """Return values, doubts and advice as a person reads them."""
        width = max(len(words) for words in _WORDS.values()) + 2
        lines = [f"{'':<{width}}{'fitted':>8}   5 to 95 %"]
        for name, row in self.table.iterrows():
            known = np.isfinite(row["low"]) and row["status"] == "fitted"
            reach = f"{row['low']:.3f} to {row['high']:.3f}" if known else row["status"]
            lines.append(f"{_WORDS[str(name)]:<{width}}{row['value']:>8.3f}   {reach}")
        lines.append(f"{'usable water':<{width}}{self.usable_water_mm:>8.1f}   mm in {self.depth_mm:g} mm of medium")
        lines.append("")
        lines.append(
            f"{self.readings} readings, {self.missing_readings} days without one; readings and model differ by "
            f"{self.amount_words(self.rmse_mm)} (root mean square)"
        )
        if self.doubts:
            lines += ["", "Doubts", *(f"- {said}" for said in self.doubts)]
        return "\n".join([*lines, "", *(f"- {said}" for said in self.advice)])
