"""The bridge: a roof and its weather in, one labelled Dataset of the water balance out.

`simulate` converts and checks at the door, hands plain arrays to `runoff.balance`, and labels what comes back.
One step of the result belongs to one step of the weather. All depths are per square metre of planted area,
except ``roof_overflow``, the area-weighted mean over planted and other surface.

Between the door and the labels everything is an `xarray.Variable`: named dimensions, no coordinates. Places and designs
are held against each other once, at the door, instead of at every sum; the results are the same, in a fraction of the time.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import xarray as xr

from runoff.balance import cells, column, minute_steps, surfaces
from runoff.balance.levels import water_depth
from runoff.errors import BalanceError, RunoffError, raise_faults
from runoff.quantities import label
from runoff.weather.record.forcing import date_text, prepare_forcing, step_hours, steps_in_first_years, warm_up_length

if TYPE_CHECKING:
    from runoff.roof.description import BareSurface, Roof

#: The balance must close to this at every step, mm (rounding of sums of some thousand mm).
BALANCE_LIMIT_MM = 1e-6


@dataclasses.dataclass(frozen=True, kw_only=True)
class RootLimits:
    """When roots count as too wet or too dry: a reading aid, since no published day limit exists for roofs.

    Parameters
    ----------
    air_threshold
        Air-filled porosity (fraction) below which the medium counts as waterlogged. Nursery practice asks for
        at least 10 % air by volume after drainage (University of California extension, container media).
    tolerance_days
        Waterlogged days a spell may last before its days count as rot risk (own proposal, from the rule that a
        roof should drain within 48 h).
    warm_c
        Rot needs a mean day temperature of at least this, degC (own proposal: oxygen demand falls with cold).
    dry_share
        A day is dry when plant-available water is below this share of its capacity (own proposal).
    """

    air_threshold: float = 0.10
    tolerance_days: float = 2.0
    warm_c: float = 5.0
    dry_share: float = 0.10


@dataclasses.dataclass(frozen=True, kw_only=True)
class SnowRule:
    """When precipitation is kept as snow, and how fast it melts (degree-day method, values common practice).

    Parameters
    ----------
    snow_below_c
        At or below this mean temperature (degC) precipitation stays on the roof as snow.
    melt_mm_per_c_day
        Melt per degree above 0 degC and day, mm.
    """

    snow_below_c: float = 1.0
    melt_mm_per_c_day: float = 3.0


@dataclasses.dataclass(frozen=True, kw_only=True)
class IrrigationRule:
    """When a roof is watered: a rule a timer or a person can follow.

    Parameters
    ----------
    below
        Share of the medium's plant-available water below which a day begins with watering, 0-1.
    dose_mm
        Water given on such a day, mm.
    months
        Months in which watering is allowed, 1-12.
    """

    below: float = 0.2
    dose_mm: float = 5.0
    months: tuple[int, ...] = (4, 5, 6, 7, 8, 9)

    def __post_init__(self) -> None:
        """Refuse rules that cannot be followed."""
        faults = []
        if not 0.0 < self.below <= 1.0:
            faults.append(
                f"below is a share of the plant-available water, more than 0 and at most 1 (given {self.below:g})"
            )
        if not self.dose_mm > 0.0:
            faults.append(f"dose_mm must be more than 0 (given {self.dose_mm:g})")
        if not self.months or set(self.months) - set(range(1, 13)):
            faults.append(f"months are numbers 1-12 (given {self.months})")
        raise_faults("irrigation", faults)


def simulate(
    roof: Roof | Sequence[Roof] | Mapping[str, Roof],
    weather: xr.Dataset | xr.DataArray | Any,
    *,
    start_moisture: str | float | None = None,
    start_state: xr.Dataset | None = None,
    warm_up_years: int | None = None,
    climate: xr.Dataset | None = None,
    et_method: str | None = None,
    limits: RootLimits | None = None,
    snow: SnowRule | None = None,
    comparison: BareSurface | None = None,
    irrigation: IrrigationRule | None = None,
) -> xr.Dataset:
    """Run a planted roof through a weather record or a storm.

    Parameters
    ----------
    roof
        One roof, or several (a list, or a dict of names): several give a leading dimension ``design``.
    weather
        Dataset with ``rain`` (mm per step) and, as known, temperatures and ``reference_et``; or a DataArray of
        storm rain. Steps of a day, or of 1 min to 1 h. Leading dimensions (``site``, ``member``, ``lat``,
        ``lon``) are kept.
    start_moisture
        ``"field-capacity"`` (default: medium at field capacity, cups and mat full), ``"dry"`` (wilting point,
        cups and mat empty), a fraction between the two, ``"wettest-month"`` (the mean state of the wettest month
        of a daily run over `climate`) or a date of that run.
    start_state
        Another run: this one starts from its last state, so a record split in two gives the same numbers.
    warm_up_years
        The first years are run once before the record starts, and left out of every figure. Default: one year,
        none when a start is given or the record is shorter than a year.
    climate
        Daily weather: for `start_moisture` by month or date, and for the evapotranspiration of a record in minutes.
    et_method
        Forces a method of reference evapotranspiration; by default the method follows the data.
    limits
        When roots count as too wet or too dry.
    snow
        When rain is snow, and how fast it melts; used only when temperature is known.
    comparison
        The roof as it is, to compare with; default a bare membrane.
    irrigation
        Waters the roof by a rule, in daily runs; adds ``irrigation`` (mm) to the result.

    Returns
    -------
    xarray.Dataset
        Fluxes (mm per step), stores (mm at the end of the step), signs, ``discharge`` (L/s) on ``time``, and
        ``balance_error`` (mm, largest over the run). A cell with missing weather is missing in every output.

    Raises
    ------
    WeatherError
        When rain or what evapotranspiration needs is missing; the message names the dates.
    BalanceError
        When the water balance does not close to rounding.

    Notes
    -----
    Overflow leaves before evaporation acts on the day's water. This order is on the safe side for claims of
    capture (it gives more overflow on a wet day) and is the one of the table of FAO-56 (1998), Example 38.
    """
    from runoff.roof import BareSurface

    limits, snow = limits or RootLimits(), snow or SnowRule()
    comparison = comparison or BareSurface(kind="membrane")
    forcing = prepare_forcing(weather, et_method, climate)
    hours = step_hours(forcing["time"])
    setup = _setup(roof, hours, limits, snow, comparison, irrigation)
    if irrigation is not None and hours != 24.0:
        raise RunoffError("simulate: irrigation works in daily runs; leave it out for a storm")
    start = _start(setup, start_moisture, start_state, climate, et_method)
    years = warm_up_length(forcing["time"], warm_up_years, given=start is not None)
    begin = start if start is not None else _stores_at(setup, "field-capacity")
    _refuse_other_places(setup, forcing, begin)
    stores: Fields = {name: begin.variables[name] for name in (*column.STORES, *_OTHER_STORES)}
    if years:
        first = forcing.isel(time=slice(0, steps_in_first_years(forcing["time"], years)))
        warm = _run(setup, first, stores)
        stores = {name: warm[name].isel(time=-1) for name in stores}
    result = _finish(setup, forcing, stores, _run(setup, forcing, stores), begin.coords)
    result.attrs.update(_provenance(setup, forcing, years, start_moisture, start_state))
    return result


@dataclasses.dataclass(frozen=True)
class _Setup:
    """What stays the same during a run: the roofs as parameters, the step, the rules."""

    roofs: list[Roof]
    design: list[str] | None  # names when several roofs were given
    columns: list[dict[str, Any]]
    step_hours: float
    limits: RootLimits
    snow: SnowRule
    comparison: BareSurface
    irrigation: IrrigationRule | None = None

    def per_design(self, values: Sequence[float]) -> xr.Variable:
        """Name one number per roof: along ``design``, or as a scalar for a single roof."""
        if self.design is None:
            return xr.Variable((), float(values[0]))
        return xr.Variable("design", np.asarray(values, dtype=float))

    @property
    def coords(self) -> dict[str, list[str]]:
        """The labels of several roofs."""
        return {} if self.design is None else {"design": self.design}

    def column_value(self, name: str) -> xr.Variable:
        """Label one entry of the column parameters per roof."""
        return self.per_design([column_[name] for column_ in self.columns])


def _setup(
    roof: Roof | Sequence[Roof] | Mapping[str, Roof],
    step_hours: float,
    limits: RootLimits,
    snow: SnowRule,
    comparison: BareSurface,
    irrigation: IrrigationRule | None = None,
) -> _Setup:
    from runoff.roof import Roof, column_parameters

    if isinstance(roof, Roof):
        roofs, design = [roof], None
    elif isinstance(roof, Mapping):
        roofs, design = list(roof.values()), [str(name) for name in roof]
    else:
        roofs = list(roof)
        design = [getattr(one, "name", "") or f"design {i + 1}" for i, one in enumerate(roofs)]
        if len(set(design)) < len(design):
            design = [f"{name} ({i + 1})" for i, name in enumerate(design)]
    if not roofs or not all(isinstance(one, Roof) for one in roofs):
        raise RunoffError(
            f"simulate: roof must be a runoff.Roof, or a list or dict of them (given {type(roof).__name__})"
        )
    columns = [column_parameters(one) for one in roofs]
    return _Setup(roofs, design, columns, step_hours, limits, snow, comparison, irrigation)


# --- stores before and after a run ---------------------------------------------------------------------------

_OTHER_STORES = ("snow_water", "other_water", "bare_water")


def _stores_at(setup: _Setup, moisture: str | float) -> xr.Dataset:
    """Return all stores at a start moisture: everything above field capacity empty, no snow."""
    if isinstance(moisture, str):
        if moisture not in ("field-capacity", "dry"):
            raise RunoffError(
                f'simulate: start_moisture "{moisture}" is not known; give "field-capacity", "dry", a fraction 0-1 '
                '(0 = wilting point, 1 = field capacity), or with climate= "wettest-month" or a date'
            )
    elif not 0.0 <= float(moisture) <= 1.0:
        raise RunoffError(
            f"simulate: start_moisture must lie between 0 (wilting point) and 1 (field capacity), given {moisture}"
        )
    values = column.start_stores(_parameters(setup), moisture)
    made = {name: setup.per_design(row) for name, row in zip(column.STORES, values, strict=True)}
    return xr.Dataset({**made, **dict.fromkeys(_OTHER_STORES, 0.0)}, coords=setup.coords)


def last_stores(run: xr.Dataset) -> xr.Dataset:
    """Return the stores at the end of a run, from which another can start."""
    missing = [name for name in (*column.STORES, "snow_water") if name not in run]
    if missing:
        raise RunoffError(f"simulate: start_state lacks {', '.join(missing)}; give a Dataset that simulate returned")
    stores = run[[name for name in (*column.STORES, *_OTHER_STORES) if name in run]]
    if "time" in stores.dims:
        stores = stores.isel(time=-1)
    stores = stores.drop_vars("time", errors="ignore")
    return stores.assign({name: 0.0 for name in _OTHER_STORES if name not in stores})


def _start(
    setup: _Setup,
    moisture: str | float | None,
    state: xr.Dataset | None,
    climate: xr.Dataset | None,
    et_method: str | None,
) -> xr.Dataset | None:
    """Return the stores asked for, or None for the default start with its warm-up."""
    if moisture is not None and state is not None:
        raise RunoffError("simulate: give start_moisture or start_state, not both")
    if state is not None:
        return last_stores(state)
    if moisture is None:
        return None
    if climate is None or moisture in ("field-capacity", "dry") or not isinstance(moisture, str):
        return _stores_at(setup, moisture)
    roof = setup.roofs[0] if setup.design is None else dict(zip(setup.design, setup.roofs, strict=True))
    daily = simulate(
        roof, climate, et_method=et_method, limits=setup.limits, snow=setup.snow, comparison=setup.comparison
    )
    if moisture == "wettest-month":
        stores = daily[[*column.STORES, *_OTHER_STORES]]
        monthly = stores.groupby("time.month").mean("time")
        wettest = (
            monthly["medium_water"].mean([d for d in monthly["medium_water"].dims if d != "month"]).idxmax("month")
        )
        # snow is left out: the storm is meant to fall on the medium, not on a pack of the month's mean depth
        return monthly.sel(month=wettest).drop_vars("month").assign(snow_water=0.0)
    try:
        return last_stores(daily.sel(time=moisture))
    except (KeyError, ValueError):
        first, last = (date_text(daily["time"].to_numpy()[i]) for i in (0, -1))
        raise RunoffError(
            f'simulate: start_moisture "{moisture}" is no date of the climate record ({first} to {last}); '
            'give such a date, "wettest-month", "field-capacity", "dry" or a fraction'
        ) from None


def _refuse_other_places(setup: _Setup, forcing: xr.Dataset, stores: xr.Dataset) -> None:
    """Stop when the stores to start from belong to other designs or places than the run."""
    wanted: dict[Any, pd.Index] = {name: index for name, index in forcing.indexes.items() if name != "time"}
    if setup.design is not None:
        wanted["design"] = pd.Index(setup.design)
    for name, index in stores.indexes.items():
        if name in wanted and not index.equals(wanted[name]):
            given, needed = (", ".join(str(one) for one in values[:6]) for values in (index, wanted[name]))
            raise RunoffError(
                f"simulate: start_state belongs to another `{name}` ({given}) than this run ({needed}); give the last state "
                "of the same, in the same order"
            )


# --- one pass ------------------------------------------------------------------------------------------------

Fields = dict[str, xr.Variable]


def _parameters(setup: _Setup) -> np.ndarray:
    return column.parameter_array(setup.columns, setup.step_hours, setup.limits.air_threshold, setup.limits.dry_share)


def _run(setup: _Setup, forcing: xr.Dataset, stores: Fields) -> Fields:
    """Run snow, planted column, other surface and comparison roof once; return raw fields on time."""
    given: Fields = {name: forcing.variables[name] for name in ("rain", "reference_et", "tmean") if name in forcing}
    raw: Fields = {}
    raw["liquid"], raw["snow_water"] = _snow(setup, given, stores["snow_water"])
    raw |= _planted(setup, raw["liquid"], given["reference_et"], forcing["time"], stores)
    depression = setup.per_design([one.other_surface.depression_storage_mm for one in setup.roofs])
    for surface, capacity in (
        ("other", depression),
        ("bare", xr.Variable((), setup.comparison.depression_storage_mm)),
    ):
        spilled, evaporated, water = xr.apply_ufunc(
            cells.depression,
            raw["liquid"],
            given["reference_et"],
            capacity,
            stores[f"{surface}_water"],
            input_core_dims=[["time"], ["time"], [], []],
            output_core_dims=[["time"]] * 3,
            dask="parallelized",
            output_dtypes=[float] * 3,
        )
        raw[f"{surface}_overflow"], raw[f"{surface}_evapotranspiration"] = spilled, evaporated
        raw[f"{surface}_water"] = water
    return raw


def _snow(setup: _Setup, given: Fields, before: xr.Variable) -> tuple[xr.Variable, xr.Variable]:
    rain = given["rain"].astype(float)
    if "tmean" not in given:
        return rain, xr.zeros_like(rain) + before
    return xr.apply_ufunc(
        lambda rain, temperature, snow: surfaces.snow_and_melt(
            *np.broadcast_arrays(rain, temperature),
            threshold=setup.snow.snow_below_c,
            melt_per_step=setup.snow.melt_mm_per_c_day * setup.step_hours / 24.0,
            snow=np.broadcast_to(snow, np.broadcast_shapes(rain.shape, temperature.shape)[:-1]),
        ),
        rain,
        given["tmean"],
        before,
        input_core_dims=[["time"], ["time"], []],
        output_core_dims=[["time"], ["time"]],
        dask="parallelized",
        output_dtypes=[float, float],
    )


def _planted(setup: _Setup, liquid: xr.Variable, e0: xr.Variable, time: xr.DataArray, stores: Fields) -> Fields:
    daily = setup.step_hours == 24.0
    names: tuple[str, ...] = column.TRACE if daily else minute_steps.TRACE
    run: Callable[..., np.ndarray] = cells.trace_days
    if not daily:
        run = functools.partial(cells.trace_minutes, setup.columns, setup.step_hours)
    if setup.irrigation is not None:
        names = (*column.TRACE, "irrigation")
        allowed = time.dt.month.isin(setup.irrigation.months).to_numpy()
        run = functools.partial(cells.trace_watered_days, setup.irrigation.below, setup.irrigation.dose_mm, allowed)
    traced = xr.apply_ufunc(
        run,
        liquid,
        e0,
        _daily_parameters(setup) if daily else _design_numbers(setup),
        *(stores[name] for name in column.STORES),
        input_core_dims=[["time"], ["time"], ["parameter"] if daily else [], *([[]] * len(column.STORES))],
        output_core_dims=[["variable", "time"]],
        dask="parallelized",
        output_dtypes=[float],
        dask_gufunc_kwargs={"output_sizes": {"variable": len(names)}},
    )
    return {name: traced.isel(variable=i) for i, name in enumerate(names)}


def _daily_parameters(setup: _Setup) -> xr.Variable:
    parameters = xr.Variable(("parameter", "design"), _parameters(setup))
    return parameters if setup.design else parameters.isel(design=0)


def _design_numbers(setup: _Setup) -> xr.Variable:
    return setup.per_design(range(len(setup.roofs)))


# --- labels --------------------------------------------------------------------------------------------------


def _finish(
    setup: _Setup, forcing: xr.Dataset, before: Fields, raw: Fields, start_coords: Mapping[Any, xr.DataArray]
) -> xr.Dataset:
    """Form what follows from fluxes and stores, check the balance, label everything."""
    result: Fields = {str(name): forcing.variables[name] for name in forcing.data_vars}
    result |= {name: field for name, field in raw.items() if name != "liquid"}
    result["overflow"] = result["drained"] + result["spilled"]
    planted = setup.per_design([one.planted_fraction for one in setup.roofs])
    area = setup.per_design([one.area_m2 for one in setup.roofs])
    result["roof_overflow"] = planted * result["overflow"] + (1.0 - planted) * result["other_overflow"]
    seconds = setup.step_hours * 3600.0
    result["discharge"] = result["roof_overflow"] * area / seconds
    result["bare_discharge"] = result["bare_overflow"] * area / seconds
    result["air_filled_porosity"] = _air_filled_porosity(setup, result)
    result["waterlogged"] = _waterlogged(setup, result)
    if "water_depth_on_deck_mm" not in result:
        result["water_depth_on_deck_mm"] = _water_depth(setup, result)
    for name in ("area_m2", "planted_fraction"):
        result[name] = setup.per_design([getattr(one, name) for one in setup.roofs])
    for name in ("field_water", "wilting_water", "full_water", "cup_capacity", "cup_supply"):
        result[name] = setup.column_value(name)
    result["balance_error"] = _balance_error(result, before)
    del result["other_evapotranspiration"]
    coords: dict[Any, Any] = {name: coord for name, coord in start_coords.items() if name != "time"}
    coords = {**forcing.coords, **{name: coord for name, coord in coords.items() if name not in forcing.coords}}
    labelled = xr.Dataset(result, coords={**coords, **setup.coords}, attrs=forcing.attrs)
    return label(labelled.transpose(..., "time"))


def _air_filled_porosity(setup: _Setup, result: Fields) -> xr.Variable:
    return (setup.column_value("full_water") - result["medium_water"]) / setup.column_value("medium_depth")


def _waterlogged(setup: _Setup, result: Fields) -> xr.Variable:
    """Little air in the medium or standing water on it; the same test as the totals loop makes."""
    limit = setup.limits.air_threshold * setup.column_value("medium_depth") - column.ROUNDING_MM
    little_air = setup.column_value("full_water") - result["medium_water"] < limit
    wet = little_air | (result["pond_water"] >= column.POND_SIGN_MM)
    many_cells = result["rain"].ndim > 1
    # a truth value cannot be missing, so cells of a grid carry 1.0, 0.0 or missing
    return wet.astype(float).where(result["medium_water"].notnull()) if many_cells else wet


def _water_depth(setup: _Setup, result: Fields) -> xr.Variable:
    return xr.apply_ufunc(
        water_depth,
        result["board_water"],
        result["medium_water"],
        result["pond_water"],
        *(
            setup.column_value(name)
            for name in ("board_capacity", "board_height", "field_water", "full_water", "medium_depth")
        ),
        dask="parallelized",
        output_dtypes=[float],
    )


def _balance_error(result: Fields, before: Fields) -> xr.Variable:
    """Return the largest error over the run, mm, and refuse a run that lost or made water."""
    names = [*column.STORES, "snow_water"]
    stored = sum((result[name] for name in names[1:]), result[names[0]])
    stored_before = sum((before[name] for name in names[1:]), before[names[0]])
    change = stored.isel(time=slice(1, None)) - stored.isel(time=slice(None, -1))
    change = xr.Variable.concat([stored.isel(time=slice(0, 1)) - stored_before, change], "time")
    arrived = result["rain"] + result["irrigation"] if "irrigation" in result else result["rain"]
    error = arrived - result["evapotranspiration"] - result["overflow"] - change
    largest = abs(error).max("time")
    if largest.chunks is None and float(largest.max()) > BALANCE_LIMIT_MM:
        raise BalanceError(
            f"simulate: the water balance is open by {float(largest.max()):.3g} mm in one step; this is a fault of "
            "the program, please report it with the roof and the weather"
        )
    return largest


def _provenance(
    setup: _Setup, forcing: xr.Dataset, years: int, moisture: str | float | None, state: xr.Dataset | None
) -> dict[str, Any]:
    from runoff.version import __version__

    if years:
        start = f"after a warm-up of {years} year{'s' if years > 1 else ''}"
    else:
        start = "last state of another run" if state is not None else str(moisture or "field-capacity")
    snow = f"at or below {setup.snow.snow_below_c:g} C; melt {setup.snow.melt_mm_per_c_day:g} mm/C/day"
    return {
        "title": "Water balance of a planted roof",
        "Conventions": "CF-1.11",
        "source": f"runoff {__version__}",
        "start": start,
        "step_hours": setup.step_hours,
        "spill_order": "overflow leaves before evaporation acts on the water of the step",
        "reference_et_method": str(forcing["reference_et"].attrs.get("method", "given")),
        "snow": snow if "tmean" in forcing else "no temperature given, all precipitation taken as rain",
        "air_threshold": setup.limits.air_threshold,
        "tolerance_days": setup.limits.tolerance_days,
        "warm_c": setup.limits.warm_c,
        "dry_share": setup.limits.dry_share,
        "comparison": f"{setup.comparison.kind} with {setup.comparison.depression_storage_mm:g} mm depression storage",
        "weather": str(forcing.attrs.get("source", "not stated")),
        "invented": str(forcing.attrs.get("invented", "no")),
    }
