"""Headline sums of many cells of a grid: blocks of lanes fed with weather as it lies in memory, in any pieces along time."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

import numpy as np

from runoff.balance import column, grid_lanes
from runoff.balance.block_lanes import LANES, TOTALS
from runoff.balance.grid_lanes import (
    FROM_RANGE,
    GIVEN,
    MEAN_GIVEN,
    MEAN_OF_RANGE,
    MONTHLY,
    NO_TEMPERATURE,
    SLOT,
    SLOTS,
    STATUS,
    TOGETHER,
    WORK,
)
from runoff.balance.loop_choice import compiled
from runoff.balance.sharing_out import share_out
from runoff.balance.vector_width import zeros_for_vectors


class GridRules(NamedTuple):
    """What a run of a grid goes by, beside the columns; temperatures degC, depths mm.

    Parameters
    ----------
    snow_below_c, melt_mm_per_c
        Up to which mean temperature it snows, and what melts per degree and day.
    warm_c, tolerance_days
        From which mean temperature rot is counted, and the days a spell may last before.
    wet_day_mm, held_share
        Rain of a wet day; share of an event's rain below whose overflow the event counts as held.
    bare_capacity, other_capacity
        Daily depression storage of the comparison roof and of the unplanted part.
    """

    snow_below_c: float
    melt_mm_per_c: float
    warm_c: float
    tolerance_days: float
    wet_day_mm: float
    held_share: float
    bare_capacity: float
    other_capacity: float


class GridWeather(NamedTuple):
    """A stretch of daily weather of many cells, arrays of shape ``(time, cell)`` with any strides and any float type.

    Parameters
    ----------
    rain
        mm a day.
    low, high
        Lowest and highest temperature, degC, from which reference evapotranspiration follows; or `low` is reference
        evapotranspiration itself, mm a day, and `high` None.
    mean
        Mean temperature, degC; None where it follows from the range, or is not known.
    month
        Month of each day, 0-11.
    sun
        Radiation above the air as evaporated water, Ra / 2.45, mm a day, shape ``(row, cell)``, needed with a range; as from
        `for_whole_blocks` it is read without a copy.
    sun_row
        Row of `sun` of each day.
    """

    rain: np.ndarray
    low: np.ndarray
    high: np.ndarray | None
    mean: np.ndarray | None
    month: np.ndarray
    sun: np.ndarray | None = None
    sun_row: np.ndarray | None = None

    @property
    def known(self) -> tuple[int, int]:
        """How evapotranspiration and temperature are known, in the words of `grid_lanes`."""
        if self.high is None:
            return GIVEN, NO_TEMPERATURE if self.mean is None else MEAN_GIVEN
        return FROM_RANGE, MEAN_OF_RANGE if self.mean is None else MEAN_GIVEN


class GridTotals:
    """One design on many cells: stores and sums, carried from one stretch of weather to the next.

    Parameters
    ----------
    parameters
        Of the design, shape ``(len(column.PARAMETERS),)``.
    stores
        Before the first day, mm: shape ``(len(column.STORES),)``, the same for every cell. Surfaces without planting start
        dry, without snow.
    cells
        Number of cells.
    rules
        See `GridRules`.
    """

    def __init__(self, parameters: np.ndarray, stores: np.ndarray, cells: int, rules: GridRules) -> None:
        self.cells, self.rules = cells, rules
        blocks = -(-cells // LANES)
        self._work = zeros_for_vectors(blocks, len(WORK), LANES)
        self._work[:, [WORK.index(name) for name in column.PARAMETERS]] = parameters[:, None]
        at = WORK.index(column.STORES[0])
        self._work[:, at : at + len(stores)] = np.asarray(stores)[:, None]
        self._work[:, WORK.index("bare_capacity")] = rules.bare_capacity
        self._work[:, WORK.index("other_capacity")] = rules.other_capacity
        self._by_month = zeros_for_vectors(blocks, MONTHLY * 12 * LANES)
        self._status = np.zeros((blocks, len(STATUS)))

    def begin_record(self, month: int) -> None:
        """Set all sums to nothing: what follows is the record, its first day in `month` (0-11)."""
        begin = compiled(grid_lanes.begin_record)
        for block in range(len(self._work)):
            begin(self._work[block].reshape(-1), self._by_month[block], self._status[block], month)

    def advance(self, weather: GridWeather, *, threads: bool = False) -> None:
        """Run all cells through a stretch of weather, on all cores if asked."""
        month = np.ascontiguousarray(weather.month, dtype=np.int64)
        run = compiled(grid_lanes.run_blocks)
        rules, known = self.rules, weather.known
        numbers = (rules.snow_below_c, rules.melt_mm_per_c, rules.wet_day_mm, rules.held_share)
        warm_c = float(rules.warm_c) if known[1] != NO_TEMPERATURE else -np.inf
        single, double, steps = _flat(weather)
        sun, sun_row = self._sun(weather, month.size)
        work = self._work.reshape(len(self._work), -1)

        def run_some(piece: slice) -> None:
            share = piece.start // LANES, -(-piece.stop // LANES), self.cells
            tiles = zeros_for_vectors(TOGETHER * SLOTS * SLOT)
            run(
                work, self._by_month, self._status, single, double, steps, month, sun, sun_row, known, numbers, warm_c,
                float(rules.tolerance_days), share, tiles,
            )  # fmt: skip

        if threads:
            share_out(run_some, self.cells, LANES)
        else:
            run_some(slice(0, self.cells))

    def _sun(self, weather: GridWeather, days: int) -> tuple[np.ndarray, np.ndarray]:
        """Return radiation for whole blocks, and its row of each day."""
        if weather.sun is None or weather.sun_row is None:
            return np.zeros((1, len(self._work) * LANES)), np.zeros(days, dtype=np.int64)
        wide = weather.sun.shape[1] == len(self._work) * LANES
        sun = np.ascontiguousarray(weather.sun) if wide else for_whole_blocks(weather.sun[:, : self.cells])
        return sun, np.ascontiguousarray(weather.sun_row, dtype=np.int64)

    def row(self, name: str) -> np.ndarray:
        """Return a row of the work arrays along the cells, as a copy."""
        return self._work[:, WORK.index(name)].reshape(-1)[: self.cells].copy()

    def sums(self) -> dict[str, np.ndarray]:
        """Return the sums and largest values of the record, shape ``(cell,)`` each; by month, shape ``(cell, 12)``.

        Those of `block_lanes.TOTALS`; ``rain``, ``events``; ``bare_`` overflow, evapotranspiration, peak_overflow and
        events_held of the comparison roof; and ``rain_by_month``, ``overflow_by_month``, ``bare_overflow_by_month``. A cell
        with missing weather is missing in all of them.
        """
        made = {name: self.row(f"total_{name}") for name in TOTALS}
        of = self.row
        made["rain"], made["bare_overflow"], other = of("total_rain"), of("total_bare"), of("total_other")
        change = sum(of(name) for name in column.STORES) - of("stores_begin")
        made["evapotranspiration"] = of("total_liquid") - made["overflow"] - change
        bare_change = of("bare_water") - of("bare_begin")
        made["bare_evapotranspiration"] = of("total_liquid") - made["bare_overflow"] - bare_change
        planted = of("planted_fraction")
        made["roof_overflow"] = other + planted * (made["overflow"] - other)
        alone = (1.0 - planted) * of("peak_other")
        made["peak_roof_overflow"] = np.maximum(made["peak_roof_overflow"], alone)
        made["bare_peak_overflow"] = of("peak_bare")
        made |= self._events(made)
        made |= self._months(made)
        missing = np.isnan(of("checked"))
        for values in made.values():
            values[missing] = np.nan
        return made

    def _events(self, made: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
        """Count the events, with the last one, which ends with the record."""
        of = self.row
        whole, fell = of("total_rain") - of("event_rain_begin"), of("total_as_rain") - of("event_as_rain_begin")
        limit = np.where(fell * of("in_event") > 0.0, self.rules.held_share * whole, -1.0)
        shed, bare_shed = made["overflow"] - of("event_begin"), of("total_bare") - of("event_bare_begin")
        return {
            "events": of("total_events") + (limit > 0.0),
            "events_held": of("total_events_held") + (shed < limit),
            "bare_events_held": of("total_bare_held") + (bare_shed < limit),
        }

    def _months(self, made: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
        """Return the sums by month, with what the month that runs has seen."""
        blocks = len(self._work)
        known = self._by_month.reshape(blocks, MONTHLY, 12, LANES).transpose(1, 0, 3, 2).reshape(MONTHLY, -1, 12)
        sums = known[:, : self.cells].copy()
        month = int(self._status[0, STATUS.index("month")])
        begun = ("month_rain_begin", "month_begin", "month_bare_begin")
        names = ("rain", "overflow", "bare_overflow")
        for of_month, name, begin in zip(sums, names, begun, strict=True):
            of_month[:, month] += made[name] - self.row(begin)
        return {f"{name}_by_month": of_month for name, of_month in zip(names, sums, strict=True)}


def for_whole_blocks(sun: np.ndarray) -> np.ndarray:
    """Return radiation by row and cell, mm a day, with as many cells of nothing behind as fill the last block."""
    padded = np.zeros((sun.shape[0], -(-sun.shape[1] // LANES) * LANES))
    padded[:, : sun.shape[1]] = sun
    return padded


def _flat(weather: GridWeather) -> tuple[Any, Any, np.ndarray]:
    """Return the weather as flat arrays, single and double, without a copy where it lies in one block of memory; see `run_blocks`."""
    series = (weather.rain, weather.low, weather.high, weather.mean)
    single, double = [np.zeros(0, dtype=np.float32)] * len(series), [np.zeros(0)] * len(series)
    steps = np.zeros((len(series), 2), dtype=np.int64)
    for k, given in enumerate(series):
        if given is None:
            continue
        values = given if given.dtype == np.float32 else np.asarray(given, dtype=float)
        along: Literal["C", "F"] = "F" if values.flags.f_contiguous and not values.flags.c_contiguous else "C"
        values = np.require(values, requirements=[along, "W"])  # loops are compiled for arrays that may be written
        (single if values.dtype == np.float32 else double)[k] = values.reshape(-1, order=along)
        steps[k] = (values.shape[1], 1) if along == "C" else (1, values.shape[0])
    return tuple(single), tuple(double), steps
