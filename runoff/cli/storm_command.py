"""``runoff storm``: one or several design storms on a planted, a bare and a gravel roof, in minutes."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from runoff.cli import inputs, storm_inputs
from runoff.cli.destination import add_no_figures, add_out, results_of
from runoff.cli.parser import number, quantity, whole
from runoff.cli.telling_ranges import LEFT_OUT, add_no_ranges
from runoff.errors import raise_faults
from runoff.saying.progress import waiting
from runoff.saying.scales import in_order

if TYPE_CHECKING:
    import argparse

    import xarray as xr
    from matplotlib.figure import Figure

    from runoff.cli.parser import CommandParser
    from runoff.roof import Roof
    from runoff.saying.tables import Table


_NO_DRYING = "This table starts at field capacity and lets nothing evaporate while it rains, unlike the comparison above: on the safe side."


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    storm_inputs.add_storm(parser, return_periods=storm_inputs.RETURN_PERIODS)
    parser.add_argument(
        "--dry-hours", type=number(least=0.0, most=24.0 * storm_inputs.LONGEST_STORM_DAYS, unit="h"), default=24.0,
        metavar="H", help="hours run on after the storm (default: 24)",
    )  # fmt: skip
    asked = parser.add_argument_group("what an approver asks")
    asked.add_argument(
        "--release", type=quantity("L/(s ha)", above=0.0, most=10_000.0), metavar="FLOW",
        help='largest release allowed per area, for example "10 L/(s ha)"',
    )  # fmt: skip
    asked.add_argument(
        "--drain-limit", type=number(above=0.0, most=168.0, unit="h"), nargs="+", default=[24.0, 48.0, 72.0], metavar="HOURS",
        help="hours after the rain by which the roof must have drained (default: 24 48 72); the storage recovered "
        "is told at the last but one of them",
    )  # fmt: skip
    asked.add_argument(
        "--drained-below", type=quantity("mm", above=0.0, most=100.0), default=1.0, metavar="DEPTH",
        help="free and mobile water under which a roof counts as drained (default: 1mm)",
    )  # fmt: skip
    asked.add_argument(
        "--lost",
        type=whole(least=0, most=999),
        default=1,
        metavar="N",
        help="outlets taken as lost, that is blocked (default: 1)",
    )
    asked.add_argument(
        "--drying", type=quantity("mm/day", least=0.0, most=20.0), metavar="RATE",
        help="reference evapotranspiration after the rain, for example 4mm/day (default: the median summer day of --climate, or of "
        "the sample with the sample roof)",
    )  # fmt: skip
    asked.add_argument(
        "--guideline-test", action="store_true",
        help="only the guideline test: 27 mm in 15 min on the pre-wetted build-up; C is the share that leaves in those 15 minutes",
    )  # fmt: skip
    parser.names(left_mm="--drained-below", limit_hours="--drain-limit", drying_mm_per_day="--drying")
    inputs.add_units(parser)
    add_out(parser, (".nc", ".csv", ".png"))
    add_no_figures(parser)
    add_no_ranges(parser)


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    import pandas as pd

    from runoff.balance.loop_choice import expect_many_runs
    from runoff.findings.draining import storage_shown
    from runoff.findings.storm_comparison import compare_storm, followed_by_dry, storm_note
    from runoff.findings.storm_tables import storm_table, storm_text
    from runoff.roof.losing_outlets import loss_faults
    from runoff.simulation import simulate

    if options.guideline_test:
        return _guideline_test(options)
    expect_many_runs()  # a week in minutes after each storm, and its draws
    with results_of(options) as results:
        roof, start = inputs.roof_of(options), storm_inputs.start_of(options)
        raise_faults("runoff storm", loss_faults(roof.outlets, options.lost))
        storms = storm_inputs.storms_of(options)
        storm_inputs.refuse_one_file_for_several(options, storms, (".nc", ".png"))
        print(
            f"Roof     {inputs.roof_line(roof, options.units, planted=True)}{inputs.assumed_lines(roof, options.units)}"
        )
        print("Method   water balance in minutes; all three roofs drain through the same outlets")
        tables, cautions, drying = {}, "", _drying(options, start.get("climate"))
        for name, storm in storms.items():
            with waiting(f"running the storm of {name}"):
                run = simulate(roof, followed_by_dry(storm, options.dry_hours), **start)
                comparison = compare_storm(run, roof)
            if storm_inputs.is_invented(options):
                run.attrs["invented"] = "yes"
            print(f"\n{storm_inputs.storm_line(name, storm, options)}\n")
            print(storm_text(comparison, units=options.units))
            print(f"\n{inputs.paragraph(storm_note(comparison, units=options.units))}")
            print(f"\n{inputs.paragraph(f'How sure: {_peak_range(roof, comparison, start, options)}')}")
            print(f"\n{_approver_table(roof, storm, drying, options)}")
            if options.rain and options.climate:
                print(f"\n{inputs.paragraph(_NO_DRYING)}")
            stem = f"storm_{storm_inputs.stem_of(name)}"
            tables[name] = storm_table(comparison, units=options.units)
            cautions = comparison.attrs["curve_number_limits"]
            results.add(f"{stem}.nc", partial(_same, comparison))
            with waiting("drawing"):
                results.add(f"{stem}.png", partial(_figure, run, comparison, roof, options))
        results.add("storms.csv", lambda: pd.concat(tables, names=["storm"]).reset_index("storm"))
        print(f"\n{storage_shown(roof, units=options.units)}")
        print(f"\n{inputs.paragraph(in_order(f'Curve numbers: {cautions}', options.units))}")
        print(results.said())
    if not options.roof:
        print(
            "\nTry next\n"
            "  runoff storm --start-moisture dry                the same storms on a dry roof\n"
            "  runoff storm my_roof.toml --depth-duration my_station.csv --return-period 10 100\n"
            "  runoff outlets                                   which outlets this roof needs"
        )
    return 0


def _peak_range(roof: Roof, comparison: xr.Dataset, start: dict[str, Any], options: argparse.Namespace) -> str:
    """Return how sure the peak of a storm is, in words."""
    if options.no_ranges:
        return LEFT_OUT
    from runoff.sizing.storm_ranges import peak_range_words, ranges_beside

    with waiting("drawing materials for the range of the peak"):
        ranges = ranges_beside(comparison, roof, comparison["rain"], **start)
    return peak_range_words(ranges, units=options.units)


def _drying(options: argparse.Namespace, climate: xr.Dataset | None) -> float | None:
    """Return the drying rate after the rain, mm a day: as given, or of the climate's median summer day; None without either."""
    from runoff.findings.draining import summer_drying
    from runoff.weather import open_sample, read_weather

    if options.drying is not None or (options.roof and not options.climate):
        return options.drying
    if climate is None:
        given = {} if options.latitude is None else {"latitude": options.latitude}
        climate = read_weather(options.climate, **given) if options.climate else open_sample()
    return summer_drying(climate)


def _approver_table(roof: Roof, storm: xr.DataArray, drying: float | None, options: argparse.Namespace) -> Table:
    """Return what an approver asks of one storm; the roof starts at field capacity, whatever the start of the comparison."""
    from runoff.findings.draining import drainage_figures, drainage_shown

    limits = sorted(options.drain_limit)
    with waiting("following the roof for a week"):
        figures = drainage_figures(
            roof, storm, lost=options.lost, left_mm=options.drained_below, limit_hours=limits[max(0, len(limits) - 2)],
            drying_mm_per_day=drying, guideline=False,
        )  # fmt: skip
    return drainage_shown(figures, limits=limits, release=options.release, units=options.units)


def _guideline_test(options: argparse.Namespace) -> int:
    from runoff.findings.draining import GUIDELINE_LOSS_MM, GUIDELINE_MIN, GUIDELINE_MM, guideline_coefficients
    from runoff.saying.scales import say

    roof = inputs.roof_of(options)
    (coefficient,) = guideline_coefficients([roof])
    rain, loss = (say(depth, "mm", "depth", options.units) for depth in (GUIDELINE_MM, GUIDELINE_LOSS_MM))
    print(f"Roof  {inputs.roof_line(roof, options.units, planted=True)}")
    print(
        f"C     {coefficient:.2f}: share of {rain} in {GUIDELINE_MIN} min that leaves the medium in those {GUIDELINE_MIN} minutes"
    )
    print(
        inputs.paragraph(
            "A volume, not a peak. The build-up is pre-wetted and drained; canopy and mulch take at most "
            f"{loss} of it. Board, outlets and the unplanted part are not counted. Worked out from the detention of the medium, not "
            "measured: where a rule asks for a test, a test decides."
        )
    )
    return 0


def _figure(run: xr.Dataset, comparison: xr.Dataset, roof: Roof, options: argparse.Namespace) -> Figure:
    from runoff.findings.storm_comparison import with_comparison
    from runoff.plots import storm_figure

    return storm_figure(with_comparison(run, comparison), roof=roof, units=options.units)


def _same(made: xr.Dataset) -> xr.Dataset:
    return made
