"""Arguments that ``runoff storm`` and ``runoff outlets`` share: the storm, and how wet the roof is before it."""

from __future__ import annotations

import argparse
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.cli import inputs
from runoff.cli.parser import CommandParser, number, quantity
from runoff.errors import RunoffError, RunoffWarning, raise_faults
from runoff.saying.scales import say

if TYPE_CHECKING:
    import xarray as xr

    from runoff.saying.tables import Table
    from runoff.storms.depth_duration import DepthDurationTable

RETURN_PERIODS = (2.0, 10.0, 100.0)
#: Longer than this a series is no storm: its dry days would need evapotranspiration.
LONGEST_STORM_DAYS = 10.0
#: With a climate beside it, whose days evaporate, a comparison of roofs runs as long as this.
LONGEST_WITH_CLIMATE_DAYS = 366.0
_WITHOUT_CLIMATE = ("field-capacity", "dry")
_DURATION, _STEP = "24h", "5min"
_ANY_START = "field-capacity (default), dry, a fraction 0-1, wettest-month or a date of the climate"
# rain above these is no storm of this planet (the largest 10-day depth on record is some 5 m; from memory)
_MOST_RAIN_MM = 5000.0


def add_storm(parser: CommandParser, *, return_periods: tuple[float, ...], start_help: str = _ANY_START) -> None:
    """Add what makes a storm, measured rain in place of it, and how wet the roof is before.

    Parameters
    ----------
    parser
        Of the command.
    return_periods
        Taken where none is typed, years.
    start_help
        Which starts the command accepts, in words.
    """
    add_design_storm(parser, return_periods=return_periods)
    _add_measured(parser, start_help)


def add_design_storm(parser: CommandParser, *, return_periods: tuple[float, ...]) -> None:
    """Add what makes a design storm."""
    group = parser.add_argument_group("storm")
    depth = quantity("mm", above=0.0, most=_MOST_RAIN_MM)
    group.add_argument(
        "--depth", type=depth, metavar="DEPTH", help="depth of the whole storm, for example 80mm or 3.15in"
    )
    group.add_argument(
        "--depth-duration",
        metavar="FILE",
        help="depth-duration-frequency table; default: the invented one of the sample",
    )
    group.add_argument(
        "--depth-duration-unit",
        metavar="UNIT",
        help="unit of its cells, where the file does not say: mm, in, mm/h or in/h",
    )
    group.add_argument(
        "--return-period", type=number(above=0.0, unit="years"), nargs="+", metavar="YEARS",
        help="one or more return periods of the table "
        f"(default: {' '.join(f'{years:g}' for years in return_periods)})",
    )  # fmt: skip
    group.add_argument("--duration", metavar="TIME", help=f"length of the storm (default: {_DURATION})")
    group.add_argument("--step", metavar="TIME", help=f"length of one step (default: {_STEP})")
    group.add_argument(
        "--pattern", metavar="NAME", help="course of the storm: alternating-block (default with a table), chicago, "
        "euler-II, uniform, type-I, type-IA, type-II (default with a depth), type-III",
    )  # fmt: skip
    parser.names(
        depth_mm="--depth", depth_duration="--depth-duration", return_period_years="--return-period",
        units="--depth-duration-unit",
    )  # fmt: skip
    parser.set_defaults(default_return_periods=return_periods)


def _add_measured(parser: CommandParser, start_help: str) -> None:
    own = parser.add_argument_group("measured rain instead of a design storm")
    own.add_argument(
        "--rain",
        metavar="FILE",
        help="weather file with steps of 1 min to 1 h, of 10 days at most; with --climate its days evaporate too, and runoff storm "
        "takes up to 366 of them",
    )
    own.add_argument(
        "--record", metavar="FILE",
        help="rain record of ten years and more, of minutes to days: design storms from its own largest rains",
    )  # fmt: skip
    inputs.add_period(own, "measured rain")
    inputs.add_table(parser, own)
    before = parser.add_argument_group("before the storm")
    before.add_argument(
        "--start-moisture", default="field-capacity", metavar="STATE",
        help=start_help,
    )  # fmt: skip
    before.add_argument("--climate", metavar="FILE", help="daily weather file for wettest-month or a date")
    before.add_argument(
        "--latitude", type=number(least=-90.0, most=90.0, unit="degrees"), metavar="DEG",
        help="of the roof, south negative: must fit the place of the depth-duration table; of the climate file too",
    )  # fmt: skip


def storms_of(options: argparse.Namespace) -> dict[str, xr.DataArray]:
    """Return the storms asked for, name -> rain per step.

    Raises
    ------
    RunoffError
        When options exclude each other, or one would have no effect.
    """
    if options.rain:
        return {"measured": _measured(options)}
    if options.record:
        return _from_record(options)
    _refuse_measured(options)
    return design_storms_of(options)


def design_storms_of(options: argparse.Namespace) -> dict[str, xr.DataArray]:
    """Return the design storms asked for, name -> rain per step."""
    from runoff.storms.design_storms import design_storm

    _refuse_idle(options)
    common: dict[str, Any] = {"duration": options.duration or _DURATION, "step": options.step or _STEP}
    if options.depth is not None:
        if options.depth_duration:
            common["depth_duration"] = _table(options)
            common["return_period_years"] = (options.return_period or [10.0])[0]
        return {say(options.depth, "mm", system=options.units): _of_depth(options, common)}
    table = _table(options)
    periods = options.return_period or options.default_return_periods
    return {
        f"{years:g} years": design_storm(
            pattern=options.pattern, depth_duration=table, return_period_years=years, **common
        )
        for years in periods
    }  # fmt: skip


def _of_depth(options: argparse.Namespace, common: dict[str, Any]) -> xr.DataArray:
    from runoff.storms.design_storms import CURVE_PATTERNS, design_storm

    if options.pattern in CURVE_PATTERNS and not options.depth_duration:
        common["depth_duration"] = _table(options)
        common["return_period_years"] = 10.0
    return design_storm(depth_mm=options.depth, pattern=options.pattern, **common)


def _refuse_measured(options: argparse.Namespace) -> None:
    """Refuse what belongs to measured rain where there is none."""
    measured = {
        "--start": options.start, "--end": options.end, "--column": options.column, "--unit": options.unit,
        "--layout": options.layout, "--trust-unit": options.trust_unit,
    }  # fmt: skip
    faults = [
        f"{flag} belongs to measured rain; add --rain FILE or --record FILE, or leave it out"
        for flag, one in measured.items()
        if one
    ]
    raise_faults(f"runoff {options.command}", faults)


def _refuse_idle(options: argparse.Namespace) -> None:
    """Refuse what belongs to a table where there is none."""
    faults = []
    if options.depth is not None and options.return_period and not options.depth_duration:
        faults.append("--return-period belongs to a --depth-duration table; with a depth alone leave it out")
    if options.depth_duration_unit and not options.depth_duration:
        faults.append("--depth-duration-unit belongs to a --depth-duration table; add one, or leave it out")
    raise_faults(f"runoff {options.command}", faults)


def _measured(options: argparse.Namespace) -> xr.DataArray:
    """Return the rain of a file, or the part asked for, as a storm."""
    from runoff.saying.progress import waiting
    from runoff.storms.design_storms import storm_from_series
    from runoff.weather import read_weather

    made = {
        "--depth": options.depth, "--depth-duration": options.depth_duration, "--return-period": options.return_period,
        "--duration": options.duration, "--step": options.step, "--pattern": options.pattern, "--record": options.record,
    }  # fmt: skip
    raise_faults(
        "--rain", [f"{name} makes a design storm; leave one of the two out" for name, one in made.items() if one]
    )
    with waiting(f"reading {Path(options.rain).name}"):
        weather = read_weather(options.rain, start=options.start, end=options.end, **inputs.table_of(options))
    _refuse_rain_from_the_other_hemisphere(weather, options)
    storm = storm_from_series(weather["rain"], source=weather.attrs["source"])
    if options.climate:
        del storm.attrs["pattern"]  # with it a run takes the rain for a design storm, whose days evaporate nothing
    _refuse_too_long(storm, options)
    return storm


def _refuse_too_long(storm: xr.DataArray, options: argparse.Namespace) -> None:
    """Refuse rain that is no storm any more: outlets are judged in one, roofs are compared over a year where its days evaporate."""
    days = float((storm["time"][-1] - storm["time"][0]) / np.timedelta64(1, "D"))
    covers = f"--rain: {storm.attrs['source']} covers {days:.0f} days"
    whole = f"`runoff simulate ROOF.toml {options.rain}` for the whole record"
    if options.command == "outlets" and days > LONGEST_STORM_DAYS:
        raise RunoffError(
            f"{covers}; outlets are judged in one storm of {LONGEST_STORM_DAYS:g} days at most: give --start and --end around the "
            "heaviest rain"
        )
    if not options.climate and days > LONGEST_STORM_DAYS:
        raise RunoffError(
            f"{covers}; a storm runs without evapotranspiration, so it is {LONGEST_STORM_DAYS:g} days at most: give --start and "
            f"--end, or --climate FILE, a daily record whose days evaporate, or take {whole}"
        )
    if days > LONGEST_WITH_CLIMATE_DAYS:
        raise RunoffError(
            f"{covers}; beside a climate it is {LONGEST_WITH_CLIMATE_DAYS:g} days at most: give --start and --end, or take {whole}"
        )


def _from_record(options: argparse.Namespace) -> dict[str, xr.DataArray]:
    """Return design storms from a record of one's own, and print the table of depths that they come from."""
    from runoff.saying.progress import waiting
    from runoff.storms.design_storms import design_storm
    from runoff.storms.own_record import depth_duration_from_record, usual_of_record
    from runoff.weather import read_weather

    stray = {
        "--depth": options.depth,
        "--depth-duration": options.depth_duration,
        "--depth-duration-unit": options.depth_duration_unit,
    }
    raise_faults(
        "--record", [f"{name} gives a storm of another source; leave one of the two out" for name, one in stray.items() if one]
    )  # fmt: skip
    periods = options.return_period or list(options.default_return_periods)
    with waiting(f"reading {Path(options.record).name}"):
        weather = read_weather(options.record, start=options.start, end=options.end, **inputs.table_of(options))
    with waiting("fitting the largest rains"):
        table = depth_duration_from_record(weather, return_periods_years=sorted({*OWN_PERIODS, *periods}))
    _hold_against_place(table, options)
    print(f"Record   {table.source}\n\n{depths_shown(table, units=options.units)}\n")
    step, pattern = usual_of_record(table)
    return {
        f"{years:g} years": design_storm(
            duration=options.duration or _DURATION, step=options.step or step, pattern=options.pattern or pattern,
            depth_duration=table, return_period_years=years,
        )
        for years in periods
    }  # fmt: skip


#: Return periods of the printed table of a record, years.
OWN_PERIODS = (2.0, 5.0, 10.0, 25.0, 50.0, 100.0)


def depths_shown(table: DepthDurationTable, *, units: str = "si") -> Table:
    """Return a table of depths with its interval as a table to print, its notes below."""
    from runoff.saying.scales import in_order, shown, unit_shown
    from runoff.saying.tables import Table
    from runoff.storms._durations import words_of

    def depth(value: float) -> str:
        return shown(value, "mm", "depth", units).text

    rows = []
    for i, minutes in enumerate(table.durations_min):
        cells = []
        for k in range(len(table.return_periods_years)):
            low_high = ""
            if table.low_mm is not None and table.high_mm is not None:
                low_high = f" ({depth(table.low_mm[i][k])}-{depth(table.high_mm[i][k])})"
            cells.append(f"{depth(table.depths_mm[i][k])}{low_high}")
        rows.append([words_of(minutes), *cells])
    unit = unit_shown("mm", "depth", units)
    heads = [f"{years:g} years\n{unit} (90 %)" for years in table.return_periods_years]
    return Table(
        head=["duration", *heads], rows=rows, notes=[inputs.paragraph(in_order(note, units)) for note in table.notes]
    )


def start_of(options: argparse.Namespace) -> dict[str, Any]:
    """Return ``start_moisture`` and ``climate`` for `runoff.simulate`."""
    moisture: str | float = options.start_moisture
    try:
        moisture = float(options.start_moisture)
    except ValueError:
        pass
    if options.rain and options.climate:
        return {"start_moisture": moisture, "climate": _climate(options)}
    if not isinstance(moisture, str) or moisture in _WITHOUT_CLIMATE:
        stray = [] if options.climate is None or hasattr(options, "drying") else ["--climate"]
        if options.latitude is not None and not options.depth_duration and (options.climate is None or stray):
            stray.append("--latitude")
        raise_faults(
            f"runoff {options.command}",
            [f"{flag} has no effect on a start at {options.start_moisture}; leave it out, or take --start-moisture "
             "wettest-month or a date" for flag in stray],
        )  # fmt: skip
        return {"start_moisture": moisture}
    return {"start_moisture": moisture, "climate": _climate(options)}


def storm_line(name: str, storm: xr.DataArray, options: argparse.Namespace) -> str:
    """Return the line over the results of one storm.

    Parameters
    ----------
    name
        What the storm is called here.
    storm
        Rain, mm per step, with its source and step.
    options
        What was typed: tells whether the storm is the invented sample.

    Returns
    -------
    str
        One line.
    """
    invented = " - INVENTED, for demonstration only" if is_invented(options) else ""
    return f"Storm    {name}: {storm.attrs['source']}, step {storm.attrs['step']}{invented}"


def refuse_one_file_for_several(options: argparse.Namespace, storms: dict[str, Any], endings: tuple[str, ...]) -> None:
    """Refuse a single file that cannot hold what several storms give.

    Parameters
    ----------
    options
        What was typed; ``out`` is read.
    storms
        The storms asked for, by name.
    endings
        Endings of files that hold one storm.

    Raises
    ------
    RunoffError
        When several storms would go into such a file.
    """
    if len(storms) > 1 and options.out.lower().endswith(endings):
        raise RunoffError(
            f"--out: {options.out} holds one storm, and {len(storms)} are asked for; give one --return-period, a folder, or "
            "a file ending in .csv for a table of them all"
        )


def stem_of(name: str) -> str:
    """Return the part of a file name that tells storms apart."""
    return name.replace(" ", "_").replace(",", "")


def is_invented(options: argparse.Namespace) -> bool:
    """Tell whether the storm comes from the invented sample: its table, or its rain."""
    from runoff.sample_files import sample_folder

    measured = getattr(options, "rain", None) or getattr(options, "record", None)
    if measured:
        return Path(measured).resolve().parent == sample_folder().resolve()
    return options.depth_duration is None and options.depth is None


def _table(options: argparse.Namespace) -> DepthDurationTable:
    from runoff.sample_files import sample_folder
    from runoff.storms.depth_duration_files import read_depth_duration

    given = {} if options.depth_duration_unit is None else {"units": options.depth_duration_unit}
    table = read_depth_duration(options.depth_duration or sample_folder() / "ostrey_depth_duration.csv", **given)
    _hold_against_place(table, options)
    return table


def _hold_against_place(table: DepthDurationTable, options: argparse.Namespace) -> None:
    """Question a table of another place than the roof's; one of the other side of the equator is refused."""
    from runoff.storms.depth_duration import place_doubt

    at = options.latitude if options.latitude is not None else getattr(options, "climate_latitude", None)
    doubt = place_doubt(table, at)
    if not doubt:
        return
    if (table.latitude_deg or 0.0) * float(at or 0.0) < 0.0:
        raise RunoffError(doubt)
    warnings.warn(doubt, RunoffWarning, stacklevel=3)


def _refuse_rain_from_the_other_hemisphere(rain: xr.Dataset, options: argparse.Namespace) -> None:
    """Refuse measured rain from the other side of the equator than the daily climate beside it."""
    here, there = getattr(options, "climate_latitude", None), _latitude_of(rain)
    if here is not None and there is not None and here * there < 0.0:
        raise RunoffError(
            f"--climate: {Path(options.climate).name} is of latitude {here:g}, {Path(options.rain).name} of {there:g}, in the other "
            "hemisphere; take rain and climate of the roof's own place (or correct the sign of a latitude)"
        )


def _latitude_of(weather: xr.Dataset) -> float | None:
    return float(weather["lat"]) if "lat" in weather.coords and weather["lat"].ndim == 0 else None


def _climate(options: argparse.Namespace) -> xr.Dataset:
    if options.climate:
        from runoff.weather import read_weather

        given = {} if options.latitude is None else {"latitude": options.latitude}
        climate = read_weather(options.climate, **given)
        options.climate_latitude = _latitude_of(climate)
        return climate
    if options.roof:
        without = "field-capacity" if options.command == "outlets" else "field-capacity, dry or a fraction 0-1"
        raise RunoffError(
            f"--start-moisture {options.start_moisture} comes from a daily run of your own climate; add --climate FILE, "
            f"or take {without}"
        )
    from runoff.weather import open_sample

    return open_sample()
