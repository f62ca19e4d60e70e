"""Many trials of one roof under one record: what the weather brings is worked out once."""

from __future__ import annotations

import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.roof.description import Roof
from runoff.simulation.one_pass import at_the_end, below
from runoff.simulation.roof_side import Columns, Fields, columns_of
from runoff.simulation.rules import RunRules
from runoff.simulation.start import CARRIED, stores_at
from runoff.simulation.weather_side import DEPENDS_ON, SIDE_STORES, passes, run_weather_side
from runoff.weather.record.forcing import run_step_hours, warm_up_length


class Trials:
    """Runs one roof after the other through the same record, from field capacity and after the warm-up.

    Parameters
    ----------
    forcing
        From `runoff.simulation.totals.daily_forcing`, or of a record in minutes from `prepare_forcing`.
    rules
        The rules of the runs.
    """

    def __init__(self, forcing: xr.Dataset, rules: RunRules) -> None:
        self._rules, self._hours = rules, run_step_hours(forcing["time"])
        self._pieces = passes(forcing, warm_up_length(forcing["time"], rules.warm_up_years))
        self._sides: dict[tuple[float, ...], list[Fields]] = {}
        expect_many_runs()

    def __call__(self, roof: Roof) -> dict[str, np.ndarray]:
        """Return fluxes (mm per step) and stores (mm) of the record, shape ``(time,)`` each."""
        columns = columns_of([roof])
        begin = stores_at(columns, "field-capacity")
        stores: Fields = {name: begin.variables[name] for name in CARRIED}
        for piece, side in zip(self._pieces, self._side(columns), strict=True):
            fields = below(columns, self._rules, self._hours, piece, side, stores)
            stores = at_the_end(fields, CARRIED)
        return {name: field.to_numpy() for name, field in fields.items()}

    def _side(self, columns: Columns) -> list[Fields]:
        """Return the weather side of every piece, worked out once for all roofs that share it."""
        key = tuple(float(columns.rows[name][0]) for name in DEPENDS_ON)
        if key not in self._sides:
            beside: Fields = {name: xr.Variable((), 0.0) for name in SIDE_STORES}
            sides: list[Fields] = []
            for piece in self._pieces:
                sides.append(run_weather_side(piece, self._rules, self._hours, columns, beside))
                beside = at_the_end(sides[-1], SIDE_STORES)
            self._sides[key] = sides
        return self._sides[key]
