"""Many trials of one roof under one record: what the weather brings is worked out once."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.roof.description import Roof
from runoff.simulation import kernel
from runoff.simulation.one_pass import arriving, at_the_end, watered
from runoff.simulation.roof_side import Columns, Fields, columns_of
from runoff.simulation.rules import RunRules
from runoff.simulation.weather_side import SIDE_STORES, passes, run_weather_side, side_of
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
        self._shared: tuple[Any, ...] = ()
        self._sides: list[_Piece] = []
        expect_many_runs()

    def __call__(self, roof: Roof, *, whole_roof: bool) -> np.ndarray:
        """Return the overflow of the record, of the whole roof or of the planted area alone, mm per step, shape ``(time,)``."""
        columns = columns_of([roof])
        stores = {name: columns.label(row) for name, row in kernel.start_values(columns, "field-capacity").items()}
        for piece in self._side(columns):
            traced = kernel.trace(columns, self._rules, self._hours, piece.arriving, stores, piece.watered)
            stores = at_the_end(traced, kernel.STORES)
        overflow: np.ndarray = traced["drained"] + traced["spilled"]
        share = float(columns.rows["planted_fraction"][0])
        return share * overflow + (1.0 - share) * piece.other if whole_roof else overflow

    def _side(self, columns: Columns) -> list[_Piece]:
        """Return what the weather of every piece brings, worked out once for all roofs in turn that share it."""
        shared = side_of(columns, self._hours)
        if shared != self._shared:
            beside: Fields = {name: np.zeros(()) for name in SIDE_STORES}
            self._shared, self._sides = shared, []
            for forcing in self._pieces:
                side = run_weather_side(forcing, self._rules, self._hours, columns, beside)
                beside = at_the_end(side, SIDE_STORES)
                liquid, drawing, led = map(np.asarray, arriving(columns, side))
                other = np.asarray(side["other_overflow"])
                self._sides.append(_Piece((liquid, drawing, led), other, watered(self._rules, forcing)))
        return self._sides


class _Piece(NamedTuple):
    """What a piece of weather brings to every roof: see `arriving`, the overflow beside the planting (mm per step), `watered`."""

    arriving: tuple[np.ndarray, np.ndarray, np.ndarray]
    other: np.ndarray
    watered: np.ndarray | None
