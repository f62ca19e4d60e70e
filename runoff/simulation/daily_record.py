"""A daily record of one site as plain arrays: what thousands of designs are run through."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import xarray as xr

from runoff.simulation.rules import RunRules
from runoff.time_steps import Calendar
from runoff.weather.record.forcing import steps_in_first_years, warm_up_length


class DailyRecord(NamedTuple):
    """Daily series of one site, shape ``(time,)``, and where the warm-up ends.

    Parameters
    ----------
    rain, reference_et
        mm per day.
    tmean
        Mean temperature, degC; None where it is not known.
    calendar
        Years and months of the days.
    warm_up_years, warm_up_days
        The years that are run once before the record, and their days.
    """

    rain: np.ndarray
    reference_et: np.ndarray
    tmean: np.ndarray | None
    calendar: Calendar
    warm_up_years: int
    warm_up_days: int

    @classmethod
    def of(cls, forcing: xr.Dataset, rules: RunRules) -> DailyRecord:
        """Take the arrays out of a record from `runoff.simulation.totals.daily_forcing`."""
        series = {name: forcing.variables[name].to_numpy().astype(float) for name in forcing.data_vars}
        years = warm_up_length(forcing["time"], rules.warm_up_years, hours=24.0)
        days = steps_in_first_years(forcing["time"], years) if years else 0
        calendar = Calendar.of(forcing["time"])
        return cls(series["rain"], series["reference_et"], series.get("tmean"), calendar, years, days)

    def passes(self) -> list[DailyRecord]:
        """Return what a run goes through in turn: the warm-up, if any, and the record."""
        if not self.warm_up_days:
            return [self]
        first = self.warm_up_days
        tmean = None if self.tmean is None else self.tmean[:first]
        warm_up = self._replace(rain=self.rain[:first], reference_et=self.reference_et[:first], tmean=tmean)
        return [warm_up._replace(calendar=self.calendar.first(first)), self]

    def under_catch(self, factor: float) -> DailyRecord:
        """Return the record with the true rain, were it a multiple of the gauge's."""
        return self._replace(rain=self.rain * factor)
