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
    """Print the verdicts; a record that cannot be used as it is, is a result too."""
    from runoff.weather import check_weather

    weather = inputs.weather_of(options)
    with waiting("checking"):
        report = check_weather(weather)
    print(report)
    return 0
