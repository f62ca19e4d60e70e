"""Parameters of a roof from its measured overflow: fitted on one part of the record, judged on the part held back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np
import pandas as pd

from runoff.calibration.fit_result import RoofFit
from runoff.calibration.fitting import Estimate, fit, goodness, refuse_method
from runoff.calibration.observations import observed_days
from runoff.errors import RoofError, RunoffError, nearest, raise_faults
from runoff.roof import Roof, material_ranges
from runoff.simulation import RuleWords, RunRules, Trials, daily_forcing
from runoff.time_steps import time_step
from runoff.weather.record.frames import as_weather

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

#: What daily overflow tells apart best: how much is held, and how fast it is emptied between rains.
USUAL_PARAMETERS = ("medium.field_capacity", "planting.crop_coefficient")
MEASURED = ("roof_overflow", "overflow")
LEAST_DAYS, LEAST_WET_DAYS, WET_MM = 60, 10, 0.1
#: Allowed values where the materials table is narrower than what was published, or says nothing. Crop coefficient:
#: 0.53 (Sherrard and Jacobs 2012) to 1.97 (Rezaei, Jarrett, Berghage and Beattie 2005). The rest: common sense, no source.
_WIDER = {
    "planting.crop_coefficient": (0.3, 2.0),
    "planting.depletion_fraction": (0.0, 0.8),
    "board.cup_supply_fraction": (0.0, 1.0),
    "mat.mat_supply_fraction": (0.0, 1.0),
    "roof.planted_fraction": (0.1, 1.0),
}
_YEAR_DAYS = 365
_DEPLETION = "planting.depletion_fraction"

Parameters = Sequence[str] | Mapping[str, tuple[float, float] | None]


def fit_roof(
    roof: Roof,
    weather: Any,
    observed: Any,
    *,
    parameters: Parameters | None = None,
    measured: str = "roof_overflow",
    start: str | None = None,
    end: str | None = None,
    held_back: float = 1.0 / 3.0,
    method: str = "least squares",
    seed: int = 1,
    rules: RunRules | None = None,
    **words: Unpack[RuleWords],
) -> RoofFit:
    """Return the parameters with which a roof follows its measured overflow best.

    Parameters
    ----------
    roof
        The roof as described; what is not fitted stays as it is.
    weather
        Daily weather of the same days. A year before the first observed day is used to bring the stores to their
        level; where it is lacking, the first year is run once before.
    observed
        Overflow, mm per day: pandas Series on dates or DataArray on ``time``. Missing days are left out and counted.
    parameters
        Names as in `Roof.replace`, or a dict of names to ``(lowest, highest)``. Default: field capacity and crop
        coefficient. Without bounds the range of the materials table is used, around the described value.
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
    known = ("parameters", "measured", "start", "end", "held_back", "method", "seed")
    rules = RunRules.of("fit_roof", rules, known, **words)
    if measured not in MEASURED:
        raise RunoffError(
            f'fit_roof: measured "{measured}" is not known{nearest(measured, MEASURED)}; known are {", ".join(MEASURED)}'
        )
    if not 0.0 <= held_back <= 0.8:
        raise RunoffError(f"fit_roof: held_back is a share of the observed days, 0 to 0.8 (given {held_back:g})")
    refuse_method("fit_roof", method)
    bounds = _bounds(roof, USUAL_PARAMETERS if parameters is None else parameters)
    seen = observed_days(observed, start, end)
    fitting = _fitting_part(seen, held_back)
    model = _Model(weather, rules, seen, measured)
    target = seen.to_numpy()
    compared = fitting & np.isfinite(target)

    def left(names: Sequence[str], values: np.ndarray) -> np.ndarray:
        return (model(_with(roof, names, values)) - target)[compared]

    names = list(bounds)
    described = [_value(roof, name) for name in names]
    box = np.array(list(bounds.values()))
    found = fit(lambda values: left(names, values), box, np.array(described), method=method, seed=seed)
    fitted = _with(roof, names, found.best)
    steady = None
    if _DEPLETION not in names and _value(roof, _DEPLETION) == 0.0:
        both = [*names, _DEPLETION]
        again = fit(
            lambda values: left(both, values),
            np.vstack([box, _WIDER[_DEPLETION]]),
            np.append(found.best, 0.2),
            trials=0,
        )
        squares = [float(np.sum(left(some, best) ** 2)) for some, best in ((names, found.best), (both, again.best))]
        gain = 1.0 - squares[1] / squares[0] if squares[0] > 0 else 0.0
        steady = (float(again.best[-1]), float(np.nan_to_num(again.low[-1])), gain)
    return _collect(roof, fitted, model, seen, fitting, bounds, described, found, measured, method, steady)


def _with(roof: Roof, names: Sequence[str], values: np.ndarray) -> Roof:
    return roof.replace(dict(zip(names, map(float, values), strict=True)))


class _Model:
    """The overflow of a roof on the observed days.

    Parameters
    ----------
    weather, rules
        Daily weather and rules of the run.
    seen
        What was observed.
    measured
        A name of `MEASURED`.
    """

    def __init__(self, weather: Any, rules: RunRules, seen: pd.Series, measured: str) -> None:
        cut = _weather_of_days(as_weather(weather), seen)
        before = int((seen.index[0] - cut.indexes["time"][0]).days)
        warm_up = rules.warm_up_years if rules.warm_up_years is not None else 0 if before >= _YEAR_DAYS else 1
        rules = rules.model_copy(update={"warm_up_years": warm_up})
        forcing = daily_forcing(cut, rules, "fit_roof")
        self._trials, self._measured = Trials(forcing, rules), measured
        # observed days among the days of the run
        self._picked = pd.DatetimeIndex(forcing.indexes["time"]).floor("D").get_indexer(seen.index)

    def __call__(self, roof: Roof) -> np.ndarray:
        return self._trials(roof)[self._measured][self._picked]


def _weather_of_days(weather: xr.Dataset, seen: pd.Series) -> xr.Dataset:
    """Return the weather from a year before the first observed day to the last, or say which days it lacks."""
    import pandas as pd

    days = weather.indexes["time"]
    if not isinstance(days, pd.DatetimeIndex) or weather["rain"].ndim > 1 or not time_step(weather["time"]).daily:
        raise RunoffError("fit_roof: weather must be one daily series of calendar dates, as the observation is")
    outside = seen.index[~seen.index.isin(days.floor("D"))]
    if len(outside):
        raise RunoffError(
            f"fit_roof: {len(outside)} observed days lie outside the weather ({days[0].date()} to {days[-1].date()}), "
            f"the first {outside[0].date()}; give the weather of those days, or choose others with start and end"
        )
    first = seen.index[0] - pd.Timedelta(days=_YEAR_DAYS)
    return weather.sel(time=slice(first, seen.index[-1] + pd.Timedelta("23h")))


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


def _value(roof: Roof, name: str) -> float:
    word, _, field = name.partition(".")
    return float(getattr(roof if word == "roof" else roof.build_up.layer(word), field))


def _fitting_part(seen: pd.Series, held_back: float) -> np.ndarray:
    """Tell the days that are fitted: all but the share at the end; refuse an observation that cannot carry a fit."""
    known = np.flatnonzero(np.isfinite(seen.to_numpy()))
    count = known.size - round(held_back * known.size)
    if count < LEAST_DAYS:
        raise RunoffError(
            f"fit_roof: {known.size} observed days, {count} of them to fit, are too few; at least {LEAST_DAYS} are needed "
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
    fitted: Roof,
    model: _Model,
    seen: pd.Series,
    fitting: np.ndarray,
    bounds: dict[str, tuple[float, float]],
    described: list[float],
    found: Estimate,
    measured: str,
    method: str,
    steady: tuple[float, float, float] | None,
) -> RoofFit:
    import pandas as pd

    names = list(bounds)
    status = [
        "not felt" if not felt else f"at its {bound} bound" if bound else "fitted"
        for felt, bound in zip(found.felt, found.on_bound, strict=True)
    ]
    table = pd.DataFrame(
        {
            "described": described,
            "fitted": found.best,
            "low": found.low,
            "high": found.high,
            "lowest": [pair[0] for pair in bounds.values()],
            "highest": [pair[1] for pair in bounds.values()],
            "status": status,
        },
        index=pd.Index(names, name="parameter"),
    )
    series = seen.to_frame()
    series["described"], series["fitted"] = model(roof), model(fitted)
    series["part"] = np.where(fitting, "fitting", "held back")
    rows = {
        (part, which): goodness(days["observed"].to_numpy(), days[which].to_numpy())
        for part, days in series.groupby("part")
        for which in ("described", "fitted")
    }
    good = pd.DataFrame.from_dict(rows, orient="index")
    good.index = pd.MultiIndex.from_tuples(list(rows), names=["part", "roof"])
    span = (seen.index[-1] - seen.index[0]).days + 1
    return RoofFit(
        roof=fitted,
        described=roof,
        table=table,
        goodness=good.astype({"days": int}),
        correlation=pd.DataFrame(found.correlation, index=names, columns=names),
        series=series,
        missing_days=span - int(np.isfinite(seen.to_numpy()).sum()),
        measured=measured,
        method=method,
        steady_drying=steady,
    )
