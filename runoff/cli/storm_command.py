"""``runoff storm``: one or several design storms on a planted, a bare and a gravel roof, in minutes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from runoff.cli import inputs, storm_inputs
from runoff.cli.destination import add_no_figures, add_out, results_of
from runoff.cli.parser import number
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr

    from runoff.cli.parser import CommandParser


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    storm_inputs.add_storm(parser, return_periods=storm_inputs.RETURN_PERIODS)
    parser.add_argument(
        "--dry-hours", type=number(least=0.0, most=24.0 * storm_inputs.LONGEST_STORM_DAYS, unit="h"), default=24.0,
        metavar="H", help="hours run on after the storm (default: 24)",
    )  # fmt: skip
    inputs.add_units(parser)
    add_out(parser, (".nc", ".csv", ".png"))
    add_no_figures(parser)


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    import pandas as pd

    from runoff.findings.storm_comparison import compare_storm, followed_by_dry, storm_note, with_comparison
    from runoff.findings.storm_tables import storm_table, storm_text
    from runoff.plots import storm_figure
    from runoff.simulation import simulate
    from runoff.sizing.storm_ranges import peak_range_words, storm_uncertainty

    with results_of(options) as results:
        roof, start = inputs.roof_of(options), storm_inputs.start_of(options)
        storms = storm_inputs.storms_of(options)
        storm_inputs.refuse_one_file_for_several(options, storms, (".nc", ".png"))
        print(
            f"Roof     {inputs.roof_line(roof, options.units, planted=True)}{inputs.assumed_lines(roof, options.units)}"
        )
        print("Method   water balance in minutes; all three roofs drain through the same outlets")
        tables, cautions = {}, ""
        for name, storm in storms.items():
            with waiting(f"running the storm of {name}"):
                run = simulate(roof, followed_by_dry(storm, options.dry_hours), **start)
                comparison = compare_storm(run, roof)
            if storm_inputs.is_invented(options):
                run.attrs["invented"] = "yes"
            print(f"\n{storm_inputs.storm_line(name, storm, options)}\n")
            print(storm_text(comparison, units=options.units))
            print(f"\n{inputs.paragraph(storm_note(comparison, units=options.units))}")
            with waiting("drawing materials for the range of the peak"):
                ranges = storm_uncertainty(roof, run["rain"], **start)
            print(f"\n{inputs.paragraph(f'How sure: {peak_range_words(ranges, units=options.units)}')}")
            stem = f"storm_{storm_inputs.stem_of(name)}"
            tables[name] = storm_table(comparison, units=options.units)
            cautions = comparison.attrs["curve_number_limits"]
            results.add(f"{stem}.nc", partial(_same, comparison))
            both = with_comparison(run, comparison)
            with waiting("drawing"):
                results.add(f"{stem}.png", partial(storm_figure, both, roof=roof, units=options.units))
        results.add("storms.csv", lambda: pd.concat(tables, names=["storm"]).reset_index("storm"))
        print(f"\n{inputs.paragraph(f'Curve numbers: {cautions}')}")
        print(results.said())
    if not options.roof:
        print(
            "\nTry next\n"
            "  runoff storm --start-moisture dry                the same storms on a dry roof\n"
            "  runoff storm my_roof.toml --depth-duration my_station.csv --return-period 10 100\n"
            "  runoff outlets                                   which outlets this roof needs"
        )
    return 0


def _same(made: xr.Dataset) -> xr.Dataset:
    return made
