"""Arguments that several commands share: the roof, the weather, a table of one's own, the units."""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runoff.cli.parser import CommandParser, date, number, quantity
from runoff.errors import RunoffError, raise_faults

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import Roof


#: Parts of a table layout that are no plain words: how to read them, and what they are.
_LAYOUT_FORMS: dict[str, tuple[Callable[[str], Any], str]] = {
    "skip_lines": (int, "a number of lines"),
    "header": ({"yes": True, "no": False}.__getitem__, "yes or no"),
    "missing": (lambda text: text.split(","), "one or more numbers or words with commas between"),
    "trace": (lambda text: text.split(","), "one or more words with commas between"),
    "wind_height_m": (float, "a height in m"),
}

_EXAMPLES = {
    "--allow": "settlement=20%",
    "--column": "rain=RR",
    "--unit": "rain=in",
    "--layout": "stamp=end",
    "--fill": "rain=same-day-of-other-years",
    "--piece": "lat=20",
}


def add_roof(parser: argparse.ArgumentParser) -> None:
    """Add the roof file."""
    parser.add_argument("roof", nargs="?", metavar="ROOF.toml", help="roof description; default: the sample roof")


def add_weather(parser: CommandParser, *, positional: bool | None = True, period: str = "weather") -> None:
    """Add the weather file and what reading it may need.

    Parameters
    ----------
    parser
        Of the command.
    positional
        Whether the file stands after the roof, or behind ``--weather``; None where the command names it itself.
    period
        What ``--start`` and ``--end`` cut, in words.
    """
    group = parser.add_argument_group("weather")
    if positional:
        parser.add_argument("weather", nargs="?", metavar="WEATHER", help="weather file; default: the sample climate")
    elif positional is not None:
        group.add_argument("--weather", metavar="FILE", help="weather file; default: the sample climate")
    add_period(group, period)
    add_place(group)
    group.add_argument("--et-method", metavar="NAME", help="reference evapotranspiration; default: by the data")
    group.add_argument(
        "--fill", action="append", default=[], metavar="QUANTITY=METHOD",
        help="fill gaps by a named method, for example rain=same-day-of-other-years or wind=interpolate; counted and printed",
    )  # fmt: skip
    add_table(parser, group)


def add_period(group: argparse._ArgumentGroup, of_what: str) -> None:
    """Add the one pair of names for a period."""
    group.add_argument(
        "--start", type=date, metavar="DATE", help=f"first year, day or time of the {of_what} that is used"
    )
    group.add_argument("--end", type=date, metavar="DATE", help=f"last year, day or time of the {of_what} that is used")


def add_place(group: argparse._ArgumentGroup) -> None:
    """Add the place of a weather file that does not say where it is from."""
    latitude, longitude = (
        number(least=-90.0, most=90.0, unit="degrees"),
        number(least=-180.0, most=360.0, unit="degrees"),
    )
    group.add_argument(
        "--latitude", type=latitude, metavar="DEG", help="degrees, south negative, when the file has none"
    )
    group.add_argument("--longitude", type=longitude, metavar="DEG", help="degrees, west negative, for hourly formulas")
    group.add_argument(
        "--elevation", type=quantity("m", least=-450.0, most=6000.0, bare="m"), metavar="HEIGHT",
        help="height of the station, m, or with its unit such as 1150ft",
    )  # fmt: skip


def add_table(parser: CommandParser, group: argparse._ArgumentGroup) -> None:
    """Add what reading a plain table may need."""
    group.add_argument(
        "--trust-unit", action="store_true", help="accept amounts that look like a wrong unit, when they are right"
    )
    group.add_argument(
        "--column", action="append", default=[], metavar="QUANTITY=NAME", help="column of a table, for example rain=RR"
    )
    group.add_argument(
        "--unit", action="append", default=[], metavar="QUANTITY=UNIT", help="unit of a column, for example rain=in"
    )
    group.add_argument(
        "--layout", action="append", default=[], metavar="NAME=VALUE",
        help="how a table is laid out, for example stamp=end, decimal=, header=no, missing=-9999,-99 or trace=T",
    )  # fmt: skip
    group.add_argument("--site", metavar="NAME", help="which one, where a file holds several sites or stations")
    parser.names(elevation_m="--elevation", trust_unit="--trust-unit")
    parser.say_more("weather_words")


def add_units(parser: argparse.ArgumentParser) -> None:
    """Add the choice of unit system."""
    parser.add_argument(
        "--units", choices=("si", "us"), default="si", help="units of all that is printed, drawn and written as a table"
    )


def roof_of(options: argparse.Namespace) -> Roof:
    """Return the roof asked for, or the sample roof."""
    from runoff.roof import open_sample_roof, read_roof

    return read_roof(options.roof) if options.roof else open_sample_roof("cups")


def weather_of(options: argparse.Namespace, *, whole: bool = False) -> xr.Dataset:
    """Return the weather asked for, or the sample climate.

    Parameters
    ----------
    options
        What was typed.
    whole
        Leaves ``--start`` and ``--end`` to the caller, where they cut something else.

    Raises
    ------
    RunoffError
        When something given belongs to a weather file and there is none.
    """
    from runoff.saying.progress import waiting

    if not options.weather:
        from runoff.weather import open_sample

        _refuse_without_file(options)
        return open_sample() if whole else _of_period(open_sample(), options.start, options.end)
    from runoff.weather import read_weather

    given: dict[str, Any] = {
        "start": None if whole else options.start,
        "end": None if whole else options.end,
        "latitude": options.latitude,
        "longitude": options.longitude,
        "elevation_m": options.elevation,
        "et_method": options.et_method,
        "fill": pairs(options.fill, "--fill"),
        **table_of(options),
    }
    with waiting(f"reading {Path(options.weather).name}"):
        return read_weather(
            options.weather, **{name: value for name, value in given.items() if value is not None and value != {}}
        )


def one_place(weather: xr.Dataset) -> xr.Dataset:
    """Return weather of one place as it is.

    Raises
    ------
    RunoffError
        When there are several, naming how one is chosen.
    """
    several = [str(dim) for dim in weather["rain"].dims if dim != "time"]
    if not several:
        return weather
    if several == ["site"] and "site" in weather.coords:
        names = [str(one) for one in weather["site"].to_numpy()]
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        raise RunoffError(
            f'the weather holds {len(names)} sites ({", ".join(names[:3])}{more}): choose one, --site "{names[0]}"'
        )
    raise RunoffError(
        f"the weather is a grid ({', '.join(several)}): a roof stands at one place; run a grid with runoff stream, or take one "
        "cell of it into a file of its own"
    )


def _refuse_without_file(options: argparse.Namespace) -> None:
    belongs = ("latitude", "longitude", "elevation", "fill", "column", "unit", "layout", "trust_unit", "site")
    stray = [f"--{name.replace('_', '-')}" for name in belongs if getattr(options, name, None) not in (None, [], False)]
    if stray:
        raise RunoffError(
            f"{' and '.join(stray)} {'belongs' if len(stray) == 1 else 'belong'} to a weather file, and none is given: name "
            "the file after the roof"
        )


def refuse_no_dates(options: argparse.Namespace) -> None:
    """Refuse a ``--start`` or ``--end`` that is no day of the usual calendar (31 February), as logs are kept in it.

    Raises
    ------
    RunoffError
        Naming the flag.
    """
    import pandas as pd

    for flag, text in (("--start", options.start), ("--end", options.end)):
        try:
            if text is not None:
                pd.Timestamp(text).as_unit("ns")
        except ValueError:
            raise RunoffError(
                f"{flag}: {text} is no day of the calendar, or lies outside the years 1678 to 2261"
            ) from None


def _of_period(weather: xr.Dataset, start: str | None, end: str | None) -> xr.Dataset:
    """Return the part of the sample between two dates.

    Raises
    ------
    RunoffError
        When a date cannot be read, or nothing lies between the two.
    """
    if not (start or end):
        return weather
    first, last = (str(weather["time"].to_numpy()[i])[:10] for i in (0, -1))
    try:
        chosen = weather.sel(time=slice(start, end))
    except (
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        OverflowError,
    ):  # what pandas raises on dates that are none
        raise RunoffError(
            f"--start and --end are years or dates, such as 1990 or 2019-06-30 (given {start or '-'} and {end or '-'})"
        ) from None
    if chosen.sizes["time"] == 0:
        raise RunoffError(
            f"--start and --end: nothing lies between {start or 'the start'} and {end or 'the end'}; the record runs from "
            f"{first} to {last}"
        )
    return chosen


def table_of(options: argparse.Namespace) -> dict[str, Any]:
    """Return ``columns``, ``units``, ``layout``, ``trust_unit`` and ``site`` for `runoff.read_weather`, as far as given."""
    layout: dict[str, Any] = dict(pairs(options.layout, "--layout"))
    faults = []
    for name, text in layout.items():
        form, words = _LAYOUT_FORMS.get(name, (str, ""))
        try:
            layout[name] = form(text)
        except (ValueError, KeyError):
            faults.append(f'{name} is {words} (given "{text}")')
    raise_faults("--layout", faults)
    columns: dict[str, Any] = dict(pairs(options.column, "--column"))
    if layout.get("header") is False:  # without names, columns go by number
        columns = {name: int(column) if column.isdigit() else column for name, column in columns.items()}
    found = {
        "columns": columns,
        "units": pairs(options.unit, "--unit"),
        "layout": layout,
        "trust_unit": options.trust_unit,
        "site": getattr(options, "site", None),
    }
    return {name: value for name, value in found.items() if value}


def pairs(words: list[str], option: str) -> dict[str, str]:
    """Return NAME=VALUE words as a dict.

    Raises
    ------
    RunoffError
        When a word is no such pair, or a name comes twice.
    """
    found: dict[str, str] = {}
    for word in words:
        name, mark, value = word.partition("=")
        if not mark or not name or not value:
            example = _EXAMPLES.get(option, "rain=...")
            raise RunoffError(f'{option} takes NAME=VALUE, for example {option} {example} (given "{word}")')
        if name in found:
            raise RunoffError(f'{option} names {name} twice (given "{name}={found[name]}" and "{word}")')
        found[name] = value
    return found


def si_property(given: str) -> str:
    """Return the name of a property of a roof in SI units, ``medium.depth_mm`` for ``medium.depth_in``."""
    from runoff.saying.properties import us_twin

    twin = us_twin(given)
    return twin[0] if twin else given


def property_value(given: str, text: str, option: str) -> Any:
    """Return a value of a property: yes or no, a number, a quantity with its own unit, or words such as a material.

    Parameters
    ----------
    given
        Name of the property; its end gives the unit of a bare number, ``medium.depth_in``.
    text
        The value; a length of 3 in is ``3`` with such a name, ``3in`` or ``76mm`` with any.
    option
        The flag, for the words of a refusal.

    Returns
    -------
    bool or float or str
        A number is in the unit of the SI property that `given` stands for, whatever unit it was typed in.

    Raises
    ------
    RunoffError
        When a property with a unit gets no number.
    """
    from runoff.saying.given import read_quantity
    from runoff.saying.properties import property_words, us_twin

    if text.lower() in ("true", "false", "yes", "no"):
        return text.lower() in ("true", "yes")
    wanted = property_words(si_property(given)).unit
    twin = us_twin(given)
    try:
        return read_quantity(text, wanted, bare=twin[1] if twin else wanted) if wanted else float(text)
    except (ValueError, RunoffError) as error:
        if wanted:
            raise RunoffError(f"{option} {given} {error}") from None
        return text


def invented_mark(attrs: Any) -> str:
    """Return the mark of invented weather beside its title, or nothing."""
    return " - INVENTED, for demonstration only" if str(attrs.get("invented", "no")) == "yes" else ""


def roof_line(roof: Roof, units: str, *, planted: bool = False) -> str:
    """Return name and size of a roof, for the head of what is printed.

    Parameters
    ----------
    roof
        The roof.
    units
        ``"si"`` or ``"us"``.
    planted
        Whether the planted share is told too.

    Returns
    -------
    str
        Such as ``"Depot, 240 m2"``.
    """
    from runoff.saying.numbers import share
    from runoff.saying.scales import say

    part = f", {share(roof.planted_fraction)} planted" if planted else ""
    return f"{roof.name or 'unnamed'}, {say(roof.area_m2, 'm2', system=units)}{part}"


def assumed_lines(roof: Roof, units: str) -> str:
    """Return what was taken because the roof file leaves it open, as lines that follow that of the roof; mostly none."""
    from runoff.roof import assumptions

    said = (
        textwrap.fill(one, 110, initial_indent=" " * 9, subsequent_indent=" " * 9)
        for one in [*_outlets_taken(roof, units), *assumptions(roof, units=units)]
    )
    text = "\n".join(said)
    return f"\nAssumed{text[7:]}" if text else ""


def _outlets_taken(roof: Roof, units: str) -> list[str]:
    """Say which outlets are taken where the roof file describes none."""
    from runoff.saying.scales import say

    if "outlets" in roof.model_fields_set:
        return []
    return [
        f"No outlets are described: one of {say(roof.outlets[0].sizes_mm[0], 'mm', 'layer depth', units)} is taken."
    ]


def filled_lines(weather: xr.Dataset) -> str:
    """Return what was filled in the weather and what it does to retention, as lines of the head; nothing without gaps."""
    said = str(weather.attrs.get("fill", ""))
    return textwrap.fill(said, 110, initial_indent="Filled   ", subsequent_indent=" " * 9) + "\n" if said else ""


def paragraph(text: str) -> str:
    """Return text broken into lines that fit a terminal."""
    return textwrap.fill(text, 110)
