"""A tray of planted medium that is weighed while it dries: what the medium holds and how fast it gives it up.

The tray is the medium store of the roof alone, run by the same daily step: what stands above field capacity has drained
by the next reading, evapotranspiration falls linearly with the water above the wilting point. Without rain, and with
the stress point at field capacity, the readings follow

    S_n - S_wp = (S_0 - S_wp) (1 - Kc E0 / (S_fc - S_wp))^n        for a steady E0

which is the published moisture-flux form (Poe, Stovin and Berretta 2015, Journal of Hydrology 523, 356-367).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.calibration.fitting import UPPER, Estimate
from runoff.calibration.tray_events import explanation_of
from runoff.calibration.tray_fit import TrayFit
from runoff.calibration.tray_log import TrayLog
from runoff.calibration.tray_model import BOUNDS, Readings, Tray
from runoff.draws import normal_quantile
from runoff.errors import RunoffError, raise_faults
from runoff.roof import GrowingMedium

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

LEAST_READINGS = 10
_USUAL_BYPASS = float(GrowingMedium.model_fields["bypass_fraction"].default)
#: A tray must dry for so many days on end, with less than so much water given a day (own proposal).
_DRY_DAYS, _DRY_MM = 5, 1.0


def fit_tray(
    tray: TrayLog | pd.DataFrame,
    depth_mm: float | None = None,
    *,
    weather: xr.Dataset | None = None,
    area_m2: float | None = None,
    empty_kg: float | None = None,
    empty_error_kg: float = 0.0,
    starts_drained: bool = True,
    depletion_fraction: float | None = 0.0,
    field_capacity: float | None = None,
    wilting_point: float | None = None,
    crop_coefficient: float | None = None,
    bypass_fraction: float | None = None,
    name: str = "",
) -> TrayFit:
    """Return field capacity, wilting point and crop coefficient of the medium in a drying tray.

    Parameters
    ----------
    tray
        A log as `runoff.read_tray_log` returns it: it says what the tray is, and only `weather` and what is held may be
        given beside it. Or a table: one row per day, in order, with ``water_mm`` (depth of water in the tray) or ``weight_kg``, read before the
        day's evaporation; a day without a reading is missing, never zero. ``reference_et`` (mm) of the day that follows
        the reading; optional ``rain_mm``, rain and watering of that day.
    depth_mm
        Depth of the medium in the tray, mm.
    weather
        Daily rain and reference evapotranspiration of the place, for what a log does not have.
    area_m2, empty_kg
        Area of the tray, and its weight with oven-dry medium and plants; needed for ``weight_kg``. One kg on one m2 is 1 mm.
    empty_error_kg
        How far that weight may be wrong (one standard deviation): moves field capacity and wilting point together.
    starts_drained
        True when the tray was soaked and left to drain before the first reading, so that it begins at field capacity.
    depletion_fraction
        Share of the usable water that is given up without stress; 0 as in the published drying tests, None to fit it.
    field_capacity, wilting_point, crop_coefficient
        A value known from elsewhere, as a fraction (shares of the volume, and of the reference), is held and not fitted.
    bypass_fraction
        Share of what is given that passes the medium at field capacity, 0 to 1; default that of `runoff.GrowingMedium`. Of no
        weight where water was given until it ran out below.
    name
        Name of the log, for the result.

    Returns
    -------
    TrayFit
        Values with their 5 to 95 % ranges, doubts, and a roof that has them.

    Raises
    ------
    RunoffError
        When columns are missing, readings are too few, or the tray did not dry.

    Notes
    -----
    Least squares. The 5-95 % ranges allow for errors of the readings that hang together (`drifting_errors`), and take
    reference evapotranspiration, rain and the daily step as true.
    """
    import pandas as pd

    given = dict(zip(BOUNDS, (wilting_point, field_capacity, crop_coefficient, depletion_fraction), strict=True))
    if isinstance(tray, TrayLog):
        return _of_log(tray, weather, given, bypass_fraction)
    if depth_mm is None:
        raise RunoffError("fit_tray: depth_mm is needed beside a table, the depth of the medium in the tray")
    table = tray
    known = _readings(table, depth_mm, area_m2, empty_kg)
    held = {name: value for name, value in given.items() if value is not None}
    first = int(np.flatnonzero(np.isfinite(known["read"]))[0])
    readings = Readings(
        **{name: values[first:] for name, values in known.items()},
        depth_mm=depth_mm,
        starts_drained=starts_drained,
        bypass_fraction=_USUAL_BYPASS if bypass_fraction is None else bypass_fraction,
    )
    model = Tray(readings=readings, held=held)
    _refuse_hopeless(readings, model.free)
    found = model.fit()
    values: dict[str, Any] = model.values(found.best)
    shift = empty_error_kg / (area_m2 * depth_mm) if area_m2 else 0.0
    rows = _rows(found, model.free, values, {"wilting_point": shift, "field_capacity": shift})
    modelled = model.water(found.best)
    assert found.drift is not None, "days were given"
    water = pd.DataFrame({"read": readings.read, "modelled": modelled}, index=table.index[first:])
    half = normal_quantile(UPPER) * np.hypot(_spread_of_curve(model, found), found.drift.error)
    water = water.assign(low=modelled - half, high=modelled + half, given=readings.given, reference_et=readings.reference_et)  # fmt: skip
    return TrayFit(
        **values,
        usable_water_mm=(values["field_capacity"] - values["wilting_point"]) * depth_mm,
        depth_mm=depth_mm,
        kg_per_mm=area_m2 or 0.0 if "water_mm" not in table else 0.0,
        table=pd.DataFrame.from_dict(rows, orient="index"),
        water=water,
        rmse_mm=float(np.sqrt(np.nanmean((modelled - readings.read) ** 2))),
        readings=readings.seen.size,
        missing_readings=len(table) - readings.seen.size,
        reading_error_mm=found.drift.error,
        error_next_day=found.drift.next_day,
        explanation=explanation_of(readings, held, found),
        name=name,
        is_invented=False,
    )


def _of_log(
    log: TrayLog, weather: xr.Dataset | None, held: dict[str, float | None], bypass_fraction: float | None
) -> TrayFit:
    """Fit the days of a log; what is wrong with them is told by the log's name."""
    table = log.daily_table(weather)
    try:
        fit = fit_tray(
            table, log.depth_mm, area_m2=log.area_m2, empty_kg=log.empty_kg, empty_error_kg=log.empty_error_kg,
            starts_drained=log.starts_drained, name=log.name, wilting_point=held["wilting_point"],
            field_capacity=held["field_capacity"], crop_coefficient=held["crop_coefficient"],
            depletion_fraction=held["depletion_fraction"], bypass_fraction=bypass_fraction,
        )  # fmt: skip
    except RunoffError as error:
        raise RunoffError(str(error).replace("fit_tray: ", f"{log.name}: ")) from None
    return dataclasses.replace(fit, is_invented=log.is_invented)


def _spread_of_curve(tray: Tray, found: Estimate) -> np.ndarray:
    """Return the standard deviation of the fitted curve on each day, mm, from the spread of its values."""
    spread = np.nan_to_num(found.spread)
    slopes = np.column_stack(
        [tray.water(found.best + step) - tray.water(found.best - step) for step in np.diag(0.01 * spread)]
    ) / np.where(spread > 0, 0.02 * spread, 1.0)
    covariance = np.nan_to_num(found.correlation) * np.outer(spread, spread)
    return np.sqrt(np.maximum(np.einsum("di,ij,dj->d", slopes, covariance, slopes), 0.0))


def _rows(
    found: Estimate, free: Sequence[str], values: Mapping[str, float], shifts: Mapping[str, float]
) -> dict[str, dict[str, Any]]:
    """Return value, range and status of each quantity; `shifts` are standard deviations from outside the readings."""
    rows: dict[str, dict[str, Any]] = {}
    for name in BOUNDS:
        rows[name] = {"value": values[name], "low": np.nan, "high": np.nan, "status": "held"}
        if name not in free:
            continue
        i = free.index(name)
        bound = found.on_bound[i]
        outside = normal_quantile(UPPER) * shifts.get(name, 0.0)
        low = values[name] - np.hypot(values[name] - found.low[i], outside)
        high = values[name] + np.hypot(found.high[i] - values[name], outside)
        rows[name] |= {"low": float(low), "high": float(high), "status": f"at its {bound} bound" if bound else "fitted"}
    return rows


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
    if area_m2 is not None and not area_m2 > 0:
        faults.append(f"area_m2 must be more than 0 (given {area_m2:g})")
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
    _refuse_readings(read, depth_mm)
    rain = table["rain_mm"].to_numpy(dtype=float) if "rain_mm" in table else np.zeros(read.size)
    return {
        "read": read,
        "given": np.nan_to_num(rain),  # only the last day can be missing, and nothing is read after it
        "reference_et": np.nan_to_num(table["reference_et"].to_numpy(dtype=float)),
    }


def _refuse_readings(read: np.ndarray, depth_mm: float) -> None:
    seen = np.isfinite(read)
    if seen.sum() < LEAST_READINGS:
        raise RunoffError(
            f"fit_tray: {int(seen.sum())} readings are given, at least {LEAST_READINGS} are needed; weigh the tray on more days"
        )
    if (read[seen] < 0).any():
        raise RunoffError(
            f"fit_tray: the tray holds {np.nanmin(read):.1f} mm at its driest, which is below 0; check empty_kg and area_m2, and whether something was spilled"
        )
    if (read[seen] > depth_mm).any():
        raise RunoffError(
            f"fit_tray: the tray holds {np.nanmax(read):.0f} mm at its wettest, more than its {depth_mm:g} mm of medium; check "
            "empty_kg, area_m2 and depth_mm"
        )


def _faults_of_days(table: pd.DataFrame) -> list[str]:
    import pandas as pd

    if not isinstance(table.index, pd.DatetimeIndex) or len(table) < 2:
        return []
    steps = table.index[1:] - table.index[:-1]
    odd = [str(day.date()) for day, step in zip(table.index[1:], steps, strict=True) if step != pd.Timedelta("1D")]
    if not odd:
        return []
    return [f"rows must be one day apart; they are not before {', '.join(odd[:3])}; a day without a reading is missing"]


def _refuse_hopeless(readings: Readings, free: Sequence[str]) -> None:
    if not free:
        raise RunoffError("fit_tray: every quantity is given, nothing is left to fit; leave one out")
    wet = np.flatnonzero(readings.given[: readings.seen[-1]] >= _DRY_MM)
    spell = int(np.diff(np.concatenate([[-1], wet, [readings.seen[-1]]])).max()) - 1
    if spell < _DRY_DAYS:
        raise RunoffError(
            f"fit_tray: the tray never dried: at most {spell} days in a row passed without {_DRY_MM:g} mm of rain or watering, at "
            f"least {_DRY_DAYS} are needed, better two weeks. Keep rain off it, and do not water it"
        )
    read = readings.read[readings.seen]
    ends = np.sort(read)
    fifth = max(1, ends.size // 5)
    drying = float(np.median(ends[-fifth:]) - np.median(ends[:fifth]))
    bends = np.diff(read, 2)  # a steady drying bends next to nothing, so this is scatter
    noise = 1.4826 * float(np.median(np.abs(bends))) / np.sqrt(6.0)
    if not drying > max(1.0, 4.0 * noise):
        raise RunoffError(
            f"fit_tray: the tray lost only {drying:.1f} mm between its wettest and driest readings, too little beside their "
            f"scatter ({noise:.2f} mm); let it dry for at least a week without rain or watering"
        )
    if "field_capacity" in free and not readings.starts_drained and not (readings.given > 0).any():
        raise RunoffError(
            "fit_tray: field capacity cannot be read from this test: the tray did not start drained and was never watered; "
            "soak it, let it drain and weigh it first, or give field_capacity"
        )
