"""``runoff outlets``: which outlets keep the water low, and what happens when some or all of them clog."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from runoff.cli import inputs, storm_inputs
from runoff.cli.destination import add_no_figures, add_out, results_of
from runoff.cli.parser import opening, quantity, whole
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr
    from matplotlib.figure import Figure

    from runoff.cli.parser import CommandParser
    from runoff.roof import Outlet

_DESIGN_STORM = (100.0,)
_ALLOWABLE_MM = 60.0


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    storm_inputs.add_storm(parser, return_periods=_DESIGN_STORM)
    group = parser.add_argument_group("outlets")
    size = quantity("mm", above=0.0, most=2000.0, kind="layer depth")
    group.add_argument(
        "--allowable-depth", type=size, default=_ALLOWABLE_MM, metavar="DEPTH",
        help="largest depth of water at the outlets that is accepted, for example 60mm or 2.4in (default: 60mm); a level, "
        "not a load",
    )  # fmt: skip
    group.add_argument(
        "--diameter", type=size, nargs="+", metavar="SIZE",
        help="round outlets to try, for example 100mm or 4in (default: 75mm 100mm 125mm 150mm)",
    )  # fmt: skip
    group.add_argument(
        "--scupper", type=opening, nargs="+", default=[], metavar="WxH",
        help="openings in the upstand to try, for example 300x100mm or 12x4in",
    )  # fmt: skip
    group.add_argument("--no-strainer", action="store_true", help="clear outlets; a strainer halves the flow")
    group.add_argument(
        "--most", type=whole(least=1, most=1000), default=8, metavar="N", help="largest number of outlets (default: 8)"
    )
    group.add_argument(
        "--lost", type=whole(least=0, most=999), default=1, metavar="N", help="outlets that may clog (default: 1)"
    )
    group.add_argument(
        "--emergency-opening", type=opening, metavar="WxH",
        help="opening of the emergency overflow, for example 300x102mm (default: 300x102mm)",
    )  # fmt: skip
    group.add_argument("--edition", default="EN 12056-3:2000", metavar="NAME", help="edition for vertical pipes")
    group.add_argument("--every", action="store_true", help="print every candidate")
    parser.names(
        allowable_depth_mm="--allowable-depth", diameter_mm="--diameter", pipe_edition="--edition",
        candidates="--diameter and --scupper", overflow="--emergency-opening",
    )  # fmt: skip
    inputs.add_units(parser)
    add_out(parser, (".nc", ".csv", ".png"))
    add_no_figures(parser)


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    import pandas as pd

    from runoff.findings.storm_comparison import followed_by_dry
    from runoff.roof import Outlet
    from runoff.roof.load_tables import loads_shown
    from runoff.roof.loads import CAUTION
    from runoff.sizing.outlet_tables import emergency_text, outlets_table, outlets_text
    from runoff.sizing.outlet_words import shown_text, verdict
    from runoff.sizing.outlets import CANDIDATES, size_outlets

    strainer = not options.no_strainer
    wanted = [Outlet(kind="round", diameter_mm=size, strainer=strainer) for size in options.diameter or ()]
    wanted += [_rectangular(sides, strainer=strainer) for sides in options.scupper]
    overflow = _rectangular(options.emergency_opening, strainer=False) if options.emergency_opening else None
    with results_of(options) as results:
        roof, start = inputs.roof_of(options), storm_inputs.start_of(options)
        storms = storm_inputs.storms_of(options)
        storm_inputs.refuse_one_file_for_several(options, storms, (".nc", ".png"))
        print(f"Roof     {inputs.roof_line(roof, options.units)}{inputs.assumed_lines(roof, options.units)}")
        allowed = shown_text(options.allowable_depth, "mm", options.units)
        print(f"Allowed  {allowed} of water at the outlets, {options.lost} of them lost")
        tables = {}
        for name, storm in storms.items():
            with waiting("trying outlets"):
                table = size_outlets(
                    roof, followed_by_dry(storm, 6.0), allowable_depth_mm=options.allowable_depth, most=options.most,
                    lost=options.lost, overflow=overflow, pipe_edition=options.edition,
                    candidates=wanted or [one.model_copy(update={"strainer": strainer}) for one in CANDIDATES], **start,
                )  # fmt: skip
            print(f"\n{storm_inputs.storm_line(name, storm, options)}\n")
            print(outlets_text(table, units=options.units, every=options.every))
            print(f"\n{inputs.paragraph(verdict(table, units=options.units))}")
            print(f"\n{emergency_text(table, units=options.units)}\n\n{inputs.paragraph(table.attrs['caution'])}")
            stem = f"outlets_{storm_inputs.stem_of(name)}"
            tables[name] = outlets_table(table, units=options.units)
            results.add(f"{stem}.nc", partial(_same, table))
            if int(table["chosen"]) >= 0:
                results.add(f"{stem}.png", partial(_figure, table, options))
        results.add("outlets.csv", lambda: pd.concat(tables, names=["storm"]).reset_index("storm"))
        loads = loads_shown(roof, units=options.units).text("  ")
        print(f"\nLoads of the build-up, layer by layer\n{loads}\n{inputs.paragraph(CAUTION)}")
        print(f"\n{results.said()}")
    return 0


def _same(made: xr.Dataset) -> xr.Dataset:
    return made


def _rectangular(sides: tuple[float, float], *, strainer: bool) -> Outlet:
    from runoff.roof import Outlet

    return Outlet(kind="rectangular", width_mm=sides[0], height_mm=sides[1], strainer=strainer)


def _figure(table: xr.Dataset, options: argparse.Namespace) -> Figure:
    from runoff.plots import chosen_outlet_figure

    return chosen_outlet_figure(table, units=options.units)
