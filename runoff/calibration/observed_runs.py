"""The overflow of a roof at the times it was observed: daily, or in minutes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import pandas as pd

from runoff.errors import RunoffError
from runoff.roof import Roof
from runoff.simulation import RunRules, Trials, daily_forcing
from runoff.time_steps import time_step
from runoff.weather.record.forcing import prepare_forcing
from runoff.weather.record.frames import as_weather

if TYPE_CHECKING:
    import xarray as xr

_YEAR_DAYS = 365
#: A record in minutes starts from field capacity; its first days only bring the stores to their level.
SPIN_UP_DAYS = 14


class ObservedRun(Protocol):
    """A roof in, its overflow (mm per step) at the observed times out."""

    def __call__(self, roof: Roof) -> np.ndarray:
        """Return the overflow of a roof."""


class DailyRun:
    """The overflow of a roof on observed days.

    Parameters
    ----------
    weather, rules
        Daily weather and rules of the run.
    seen
        What was observed.
    measured
        ``"roof_overflow"`` or ``"overflow"``.
    """

    def __init__(self, weather: xr.Dataset, rules: RunRules, seen: pd.Series, measured: str) -> None:
        cut = _weather_of_days(weather, seen)
        before = int((seen.index[0] - cut.indexes["time"][0]).days)
        warm_up = rules.warm_up_years if rules.warm_up_years is not None else 0 if before >= _YEAR_DAYS else 1
        rules = rules.model_copy(update={"warm_up_years": warm_up})
        forcing = daily_forcing(cut, rules, "fit_roof")
        self._trials, self._whole_roof = Trials(forcing, rules), measured == "roof_overflow"
        # observed days among the days of the run
        self._picked = pd.DatetimeIndex(forcing.indexes["time"]).floor("D").get_indexer(seen.index)

    def __call__(self, roof: Roof) -> np.ndarray:
        """Return the overflow of a roof, mm per day."""
        return self._trials(roof, whole_roof=self._whole_roof)[self._picked]


class MinuteRun:
    """The overflow of a roof at observed steps shorter than a day.

    Parameters
    ----------
    weather, climate
        Weather at such steps, and daily weather for evapotranspiration and temperature; see `runoff.simulate`.
    rules
        Rules of the run.
    seen
        What was observed, at steps of the weather or multiples of them.
    measured
        ``"roof_overflow"`` or ``"overflow"``.
    """

    def __init__(
        self, weather: xr.Dataset, climate: xr.Dataset | None, rules: RunRules, seen: pd.Series, measured: str
    ) -> None:
        _refuse_outside(seen.index, pd.DatetimeIndex(weather.indexes["time"]), "steps")
        cut = weather.sel(time=slice(seen.index[0], seen.index[-1] + time_step(seen.index).length))
        forcing = prepare_forcing(cut, rules.et_method, climate)
        self.rain: xr.DataArray = forcing["rain"]
        self._trials = Trials(forcing, rules.model_copy(update={"warm_up_years": 0}))
        self._time, self._index = pd.DatetimeIndex(forcing.indexes["time"]), seen.index
        self._whole_roof = measured == "roof_overflow"

    def __call__(self, roof: Roof) -> np.ndarray:
        """Return the overflow of a roof, mm per observed step."""
        overflow = pd.Series(self._trials(roof, whole_roof=self._whole_roof), self._time)
        step = time_step(self._index).length
        if step != time_step(self._time).length:
            overflow = overflow.groupby(self._time.floor(step)).sum()
        return overflow.reindex(self._index).to_numpy()


def weather_of_fit(weather: Any) -> xr.Dataset:
    """Return the weather of a fit, checked: one series of calendar dates.

    Raises
    ------
    RunoffError
        When it is a grid or on a calendar of models.
    """
    checked = as_weather(weather)
    if not isinstance(checked.indexes["time"], pd.DatetimeIndex) or checked["rain"].ndim > 1:
        raise RunoffError("fit_roof: weather must be one series of calendar dates, as the observation is")
    return checked


def _refuse_outside(observed: pd.Index, known: pd.DatetimeIndex, what: str) -> None:
    """Raise when something was observed at a time the weather does not hold."""
    outside = observed[~observed.isin(known)]
    if len(outside):
        raise RunoffError(
            f"fit_roof: {len(outside)} observed {what} lie outside the weather ({known[0].date()} to {known[-1].date()}), "
            f"the first {outside[0].date()}; give the weather of those days, or choose others with start and end"
        )


def _weather_of_days(weather: xr.Dataset, seen: pd.Series) -> xr.Dataset:
    """Return the weather from a year before the first observed day to the last, or say which days it lacks."""
    if not time_step(weather["time"]).daily:
        raise RunoffError(
            "fit_roof: daily overflow needs daily weather, the weather here is in shorter steps; sum it with runoff.daily_totals, or "
            "give the overflow at shorter steps too"
        )
    _refuse_outside(seen.index, pd.DatetimeIndex(weather.indexes["time"]).floor("D"), "days")
    first = seen.index[0] - pd.Timedelta(days=_YEAR_DAYS)
    return weather.sel(time=slice(first, seen.index[-1] + pd.Timedelta("23h")))
