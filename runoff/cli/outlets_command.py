"""``runoff outlets``: which outlets keep the water low, and what happens when some or all of them clog."""

from __future__ import annotations

import math
import os
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runoff.cli import inputs, storm_inputs
from runoff.cli.checking import checked
from runoff.cli.destination import add_no_figures, add_out, results_of
from runoff.cli.parser import number, opening, quantity, whole
from runoff.errors import RunoffError
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr
    from matplotlib.figure import Figure

    from runoff.cli.parser import CommandParser
    from runoff.roof import Outlet, Roof

_DESIGN_STORM = (100.0,)
#: Dry hours after the storm, so that the depth has passed its peak.
_DRY_HOURS = 6.0
_ALLOWABLE_MM = 60.0
_START_HELP = "field-capacity (default); wettest-month or a date of the climate where the medium is no drier then"


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    storm_inputs.add_storm(parser, return_periods=_DESIGN_STORM, start_help=_START_HELP)
    group = parser.add_argument_group("outlets")
    size = quantity("mm", above=0.0, most=2000.0, kind="layer depth")
    group.add_argument(
        "--allowable-depth", type=size, default=_ALLOWABLE_MM, metavar="DEPTH",
        help="largest depth of water at the outlets that is accepted, for example 60mm or 2.4in (default: 60mm); a level, "
        "not a load",
    )  # fmt: skip
    group.add_argument(
        "--diameter", type=size, nargs="+", metavar="SIZE",
        help="round outlets to try, for example 100mm or 4in (default: 75mm 100mm 125mm 150mm, in US units 3in 4in 5in "
        "6in)",
    )  # fmt: skip
    group.add_argument(
        "--scupper", type=opening, nargs="+", default=[], metavar="WxH",
        help="openings in the upstand to try, for example 300x100mm or 12x4in",
    )  # fmt: skip
    group.add_argument("--no-strainer", action="store_true", help="clear outlets; a strainer halves the flow")
    group.add_argument(
        "--most-outlets",
        type=whole(least=1, most=1000),
        default=8,
        metavar="N",
        help="largest number of outlets (default: 8)",
    )
    group.add_argument(
        "--lost",
        type=whole(least=0, most=999),
        default=1,
        metavar="N",
        help="outlets taken as lost, that is blocked (default: 1)",
    )
    group.add_argument(
        "--emergency-opening", type=opening, metavar="WxH",
        help="opening of the emergency overflow, for example 300x102mm (default: that of the roof file; none is assumed)",
    )  # fmt: skip
    group.add_argument(
        "--edge-left", type=number(least=0.0, most=1.0), default=0.5, metavar="SHARE",
        help="share of the length of an edge outlet that drains when it counts as blocked (default: 0.5)",
    )  # fmt: skip
    group.add_argument(
        "--storage-credit", action="store_true",
        help="count on the storage of roof and planting: the routed storm alone decides, and it is said what would be needed "
        "without",
    )  # fmt: skip
    group.add_argument(
        "--flood-test", type=quantity("mm", least=0.0, most=1000.0, kind="layer depth"), metavar="DEPTH",
        help="only the flood test of the bare deck before building: depth at the high point, for example 50mm",
    )  # fmt: skip
    group.add_argument(
        "--falls",
        choices=("planes", "pyramid"),
        default="planes",
        help="form of the falls in a flood test (default: planes)",
    )
    group.add_argument(
        "--edition", default="EN 12056-3:2000", metavar="NAME",
        help="edition of the code by which vertical pipes are sized (default: EN 12056-3:2000)",
    )  # fmt: skip
    group.add_argument("--all-candidates", action="store_true", help="print every candidate")
    parser.say_more("pipe_editions")
    parser.names(
        allowable_depth_mm="--allowable-depth", diameter_mm="--diameter", pipe_edition="--edition",
        candidates="--diameter and --scupper", overflow="--emergency-opening", most="--most-outlets",
    )  # fmt: skip
    inputs.add_units(parser)
    sheet = parser.add_argument_group("drainage sheet")
    sheet.add_argument(
        "--sheet",
        metavar="FILE",
        help="write the outlets as described as a sheet of two pages, .html or .pdf, to be checked",
    )
    sheet.add_argument(
        "--verify",
        metavar="FILE",
        help="compute a sheet again from what it carries; exit codes as of runoff dossier --verify",
    )
    sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="page size in print (default: a4)")
    sheet.add_argument(
        "--code-clause", default="", metavar="TEXT", help="clause of the code in force, printed as given"
    )
    sheet.add_argument("--prepared-by", default="", metavar="NAME", help="who worked the sheet out")
    sheet.add_argument("--checked-by", default="", metavar="NAME", help="who checked it")
    sheet.add_argument("--address", default="", metavar="TEXT", help="address of the roof")
    sheet.add_argument("--date", default="", metavar="DATE", help="date on the sheet; left blank unless given")
    add_out(parser, (".nc", ".csv", ".png"))
    add_no_figures(parser)
    parser.set_defaults(flags=parser.flags())


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    if options.verify:
        return checked(options.verify, "outlets", options.flags)
    return _assess(options) if options.flood_test is None else _flood_test(options)


def _flood_test(options: argparse.Namespace) -> int:
    from runoff.findings.flooding import flood_test
    from runoff.saying.scales import say

    roof, units = inputs.roof_of(options), options.units
    test = flood_test(roof, high_point_mm=options.flood_test, falls=options.falls)

    def deep(depth_mm: float) -> str:
        return f"{say(depth_mm, 'mm', 'level', units)}, {say(depth_mm, 'kg/m2', 'whole load', units)}"

    left = say(1.0, "mm", "depth", units)
    hours = "never: the roof has no outlets" if math.isinf(test.hours) else say(test.hours, "h")
    print(f"Roof        {inputs.roof_line(roof, units)}, bare deck, {options.falls}")
    print(f"High point  {say(options.flood_test, 'mm', 'level', units)} of water")
    print(f"Low end     {deep(test.low_end_mm)} there")
    print(f"Mean        {deep(test.mean_mm)}; {say(test.volume_m3, 'm3', 'storm volume', units)} of water")
    print(f"To let go   {hours} through the outlets (forms of EN 12056-3), until {left} is left in the mean\n")
    for line in _above_openings(roof, test.low_end_mm, units):
        print(inputs.paragraph(line))
    print(
        inputs.paragraph(
            "Whether the structure can carry it is for a licensed structural engineer, before any water is let in. Watch what lies "
            "below, keep the outlets in reach, and let the water go slowly enough for pipes and ground."
        )
    )
    return 0


def _above_openings(roof: Roof, level_mm: float, units: str) -> list[str]:
    """Return what a flood test asks for whose water at the low end stands over the sill of the overflow or over a described edge."""
    from runoff.saying.scales import say

    said = []
    for height, name, advice in (
        (roof.emergency_overflow_mm, "the sill of the emergency overflow", "close it for the test"),
        (roof.edge_height_mm, "the edge", "water runs over it first; test with less"),
    ):
        if height is not None and level_mm > height:
            said.append(
                f"The low end stands over {name}, {say(height, 'mm', 'level', units)} above the deck: {advice}."
            )
    return said


def _assess(options: argparse.Namespace) -> int:
    import pandas as pd

    from runoff.roof.load_tables import loads_shown
    from runoff.roof.loads import CAUTION, head_to_weigh
    from runoff.saying.scales import say
    from runoff.sizing.outlet_tables import outlets_table
    from runoff.sizing.outlet_words import shown_text

    with results_of(options) as results:
        roof, start = inputs.roof_of(options), storm_inputs.start_of(options)
        storms = storm_inputs.storms_of(options)
        storm_inputs.refuse_one_file_for_several(options, storms, (".nc", ".png"))
        _refuse_sheet_for_several(options, storms)
        print(f"Roof     {inputs.roof_line(roof, options.units)}{inputs.assumed_lines(roof, options.units)}")
        print(f"Start    {options.start_moisture}")
        allowed = shown_text(options.allowable_depth, "mm", options.units)
        print(f"Allowed  {allowed} of water at the outlets, {options.lost} of them lost")
        tables, heads = {}, []
        for name, storm in storms.items():
            print(f"\n{storm_inputs.storm_line(name, storm, options)}\n")
            table = _one_storm(roof, storm, start, options)
            if table is None:
                continue
            heads.append(float(table["overflow_head"]))
            stem = f"outlets_{storm_inputs.stem_of(name)}"
            tables[name] = outlets_table(table, units=options.units)
            results.add(f"{stem}.nc", partial(_same, table))
            if int(table["chosen"]) >= 0:
                results.add(f"{stem}.png", partial(_figure, table, options))
        if tables:
            results.add("outlets.csv", lambda: pd.concat(tables, names=["storm"]).reset_index("storm"))
        head = head_to_weigh(roof, max(filter(math.isfinite, heads), default=math.nan))
        loads = loads_shown(roof, units=options.units, head_mm=head).text("  ")
        print(f"\nLoads of the build-up, layer by layer\n{loads}")
        if head is not None:
            more = f"the design peak needs {say(head, 'mm', 'level', options.units)} of head over it"
            print(inputs.paragraph(f"Ponded to the overflow: {more}, more than its opening is high or described."))
        print(inputs.paragraph(CAUTION))
        if results.written:
            print(f"\n{results.said()}")
        if options.sheet:
            _write_sheet(roof, storms, options)
    return 0


def _one_storm(
    roof: Roof, storm: xr.DataArray, start: dict[str, Any], options: argparse.Namespace
) -> xr.Dataset | None:
    """Judge the outlets described and the alternatives in one storm, and print both."""
    from runoff.findings.storm_comparison import followed_by_dry
    from runoff.sizing.described_outlets import check_outlets
    from runoff.sizing.outlet_tables import described_shown, emergency_text, outlets_text
    from runoff.sizing.outlet_words import caution_words, described_verdict, verdict
    from runoff.sizing.outlets import size_outlets

    common: dict[str, Any] = {
        "allowable_depth_mm": options.allowable_depth, "lost": options.lost, "overflow": _opening(options),
        "edge_left": options.edge_left, "storage_credit": options.storage_credit, **start,
    }  # fmt: skip
    rain = followed_by_dry(storm, _DRY_HOURS)
    with waiting("trying outlets"):
        check = check_outlets(roof, rain, **common)
    print(described_shown(check, units=options.units).text())
    print(f"\n{inputs.paragraph(described_verdict(check, units=options.units))}")
    if check.attrs["edge_alone"] == "yes" and not (options.diameter or options.scupper):
        print(
            "\nAlternatives  the roof drains over an edge; name outlets to try in its place with --diameter or --scupper"
        )
        print(f"\n{inputs.paragraph(caution_words(check, options.units))}")
        return None
    with waiting("trying outlets"):
        table = size_outlets(
            roof,
            rain,
            most=options.most_outlets,
            pipe_edition=options.edition,
            candidates=_candidates(options),
            **common,
        )
    print(f"\nAlternatives\n{outlets_text(table, units=options.units, every=options.all_candidates)}")
    if table.attrs["left_out"]:
        print(inputs.paragraph(f"Left out, they do not fit: {table.attrs['left_out']}"))
    print(f"\n{inputs.paragraph(verdict(table, units=options.units))}")
    print(f"\n{emergency_text(table, units=options.units)}\n\n{inputs.paragraph(caution_words(table, options.units))}")
    return table


def _candidates(options: argparse.Namespace) -> list[Outlet]:
    from runoff.roof import Outlet
    from runoff.sizing.outlets import CANDIDATES, CANDIDATES_OF_INCHES

    strainer = not options.no_strainer
    wanted = [Outlet(kind="round", diameter_mm=size, strainer=strainer) for size in options.diameter or ()]
    wanted += [_rectangular(sides, strainer=strainer) for sides in options.scupper]
    usual = CANDIDATES if options.units == "si" else CANDIDATES_OF_INCHES
    return wanted or [one.model_copy(update={"strainer": strainer}) for one in usual]


def _opening(options: argparse.Namespace) -> Outlet | None:
    return _rectangular(options.emergency_opening, strainer=False) if options.emergency_opening else None


def _refuse_sheet_for_several(options: argparse.Namespace, storms: dict[str, Any]) -> None:
    """Refuse a sheet that cannot be, before anything is worked out."""
    if not options.sheet:
        return
    path = Path(options.sheet)
    if path.suffix.lower() not in (".html", ".pdf"):
        raise RunoffError(f'--sheet: the file must end in .html or .pdf (given "{path.name}")')
    if not path.parent.is_dir():
        raise RunoffError(f"--sheet: there is no folder {path.parent}; make it, or choose another for {path.name}")
    if not os.access(path.parent, os.W_OK):
        raise RunoffError(f"--sheet: nothing can be written into {path.parent}; choose another folder for {path.name}")
    if len(storms) > 1:
        raise RunoffError(
            f"--sheet: a drainage sheet holds one storm, and {len(storms)} are asked for; give one --return-period"
        )
    if options.start_moisture not in ("field-capacity", "1", "1.0"):
        raise RunoffError(
            f"--sheet: a drainage sheet starts at field capacity (given --start-moisture {options.start_moisture}); leave it out"
        )


def _write_sheet(roof: Roof, storms: dict[str, xr.DataArray], options: argparse.Namespace) -> None:
    from runoff.dossier import write_drainage_sheet

    (storm,) = storms.values()
    with waiting("writing the sheet"):
        path = write_drainage_sheet(
            roof, storm, options.sheet, allowable_depth_mm=options.allowable_depth, lost=options.lost,
            overflow=_opening(options), edge_left=options.edge_left, storage_credit=options.storage_credit,
            pipe_edition=options.edition, paper=options.paper, units=options.units, code_clause=options.code_clause,
            prepared_by=options.prepared_by, checked_by=options.checked_by, address=options.address, date=options.date,
            invented=storm_inputs.is_invented(options) or not options.roof,
        )  # fmt: skip
    check = "" if path.suffix == ".pdf" else f"; check it with: runoff outlets --verify {path}"
    print(f"Drainage sheet: {path}{check}")


def _same(made: xr.Dataset) -> xr.Dataset:
    return made


def _rectangular(sides: tuple[float, float], *, strainer: bool) -> Outlet:
    from runoff.roof import Outlet

    return Outlet(kind="rectangular", width_mm=sides[0], height_mm=sides[1], strainer=strainer)


def _figure(table: xr.Dataset, options: argparse.Namespace) -> Figure:
    from runoff.plots import chosen_outlet_figure

    return chosen_outlet_figure(table, units=options.units)
