"""``runoff check-weather``: look through a weather file before relying on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.cli import inputs
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    from runoff.cli.parser import CommandParser


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_weather(parser)


def run(options: argparse.Namespace) -> int:
    """Print the verdicts; a record that cannot be used as it is, is a result too.

    For a file that is not understood the flags are proposed under which it can be read.
    """
    from runoff.errors import WeatherError
    from runoff.weather import check_weather

    try:
        weather = inputs.weather_of(options)
    except WeatherError as error:
        raise WeatherError(f"{error}{_proposed(options)}") from None
    with waiting("checking"):
        report = check_weather(weather)
    print(report)
    return 0


def _proposed(options: argparse.Namespace) -> str:
    """Return how the file can probably be read, as lines that follow the refusal; nothing where nothing was found."""
    from runoff.weather.files.proposing import propose_reading

    given = {
        "latitude": options.latitude, "longitude": options.longitude, "elevation_m": options.elevation, **inputs.table_of(options),
    }  # fmt: skip
    with waiting("looking how it can be read"):
        proposal = propose_reading(options.weather, given)
    return f"\n\n{proposal}" if proposal is not None else ""
