"""``runoff storm``: one or several design storms on a planted, a bare and a gravel roof, in minutes."""

from __future__ import annotations

import argparse

from runoff.cli import inputs, storm_inputs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    storm_inputs.add_storm(parser, return_periods=storm_inputs.RETURN_PERIODS)
    parser.add_argument(
        "--dry-hours", type=float, default=24.0, metavar="H", help="hours run on after the storm (default: 24)"
    )
    inputs.add_units(parser)
    inputs.add_out(parser)
    parser.add_argument("--no-figures", action="store_true", help="write the numbers only")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.findings.storm_comparison import compare_storm, followed_by_dry, storm_note, with_comparison
    from runoff.findings.storm_tables import storm_text
    from runoff.simulation import simulate

    roof, start = inputs.roof_of(options), storm_inputs.start_of(options)
    folder, written, cautions = inputs.result_folder(options), [], ""
    print(f"Roof     {roof.name or 'unnamed'}, {roof.area_m2:g} m2, {100 * roof.planted_fraction:g} % planted")
    print("Method   water balance in minutes; all three roofs drain through the same outlets")
    for name, storm in storm_inputs.storms_of(options).items():
        result = simulate(roof, followed_by_dry(storm, options.dry_hours), **start)
        if storm_inputs.is_invented(options):
            result.attrs["invented"] = "yes"
        comparison = compare_storm(result, roof)
        cautions = comparison.attrs["curve_number_limits"]
        invented = " - INVENTED, for demonstration only" if storm_inputs.is_invented(options) else ""
        print(f"\nStorm    {name}: {storm.attrs['source']}, step {storm.attrs['step']}{invented}\n")
        print(storm_text(comparison, units=options.units))
        print(f"\n{storm_inputs.paragraph(storm_note(comparison, units=options.units))}")
        stem = f"storm_{name.replace(' ', '_')}"
        comparison.to_netcdf(folder / f"{stem}.nc", engine="h5netcdf")
        written.append(f"{stem}.nc")
        if not options.no_figures:
            from runoff.plots import save, storm_figure

            save(
                storm_figure(with_comparison(result, comparison), roof=roof, units=options.units),
                folder / f"{stem}.png",
            )
            written.append(f"{stem}.png")
    print(f"\n{storm_inputs.paragraph(f'Curve numbers: {cautions}')}")
    print(f"Written to {folder}: {', '.join(written)}")
    if not options.roof:
        print(
            "\nTry next\n"
            "  runoff storm --start-moisture dry                the same storms on a dry roof\n"
            "  runoff storm my_roof.toml --table my_station.csv --return-period 10 100\n"
            "  runoff outlets                                   which outlets this roof needs"
        )
    return 0
