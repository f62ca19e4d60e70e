"""``runoff lesson``: two roofs side by side under the same rain, as one page for any browser."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.cli import inputs
from runoff.cli.destination import add_out, results_of
from runoff.cli.parser import whole

if TYPE_CHECKING:
    import argparse

    from runoff.cli.parser import CommandParser


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument("weather", nargs="?", metavar="WEATHER", help="daily weather file; default: the sample climate")
    parser.add_argument(
        "--year", type=whole(least=1, most=9999), metavar="YEAR",
        help="the year in whose September (south: March) the lesson begins; default: the last whole one",
    )  # fmt: skip
    inputs.add_weather(parser, positional=None)
    inputs.add_units(parser)
    add_out(parser, (".html",), default="lesson.html")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.saying.progress import waiting
    from runoff.teaching.lesson_page import write_lesson

    with results_of(options) as results:
        weather = inputs.weather_of(options)
        path = results.path("lesson.html")
        with waiting("running a year of every roof"):
            write_lesson(weather, path, year=options.year, units=options.units)
        print(results.said())
    print(
        f"One page of {path.stat().st_size / 1e6:.1f} MB: open it in any browser, on a projector or a tablet; it needs no network and no "
        "Python there.\nThe weights it shows are masses. Whether a roof can carry them is for a licensed structural engineer."
    )
    return 0
