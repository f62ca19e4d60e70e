"""``runoff simulate``: a roof through years of weather."""

from __future__ import annotations

import argparse

from runoff.cli import inputs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    inputs.add_weather(parser)
    inputs.add_units(parser)
    inputs.add_out(parser)
    parser.add_argument("--no-figures", action="store_true", help="write the numbers only")
    parser.add_argument("--template", action="store_true", help="print a commented roof file to start from, and stop")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    if options.template:
        from runoff.roof import template_text

        print(template_text(), end="")
        return 0
    from runoff.findings.summary import summarize
    from runoff.findings.tables import facts_text
    from runoff.simulation import simulate

    roof, weather = inputs.roof_of(options), inputs.weather_of(options)
    result = simulate(roof, weather, et_method=options.et_method)
    facts = summarize(result)
    first, last = (str(result["time"].to_numpy()[i])[:10] for i in (0, -1))
    invented = " - INVENTED, for demonstration only" if weather.attrs.get("invented") == "yes" else ""
    print(f"Roof     {roof.name or 'unnamed'}, {roof.area_m2:g} m2, {100 * roof.planted_fraction:g} % planted")
    print(f"Weather  {weather.attrs.get('title') or weather.attrs.get('source', '')}, {first} to {last}{invented}")
    print(f"Method   daily water balance; reference evapotranspiration: {result.attrs['reference_et_method']}\n")
    kind = result.attrs["comparison"].split(" with ")[0]
    print(facts_text(facts, units=options.units, comparison=f"bare {kind}"))
    print("\n" + facts.attrs["note"])
    print("Figures are per planted area; the volume and the discharge are of the whole roof.\n")

    folder = inputs.result_folder(options)
    result.to_netcdf(folder / "water_balance.nc", engine="h5netcdf")
    written = ["water_balance.nc"]
    if not options.no_figures:
        from runoff.plots import monthly_balance_figure, save, year_figure

        for name, figure in (
            ("year.png", year_figure(result, units=options.units)),
            ("monthly_balance.png", monthly_balance_figure(result, units=options.units)),
        ):
            save(figure, folder / name)
            written.append(name)
    print(f"Written to {folder}: {', '.join(written)}")
    if not options.roof:
        print(
            "\nTry next\n"
            "  runoff simulate --template > my_roof.toml        describe your own roof\n"
            "  runoff simulate my_roof.toml my_station.dly --latitude 47\n"
            "  runoff sweep                                     compare depths and cups in the same climate"
        )
    return 0
