"""``runoff fit --tray``: what the medium of a tray on the scales holds, from its log."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from runoff.cli import inputs
from runoff.cli.destination import Results
from runoff.cli.parser import CommandParser, quantity
from runoff.errors import RunoffError
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from runoff.calibration import TrayFit, TrayLog
    from runoff.roof import Roof


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of a tray test."""
    group = parser.add_argument_group("tray on the scales")
    group.add_argument(
        "--tray", nargs="?", const="", metavar="LOG.csv",
        help="fit the medium to a tray that was weighed while it dried; without a file: print a log to fill in, and stop",
    )  # fmt: skip
    tray, mass = quantity("m2", above=0.0), quantity("kg", least=0.0)
    group.add_argument("--tray-area", type=tray, metavar="AREA", help="of the tray, such as 0.25m2 or 2.7ft2")
    group.add_argument(
        "--empty-mass",
        type=mass,
        metavar="MASS",
        help="of tray, dry medium and plants without water, such as 21.4kg or 47lb",
    )
    group.add_argument("--empty-mass-error", type=mass, metavar="MASS", help="how far that mass may be wrong: 0.2kg")
    group.add_argument(
        "--medium-depth", type=quantity("mm", above=0.0), metavar="DEPTH", help="of its medium, such as 80mm or 3.15in"
    )
    group.add_argument(
        "--depletion", type=_share_or_fit, default=0.0, metavar="SHARE",
        help='share of the plant-available water given up without stress, or "fit" (default: 0)',
    )  # fmt: skip
    group.add_argument("--accept-doubts", action="store_true", help="write the roof file in spite of the doubts")
    parser.names(area_m2="--tray-area", empty_kg="--empty-mass", depth_mm="--medium-depth")


def run(options: argparse.Namespace, results: Results, table: dict[str, Any]) -> None:
    """Fit a tray, print what it tells and write what was asked for.

    Parameters
    ----------
    options, results
        What was typed, and where results go.
    table
        ``columns``, ``units`` and ``layout`` of the log, as far as given.

    Raises
    ------
    RunoffError
        When options of a fit to overflow are given too, or the log cannot be read or fitted.
    """
    from runoff.calibration import fit_tray, read_tray_log

    _refuse_what_belongs_to_overflow(options)
    log = read_tray_log(
        options.tray, area_m2=options.tray_area, depth_mm=options.medium_depth, empty_kg=options.empty_mass,
        empty_error_kg=options.empty_mass_error, start=options.start, end=options.end, columns=table.get("columns"),
        units=table.get("units"), layout=table.get("layout"),
    )  # fmt: skip
    weather = inputs.weather_of(options, whole=True) if options.weather else None
    roof = inputs.roof_of(options) if options.roof else None
    bypass = roof.build_up.medium.bypass_fraction if roof is not None else None
    with waiting("fitting"):
        fit = fit_tray(log, weather=weather, depletion_fraction=options.depletion, bypass_fraction=bypass)
    _report(log, fit, roof, options)
    if roof is not None:
        add_roof(results, options, fit.doubts, lambda: fit.applied_to(roof).to_toml())
    results.add("tray_values.csv", lambda: fit.table.rename_axis("quantity").reset_index())
    results.add("tray.png", lambda: _figure(fit, log, options))


def template() -> str:
    """Return a log to fill in."""
    from runoff.calibration.tray_log import TEMPLATE

    return TEMPLATE


def add_roof(results: Results, options: argparse.Namespace, doubts: Sequence[str], make: Callable[[], str]) -> None:
    """Write the fitted roof, if it is wanted and nothing speaks against its values.

    Parameters
    ----------
    results, options
        Where results go, and what was typed.
    doubts
        What speaks against the values.
    make
        Returns the text of the roof file.

    Raises
    ------
    RunoffError
        When the roof file alone was asked for and doubts are not accepted.
    """
    if not results.wants("fitted_roof.toml"):
        return
    if doubts and not options.accept_doubts:
        said = f"the roof file is not written: {len(doubts)} doubt{'s' if len(doubts) > 1 else ''} above"
        tray = ", fit --depletion where two stages are named" if options.tray else ""
        way_out = f"mend or cut the log (--start, --end){tray}, or say --accept-doubts"
        if results.is_file:
            raise RunoffError(f"runoff fit: {said}; {way_out}")
        print(f"\nDoubt     {said}; {way_out}")
        return
    results.add("fitted_roof.toml", make)


def _report(log: TrayLog, fit: TrayFit, roof: Roof | None, options: argparse.Namespace) -> None:
    from runoff.saying.scales import Units

    say = Units(options.units).say
    first, last = (f"{day:%Y-%m-%d}" for day in (fit.water.index[0], fit.water.index[-1]))
    invented = " - INVENTED, for demonstration only" if log.is_invented else ""
    mass = say(log.empty_kg, "kg", 4)
    print(f"Tray      {say(log.area_m2, 'm2', 3)}, {say(log.depth_mm, 'mm', 3)} of medium, {mass} without water")
    print(f"Log       {log.name}, {first} to {last}, {'roofed' if log.is_roofed else 'open to the rain'}{invented}\n")
    print(fit.text(options.units))
    if roof is not None and fit.words_for(roof, options.units):
        print(f"- {fit.words_for(roof, options.units)}")


def _figure(fit: TrayFit, log: TrayLog, options: argparse.Namespace) -> Figure:
    from runoff.plots import tray_drying_figure

    return tray_drying_figure(fit, invented=log.is_invented, units=options.units)


def _refuse_what_belongs_to_overflow(options: argparse.Namespace) -> None:
    given = {
        "--observed": options.observed, "--parameter": options.parameter, "--planted-only": options.planted_only,
    }  # fmt: skip
    stray = [option for option, value in given.items() if value]
    if stray:
        raise RunoffError(
            f"runoff fit: {' and '.join(stray)} {'belongs' if len(stray) == 1 else 'belong'} to measured overflow, --tray to a tray "
            "on the scales; fit one after the other"
        )


def _share_or_fit(text: str) -> float | None:
    if text == "fit":
        return None
    try:
        share = float(text)
    except ValueError:
        share = -1.0
    if not 0.0 <= share < 1.0:
        raise argparse.ArgumentTypeError(f'is a share from 0 to below 1, or "fit" (given "{text}")')
    return share
