"""Parameters of a roof from its measured overflow: fitted on one part of the record, judged on the part held back."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any, Unpack

import numpy as np
import pandas as pd
from pandas.tseries.frequencies import to_offset

from runoff.calibration.fit_result import RoofFit
from runoff.calibration.fitting import Estimate, fit, goodness, refuse_method
from runoff.calibration.observations import amounts_of, is_finer_than_a_day, observed_days, observed_steps
from runoff.calibration.observed_runs import SPIN_UP_DAYS, DailyRun, MinuteRun, ObservedRun, weather_of_fit
from runoff.calibration.overflow_events import event_peaks
from runoff.errors import RoofError, RunoffError, nearest, raise_faults
from runoff.roof import Roof, material_ranges
from runoff.roof.fitted_range import FittedRange
from runoff.simulation import RuleWords, RunRules
from runoff.time_steps import ONE_DAY, time_step
from runoff.weather.quality.two_gauges import GaugeComparison, compare_gauges
from runoff.weather.record.frames import as_weather

#: What daily overflow tells apart best: how much is held, and how fast it is emptied between rains.
USUAL_PARAMETERS = ("medium.field_capacity", "planting.crop_coefficient")
MEASURED = ("roof_overflow", "overflow")
LEAST_DAYS, LEAST_WET_DAYS, WET_MM = 60, 10, 0.1
#: A record in minutes tells more a day.
LEAST_DAYS_IN_MINUTES = 30
#: And feels how fast a medium passes water on.
USUAL_IN_MINUTES = ("medium.detention_k",)
#: A range over more than this factor is searched by its logarithm.
_POWER = 20.0
#: Allowed values where the materials table is narrower than what was published, or says nothing. Crop coefficient:
#: 0.53 (Sherrard and Jacobs 2012) to 1.97 (Rezaei, Jarrett, Berghage and Beattie 2005). The rest: common sense, no source.
_WIDER = {
    "planting.crop_coefficient": (0.3, 2.0),
    "planting.depletion_fraction": (0.0, 0.8),
    "board.cup_supply_fraction": (0.0, 1.0),
    "mat.mat_supply_fraction": (0.0, 1.0),
    "roof.planted_fraction": (0.1, 1.0),
}
_DEPLETION = "planting.depletion_fraction"

Parameters = Sequence[str] | Mapping[str, tuple[float, float] | None]


def fit_roof(
    roof: Roof,
    weather: Any,
    observed: Any,
    *,
    climate: Any = None,
    parameters: Parameters | None = None,
    measured: str = "roof_overflow",
    start: str | None = None,
    end: str | None = None,
    held_back: float = 1.0 / 3.0,
    method: str = "least squares",
    seed: int = 1,
    own_rain: pd.Series | None = None,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> RoofFit:
    """Return the parameters with which a roof follows its measured overflow best.

    Parameters
    ----------
    roof
        The roof as described; what is not fitted stays as it is.
    weather
        Weather of the same time. Daily: a year before the first observed day is used to bring the stores to their level; where it
        is lacking, the first year is run once before. At shorter steps, with `observed` at shorter steps too: the fit is made in
        those steps, its first 14 days are run but not compared.
    observed
        Overflow, mm per step: pandas Series on dates or DataArray on ``time``. Missing steps are left out and counted; beside
        daily weather, shorter steps are summed to days.
    climate
        Daily weather for the evapotranspiration and temperature of a record in minutes, as in `runoff.simulate`.
    parameters
        Names as in `Roof.replace`, or a dict of names to ``(lowest, highest)``. Default: field capacity and crop
        coefficient, in minutes detention_k too. Without bounds the range of the materials table is used, around the described value.
    measured
        ``"roof_overflow"``: over the whole roof, as a gauge at the outlet measures it; ``"overflow"``: of the planted
        part alone.
    start, end
        First and last day of the observation used, as ``"2014"`` or ``"2014-04-01"``.
    held_back
        Share of the observed days at the end that is not fitted but used to judge the fit, 0 to 0.8.
    method
        ``"least squares"`` or ``"differential evolution"``.
    seed
        Seed of the trial points.
    own_rain
        Rain of the roof's own gauge, mm per step, held against the rain of the weather: where the two disagree it is named among
        the doubts. The fit takes the rain of the weather, nothing is averaged.
    rules, **words
        Rules of the runs (et_method, snow, warm_up_years), as in `runoff.simulate`.

    Returns
    -------
    RoofFit
        Fitted roof, ranges, goodness on both parts, advice.

    Raises
    ------
    RunoffError
        When a parameter or its bounds do not fit the roof, or the observation is too short, dry, or outside the weather.

    Notes
    -----
    The sum of squared differences of daily overflow is made least. The 5-95 % ranges come from its slopes and the size of the
    differences, those of neighbouring days together (see `fitting.fit`), and hold for the model as it is: a gauge that reads
    10 % low is not in them.
    """
    known = ("parameters", "measured", "start", "end", "held_back", "method", "seed", "own_rain")
    rules = RunRules.of("fit_roof", rules, known, **words)
    if measured not in MEASURED:
        raise RunoffError(
            f'fit_roof: measured "{measured}" is not known{nearest(measured, MEASURED)}; known: {", ".join(MEASURED)}'
        )
    if not 0.0 <= held_back <= 0.8:
        raise RunoffError(f"fit_roof: held_back is a share of the observed days, 0 to 0.8 (given {held_back:g})")
    refuse_method("fit_roof", method)
    record = _Record.of(weather, climate, observed, start, end, rules, measured, held_back)
    usual = USUAL_PARAMETERS if record.is_daily else (*USUAL_PARAMETERS, *USUAL_IN_MINUTES)
    bounds = _bounds(roof, usual if parameters is None else parameters)
    gauges = None if own_rain is None else _gauges(weather, own_rain, record.seen)
    names = list(bounds)
    scale = _Scale(roof, bounds)
    found = fit(
        lambda values: record.left(_with(roof, names, scale.values(values))), scale.box, scale.begin, method=method,
        seed=seed, trials=24 if record.is_daily else 8, quick=not record.is_daily, neighbours=record.steps_a_day if not record.is_daily else None,
    )  # fmt: skip
    steady = _steady_drying(roof, record, names, scale, found) if record.is_daily else None
    return dataclasses.replace(_collect(roof, record, scale, found, method, steady), gauges=gauges)


def _gauges(weather: Any, own_rain: pd.Series, seen: pd.Series) -> GaugeComparison:
    """Hold the roof's own rain against that of the weather, over the observed time."""
    first, last = seen.index[0].normalize(), seen.index[-1].normalize() + pd.Timedelta("1D") - pd.Timedelta("1ns")
    rain = as_weather(weather)[["rain"]].sel(time=slice(first, last))
    return compare_gauges(rain, own_rain.loc[first:last], names=("the rain of the weather", "the roof's own rain"))


@dataclasses.dataclass(frozen=True, kw_only=True)
class _Record:
    """What was observed, which of it is fitted, and the run that is held against it."""

    seen: pd.Series
    fitting: np.ndarray
    compared: np.ndarray
    run: ObservedRun
    measured: str
    step_hours: float

    @classmethod
    def of(
        cls, weather: Any, climate: Any, observed: Any, start: str | None, end: str | None, rules: RunRules,
        measured: str, held_back: float,
    ) -> _Record:  # fmt: skip
        checked = weather_of_fit(weather)
        step = time_step(checked["time"]).length
        if step < ONE_DAY and is_finer_than_a_day(amounts_of(observed)):
            seen = observed_steps(observed, step, start, end)
            run: ObservedRun = MinuteRun(
                checked, None if climate is None else as_weather(climate), rules, seen, measured
            )
            hours = time_step(seen.index).hours
            after = np.arange(len(seen)) * hours >= 24.0 * SPIN_UP_DAYS
            days = seen.where(after).groupby(pd.DatetimeIndex(seen.index).floor("D")).sum(min_count=1)
            fitted_days = pd.Series(_fitting_part(days, held_back, LEAST_DAYS_IN_MINUTES), days.index)
            fitting = fitted_days.reindex(pd.DatetimeIndex(seen.index).floor("D")).to_numpy(dtype=bool)
        else:
            seen = observed_days(observed, start, end)
            fitting, after, hours = _fitting_part(seen, held_back), np.ones(len(seen), dtype=bool), 24.0
            run = DailyRun(checked, rules, seen, measured)
        compared = fitting & after & np.isfinite(seen.to_numpy())
        return cls(
            seen=seen.where(after), fitting=fitting, compared=compared, run=run, measured=measured, step_hours=hours
        )

    @property
    def is_daily(self) -> bool:
        return self.step_hours == 24.0

    @property
    def steps_a_day(self) -> int:
        return round(24.0 / self.step_hours)

    def left(self, roof: Roof) -> np.ndarray:
        """Return modelled less observed overflow where it is fitted, mm per step."""
        return (self.run(roof) - self.seen.to_numpy())[self.compared]


class _Scale:
    """Between values and what the search moves: the logarithm of a value whose range spans powers of ten, else the value."""

    def __init__(self, roof: Roof, bounds: dict[str, tuple[float, float]]) -> None:
        self.bounds = bounds
        self.described = np.array([float(roof.value_of(name)) for name in bounds])
        self._by_logarithm = np.array([low > 0.0 and high > _POWER * low for low, high in bounds.values()])
        self.box = np.column_stack([self.moved(np.array(ends)) for ends in zip(*bounds.values(), strict=True)])
        self.begin = self.moved(self.described)

    def moved(self, values: np.ndarray) -> np.ndarray:
        """Return what stands for values in the search."""
        return np.where(self._by_logarithm, np.log(np.maximum(values, 1e-300)), values)

    def values(self, moved: np.ndarray) -> np.ndarray:
        """Return the values that stand behind."""
        return np.where(self._by_logarithm, np.exp(np.minimum(moved, 700.0)), moved)


def _steady_drying(
    roof: Roof, record: _Record, names: list[str], scale: _Scale, found: Estimate
) -> tuple[float, float, float] | None:
    """Fit the share of usable water given up at a steady rate beside the rest; None where it is fitted or described."""
    if _DEPLETION in names or roof.value_of(_DEPLETION) != 0.0:
        return None
    both = [*names, _DEPLETION]

    def left(moved: np.ndarray) -> np.ndarray:
        return record.left(_with(roof, both, np.append(scale.values(moved[:-1]), moved[-1])))

    again = fit(left, np.vstack([scale.box, _WIDER[_DEPLETION]]), np.append(found.best, 0.2), trials=0)
    alone, beside = (float(np.sum(left(moved) ** 2)) for moved in (np.append(found.best, 0.0), again.best))
    gain = 1.0 - beside / alone if alone > 0 else 0.0
    return float(again.best[-1]), float(np.nan_to_num(again.low[-1])), gain


def _with(roof: Roof, names: Sequence[str], values: np.ndarray) -> Roof:
    return roof.replace(dict(zip(names, map(float, values), strict=True)))


def _bounds(roof: Roof, parameters: Parameters) -> dict[str, tuple[float, float]]:
    """Return lowest and highest value per parameter, all faults in one message."""
    given = dict(parameters) if isinstance(parameters, Mapping) else dict.fromkeys(parameters)
    if not given:
        raise RunoffError('fit_roof: no parameters given; name at least one, for example "medium.field_capacity"')
    listed = {name: (low, high) for name, (low, _, high) in material_ranges(roof).items()} | _WIDER
    bounds, faults = {}, []
    for name, pair in given.items():
        pair = listed.get(name) if pair is None else pair
        unknown = [fault for fault in _refused_ends(roof, name, (0.5,)) if fault.startswith(f'"{name}"')]
        if unknown:
            faults += unknown
        elif pair is None:
            faults.append(f'"{name}" has no range in the materials table; give one, {{"{name}": (lowest, highest)}}')
        elif len(pair) != 2 or not pair[0] < pair[1]:
            faults.append(f"{name} needs (lowest, highest), rising (you wrote {tuple(pair)!r})")
        else:
            bounds[name] = (float(pair[0]), float(pair[1]))
            faults += _refused_ends(roof, name, bounds[name])
    raise_faults("fit_roof", faults)
    for ends in (0, 1):
        for other in (0, 1):  # one against the rest: field capacity at its lowest with the wilting point at its highest
            for name in bounds:
                mix = {key: pair[ends if key == name else other] for key, pair in bounds.items()}
                try:
                    roof.replace(mix)
                except RoofError as error:
                    raise RunoffError(f"fit_roof: the ranges contradict each other: {error}") from None
    return bounds


def _refused_ends(roof: Roof, name: str, pair: Sequence[float]) -> list[str]:
    for value in pair:
        try:
            roof.replace({name: value})
        except RoofError as error:
            return [str(error).removeprefix("replace: ")]
    return []


def _fitting_part(seen: pd.Series, held_back: float, least: int = LEAST_DAYS) -> np.ndarray:
    """Tell the days that are fitted: all but the share at the end; refuse an observation that cannot carry a fit."""
    known = np.flatnonzero(np.isfinite(seen.to_numpy()))
    count = known.size - round(held_back * known.size)
    if count < least:
        raise RunoffError(
            f"fit_roof: {known.size} observed days, {count} of them to fit, are too few; at least {least} are needed "
            "to fit, better two years. Give a longer record, or hold back less"
        )
    fitting = np.arange(len(seen)) <= known[count - 1]
    wet = int((seen.to_numpy()[fitting] >= WET_MM).sum())
    if wet == 0:
        raise RunoffError(
            "fit_roof: the days to fit hold no overflow at all; a roof that never overflowed only shows that it holds at "
            "least what fell. Give a wetter period, or check the gauge"
        )
    if wet < LEAST_WET_DAYS:
        raise RunoffError(
            f"fit_roof: only {wet} of the days to fit have {WET_MM:g} mm of overflow or more; at least {LEAST_WET_DAYS} "
            "are needed. Give a longer or wetter period"
        )
    return fitting


def _collect(
    roof: Roof,
    record: _Record,
    scale: _Scale,
    found: Estimate,
    method: str,
    steady: tuple[float, float, float] | None,
) -> RoofFit:
    names = list(scale.bounds)
    best = scale.values(found.best)
    fitted = _with(roof, names, best)
    status = [
        "not felt" if not felt else f"at its {bound} bound" if bound else "fitted"
        for felt, bound in zip(found.felt, found.on_bound, strict=True)
    ]
    table = pd.DataFrame(
        {
            "described": scale.described,
            "fitted": best,
            "low": scale.values(found.low),
            "high": scale.values(found.high),
            "lowest": [pair[0] for pair in scale.bounds.values()],
            "highest": [pair[1] for pair in scale.bounds.values()],
            "status": status,
        },
        index=pd.Index(names, name="parameter"),
    )
    series = record.seen.to_frame()
    series["described"], series["fitted"] = record.run(roof), record.run(fitted)
    series["part"] = np.where(record.fitting, "fitting", "held back")
    rows = {
        (part, which): goodness(steps["observed"].to_numpy(), steps[which].to_numpy())
        for part, steps in series.groupby("part")
        for which in ("described", "fitted")
    }
    good = pd.DataFrame.from_dict(rows, orient="index")
    good.index = pd.MultiIndex.from_tuples(list(rows), names=["part", "roof"])
    good["days"] = (good["days"] * record.step_hours / 24.0).round()
    lacking = int(record.seen.asfreq(to_offset(pd.Timedelta(hours=record.step_hours))).isna().sum())
    spin_up = 0 if record.is_daily else SPIN_UP_DAYS
    first, last = (f"{stamp:%Y-%m-%d}" for stamp in (series.index[0], series.index[-1]))
    ranges = [
        FittedRange(
            property=str(name), value=float(row["fitted"]), low=float(row["low"]), high=float(row["high"]),
            fitted_on=f"measured overflow, {first} to {last}",
        )
        for name, row in table.iterrows()
        if row["status"] == "fitted" and row["low"] < row["fitted"] < row["high"]
    ]  # fmt: skip
    return RoofFit(
        roof=fitted.with_fitted(ranges),
        described=roof,
        table=table,
        goodness=good.astype({"days": int}),
        correlation=pd.DataFrame(found.correlation, index=names, columns=names),
        series=series,
        missing_days=max(0, round(lacking * record.step_hours / 24.0) - spin_up),
        measured=record.measured,
        method=method,
        steady_drying=steady,
        step_hours=record.step_hours,
        events=event_peaks(series, record.run.rain) if isinstance(record.run, MinuteRun) else None,
    )
