"""``runoff dossier``: write the capture dossier of a roof, or check one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.cli import inputs
from runoff.cli.checking import checked
from runoff.cli.destination import add_out, results_of
from runoff.cli.parser import whole
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr

    from runoff.cli.parser import CommandParser


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    parser.add_argument("record", nargs="?", metavar="WEATHER", help="weather file; the same as --weather")
    inputs.add_weather(parser, positional=False)
    add_out(parser, (".html", ".pdf"), default="dossier.html")
    parser.add_argument(
        "--depth-duration",
        metavar="FILE",
        help="depth-duration-frequency table, for peaks of the 2-, 10- and 100-year storm",
    )
    parser.add_argument("--existing", choices=("membrane", "gravel"), default="membrane", help="the roof as it is")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size in print (default: a4)")
    inputs.add_units(parser)
    words = parser.add_argument_group("printed as given")
    words.add_argument("--applicant", metavar="NAME")
    words.add_argument("--address", metavar="TEXT", help="address of the roof")
    words.add_argument("--date", metavar="DATE", help="none is put in by itself, so that repeated runs are identical")
    ranges = parser.add_argument_group("ranges")
    ranges.add_argument(
        "--members",
        type=whole(least=20, most=5_000),
        default=200,
        metavar="N",
        help="parameter sets drawn (default: 200)",
    )
    ranges.add_argument("--seed", type=whole(), default=1, metavar="N", help="seed of the draws (default: 1)")
    parser.names(storms="--depth-duration", weather="--weather")
    parser.add_argument(
        "--verify",
        metavar="FILE",
        help="check a sheet that runoff wrote: compute it again from what it carries and name what differs. With ROOF.toml "
        "or --weather also hold roof and weather inside against these. Exit code: 0 reproduces; 3 numbers and words do, "
        "pictures were not compared; 1 does not; 2 refused or unreadable",
    )
    parser.set_defaults(flags=parser.flags())


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    options.weather = options.weather or options.record
    if options.verify:
        return checked(
            options.verify, "dossier", options.flags, weather=lambda: _weather_to_check(options), roof=options.roof
        )
    return _write(options)


def _weather_to_check(options: argparse.Namespace) -> str | xr.Dataset | None:
    """Return the file as a name, so that it is read as the sheet says, unless options say how to read it."""
    if not options.weather:
        return None
    said = (
        "start", "end", "latitude", "longitude", "elevation", "fill", "column", "unit", "layout", "trust_unit", "et_method",
    )  # fmt: skip
    return inputs.weather_of(options) if any(getattr(options, name) for name in said) else str(options.weather)


def _write(options: argparse.Namespace) -> int:
    from runoff.dossier import write_dossier
    from runoff.roof import BareSurface

    storms = options.depth_duration
    if not (storms or options.roof or options.weather):
        from runoff.sample_files import sample_folder

        storms = sample_folder() / "ostrey_depth_duration.csv"
    with results_of(options) as results:
        path = results.path("dossier.html")
        roof, weather = inputs.roof_of(options), inputs.weather_of(options)
        with waiting("working out the dossier"):
            figures = write_dossier(
                roof,
                weather,
                path,
                storms=storms,
                existing=BareSurface(kind=options.existing),
                applicant=options.applicant,
                address=options.address,
                date=options.date,
                paper=options.paper,
                members=options.members,
                seed=options.seed,
                et_method=options.et_method,
            )
    again = " (in place of an earlier one)" if results.replaced else ""
    print(f"Written: {path} ({path.stat().st_size / 1000:.0f} kB){again}")
    print(_summary(figures, options.units))
    if "storm_peak" not in figures:
        print("No depth-duration table: peaks are left out, the dossier says how to add them (--depth-duration FILE)")
    print(f"Check it with     runoff dossier --verify {path}")
    return 0


def _summary(figures: xr.Dataset, units: str) -> str:
    """Return the lines that stand for the dossier at the terminal."""
    from runoff.saying.scales import shown

    capture, avoided = (
        shown(float(figures[name]), "m3", system=units) for name in ("annual_capture_m3", "avoided_annual_m3")
    )
    low, high = (
        shown(float(figures["annual_capture_m3_range"].sel(bound=bound)), "m3", system=units).text
        for bound in ("5", "95")
    )
    capacity = shown(float(figures["capacity_mm"]), "mm", system=units)
    return (
        f"Annual capture    {capture} (5 to 95 %: {low} to {high}), avoided {avoided}\n"
        f"Storage capacity  {capacity} of one storm on a dry roof, per planted area"
    )
