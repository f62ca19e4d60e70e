"""A tray of planted medium that is weighed while it dries: what the medium holds and how fast it gives it up.

The tray is the medium store of the roof alone, run by the same daily step: what stands above field capacity has drained
by the next reading, evapotranspiration falls linearly with the water above the wilting point. Without rain, and with
the stress point at field capacity, the readings follow

    S_n - S_wp = (S_0 - S_wp) (1 - Kc E0 / (S_fc - S_wp))^n        for a steady E0

which is the published moisture-flux form (Poe, Stovin and Berretta 2015, Journal of Hydrology 523, 356-367).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.balance import column
from runoff.calibration.fitting import fit
from runoff.errors import RunoffError, raise_faults

if TYPE_CHECKING:
    import pandas as pd

    from runoff.roof import Roof

LEAST_READINGS = 5
#: Allowed values: a medium holds less than 0.75 of its volume, crop coefficients of sedum are published from 0.53 to 1.97
#: (Sherrard and Jacobs 2012; Rezaei, Jarrett, Berghage and Beattie 2005), with room on both sides.
_BOUNDS = {"wilting_point": (0.0, 0.30), "field_capacity": (0.05, 0.75), "crop_coefficient": (0.05, 2.5)}
_QUANTITIES = tuple(_BOUNDS)


@dataclasses.dataclass(frozen=True, kw_only=True)
class TrayFit:
    """What a tray test tells about its medium.

    Parameters
    ----------
    field_capacity, wilting_point
        Water by volume, fractions.
    crop_coefficient
        Evapotranspiration of the tray at field capacity over the reference.
    usable_water_mm
        Field capacity less wilting point, over the depth of the tray.
    table
        One row per quantity: ``value``, ``low``, ``high`` (95 % range; missing where held or on a bound), ``status``
        (``fitted``, ``held``, ``at its low bound``, ``at its high bound``).
    water
        Per day: ``read`` and ``modelled`` water of the tray, mm.
    rmse_mm
        Root mean square difference of readings and model, mm.
    readings, missing_readings
        Days with and without a reading.
    advice
        What the test does and does not tell, in words.
    """

    field_capacity: float
    wilting_point: float
    crop_coefficient: float
    usable_water_mm: float
    table: pd.DataFrame
    water: pd.DataFrame
    rmse_mm: float
    readings: int
    missing_readings: int
    advice: tuple[str, ...]

    def applied_to(self, roof: Roof) -> Roof:
        """Return a roof whose medium and planting have the values of the tray."""
        return roof.replace(
            {
                "medium.field_capacity": self.field_capacity,
                "medium.wilting_point": self.wilting_point,
                "planting.crop_coefficient": self.crop_coefficient,
            }
        )


def fit_tray(
    table: pd.DataFrame,
    depth_mm: float,
    *,
    area_m2: float | None = None,
    empty_kg: float | None = None,
    starts_drained: bool = True,
    depletion_fraction: float = 0.0,
    field_capacity: float | None = None,
    wilting_point: float | None = None,
    crop_coefficient: float | None = None,
) -> TrayFit:
    """Return field capacity, wilting point and crop coefficient of the medium in a drying tray.

    Parameters
    ----------
    table
        One row per day, in order, with ``water_mm`` (depth of water in the tray) or ``weight_kg``, read before the
        day's evaporation; a day without a reading is missing, never zero. ``reference_et`` (mm) of the day that follows
        the reading; optional ``rain_mm``, rain and watering of that day.
    depth_mm
        Depth of the medium in the tray, mm.
    area_m2, empty_kg
        Area of the tray, and its weight with oven-dry medium and plants; needed for ``weight_kg``. One kg on one m2 is 1 mm.
    starts_drained
        True when the tray was soaked and left to drain before the first reading, so that it begins at field capacity.
    depletion_fraction
        Share of the usable water that is given up without stress; 0 as in the published drying tests.
    field_capacity, wilting_point, crop_coefficient
        A value known from elsewhere is held and not fitted.

    Raises
    ------
    RunoffError
        When columns are missing, readings are too few, or the tray did not dry.
    """
    known = _readings(table, depth_mm, area_m2, empty_kg)
    held = {
        name: value
        for name, value in zip(_QUANTITIES, (wilting_point, field_capacity, crop_coefficient), strict=True)
        if value is not None
    }
    free = [name for name in _QUANTITIES if name not in held]
    first = int(np.flatnonzero(np.isfinite(known["read"]))[0])
    known = {name: values[first:] for name, values in known.items()}
    _refuse_hopeless(known, free, starts_drained)
    read = known["read"]
    seen = np.isfinite(read)

    def water(values: np.ndarray) -> np.ndarray:
        quantities = held | dict(zip(free, values, strict=False))
        begin = quantities["field_capacity"] * depth_mm if starts_drained else float(values[-1])
        return _water(quantities, begin, known, depth_mm, depletion_fraction)

    bounds = np.array([_BOUNDS[name] for name in free])
    driest, wettest = float(np.nanmin(read)), float(np.nanmax(read))
    if "wilting_point" in free:  # the tray came below it by no more than a balance errs
        at = free.index("wilting_point")
        bounds[at, 1] = min(bounds[at, 1], (driest + 0.1 * (wettest - driest)) / depth_mm)
    if "field_capacity" in free:
        at = free.index("field_capacity")
        bounds[at, 0] = max(bounds[at, 0], (driest + 0.2 * (wettest - driest)) / depth_mm)
    guess = np.array([_guess(name, read, depth_mm) for name in free])
    if not starts_drained:
        bounds = np.vstack([bounds, [[0.5 * read[0], 1.5 * read[0] + 1.0]]])
        guess = np.append(guess, read[0])
    found = fit(lambda values: (water(values) - read)[seen], bounds, guess, uneven=False)
    fitted = held | dict(zip(free, (float(value) for value in found.best), strict=False))
    return _described(table, fitted, free, found, water(found.best), known, depth_mm, first)


def _guess(name: str, read: np.ndarray, depth_mm: float) -> float:
    extremes = {"wilting_point": 0.5 * np.nanmin(read), "field_capacity": np.nanmax(read)}
    return float(extremes[name]) / depth_mm if name in extremes else 1.0


def _water(
    quantities: dict[str, float], begin: float, known: dict[str, np.ndarray], depth_mm: float, depletion: float
) -> np.ndarray:
    """Return the water of the tray at each reading, by the daily step of the roof with a medium alone."""
    wilting, field = quantities["wilting_point"] * depth_mm, quantities["field_capacity"] * depth_mm
    par = column.parameter_array(_bare_tray(wilting, max(field, wilting + 1e-6), depth_mm, quantities, depletion))[:, 0]
    steps = known["rain"].size
    out = np.empty((len(column.TRACE), steps))
    state = np.zeros(len(column.STORES))
    state[column.STORES.index("held_water")] = begin
    column.run_trace(known["rain"], known["reference_et"], None, par, state, out)
    after = out[column.TRACE.index("held_water")]
    return np.append(begin, after[:-1])  # a reading is taken before the day's evaporation


def _bare_tray(
    wilting: float, field: float, depth_mm: float, quantities: dict[str, float], depletion: float
) -> dict[str, Any]:
    """Return a medium alone as a column: nothing above or below it holds water, and what it passes is gone at once."""
    nothing = ("surface_capacity", "mulch_share", "cup_capacity", "mat_capacity", "cup_supply", "mat_supply",
               "bypass_fraction", "blocked_fraction")  # fmt: skip
    quick = ("soak_rate", "fleece_rate", "in_plane_flow", "outlet_rate")
    return {
        **dict.fromkeys(nothing, 0.0),
        **dict.fromkeys(quick, 1e6),
        "wilting_water": wilting,
        "field_water": field,
        "full_water": 1.000001 * max(depth_mm, field),
        "medium_depth": depth_mm,
        "board_height": 5.0,
        "board_capacity": 0.5,
        "fall": 0.02,
        "flow_length_m": 1.0,
        "sill_level": np.inf,
        "edge_level": depth_mm + 155.0,
        "in_plane_gradient": 0.02,
        "in_plane_exponent": 1.0,
        "area_m2": 1.0,
        "planted_fraction": 1.0,
        "crop_coefficient": quantities["crop_coefficient"],
        "depletion_fraction": depletion,
        "detention_k": 0.0115,
        "detention_n": 2.0,
    }


def _readings(
    table: pd.DataFrame, depth_mm: float, area_m2: float | None, empty_kg: float | None
) -> dict[str, np.ndarray]:
    """Return readings (mm), rain and reference evapotranspiration per day, or say all that is wrong with the table."""
    faults = []
    if not depth_mm > 0:
        faults.append(f"depth_mm must be more than 0 (given {depth_mm:g})")
    weighed = "water_mm" not in table
    if weighed and "weight_kg" not in table:
        faults.append(f"needs a column water_mm or weight_kg (given are {', '.join(map(str, table.columns))})")
    elif weighed and (area_m2 is None or empty_kg is None):
        faults.append("weight_kg needs area_m2 and empty_kg, the weight of the tray with oven-dry medium and plants")
    if "reference_et" not in table:
        faults.append("needs a column reference_et, mm of the day that follows each reading")
    elif table["reference_et"].iloc[:-1].isna().any():
        faults.append("reference_et is missing on some days; every day between two readings needs it")
    if "rain_mm" in table and table["rain_mm"].iloc[:-1].isna().any():
        faults.append("rain_mm is missing on some days; write 0 for a day that was dry for certain")
    faults += _faults_of_days(table)
    raise_faults("fit_tray", faults)
    if weighed:
        assert area_m2 is not None and empty_kg is not None, "checked above"
        read = (table["weight_kg"].to_numpy(dtype=float) - empty_kg) / area_m2
    else:
        read = table["water_mm"].to_numpy(dtype=float)
    seen = np.isfinite(read)
    if seen.sum() < LEAST_READINGS:
        raise RunoffError(
            f"fit_tray: {int(seen.sum())} readings are given, at least {LEAST_READINGS} are needed; weigh the tray on more days"
        )
    if (read[seen] < 0).any():
        raise RunoffError(
            f"fit_tray: the tray holds {np.nanmin(read):.1f} mm at its driest, which is less than nothing; check empty_kg and area_m2"
        )
    rain = table["rain_mm"].to_numpy(dtype=float) if "rain_mm" in table else np.zeros(read.size)
    return {
        "read": read,
        "rain": np.nan_to_num(rain),  # only the last day can be missing, and nothing is read after it
        "reference_et": np.nan_to_num(table["reference_et"].to_numpy(dtype=float)),
    }


def _faults_of_days(table: pd.DataFrame) -> list[str]:
    import pandas as pd

    if not isinstance(table.index, pd.DatetimeIndex) or len(table) < 2:
        return []
    steps = table.index[1:] - table.index[:-1]
    odd = [str(day.date()) for day, step in zip(table.index[1:], steps, strict=True) if step != pd.Timedelta("1D")]
    if not odd:
        return []
    return [f"rows must be one day apart; they are not before {', '.join(odd[:3])}; a day without a reading is missing"]


def _refuse_hopeless(known: dict[str, np.ndarray], free: Sequence[str], starts_drained: bool) -> None:
    read = known["read"]
    if not free:
        raise RunoffError("fit_tray: all three quantities are given, nothing is left to fit; leave one out")
    drying = np.nanmax(read) - np.nanmin(read)
    if not drying > 0.5:
        raise RunoffError(
            f"fit_tray: the tray lost only {drying:.2f} mm between its wettest and driest reading; "
            "let it dry for at least a week without rain"
        )
    if "field_capacity" in free and not starts_drained and not (known["rain"] > 0).any():
        raise RunoffError(
            "fit_tray: field capacity cannot be read from this test: the tray did not start drained and was never watered; "
            "soak it, let it drain and weigh it first, or give field_capacity"
        )


def _described(
    table: pd.DataFrame,
    fitted: dict[str, float],
    free: Sequence[str],
    found,
    modelled: np.ndarray,
    known: dict[str, np.ndarray],
    depth_mm: float,
    first: int,
) -> TrayFit:
    import pandas as pd

    rows, advice = {}, []
    for name in _QUANTITIES:
        row: dict[str, Any] = {"value": fitted[name], "low": np.nan, "high": np.nan, "status": "held"}
        if name in free:
            i = free.index(name)
            bound = found.on_bound[i]
            row |= {"low": float(found.low[i]), "high": float(found.high[i])}
            row["status"] = f"at its {bound} bound" if bound else "fitted"
            words = name.replace("_", " ")
            if bound:
                advice.append(
                    f"The {words} lies on its {bound} bound ({fitted[name]:.3g}): the readings do not fix it."
                )
            elif row["high"] - row["low"] > 0.5 * fitted[name]:
                advice.append(
                    f"The {words} is known only between {row['low']:.3g} and {row['high']:.3g}: let the tray dry longer, "
                    "or give the value from another test."
                )
        rows[name] = row
    read = known["read"]
    usable = (fitted["field_capacity"] - fitted["wilting_point"]) * depth_mm
    share = (np.nanmax(read) - np.nanmin(read)) / usable
    if share < 0.7:
        advice.append(
            f"The tray gave up {100 * share:.0f} % of its usable water. The wilting point is an extrapolation until about 70 % is gone."
        )
    advice.append("A tray tells about its medium and plants, not about boards, mats or outlets.")
    seen = np.isfinite(read)
    index = table.index[first:]
    return TrayFit(
        **fitted,
        usable_water_mm=usable,
        table=pd.DataFrame.from_dict(rows, orient="index"),
        water=pd.DataFrame({"read": read, "modelled": modelled}, index=index),
        rmse_mm=float(np.sqrt(np.mean((modelled - read)[seen] ** 2))),
        readings=int(seen.sum()),
        missing_readings=int(len(table) - seen.sum()),
        advice=tuple(advice),
    )
