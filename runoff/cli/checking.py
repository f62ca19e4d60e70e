"""``runoff check-weather``: look through a weather file before relying on it."""

from __future__ import annotations

import argparse

from runoff.cli import inputs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    inputs.add_weather(parser)


def run(options: argparse.Namespace) -> int:
    """Print the verdicts; exit code 1 when one of them says the record cannot be used as it is."""
    from runoff.weather import check_weather

    report = check_weather(inputs.weather_of(options))
    print(report)
    return 1 if report.verdict == "stop" else 0
