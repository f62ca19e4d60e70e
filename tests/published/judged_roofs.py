"""Roofs judged like for like: the same quantity, under the weather of the same place (or city) and months.

Every row has our figure as described, the spread that materials, rain catch and the methods of evapotranspiration its weather allows
predict, and the printed 5-95 % range with the model's own error formed from the other sites (leave one out).
"""

from __future__ import annotations

import csv
import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

import runoff
from runoff.simulation import RunRules
from runoff.sizing.evaporation_doubt import weathers_by_method
from runoff.sizing.likely_ranges import CATCH, draw_roofs, ranges_of
from runoff.sizing.measured_against import JudgedRoof, ModelError
from tests.published import own_weather

PACKAGED = Path(runoff.__file__).parent / "sizing" / "judged_roofs.csv"
MEMBERS, SEED, CATCH_LEVELS = 45, 1, 5  # three members for each catch and method
METHODS = 3  # that temperatures alone allow, as every judged record has them: the first is what the data lead to
PATTERN_YEARS = range(1990, 2017, 4)
#: Roofs, a factor of the rain, and which of the methods of evapotranspiration: percent of each roof.
Measure = Callable[[list[runoff.Roof], float, int], np.ndarray]


@dataclass(frozen=True, kw_only=True)
class Row:
    """A measurement, and how ours is formed for roofs under rain scaled by a factor and a method of evapotranspiration; percent."""

    site: str
    roof: str
    build_up: str
    quantity: str
    weather: str
    source: str
    measured: float
    ours: Measure
    own_error: bool = True  # whether it counts towards the model's error: one quantity, cumulative or per event, a roof
    remark: str = ""


class Record:
    """A daily record, the methods of evapotranspiration it allows, and what was run under it: several rows look at the same runs."""

    def __init__(self, weather: xr.Dataset) -> None:
        self.weather = weather
        self._run: dict[tuple[tuple[runoff.Roof, ...], float, int], xr.DataArray] = {}

    @functools.cached_property
    def by_method(self) -> list[xr.Dataset]:
        """Return the record under every method, the one the data lead to first."""
        records = list(weathers_by_method(self.weather, RunRules()).values())
        assert len(records) == METHODS, [*weathers_by_method(self.weather, RunRules())]
        return records

    def flows(self, roofs: list[runoff.Roof], factor: float, method: int) -> tuple[xr.DataArray, xr.DataArray]:
        """Return daily rain and overflow on (design, time)."""
        weather = self.by_method[method] if method else self.weather
        scaled = weather.assign(rain=(weather["rain"] * factor).assign_attrs(weather["rain"].attrs))
        key = (tuple(roofs), factor, method)
        if key not in self._run:
            self._run[key] = runoff.simulate(roofs, scaled)["overflow"].transpose("design", "time")
        return scaled["rain"], self._run[key]


def kept(days: Callable[[xr.DataArray], xr.DataArray], record: Record) -> Measure:
    """Return the measure of cumulative retention over chosen days."""

    def measure(roofs: list[runoff.Roof], factor: float, method: int) -> np.ndarray:
        rain, overflow = record.flows(roofs, factor, method)
        chosen = days(rain)
        left = overflow.sel(time=chosen["time"]).sum("time")
        return np.asarray(100.0 * (1.0 - left / chosen.sum("time")))

    return measure


def between(first: str, last: str) -> Callable[[xr.DataArray], xr.DataArray]:
    """Choose the days from first to last."""
    return lambda rain: rain.sel(time=slice(first, last))


def mean_of_events(first: str, last: str, record: Record) -> Measure:
    """Return the measure of retention as the mean over events: runs of days with 1 mm or more."""

    def measure(roofs: list[runoff.Roof], factor: float, method: int) -> np.ndarray:
        rain, overflow = (one.sel(time=slice(first, last)) for one in record.flows(roofs, factor, method))
        wet = rain.to_numpy() >= 1.0
        # an event takes the dry days after it, so that what leaves later counts too
        starts = np.flatnonzero(wet & ~np.concatenate([[False], wet[:-1]]))
        depth = np.add.reduceat(rain.to_numpy(), starts)
        left = np.add.reduceat(overflow.to_numpy(), starts, axis=-1)
        return np.asarray(100.0 * (1.0 - np.minimum(1.0, left / depth)).mean(axis=-1))

    return measure


def mean_of(measures: list[Measure]) -> Measure:
    """Return the measure that is the mean of several: one roof under several records."""
    return lambda roofs, factor, method: np.asarray(np.mean([one(roofs, factor, method) for one in measures], axis=0))


def pattern_measures(folder: Path) -> list[Measure]:
    """Return Sheffield's measure under the day patterns of several years."""
    days = between("2007-01-01", "2009-05-31")
    return [kept(days, Record(own_weather.sheffield(year, folder))) for year in PATTERN_YEARS]


def _open_series(folder: Path) -> list[Row]:
    rows = []
    owner = "open 5-minute series, Kompetenzzentrum Wasser Berlin (MIT)"
    remark = "depth not stated, 80 mm assumed"
    for site, (weather, left), own in (
        ("Berlin", own_weather.berlin(folder), "Berlin-Dahlem, same city"),
        (
            "Neubrandenburg",
            own_weather.neubrandenburg(folder),
            "the roof's own gauge; runoff over 0.48 (scale of the file)",
        ),
    ):
        warm, record = left["time"].dt.month.isin(range(4, 10)), Record(weather)
        for quantity, part in (
            ("retention", left),
            ("retention April to September", left[warm]),
            ("retention October to March", left[~warm]),
        ):
            rain = weather["rain"].sel(time=part["time"])
            measured = 100.0 * (1.0 - float(part.sum()) / float(rain.sum()))
            ours = kept(lambda one, part=part: one.sel(time=part["time"]), record)  # type: ignore[misc]
            rows.append(
                Row(site=site, roof=f"{site} roof", build_up="80 mm", quantity=quantity, weather=own, source=owner,
                    measured=measured, ours=ours, own_error=quantity == "retention", remark=remark)
            )  # fmt: skip
    return rows


def rows(folder: Path, build_ups: dict[str, Callable[[], runoff.Roof]]) -> list[Row]:
    """Return every judged row."""
    found = _open_series(folder)
    thesis = "Portland State thesis (2019) doi 10.15760/etd.7147"
    ours = kept(between("2014-01-01", "2017-12-31"), Record(own_weather.portland(folder)))
    for depth in ("75 mm", "125 mm"):
        found.append(
            Row(site="Portland", roof=f"Portland {depth}", build_up=depth, quantity="annual retention", source=thesis,
                weather="Portland forecast office 2014-2017", measured=36.0, ours=ours)
        )  # fmt: skip
    airports = {
        name: mean_of_events("2007-08-01", "2009-07-31", Record(own_weather.chicago(name, folder)))
        for name in ("O'Hare", "Midway")
    }
    for name, ours in {"both airports": mean_of(list(airports.values())), **airports}.items():
        found.append(
            Row(site="Chicago", roof=f"Chicago under {name}", build_up="76 mm with measured storage",
                quantity="mean over events", source="Berghage et al. (2010), conference", ours=ours, measured=74.0,
                weather=f"{name} August 2007 to July 2009", own_error=name not in airports, remark="")
        )  # fmt: skip
    patterns = pattern_measures(folder)
    spread = [float(one([build_ups["80 mm cups and mat"]()], 1.0, 0)[0]) for one in patterns]
    found.append(
        Row(site="Sheffield", roof="Sheffield test bed", build_up="80 mm cups and mat", quantity="cumulative retention",
            source="Stovin, Vesuviano and Kasmin (2012), J Hydrol 414-415:148-161", measured=50.2,
            ours=mean_of(patterns), remark=f"mean of {len(spread)} day patterns: {min(spread):.1f} to {max(spread):.1f}",
            weather="Sheffield's months January 2007 to May 2009, day patterns of De Bilt")
    )  # fmt: skip
    central_park = Record(own_weather.new_york(folder))
    single = {year: kept(between(f"{year}-01-01", f"{year}-12-31"), central_park) for year in (2011, 2012)}
    for roof, build_up, measured in (
        ("New York thin mat", "32 mm", 36.0),
        ("New York built in place", "100 mm", 47.0),
        ("New York trays", "100 mm", 61.0),
    ):
        of_year = [f"{float(one([build_ups[build_up]()], 1.0, 0)[0]):.1f} in {year}" for year, one in single.items()]
        found.append(
            Row(site="New York", roof=roof, build_up=build_up, quantity="annual retention", measured=measured,
                source="Carson et al. (2013), Environ Res Lett 8:024036", weather="Central Park 2011-2012",
                ours=kept(between("2011-01-01", "2012-12-31"), central_park),
                remark=f"months of the record not stated; ours {' and '.join(of_year)}")
        )  # fmt: skip
    return found


def drawn(row: Row, roof: runoff.Roof) -> tuple[float, np.ndarray, float]:
    """Return our figure as described, those of drawn materials, rain catch and methods of evapotranspiration, and their spread.

    The spread is that of materials and catch under one method: a record that gives its evapotranspiration draws no methods, so
    what they predict is not taken off the model's own error.
    """
    roofs, _ = draw_roofs(roof, ranges_of(roof), members=MEMBERS, seed=SEED)
    value = float(row.ours([roof], 1.0, 0)[0])
    levels = CATCH[0] + (np.arange(CATCH_LEVELS) + 0.5) / CATCH_LEVELS * (CATCH[1] - CATCH[0])
    hands = [(float(level), method) for level in levels for method in range(METHODS)]
    parts = [row.ours(roofs[i :: len(hands)], *hand) for i, hand in enumerate(hands)]
    of_method = [np.concatenate(parts[method::METHODS]) for method in range(METHODS)]
    return value, np.concatenate(parts), float(np.mean([one.var(ddof=1) for one in of_method])) ** 0.5


def judged(folder: Path, build_ups: dict[str, Callable[[], runoff.Roof]]) -> list[dict[str, Any]]:
    """Return every row with ours, its printed range (the site left out of the model's error) and the verdict."""
    made = [(row, *drawn(row, build_ups[row.build_up]())) for row in rows(folder, build_ups)]
    table = [
        JudgedRoof(site=row.site, roof=row.roof, measured=round(row.measured, 1), ours=round(value, 1),
                   predicted_sd=round(sd, 2))
        for row, value, _, sd in made if row.own_error
    ]  # fmt: skip
    found = []
    for row, value, spread, sd in made:
        error = ModelError.of([one for one in table if one.site != row.site])
        off = error.drawn((spread.size, 50), SEED) if error else np.zeros((spread.size, 1))
        low, high = np.quantile((spread[:, None] - 100.0 * off).clip(0.0, 100.0), (0.05, 0.95))
        inside = low <= row.measured <= high
        alone = np.quantile(spread, (0.05, 0.95))
        edge = high if row.measured > high else low
        said = "inside" if inside else f"outside by {abs(row.measured - edge):.1f} points"
        found.append(
            {
                "row": row,
                "value": value,
                "sd": sd,
                "low": low,
                "high": high,
                "alone": alone,
                "verdict": said,
            }
        )
    return found


def write_packaged(found: list[dict[str, Any]]) -> None:
    """Write the small table the package carries."""
    with PACKAGED.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(
            [
                "site",
                "roof",
                "quantity",
                "counts",
                "measured",
                "ours",
                "low",
                "high",
                "predicted_sd",
                "weather",
                "source",
                "made_by",
            ]
        )
        for one in found:
            row, numbers = one["row"], (one["row"].measured, one["value"], one["low"], one["high"])
            writer.writerow(
                [row.site, row.roof, row.quantity, "yes" if row.own_error else "no", *(f"{value:.1f}" for value in numbers),
                 f"{one['sd']:.2f}", row.weather, row.source, "python -m tests.published.measured_roofs"]
            )  # fmt: skip
