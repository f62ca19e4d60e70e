"""``runoff dossier``: write the capture dossier of a roof, or check one."""

from __future__ import annotations

import argparse
from pathlib import Path

from runoff.cli import inputs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    parser.add_argument("record", nargs="?", metavar="WEATHER", help="weather file; the same as --weather")
    inputs.add_weather(parser, positional=False)
    parser.add_argument(
        "--out", default="dossier.html", metavar="FILE", help="file to write, .html or .pdf (default: dossier.html)"
    )
    parser.add_argument(
        "--storms", metavar="FILE", help="depth-duration-frequency table, for peaks of the 2-, 10- and 100-year storm"
    )
    parser.add_argument("--existing", choices=("membrane", "gravel"), default="membrane", help="the roof as it is")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size in print (default: a4)")
    words = parser.add_argument_group("printed as given")
    words.add_argument("--applicant", metavar="NAME")
    words.add_argument("--address", metavar="TEXT", help="address of the roof")
    words.add_argument("--date", metavar="DATE", help="none is put in by itself, so that repeated runs are identical")
    ranges = parser.add_argument_group("ranges")
    ranges.add_argument("--members", type=int, default=200, metavar="N", help="parameter sets drawn (default: 200)")
    ranges.add_argument("--seed", type=int, default=1, metavar="N", help="seed of the draws (default: 1)")
    parser.add_argument(
        "--verify",
        metavar="FILE",
        help="compute a dossier again from what it carries and name the numbers that differ; with --weather also hold "
        "the weather inside against that file",
    )


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    options.weather = options.weather or options.record
    return _verify(options) if options.verify else _write(options)


def _verify(options: argparse.Namespace) -> int:
    from runoff.dossier import verify_dossier

    weather = inputs.weather_of(options) if options.weather else None
    verdict = verify_dossier(options.verify, weather=weather)
    print(verdict.text())
    return 0 if verdict.is_genuine else 1


def _write(options: argparse.Namespace) -> int:
    from runoff.dossier import write_dossier
    from runoff.roof import BareSurface

    storms = options.storms
    if not (storms or options.roof or options.weather):
        from runoff.sample_files import sample_folder

        storms = sample_folder() / "ostrey_depth_duration.csv"
    path = Path(options.out)
    figures = write_dossier(
        inputs.roof_of(options),
        inputs.weather_of(options),
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
    capture, avoided = float(figures["annual_capture_m3"]), float(figures["avoided_annual_m3"])
    low, high = (float(figures["annual_capture_m3_range"].sel(bound=bound)) for bound in ("5", "95"))
    print(f"Written: {path} ({path.stat().st_size / 1000:.0f} kB)")
    print(f"Annual capture    {capture:.1f} m3 (5 to 95 %: {low:.1f} to {high:.1f}), avoided {avoided:.1f} m3")
    print(f"Storage capacity  {float(figures['capacity_mm']):.1f} mm of one storm on a dry roof, per planted area")
    if "storm_peak" not in figures:
        print("No storms table: peaks are left out, the dossier says how to add them (--storms FILE)")
    print(f"Check it with     runoff dossier --verify {path}")
    return 0
