"""Arguments that ``runoff storm`` and ``runoff outlets`` share: the storm, and how wet the roof is before it."""

from __future__ import annotations

import argparse
import textwrap
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.cli import inputs
from runoff.errors import RunoffError, RunoffWarning, raise_faults

if TYPE_CHECKING:
    import xarray as xr

    from runoff.storms.depth_duration import DepthDurationTable

RETURN_PERIODS = (2.0, 10.0, 100.0)
#: Longer than this a series is no storm: its dry days would need evapotranspiration.
_LONGEST_STORM_DAYS = 10.0
_WITHOUT_CLIMATE = ("field-capacity", "dry")


def add_storm(parser: argparse.ArgumentParser, *, return_periods: tuple[float, ...]) -> None:
    """Add what makes a storm."""
    group = parser.add_argument_group("storm")
    depth = group.add_mutually_exclusive_group()
    depth.add_argument("--depth-mm", type=float, metavar="MM", help="depth of the whole storm, mm")
    depth.add_argument("--depth-in", type=float, metavar="IN", help="depth of the whole storm, in")
    group.add_argument(
        "--table", metavar="FILE", help="depth-duration-frequency table; default: the invented one of the sample"
    )
    group.add_argument(
        "--return-period", type=float, nargs="+", metavar="YEARS", help="one or more return periods of the table "
        f"(default: {' '.join(f'{years:g}' for years in return_periods)})",
    )  # fmt: skip
    group.add_argument("--duration", default="24h", metavar="TIME", help="length of the storm (default: 24h)")
    group.add_argument("--step", default="5min", metavar="TIME", help="length of one step (default: 5min)")
    group.add_argument(
        "--pattern", metavar="NAME", help="course of the storm: alternating-block (default with a table), chicago, "
        "euler-II, uniform, type-I, type-IA, type-II (default with a depth), type-III",
    )  # fmt: skip
    own = parser.add_argument_group("measured rain instead of a design storm")
    own.add_argument("--rain", metavar="FILE", help="weather file with steps of 1 min to 1 h")
    own.add_argument("--from", dest="first", metavar="TIME", help='first step used, for example "2009-07-03 14:00"')
    own.add_argument("--to", dest="last", metavar="TIME", help="last step used")
    inputs.add_table(own)
    before = parser.add_argument_group("before the storm")
    before.add_argument(
        "--start-moisture", default="field-capacity", metavar="STATE",
        help="field-capacity (default), dry, a fraction 0-1, wettest-month or a date of the climate",
    )  # fmt: skip
    before.add_argument("--climate", metavar="FILE", help="daily weather file for wettest-month or a date")
    before.add_argument("--latitude", type=float, metavar="DEG", help="of the climate file, when it has none")
    parser.set_defaults(default_return_periods=return_periods)


def storms_of(options: argparse.Namespace) -> dict[str, xr.DataArray]:
    """Return the storms asked for, name -> rain per step."""
    from runoff.storms.design_storms import CURVE_PATTERNS, design_storm

    if options.rain:
        return {"measured": _measured(options)}
    common: dict[str, Any] = {"duration": options.duration, "step": options.step}
    depth_mm = options.depth_mm if options.depth_in is None else options.depth_in * 25.4
    if depth_mm is not None:
        if options.return_period and not options.table:
            raise RunoffError("--return-period belongs to a --table; with a depth alone leave it out")
        if options.pattern in CURVE_PATTERNS or options.table:
            common["depth_duration"] = _table(options)
            common["return_period_years"] = (options.return_period or [10.0])[0]
        return {f"{depth_mm:.4g} mm": design_storm(depth_mm=depth_mm, pattern=options.pattern, **common)}
    table = _table(options)
    periods = options.return_period or options.default_return_periods
    return {
        f"{years:g} years": design_storm(
            pattern=options.pattern, depth_duration=table, return_period_years=years, **common
        )
        for years in periods
    }  # fmt: skip


def _measured(options: argparse.Namespace) -> xr.DataArray:
    """Return the rain of a file, or the part asked for, as a storm."""
    from runoff.storms.design_storms import storm_from_series
    from runoff.weather import read_weather

    made = {
        "--depth-mm": options.depth_mm, "--depth-in": options.depth_in, "--table": options.table,
        "--return-period": options.return_period, "--pattern": options.pattern,
    }  # fmt: skip
    raise_faults(
        "--rain", [f"{name} makes a design storm; leave one of the two out" for name, one in made.items() if one]
    )
    weather = read_weather(options.rain, start=options.first, end=options.last, **inputs.table_of(options))
    storm = storm_from_series(weather["rain"], source=weather.attrs["source"])
    days = float((storm["time"][-1] - storm["time"][0]) / np.timedelta64(1, "D"))
    if days > _LONGEST_STORM_DAYS:
        raise RunoffError(
            f"--rain: {weather.attrs['source']} covers {days:.0f} days; a storm runs without evapotranspiration, so it is "
            f"{_LONGEST_STORM_DAYS:g} days at most: give --from and --to, or take `runoff simulate ROOF.toml "
            f"{options.rain}` for the whole record"
        )
    return storm


def start_of(options: argparse.Namespace) -> dict[str, Any]:
    """Return ``start_moisture`` and ``climate`` for `runoff.simulate`."""
    moisture: str | float = options.start_moisture
    try:
        moisture = float(options.start_moisture)
    except ValueError:
        pass
    if not isinstance(moisture, str) or moisture in _WITHOUT_CLIMATE:
        return {"start_moisture": moisture}
    return {"start_moisture": moisture, "climate": _climate(options)}


def paragraph(text: str) -> str:
    """Return text broken into lines that fit a terminal."""
    return textwrap.fill(text, 110)


def is_invented(options: argparse.Namespace) -> bool:
    """Tell whether the storm comes from the invented sample: its table, or its rain."""
    from runoff.sample_files import sample_folder

    if options.rain:
        return Path(options.rain).resolve().parent == sample_folder().resolve()
    return options.table is None and options.depth_mm is None and options.depth_in is None


def _table(options: argparse.Namespace) -> DepthDurationTable:
    from runoff.sample_files import sample_folder
    from runoff.storms.depth_duration import place_doubt
    from runoff.storms.depth_duration_files import read_depth_duration

    table = read_depth_duration(options.table or sample_folder() / "ostrey_depth_duration.csv")
    if doubt := place_doubt(table, options.latitude):
        warnings.warn(doubt, RunoffWarning, stacklevel=2)
    return table


def _climate(options: argparse.Namespace) -> xr.Dataset:
    from runoff.weather import open_sample, read_weather

    if options.climate:
        given = {} if options.latitude is None else {"latitude": options.latitude}
        return read_weather(options.climate, **given)
    if options.roof:
        raise RunoffError(
            f"--start-moisture {options.start_moisture} comes from a daily run of your own climate; add --climate FILE, "
            "or take field-capacity, dry or a fraction 0-1"
        )
    return open_sample()
