"""Invented trays on the scales in the invented town of Ostrey, with known hidden values.

Nothing here was measured. The water of a tray follows the lines of the method, written out below once more and not taken from
the fit; the scale errs, days are left out, and on request something goes wrong. ``python -m runoff.calibration.invented_weighings
FOLDER`` writes the sample log again, byte for byte.
"""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from runoff.weather import open_sample

#: The log of the invented tray, beside the other sample files.
TRAY_FILE = "ostrey_tray_log.csv"
SEED = 411


@dataclasses.dataclass(frozen=True, kw_only=True)
class InventedTray:
    """A tray, its hidden values and its weighings.

    Parameters
    ----------
    hidden
        ``wilting_point``, ``field_capacity``, ``crop_coefficient``, ``depletion_fraction``.
    depth_mm, area_m2, empty_kg
        The tray.
    days
        Per day: ``weight_kg`` (missing where it was not weighed), ``rain_mm`` (watering) and ``reference_et`` (mm).
    """

    hidden: dict[str, float]
    depth_mm: float
    area_m2: float
    empty_kg: float
    days: pd.DataFrame


def invented_tray(
    reference_et: np.ndarray,
    *,
    hidden: dict[str, float],
    depth_mm: float = 80.0,
    area_m2: float = 0.25,
    empty_kg: float = 21.4,
    watering: dict[int, float] | None = None,
    error_g: float = 20.0,
    together: float = 0.0,
    left_out: float = 0.1,
    start: str = "2014-05-05",
    seed: int = SEED,
) -> InventedTray:
    """Return an invented tray that was soaked and drained before the first day.

    Parameters
    ----------
    reference_et
        Reference evapotranspiration of each day, mm.
    hidden
        Its true values; a depletion fraction that is not named is 0.
    depth_mm, area_m2, empty_kg
        The tray.
    watering
        What is given after the weighing, mm by number of the day.
    error_g
        Standard deviation of a weighing, g.
    together
        Correlation of the errors of neighbouring days, 0 to 1.
    left_out
        Share of the days without a weighing.
    start
        First day.
    seed
        Seed of errors and days left out.

    Returns
    -------
    InventedTray
        Its true values, and the log of its days: mass, kg, watering and reference evapotranspiration, mm.
    """
    hidden = {"depletion_fraction": 0.0, **hidden}
    wilting, field = hidden["wilting_point"] * depth_mm, hidden["field_capacity"] * depth_mm
    given = np.zeros(reference_et.size)
    for day, depth in (watering or {}).items():
        given[day] = depth
    water, held = np.empty(reference_et.size), field
    for day in range(reference_et.size):
        water[day] = held  # weighed in the morning, then watered; what is above field capacity drains
        held = min(held + given[day], field)
        ease = (held - wilting) / ((1.0 - hidden["depletion_fraction"]) * (field - wilting))
        held -= hidden["crop_coefficient"] * reference_et[day] * min(1.0, max(0.0, ease))
    rng = np.random.default_rng(seed)
    mass = empty_kg + area_m2 * water + error_g / 1000.0 * _errors_of_weighing(rng, water.size, together)
    skipped = rng.random(water.size) < left_out
    skipped[0] = skipped[-1] = False
    days = pd.DataFrame(
        {"weight_kg": np.where(skipped, np.nan, mass), "rain_mm": given, "reference_et": reference_et},
        index=pd.date_range(start, periods=water.size, name="time"),
    )
    return InventedTray(hidden=hidden, depth_mm=depth_mm, area_m2=area_m2, empty_kg=empty_kg, days=days)


def _errors_of_weighing(rng: np.random.Generator, count: int, together: float) -> np.ndarray:
    """Return errors of standard deviation 1; the correlation of neighbours is `together` and fades by it a day."""
    # a sum of twelve uniform numbers less six: near enough normal, and the same on every machine
    fresh = rng.random((count, 12)).sum(axis=1) - 6.0
    errors = fresh.copy()
    for day in range(1, count):
        errors[day] = together * errors[day - 1] + np.sqrt(1.0 - together**2) * fresh[day]
    return errors


def sample_tray() -> InventedTray:
    """Return the invented tray of the sample log: roofed, watered once, two days lost in a row and some more."""
    span = slice("2014-05-05", "2014-07-08")
    reference_et = open_sample()["reference_et"].sel(time=span).to_numpy().round(1)
    return invented_tray(
        reference_et,
        hidden={"wilting_point": 0.07, "field_capacity": 0.36, "crop_coefficient": 0.8},
        watering={34: 40.0},
        error_g=20.0,
        together=0.4,
    )


def tray_log_text() -> str:
    """Return the sample log as text."""
    tray = sample_tray()
    hidden = ", ".join(f"{name.replace('_', ' ')} {value:g}" for name, value in tray.hidden.items() if value)
    lines = [
        "# INVENTED for demonstration: the town of Ostrey does not exist and nothing here was measured.",
        f"# Made by: python -m runoff.calibration.invented_weighings (seed {SEED}); hidden values: {hidden}.",
        f"tray area: {tray.area_m2:g} m2",
        f"empty mass: {tray.empty_kg:.2f} kg",
        "empty mass error: 0.20 kg",
        f"medium depth: {tray.depth_mm:g} mm",
        "start: drained",
        "cover: roofed",
        "weighed: morning",
        "date,mass_kg,watering_L,reference_et_mm,note",
    ]
    for day, row in tray.days.iterrows():
        mass = "" if np.isnan(row["weight_kg"]) else f"{row['weight_kg']:.2f}"
        watering = f"{row['rain_mm'] * tray.area_m2:g}" if row["rain_mm"] else ""
        note = "watered and drained over night" if watering else ""
        note = "soaked and drained over night" if day == tray.days.index[0] else note
        lines.append(f"{day:%Y-%m-%d},{mass},{watering},{row['reference_et']:.1f},{note}")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m runoff.calibration.invented_weighings FOLDER")
    path = Path(sys.argv[1]) / TRAY_FILE
    path.write_text(tray_log_text(), encoding="utf-8", newline="\n")
    print(path)
