"""What a fit found: the values, how good they are, and in words what the record does not tell."""

from __future__ import annotations

import dataclasses
import functools
import itertools
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from pandas.tseries.frequencies import to_offset

from runoff.calibration.overflow_events import LEAST_MM
from runoff.calibration.sign_runs import runs_of
from runoff.saying.numbers import fixed
from runoff.saying.scales import say
from runoff.saying.tables import Table
from runoff.weather.quality.scale_parts import odd_part, times_words
from runoff.weather.quality.two_gauges import GaugeComparison
from runoff.weather.record.time_axis import counted

if TYPE_CHECKING:
    from runoff.roof import Roof

#: Two estimates more alike than this cannot be told apart (common practice, no source).
_TOGETHER = 0.9
#: A range wider than this share of the allowed range says little (own proposal).
_WIDE = 0.5
#: Below this share estimates may go together as they like: both are sharp (own proposal).
_NARROW = 0.1
#: Volume errors beyond this on the days held back are named, and beyond the smaller one where the days fitted err the same
#: way (own proposals; gauges are often no better than 5 %).
_VOLUME_PERCENT, _BOTH_PERCENT = 10.0, 5.0
#: A steady rate of drying is named from this share of usable water on, and where it takes so much of the squared differences.
_STAGE_SHARE, _STAGE_GAIN = 0.15, 0.1
#: Fewer events than this say nothing of peaks; a median peak off by more than this factor is a doubt (own proposals).
_LEAST_EVENTS, _PEAKS_OFF = 5, 1.5
#: Days are taken to begin at different hours from this share of a day on, where it takes so much of the squared differences
#: (own proposal).
_DAY_SHARE, _DAY_GAIN = 0.15, 0.2
#: Differences under this are none, mm a day.
_NOTHING_MM = 0.05
#: Days on which the described roof runs off most: there what is held matters least. Measured overflow off by more than the
#: factor on their sum is a doubt about the scale; factors of units that are mixed up (own proposals).
_SCALE_DAYS, _SCALE_OFF, _LEAST_SCALE_MM = 10, 2.0, 10.0
#: Parameters that a sum over a day does not feel, with what does.
_NOT_IN_DAYS = ("detention_k", "detention_n", "conductivity_mm_per_h", "in_plane_flow_l_per_s_m")


@dataclasses.dataclass(frozen=True, kw_only=True)
class RoofFit:
    """What the measured overflow tells about a roof.

    Parameters
    ----------
    roof, described
        The fitted roof, and the one that was described.
    table
        One row per parameter: ``described``, ``fitted``, ``low``, ``high`` (5-95 % range), ``lowest``, ``highest``
        (allowed), ``status`` (``fitted``, ``at its low bound``, ``at its high bound``, ``not felt``).
    goodness
        Rows ``(part, roof)``: fitting or held back, described or fitted; columns of `goodness`.
    correlation
        Correlation of the fitted values.
    series
        Per day: ``observed``, ``described``, ``fitted`` (mm), ``part``.
    missing_days
        Days of the observed period without a reading; they are left out.
    measured
        Which overflow was compared.
    method
        Method of the search.
    steady_drying
        Where the planting was described without: share of usable water given up at a steady rate when that is fitted too,
        its 5 % value, and the share of the squared differences it takes.
    step_hours
        Step that was compared, h.
    events
        Of a record in minutes, per event that ran off: volume, peak and when it came; see `event_peaks`.
    gauges
        The roof's own rain held against that of the weather, where it was given.
    """

    roof: Roof
    described: Roof
    table: pd.DataFrame
    goodness: pd.DataFrame
    correlation: pd.DataFrame
    series: pd.DataFrame
    missing_days: int
    measured: str
    method: str
    steady_drying: tuple[float, float, float] | None = None
    step_hours: float = 24.0
    events: pd.DataFrame | None = None
    gauges: GaugeComparison | None = None

    @property
    def advice(self) -> tuple[str, ...]:
        """What the record did and did not identify, one sentence or two per finding."""
        return tuple([*_of_parameters(self), *_of_pairs(self), *_of_parts(self), *_of_peaks(self), *_of_the_kind(self)])

    @functools.cached_property
    def doubts(self) -> tuple[str, ...]:
        """What speaks against using the values, in words; empty for a sound fit."""
        return tuple(
            [
                *_of_gauges(self),
                *_of_scale(self),
                *_of_part(self),
                *_of_months(self),
                *_of_volume(self),
                *_of_runs(self),
                *_of_drying(self),
                *_of_low_peaks(self),
                *_of_day_start(self),
            ]
        )

    def _repr_html_(self) -> str:
        doubts = [f"Doubt: {said}" for said in self.doubts]
        notes = dataclasses.replace(goodness_shown(self), notes=[*doubts, *self.advice])
        return dataclasses.replace(values_shown(self), title="What the measured overflow tells").html() + notes.html()

    def text(self, *, units: str = "si") -> str:
        """Return fitted values, goodness and advice as a person reads them; depths in ``"si"`` or ``"us"`` units."""
        return "\n".join(
            [
                values_shown(self).text(),
                "",
                goodness_shown(self, units=units).text(),
                "",
                *(f"- Doubt: {said}" for said in self.doubts),
                *(f"- {said}" for said in self.advice),
            ]
        )


def _of_parameters(fit: RoofFit) -> list[str]:
    said = []
    for name, row in fit.table.iterrows():
        if row["status"] == "not felt":
            words = f"{name} does not change the daily overflow: any value fits as well. Leave it as described."
            if str(name).endswith(_NOT_IN_DAYS):
                words += " It shapes the hours of a storm; a record in minutes would show it."
            said.append(words)
        elif row["status"] != "fitted":
            said.append(
                f"{name} lies {row['status']} ({row['fitted']:.4g}): a value beyond it would fit better. Check the gauge, the "
                "area that drains to it and the rain before widening the range."
            )
        elif row["high"] - row["low"] > _WIDE * (row["highest"] - row["lowest"]):
            said.append(
                f"{name} is hardly identified: {row['low']:.4g} to {row['high']:.4g} (5 to 95 %) of "
                f"{row['lowest']:.4g} to {row['highest']:.4g} allowed. Measure it in a tray, or leave it as described."
            )
    return said


def _of_pairs(fit: RoofFit) -> list[str]:
    said = []
    for one, other in itertools.combinations(fit.correlation.index, 2):
        value = fit.correlation.loc[one, other]
        rows = fit.table.loc[[one, other]]
        wide = ((rows["high"] - rows["low"]) / (rows["highest"] - rows["lowest"])).max() > _NARROW
        if np.isfinite(value) and abs(value) > _TOGETHER and wide:
            said.append(
                f"{one} and {other} cannot be told apart by this record (correlation {value:.2f}): measure one of them "
                "and fit the other."
            )
    return said


def _of_parts(fit: RoofFit) -> list[str]:
    said = []
    if fit.missing_days:
        left = "was left out; it was" if fit.missing_days == 1 else "were left out; they were"
        said.append(f"{counted(fit.missing_days, 'day')} without a reading {left} not taken as dry.")
    if ("held back", "fitted") not in fit.goodness.index:
        said.append("No days were held back: nothing shows yet that the fit holds beyond the days it was made from.")
        return said
    known: dict[Any, dict[Any, Any]] = fit.goodness.to_dict("index")
    late, before = known["held back", "fitted"], known["held back", "described"]
    if late["rmse_mm"] > before["rmse_mm"]:
        said.append(
            "On the days held back the fitted roof is further off than the described one: keep the description, or fit fewer parameters."
        )
    return said


def _in_days(fit: RoofFit) -> pd.DataFrame:
    """Return measured and described overflow of days with all their readings."""
    known = fit.series[["observed", "described"]].where(fit.series["observed"].notna())
    days = known.groupby(pd.DatetimeIndex(known.index).floor("D"))
    whole = days["observed"].count() == days.size()
    return days.sum()[whole]


def _of_scale(fit: RoofFit) -> list[str]:
    """Name a gauge whose scale is off: on the wettest days nearly all must leave, whatever the roof holds."""
    wettest = _in_days(fit).nlargest(_SCALE_DAYS, "described").sum()
    if wettest["described"] < _LEAST_SCALE_MM or wettest["observed"] <= 0.0:
        return []
    ratio = float(wettest["observed"] / wettest["described"])
    if max(ratio, 1.0 / ratio) < _SCALE_OFF:
        return []
    return [
        f"On the {_SCALE_DAYS} days on which the described roof runs off most, {times_words(ratio)} was measured: the scale of the "
        "gauge, its unit or the area that drains to it is wrong. Correct it before fitting."
    ]


def _of_part(fit: RoofFit) -> list[str]:
    """Name months in which measured over modelled overflow is in another scale than in the rest."""
    days = _in_days(fit)
    part = odd_part(days["described"], days["observed"])
    if part is None:
        return []
    return [
        f"{part.when[0].upper()}{part.when[1:]} {times_words(part.factor)} was measured, compared with the rest of the record: the scale "
        "of the gauge, its unit or the rain is wrong there. Correct that part, or leave it out with start and end."
    ]


def _of_gauges(fit: RoofFit) -> list[str]:
    """Name what the roof's own rain gauge says against the rain that was used."""
    if fit.gauges is None:
        return []
    check = fit.gauges.check()
    return (
        []
        if check.verdict == "good"
        else [f"Two rain gauges: {check.found}. {check.advice[0].upper()}{check.advice[1:]}."]
    )


def _of_months(fit: RoofFit) -> list[str]:
    """Name calendar months of the record without a single reading."""
    observed = fit.series["observed"].asfreq(to_offset(pd.Timedelta(hours=fit.step_hours)))
    count = observed.groupby(pd.DatetimeIndex(observed.index).to_period("M")).count()
    empty = [str(month) for month, readings in count.items() if readings == 0]
    if not empty:
        return []
    return [
        f"No reading at all in {', '.join(empty)}: seasons are weighed unevenly, and what happened then is not known."
    ]


def _of_volume(fit: RoofFit) -> list[str]:
    """Name a volume that is off on the days held back, and one that is off the same way on both parts."""
    if ("held back", "fitted") not in fit.goodness.index:
        return []
    known: dict[Any, dict[Any, Any]] = fit.goodness.to_dict("index")
    late, early = (known[part, "fitted"]["volume_error_percent"] for part in ("held back", "fitting"))
    said = f"On the days held back the volume is off by {late:+.0f} % ({early:+.0f} % on the days fitted)"
    if abs(late) > _VOLUME_PERCENT:
        return [f"{said}: do not rest a claim on this fit."]
    if min(abs(late), abs(early)) > _BOTH_PERCENT and late * early > 0:
        return [
            f"{said}, the same way on both: the fitted values cannot make up for it. Check the area that drains to the gauge, "
            "the rain and the scale of the gauge."
        ]
    return []


def _of_runs(fit: RoofFit) -> list[str]:
    """Name differences that keep their sign, over the days of the fit on which water ran off."""
    days = fit.series[fit.series["part"] == "fitting"]
    differences = days["observed"] - days["fitted"]
    if fit.step_hours < 24.0:
        differences = differences.groupby(pd.DatetimeIndex(differences.index).floor("D")).sum(min_count=1)
    left = differences.to_numpy()
    runs = runs_of(np.where(np.abs(left) > _NOTHING_MM, left, 0.0))
    if not runs.too_few:
        return []
    return [
        f"Measured and modelled overflow differ the same way for many days in a row ({runs.words}): something lasts that the model "
        "does not have, a gauge that drifts, a season, snow. The ranges are widened for a few days of it, not for months."
    ]


def _of_peaks(fit: RoofFit) -> list[str]:
    """Say how peaks and their times compare, of a record in minutes."""
    if fit.events is None:
        return []
    if len(fit.events) < _LEAST_EVENTS:
        return [
            f"Only {len(fit.events)} events ran off by {LEAST_MM:g} mm or more: too few to tell peaks and their times by."
        ]
    ratio = (fit.events["fitted_peak"] / fit.events["observed_peak"]).quantile([0.25, 0.5, 0.75]).tolist()
    lag = fit.events["fitted_lag_min"].quantile([0.25, 0.5, 0.75]).tolist()
    before = float((fit.events["described_peak"] / fit.events["observed_peak"]).median())
    return [
        f"Over {len(fit.events)} events the fitted peak is {ratio[1]:.2f} of the measured one (median; quartiles {ratio[0]:.2f} to "
        f"{ratio[2]:.2f}; as described {before:.2f}) and comes {abs(lag[1]):.0f} min {'late' if lag[1] >= 0 else 'early'} "
        f"(quartiles {lag[0]:+.0f} to {lag[2]:+.0f} min)."
    ]


def _of_day_start(fit: RoofFit) -> list[str]:
    """Notice days of the overflow that begin at another hour than those of the rain: a part of each day stands beside it."""
    if fit.step_hours != 24.0:
        return []
    days = fit.series.asfreq("D")
    before, after = days["fitted"].shift(1), days["fitted"].shift(-1)
    known = days["observed"].notna() & days["fitted"].notna() & before.notna() & after.notna()
    left = (days["observed"] - days["fitted"])[known].to_numpy()
    for beside, words in ((before, "before"), (after, "after")):
        moved = (beside - days["fitted"])[known].to_numpy()
        size = float(moved @ moved)
        share = float(moved @ left) / size if size > 0 else 0.0
        gain = share * float(moved @ left) / max(float(left @ left), 1e-300)
        if share > _DAY_SHARE and gain > _DAY_GAIN:
            return [
                f"About {100 * share:.0f} % of a day's overflow belongs to the rain of the day {words}: the two days seem to begin at "
                "different hours. Sum the overflow over the same hours as the rain gauge's day."
            ]
    return []


def _of_low_peaks(fit: RoofFit) -> list[str]:
    if fit.events is None or len(fit.events) < _LEAST_EVENTS:
        return []
    ratio = float((fit.events["fitted_peak"] / fit.events["observed_peak"]).median())
    if 1.0 / _PEAKS_OFF < ratio < _PEAKS_OFF:
        return []
    side = "under" if ratio < 1.0 else "over"
    return [
        f"Peaks are {side}stated: the fitted ones are {ratio:.2f} of the measured in the median. Do not size outlets by this fit."
    ]


def _of_drying(fit: RoofFit) -> list[str]:
    if fit.steady_drying is None:
        return []
    share, low, gain = fit.steady_drying
    if not (low > 0.0 and share > _STAGE_SHARE and gain > _STAGE_GAIN):
        return []
    return [
        f"The roof dries in two stages: with a steady rate until {100 * share:.0f} % of the plant-available water is gone the squared "
        f"differences fall by {100 * gain:.0f} %. Fit planting.depletion_fraction too."
    ]


def _of_the_kind(fit: RoofFit) -> list[str]:
    daily = (
        "Daily overflow shows how much the roof holds between rains and how fast that is emptied. Field capacity and wilting "
        "point enter mainly as their difference; detention and outlets shape hours, not days."
    )
    minutes = (
        "A record in minutes shows how fast the medium passes water on as well. Detention stands for the whole way from the medium "
        "to the gauge: pipes and gauge included, it belongs to this roof alone."
    )
    return [
        daily if fit.step_hours == 24.0 else minutes,
        "The ranges take the gauge as true. A wrong catchment area or a rain gauge that misses wind-driven rain moves every "
        "value and does not show in them.",
    ]


def values_shown(fit: RoofFit) -> Table:
    """Return described and fitted values as a table to print or to show."""
    rows = []
    for name, row in fit.table.iterrows():
        reach = f"{row['low']:.4g} to {row['high']:.4g}" if np.isfinite(row["low"]) else "-"
        allowed = f"{row['lowest']:.4g} to {row['highest']:.4g}"
        status = "" if row["status"] == "fitted" else str(row["status"])
        rows.append([str(name), f"{row['described']:.4g}", f"{row['fitted']:.4g}", reach, allowed, status])
    return Table(head=["Parameter", "described", "fitted", "5 to 95 %", "allowed", ""], rows=rows, align="<>><<<")


def goodness_shown(fit: RoofFit, *, units: str = "si") -> Table:
    """Return how well the described and the fitted roof meet the record, as a table to print or to show."""
    rows = []
    goodness: dict[Any, dict[Any, Any]] = fit.goodness.to_dict("index")
    for (part, which), figures in goodness.items():
        depths = (say(figures[name], "mm", "yearly depth", units) for name in ("observed_mm", "modelled_mm"))
        rows.append(
            [
                part,
                which,
                fixed(figures["days"], 0),
                *depths,
                f"{figures['volume_error_percent']:+.1f} %",
                fixed(figures["nash_sutcliffe"], 3),
                say(figures["rmse_mm"], "mm", "fine depth", units),
            ]
        )
    head = ["Days", "roof", "number", "observed", "modelled", "volume", "NSE", "RMSE"]
    return Table(head=head, rows=rows, align="<<>>>>>>")
