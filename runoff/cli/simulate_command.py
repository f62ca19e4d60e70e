"""``runoff simulate``: a roof through years of weather."""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.cli import inputs
from runoff.cli.destination import add_no_figures, add_out, is_a_file, results_of
from runoff.cli.telling_ranges import add_list_ranges, add_no_ranges, range_words, ranges_listed
from runoff.errors import RunoffError
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    from runoff.cli.parser import CommandParser


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    inputs.add_weather(parser)
    inputs.add_units(parser)
    add_out(parser, (".nc", ".csv", ".png"))
    add_no_figures(parser)
    add_no_ranges(parser)
    add_list_ranges(parser)
    parser.add_argument(
        "--template",
        action="store_true",
        help="print a commented roof file to start from, and stop; with --out FILE.toml write it",
    )


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    if options.template:
        return _template(options.out)
    from runoff import plots
    from runoff.balance.loop_choice import expect_many_runs
    from runoff.findings.summary import summarize
    from runoff.findings.tables import facts_table, facts_text
    from runoff.simulation import simulate

    with results_of(options) as results:
        roof, weather = inputs.roof_of(options), inputs.one_place(inputs.weather_of(options))
        if not options.no_ranges:
            expect_many_runs()
        with waiting("running the water balance"):
            run = simulate(roof, weather, et_method=options.et_method)
            facts = summarize(run)
        first, last = (str(run["time"].to_numpy()[i])[:10] for i in (0, -1))
        title = weather.attrs.get("title") or weather.attrs.get("source", "")
        print(
            f"Roof     {inputs.roof_line(roof, options.units, planted=True)}{inputs.assumed_lines(roof, options.units)}"
        )
        print(f"Weather  {title}, {first} to {last}{inputs.invented_mark(weather.attrs)}")
        print(f"Method   daily water balance; reference evapotranspiration: {run.attrs['reference_et_method']}")
        print(inputs.filled_lines(weather))
        kind = run.attrs["comparison"].split(" with ")[0]
        print(facts_text(facts, units=options.units, comparison=f"bare {kind}"))
        with waiting("drawing materials and years for the range"):
            told = range_words(roof, weather, ("retention", "annual_capture_m3"), options)
        print("\n" + inputs.paragraph(f"How sure: {told}"))
        if options.list_ranges and not options.no_ranges:
            print("\n" + ranges_listed(roof, weather, options))
        print("\n" + inputs.paragraph(facts.attrs["note"]))
        print("Figures are per planted area; the volume and the discharge are of the whole roof.\n")
        results.add("water_balance.nc", lambda: run)
        results.add("headline_figures.csv", lambda: facts_table(facts, units=options.units))
        with waiting("drawing"):
            results.add("year.png", lambda: plots.year_figure(run, units=options.units))
            results.add("monthly_balance.png", lambda: plots.monthly_balance_figure(run, units=options.units))
        print(results.said())
    if not options.roof:
        print(
            "\nTry next\n"
            "  runoff simulate --template --out my_roof.toml    describe your own roof\n"
            "  runoff simulate my_roof.toml my_station.dly --latitude 47\n"
            "  runoff sweep                                     compare depths and cups in the same climate"
        )
    return 0


def _template(out: str) -> int:
    """Print the commented roof file, or write it where a file was named; one of the user's own is never replaced."""
    from pathlib import Path

    from runoff.roof import template_text
    from runoff.writing import write_text

    if not is_a_file(out):
        print(template_text(), end="")
        return 0
    if Path(out).suffix.lower() != ".toml":
        raise RunoffError(f'--out: a roof file ends in .toml (given "{out}")')
    if Path(out).exists():
        raise RunoffError(f"--out: there is a roof file {out} already; choose another name, or remove it first")
    print(f"Written: {write_text(out, template_text())}")
    return 0
