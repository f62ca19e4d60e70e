"""``runoff check-weather``: look through a weather file before relying on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from runoff.cli import inputs
from runoff.errors import RunoffError, shown
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr

    from runoff.cli.parser import CommandParser
    from runoff.weather.quality.report import QualityReport


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_weather(parser)
    inputs.add_units(parser)
    group = parser.add_argument_group("second gauge")
    group.add_argument(
        "--other-gauge", metavar="FILE",
        help="rain of another gauge to compare with WEATHER, read with the same --column, --unit and --layout",
    )  # fmt: skip
    group.add_argument(
        "--other-column",
        metavar="NAME",
        help="its column, in that file or in WEATHER; a second column of rain in WEATHER is compared without being named",
    )
    group.add_argument("--other-unit", metavar="UNIT", help="its unit, where its heading does not say it")
    parser.set_defaults(flags=parser.flags())


def run(options: argparse.Namespace) -> int:
    """Print the verdicts; a record that cannot be used as it is, is a result too.

    For a file that is not understood the flags are proposed under which it can be read.
    """
    from runoff.errors import DoubtedWeatherError, WeatherError
    from runoff.weather import check_weather

    sites = _sites(options)
    if len(sites) > 1:
        print(_in_flags(str(_every_site(options, sites)), options))
        return 0
    try:
        weather = inputs.weather_of(options)
    except WeatherError as error:
        understood = isinstance(error, DoubtedWeatherError)
        raise WeatherError(f"{error}{_proposed(options, understood=understood)}") from None
    other = _other(options, weather)
    with waiting("checking"):
        report = check_weather(weather, other=other, units=options.units)
    print(_in_flags(str(report), options))
    print(_not_read(options, weather), end="")
    return 0


def _not_read(options: argparse.Namespace, weather: xr.Dataset) -> str:
    """Return which columns look like weather and were not read, with the line that reads them; nothing where all are or the user chose."""
    from runoff.weather.files.lacking import unread_columns
    from runoff.weather.files.proposing import propose_reading

    if not options.weather or options.column or options.site or "rain_flag" in weather:
        return ""
    known = {str(name) for name in weather.data_vars if name != "reference_et"}
    given = "reference_et" in weather and str(weather["reference_et"].attrs.get("method", "")).startswith("given")
    unread = unread_columns(options.weather, known | ({"reference_et"} if given else set()))
    if not unread:
        return ""
    with waiting("looking how it can be read"):
        proposal = propose_reading(options.weather, _told(options))
    if proposal is None or not set(unread) & set(proposal.options.get("columns", {})):
        return ""
    named = ", ".join(f'"{shown(column)}" like {quantity}' for quantity, column in unread.items())
    return f"\n{inputs.paragraph(f'Not read: {named}. With them the file is read so:')}\n\n  {proposal.command()}\n"


def _told(options: argparse.Namespace) -> dict[str, Any]:
    """Return what the user has said of the file, as `propose_reading` takes it."""
    return {
        "latitude": options.latitude, "longitude": options.longitude, "elevation_m": options.elevation, **inputs.table_of(options),
    }  # fmt: skip


def _in_flags(said: str, options: argparse.Namespace) -> str:
    """Return what a report advises in the flags of this command."""
    from runoff.cli.refusals import in_flags

    return in_flags(said, "check-weather", options.flags)


def _sites(options: argparse.Namespace) -> list[str]:
    """Return the sites of a text file, where it holds several and none was chosen; a file that cannot be read has none."""
    from runoff.weather.files.reading import sites_in

    if not options.weather or options.site or options.other_gauge or options.other_column:
        return []
    try:
        return sites_in(options.weather, inputs.table_of(options).get("layout"))
    except (RunoffError, OSError):
        return []  # the reader says what is wrong


def _every_site(options: argparse.Namespace, sites: list[str]) -> QualityReport:
    """Read and check the sites of a file one by one; one that is refused stops, with the reader's own words."""
    from runoff.errors import WeatherError
    from runoff.weather.quality.report import Check, check_sites

    found: dict[str, Any] = {}
    for site in sites:
        options.site = site
        try:
            found[site] = inputs.weather_of(options)
        except WeatherError as error:
            found[site] = Check("reading", "stop", str(error), "mend it, or leave this site out")
    options.site = None
    with waiting("checking"):
        return check_sites(found, title=Path(options.weather).name, units=options.units)


def _other(options: argparse.Namespace, weather: xr.Dataset) -> xr.Dataset | None:
    """Return the rain of the other gauge: as asked for, or the first other column of rain in the same file; None without."""
    from runoff.weather import read_weather
    from runoff.weather.record.house_units import OTHER_RAIN, unit_in_name

    if not options.weather and (options.other_gauge or options.other_column):
        option = "--other-gauge" if options.other_gauge else "--other-column"
        raise RunoffError(f"{option}: there is no first gauge to compare with; name its WEATHER file")
    beside = str(weather.attrs.get(OTHER_RAIN, "")).split(", ")[0]
    column = options.other_column or ("" if options.other_gauge else beside)
    if not options.other_gauge and not column:
        return None
    table = inputs.table_of(options)
    if column:
        units = {name: unit for name, unit in table.get("units", {}).items() if name == "rain"}
        said = options.other_unit or unit_in_name(column, "rain")
        time = {name: one for name, one in table.get("columns", {}).items() if name == "time"}
        table |= {"columns": time | {"rain": column}, "units": units | ({"rain": said} if said else {})}
    if options.other_gauge:
        table.pop("site", None)
    path = options.other_gauge or options.weather
    try:
        with waiting("reading the other gauge"):
            found = read_weather(path, start=options.start, end=options.end, **table)
    except RunoffError:
        if options.other_gauge or options.other_column:
            raise
        return None  # nobody asked for it: the report names the column
    return found.assign_attrs(title=column or found.attrs["title"])


def _proposed(options: argparse.Namespace, *, understood: bool) -> str:
    """Return how the file can probably be read, or what a file not understood lacks, as lines that follow the refusal."""
    from runoff.saying.sentences import in_us_units
    from runoff.weather.files.lacking import what_is_lacking
    from runoff.weather.files.proposing import propose_reading

    with waiting("looking how it can be read"):
        proposal = propose_reading(options.weather, _told(options))
        lacking = what_is_lacking(options.weather) if proposal is None and not understood else ""
    if proposal is None:
        return f"\n\n{lacking}" if lacking else ""
    return f"\n\n{proposal if options.units == 'si' else in_us_units(str(proposal))}"
