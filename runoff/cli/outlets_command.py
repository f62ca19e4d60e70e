"""``runoff outlets``: which outlets keep the water low, and what happens when some or all of them clog."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.cli import inputs, storm_inputs
from runoff.cli.storm_inputs import paragraph

if TYPE_CHECKING:
    import xarray as xr

    from runoff.roof import Outlet

_DESIGN_STORM = (100.0,)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    storm_inputs.add_storm(parser, return_periods=_DESIGN_STORM)
    group = parser.add_argument_group("outlets")
    group.add_argument(
        "--allowable-depth-mm", type=float, default=60.0, metavar="MM",
        help="largest depth of water at the outlets that is accepted (default: 60); a level, not a load",
    )  # fmt: skip
    group.add_argument(
        "--diameter-mm", type=float, nargs="+", metavar="MM", help="round outlets to try (default: 75 100 125 150)"
    )
    group.add_argument(
        "--scupper-mm", nargs="+", default=[], metavar="WxH", help="openings in the upstand to try, for example 300x100"
    )
    group.add_argument("--no-strainer", action="store_true", help="clear outlets; a strainer halves the flow")
    group.add_argument("--most", type=int, default=8, metavar="N", help="largest number of outlets (default: 8)")
    group.add_argument("--lost", type=int, default=1, metavar="N", help="outlets that may clog (default: 1)")
    group.add_argument("--overflow-mm", metavar="WxH", help="opening of the emergency overflow (default: 300x102)")
    group.add_argument("--edition", default="EN 12056-3:2000", metavar="NAME", help="edition for vertical pipes")
    group.add_argument("--every", action="store_true", help="print every candidate")
    inputs.add_units(parser)
    inputs.add_out(parser)
    parser.add_argument("--no-figures", action="store_true", help="write the numbers only")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.findings.storm_comparison import followed_by_dry
    from runoff.roof import Outlet
    from runoff.roof.load_tables import loads_shown
    from runoff.roof.loads import CAUTION
    from runoff.sizing.outlet_tables import emergency_text, outlets_text
    from runoff.sizing.outlet_words import shown_text, verdict
    from runoff.sizing.outlets import CANDIDATES, size_outlets

    roof, start = inputs.roof_of(options), storm_inputs.start_of(options)
    strainer = not options.no_strainer
    wanted = [Outlet(kind="round", diameter_mm=size, strainer=strainer) for size in options.diameter_mm or ()]
    wanted += [_scupper(text, "--scupper-mm", strainer=strainer) for text in options.scupper_mm]
    overflow = _scupper(options.overflow_mm, "--overflow-mm", strainer=False) if options.overflow_mm else None
    folder, written = inputs.result_folder(options), []
    print(f"Roof     {roof.name or 'unnamed'}, {roof.area_m2:g} m2")
    allowed = shown_text(options.allowable_depth_mm, "mm", options.units)
    print(f"Allowed  {allowed} of water at the outlets, {options.lost} of them lost")
    for name, storm in storm_inputs.storms_of(options).items():
        rain = followed_by_dry(storm, 6.0)
        table = size_outlets(
            roof, rain, allowable_depth_mm=options.allowable_depth_mm, most=options.most, lost=options.lost,
            candidates=wanted or [one.model_copy(update={"strainer": strainer}) for one in CANDIDATES],
            overflow=overflow, pipe_edition=options.edition, **start,
        )  # fmt: skip
        invented = " - INVENTED, for demonstration only" if storm_inputs.is_invented(options) else ""
        print(f"\nStorm    {name}: {storm.attrs['source']}, step {storm.attrs['step']}{invented}\n")
        print(outlets_text(table, units=options.units, every=options.every))
        print(f"\n{paragraph(verdict(table, units=options.units))}\n\n{emergency_text(table, units=options.units)}")
        print(f"\n{paragraph(table.attrs['caution'])}")
        stem = f"outlets_{name.replace(' ', '_')}"
        table.to_netcdf(folder / f"{stem}.nc", engine="h5netcdf")
        written.append(f"{stem}.nc")
        if not options.no_figures and int(table["chosen"]) >= 0:
            written.append(_figure(table, folder / f"{stem}.png", options))
    print(
        f"\nLoads of the build-up, layer by layer\n{loads_shown(roof, units=options.units).text('  ')}\n{paragraph(CAUTION)}"
    )
    print(f"\nWritten to {folder}: {', '.join(written)}")
    return 0


def _scupper(text: str, option: str, *, strainer: bool) -> Outlet:
    from runoff.errors import RunoffError
    from runoff.roof import Outlet

    width, mark, height = text.partition("x")
    try:
        return Outlet(kind="rectangular", width_mm=float(width), height_mm=float(height), strainer=strainer)
    except ValueError:
        raise RunoffError(f'{option} wants WIDTHxHEIGHT in mm, for example {option} 300x102 (given "{text}")') from None


def _figure(table: xr.Dataset, path: Path, options: argparse.Namespace) -> str:
    import numpy as np

    from runoff.balance.outlet_flow import flow
    from runoff.plots import outlet_rating_figure, save
    from runoff.roof.column_values import outlet_laws
    from runoff.sizing.outlets import chosen_outlet

    outlet = chosen_outlet(table)
    depth = float(table["depth"][int(table["chosen"])])
    levels = np.linspace(0.0, 1.2 * max(options.allowable_depth_mm, depth), 121)
    laws = outlet_laws([outlet])
    turning = laws[0].turning_head_mm
    near = abs(turning - options.allowable_depth_mm) < 0.1 * levels[-1]  # two lines of words would overlap
    curves = {f"{outlet.count} outlets open": flow(levels, laws)}
    if options.lost:
        curves[f"{options.lost} lost"] = flow(levels, laws[options.lost :])
    figure = outlet_rating_figure(
        levels, curves, peak_l_per_s=float(flow(depth, laws)), peak_level_mm=depth,
        turning_level_mm=turning if turning < levels[-1] and not near else None, allowable_level_mm=options.allowable_depth_mm, units=options.units,
    )  # fmt: skip
    save(figure, path)
    return path.name
