"""``runoff dossier``: write the capture dossier of a roof, or check one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from runoff.cli import inputs
from runoff.cli.checking import checked
from runoff.cli.destination import add_out, results_of
from runoff.cli.parser import whole
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr

    from runoff.cli.parser import CommandParser

#: What is printed as given: flag, what it takes, help.
_FIELDS = (
    ("applicant", "NAME", "who applies"),
    ("qualification", "TEXT", "of the applicant"),
    ("address", "TEXT", "address of the roof"),
    ("date", "DATE", "date on the dossier; left blank unless given, so that repeated runs are identical"),
    ("station", "NAME", "of the weather station"),
    ("station-owner", "NAME", "who runs the weather station"),
    ("station-distance", "TEXT", "from the roof, with its unit"),
    ("station-elevation", "TEXT", "above the sea, with its unit"),
    ("drains-to", "TEXT", "for example: combined sewer"),
    ("maintenance-by", "NAME", "who looks after the roof"),
    ("budget", "TEXT", "of the maintenance, a year"),
    ("term", "TEXT", "of the maintenance"),
)
#: Rules of `runoff.dossier.office_rules`, by name: the help must not load the room.
RULE_NAMES = (
    "north-carolina", "minnesota", "minnesota-porosity", "interception-5-percent", "paris-region", "storage-15", "storage-20",
    "storage-25", "storage-30", "storage-35", "curve-number-84",
)  # fmt: skip


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
    parser.add_argument(
        "--existing",
        choices=("membrane", "gravel"),
        help="the existing roof it is compared with; default: both are shown",
    )
    parser.add_argument(
        "--as-built", metavar="BUILT.toml",
        help="a second roof file with what was measured: the dossier is of the roof as built, beside ROOF.toml as promised",
    )  # fmt: skip
    parser.add_argument(
        "--event", default="1in", metavar="DEPTH|PERCENTILE",
        help="the storm the office asks for, for example 1in, 30mm or p90 of wet days (default: 1in)",
    )  # fmt: skip
    parser.add_argument(
        "--rule", action="append", default=[], metavar="NAME",
        help=f"credit by the formula of a local rule, printed beside what the balance gives: {', '.join(RULE_NAMES)}",
    )  # fmt: skip
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size in print (default: a4)")
    inputs.add_units(parser)
    words = parser.add_argument_group("printed as given")
    for name, metavar, said in _FIELDS:
        words.add_argument(f"--{name}", metavar=metavar, help=said)
    ranges = parser.add_argument_group("ranges")
    ranges.add_argument(
        "--members",
        type=whole(least=20, most=5_000),
        default=200,
        metavar="N",
        help="parameter sets drawn (default: 200)",
    )
    ranges.add_argument("--seed", type=whole(), default=1, metavar="N", help="seed of the draws (default: 1)")
    parser.names(storms="--depth-duration", weather="--weather", rule="--rule")
    parser.add_argument(
        "--verify",
        metavar="FILE",
        help="check a sheet that runoff wrote: compute it again from what it carries and name what differs. With ROOF.toml "
        "or --weather also compare the roof and the weather inside with these. Exit code: 0 reproduces; 3 numbers and words do, "
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
        "start", "end", "latitude", "longitude", "elevation", "fill", "column", "unit", "layout", "trust_unit", "et_method", "site",
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
        roof, weather = inputs.roof_of(options), inputs.one_place(inputs.weather_of(options))
        with waiting("working out the dossier"):
            figures = write_dossier(
                roof,
                weather,
                path,
                storms=storms,
                existing=BareSurface(kind=options.existing) if options.existing else None,
                as_built=options.as_built,
                **{field: getattr(options, field) for field in (name.replace("-", "_") for name, _, _ in _FIELDS)},
                paper=options.paper,
                units=options.units,
                event=options.event,
                rules=tuple(options.rule),
                members=options.members,
                seed=options.seed,
                et_method=options.et_method,
            )
    again = " (in place of an earlier one)" if results.replaced else ""
    print(f"Written: {path} ({path.stat().st_size / 1000:.0f} kB){again}")
    print(_summary(figures, options.units))
    if "storm_peak" not in figures:
        print("No depth-duration table: peaks are left out; add the table of the place with --depth-duration FILE")
    print(f"Check it with     runoff dossier --verify {path}")
    return 0


def _summary(figures: xr.Dataset, units: str) -> str:
    """Return the lines that stand for the dossier at the terminal."""
    from runoff.dossier.marked_numbers import with_claim_digits
    from runoff.saying.scales import shown
    from runoff.sizing.claiming import refusal
    from runoff.sizing.measured_against import model_error

    def said(name: str, **at: str) -> Any:
        return shown(
            float(figures[name].sel(at) if at else figures[name]), str(figures[name].attrs["units"]), system=units
        )

    capture, four, low, high = (
        with_claim_digits(said("annual_capture_m3_range", bound=bound)) for bound in ("expected", "20", "5", "95")
    )
    refused = refusal(
        rot_risk_days=float(figures["rot_risk_days"]), blocked_fraction=float(figures["blocked_fraction"])
    )
    if refused:
        told = f"No capture is claimed. {refused}"
    else:
        of_five = "four roofs of five" if model_error() is not None else "four draws of five"
        told = f"Annual capture    {capture} expected, {of_five} keep {four} (5 to 95 %: {low.text} to {high})"
        if "gravel_avoided_annual_m3" in figures:
            told += (
                f"\nAvoided           {said('gravel_avoided_annual_m3')} against gravel, {said('membrane_avoided_annual_m3')} against a "
                "bare membrane: say which is there (--existing)"
            )
        else:
            told += f"\nAvoided           {said('avoided_annual_m3')} against the roof as it is"
    capacity = shown(float(figures["capacity_mm"]), "mm", system=units)
    if "promised_capacity_mm" in figures:
        told += (
            f"\nPromised          {said('promised_annual_capture_m3')} captured a year by the balance, as built "
            f"{said('annual_capture_m3')}"
        )
    return f"{told}\nStorage capacity  {capacity} of one storm on a dry roof, per planted area"
