"""``runoff fit``: parameters of a roof from its measured overflow, or of its medium from a tray on the scales."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from runoff.cli import inputs, tray_test
from runoff.cli.destination import Results, add_no_figures, add_out, results_of
from runoff.cli.parser import CommandParser, number
from runoff.errors import RunoffError
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

    from runoff.calibration import RoofFit
    from runoff.roof import Roof


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    inputs.add_weather(parser, period="observation")
    group = parser.add_argument_group("observation")
    group.add_argument(
        "--observed", metavar="LOG.csv",
        help="overflow, daily or at shorter steps, for example date,overflow_mm; default: the sample roof",
    )  # fmt: skip
    group.add_argument(
        "--climate", metavar="FILE",
        help="daily weather, for evapotranspiration and temperature of a record at shorter steps than a day",
    )  # fmt: skip
    _add_log(group)
    group.add_argument(
        "--planted-only", action="store_true", help="the gauge measures the planted part alone, not the whole roof"
    )
    tray_test.add_arguments(parser)
    group = parser.add_argument_group("fit")
    group.add_argument(
        "--parameter", action="append", default=[], metavar="NAME[=LOW:HIGH]",
        help="fit this value, for example medium.field_capacity=0.25:0.45 or board.cup_storage_in=0.1:0.4; default: field capacity and crop coefficient",
    )  # fmt: skip
    group.add_argument(
        "--held-back",
        type=number(least=0.0, most=0.8),
        default=1 / 3,
        metavar="SHARE",
        help="share of the days that is kept to judge the fit (default: a third)",
    )
    group.add_argument(
        "--method", default="least squares", metavar="NAME",
        help='method of the search (default: "least squares"; "differential evolution" is slower)',
    )  # fmt: skip
    parser.say_more("log_words")
    parser.say_more("property_names")
    inputs.add_units(parser)
    add_out(parser, (".toml", ".csv", ".png"), default="")
    add_no_figures(parser)


def _add_log(group: argparse._ArgumentGroup) -> None:
    """Add what reading a log may need, beside what reading the weather may need."""
    group.add_argument(
        "--log-column", action="append", default=[], metavar="NAME=HEADING",
        help="column of a log, for example overflow=Q, rain=P or time=DATE; default: by its heading",
    )  # fmt: skip
    group.add_argument(
        "--log-unit",
        action="append",
        default=[],
        metavar="NAME=UNIT",
        help="unit of a column, for example overflow=L/s",
    )
    group.add_argument(
        "--log-layout", action="append", default=[], metavar="NAME=VALUE",
        help="how the log is laid out, for example decimal=, dates=day-month-year or stamp=end",
    )  # fmt: skip


def _log_table(options: argparse.Namespace) -> dict[str, Any]:
    """Return ``columns``, ``units`` and ``layout`` of the log, as far as given."""
    given = argparse.Namespace(
        column=options.log_column, unit=options.log_unit, layout=options.log_layout, trust_unit=False
    )
    return inputs.table_of(given)


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    if options.tray == "":
        print(tray_test.template(), end="")
        return 0
    inputs.refuse_no_dates(options)
    with results_of(options) as results:
        if options.tray:
            tray_test.run(options, results, _log_table(options))
        else:
            _fit_overflow(options, results)
    if results.written:
        print(f"\n{results.said()}")
    return 0


def _fit_overflow(options: argparse.Namespace, results: Results) -> None:
    from runoff.calibration import fit_roof

    roof, weather = inputs.roof_of(options), inputs.weather_of(options, whole=True)
    observed, own_rain = _observed(options, roof)
    with waiting("fitting"):
        fit = fit_roof(
            roof,
            weather,
            observed,
            climate=_climate(options),
            parameters=_parameters(options.parameter),
            measured="overflow" if options.planted_only else "roof_overflow",
            start=options.start,
            end=options.end,
            held_back=options.held_back,
            own_rain=own_rain,
            method=options.method,
            et_method=options.et_method,
        )
    _report(fit, options)
    tray_test.add_roof(results, options, fit.doubts, fit.roof.to_toml)
    results.add("fitted_values.csv", lambda: fit.table.rename_axis("parameter").reset_index())
    results.add("fit.png", lambda: _figure(fit, options))
    if fit.events is not None and not fit.events.empty and not results.is_file:
        events = fit.events
        results.add("fitted_events.csv", lambda: events)
        results.add("fitted_events.png", lambda: _events_figure(fit, options))


def _climate(options: argparse.Namespace) -> xr.Dataset | None:
    """Return the daily weather beside a record at shorter steps."""
    from runoff.weather import read_weather

    if not options.climate:
        return None
    given = {"latitude": options.latitude, "elevation_m": options.elevation}
    return read_weather(options.climate, **{name: value for name, value in given.items() if value is not None})


def _report(fit: RoofFit, options: argparse.Namespace) -> None:
    """Print what was fitted and how well."""
    first, last = (day.date() for day in (fit.series.index[0], fit.series.index[-1]))
    invented = "" if options.observed else " - INVENTED, for demonstration only"
    print(f"Roof      {inputs.roof_line(fit.described, options.units)}")
    part = "planted part" if options.planted_only else "whole roof"
    print(f"Observed  overflow of the {part}, {first} to {last}{invented}")
    steps = "the daily overflow" if fit.step_hours == 24.0 else f"overflow in steps of {60 * fit.step_hours:g} min"
    print(f"Method    {fit.method} on {steps}\n")
    print(fit.text(units=options.units))


def _figure(fit: RoofFit, options: argparse.Namespace) -> Figure:
    from runoff.plots import fitted_overflow_figure

    return fitted_overflow_figure(fit, invented=not options.observed, units=options.units)


def _events_figure(fit: RoofFit, options: argparse.Namespace) -> Figure:
    from runoff.plots import fitted_events_figure

    return fitted_events_figure(fit, invented=not options.observed, units=options.units)


def _observed(options: argparse.Namespace, roof: Roof) -> tuple[pd.Series, pd.Series | None]:
    """Return the measured overflow, and the rain of the roof's own gauge where the log holds it, to be held against the weather."""
    from runoff.calibration.observations import read_overflow_and_rain, sample_observations

    if options.observed:
        table = _log_table(options)
        columns, units = table.get("columns", {}), table.get("units", {})
        for option, given, known in (
            ("--log-column", columns, ("overflow", "rain", "time")),
            ("--log-unit", units, ("overflow", "rain")),
        ):
            strange = [name for name in given if name not in known]
            if strange:
                raise RunoffError(f"{option} {strange[0]}: a log of overflow holds {', '.join(known)}")
        return read_overflow_and_rain(
            options.observed, columns=columns, units=units, layout=table.get("layout"),
            area_m2=roof.area_m2 * (roof.planted_fraction if options.planted_only else 1.0),
        )  # fmt: skip
    if options.roof or options.weather:
        raise RunoffError(
            "runoff fit: give the measured overflow of your roof with --observed FILE; the sample observation belongs to "
            "the sample roof and its weather"
        )
    return sample_observations(), None


def _parameters(words: list[str]) -> dict[str, tuple[float, float] | None] | None:
    """Return what ``--parameter`` asks for: names with a range or without one."""
    found: dict[str, tuple[float, float] | None] = {}
    for word in words:
        name, mark, span = word.partition("=")
        low, colon, high = span.partition(":")
        try:
            ends = [inputs.property_value(name, end, "--parameter") for end in (low, high)] if mark else None
            if inputs.si_property(name) in found:
                raise RunoffError(f"--parameter names {name} twice; give it once")
            found[inputs.si_property(name)] = (float(ends[0]), float(ends[1])) if ends else None
        except ValueError:
            raise RunoffError(
                f'--parameter takes NAME or NAME=LOW:HIGH, for example medium.field_capacity=0.25:0.45 (given "{word}")'
            ) from None
    return found or None
