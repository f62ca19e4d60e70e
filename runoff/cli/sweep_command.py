"""``runoff sweep``: many build-ups in the same climate."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from runoff.cli import inputs, storm_inputs
from runoff.cli.destination import Results, add_no_figures, add_out, results_of
from runoff.cli.parser import number, quantity, whole
from runoff.cli.telling_ranges import add_no_ranges, range_words
from runoff.errors import RunoffError, nearest
from runoff.saying.given import read_quantity
from runoff.saying.progress import waiting

if TYPE_CHECKING:
    import argparse

    import xarray as xr

    from runoff.cli.parser import CommandParser
    from runoff.roof import Roof
    from runoff.sizing.targets import Target

Choices = dict[str, list[float | str | bool]]
_USUAL: Choices = {"medium.depth_mm": [40.0, 60.0, 80.0, 100.0, 120.0], "board.cup_storage_mm": [0.0, 3.0, 6.0]}


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    inputs.add_weather(parser)
    inputs.add_units(parser)
    add_out(parser, (".nc", ".csv", ".png"))
    add_no_figures(parser)
    add_no_ranges(parser)
    parser.add_argument(
        "--try", dest="choices", action="append", default=[], metavar="LAYER.FIELD=A,B,C",
        help="values to compare, for example medium.depth_mm=60,80,100 or medium.depth_in=3,4; may be given several times "
        "(default: medium.depth_mm=40,60,80,100,120 and, with a board, board.cup_storage_mm=0,3,6)",
    )  # fmt: skip
    for bound, example in (("at-least", "retention=55%%"), ("at-most", "rot_risk_days=3 or drained_mass=25lb/ft2")):
        parser.add_argument(
            f"--{bound}", action="append", default=[], metavar="FIGURE=VALUE",
            help=f"a target: the figure must be {bound.replace('-', ' ')} this, for example {example}",
        )  # fmt: skip
    parser.add_argument(
        "--ranges", action="store_true",
        help="with targets: draw materials, years, rain catch and the model's error for every design, and say how probable it is "
        "that each target holds; takes about a second a design",
    )  # fmt: skip
    parser.add_argument("--seed", type=whole(), default=1, metavar="N", help="seed of the draws (default: 1)")
    parser.add_argument(
        "--members",
        type=whole(least=20, most=10_000),
        default=200,
        metavar="N",
        help="parameter sets drawn (default: 200)",
    )
    storm_inputs.add_design_storm(parser, return_periods=(10.0,))
    after = parser.add_argument_group("after that storm")
    after.add_argument(
        "--lost",
        type=whole(least=0, most=999),
        default=1,
        metavar="N",
        help="outlets taken as lost, that is blocked (default: 1)",
    )
    after.add_argument(
        "--drained-below", type=quantity("mm", above=0.0, most=100.0), default=1.0, metavar="DEPTH",
        help="free and mobile water under which a roof counts as drained (default: 1mm)",
    )  # fmt: skip
    after.add_argument(
        "--drain-limit", type=number(above=0.0, most=168.0, unit="h"), default=48.0, metavar="HOURS",
        help="hours after the rain by which the roof must have drained; the storage recovered by then is a figure (default: 48)",
    )  # fmt: skip
    after.add_argument(
        "--drying", type=quantity("mm/day", least=0.0, most=20.0), metavar="RATE",
        help="reference evapotranspiration after the rain, for example 4mm/day (default: the median summer day of the record)",
    )  # fmt: skip
    parser.names(left_mm="--drained-below", limit_hours="--drain-limit", drying_mm_per_day="--drying")
    parser.say_more("property_names")
    parser.say_more("figure_names")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.findings.tables import sweep_table, sweep_text
    from runoff.sizing.choosing import size
    from runoff.sizing.sweeping import sweep
    from runoff.sizing.targets import read_targets

    choices, targets = _choices(options.choices), _targets(options)
    wanted = read_targets(targets) if targets else []
    if options.ranges and not wanted:
        raise RunoffError(
            "--ranges says how probable it is that targets hold; add --at-least or --at-most, or leave it out"
        )
    if options.ranges and options.no_ranges:
        raise RunoffError("--ranges and --no-ranges exclude each other; leave one of the two out")
    with results_of(options) as results:
        weather, roof = inputs.weather_of(options), inputs.roof_of(options)
        choices = choices or _usual(roof)
        storm = _storm(options, wanted)
        limits = {
            "lost": options.lost, "left_mm": options.drained_below, "limit_hours": options.drain_limit,
            "drying_mm_per_day": options.drying,
        }  # fmt: skip
        with waiting("running the designs"):
            if wanted:
                table = size(
                    roof, weather, targets, choices, storm=storm, drainage=limits, ranges=options.ranges, seed=options.seed,
                    members=options.members, et_method=options.et_method,
                )  # fmt: skip
            else:
                table = sweep(roof, weather, choices, storm=storm, drainage=limits, et_method=options.et_method)
        designs = table.sizes["design"]
        print(f"Roof     {inputs.roof_line(roof, options.units)}, {designs} design{'s' if designs > 1 else ''} of it")
        title = weather.attrs.get("title") or weather.attrs.get("source", "")
        print(f"Weather  {title}, {float(table['years']):.1f} years{inputs.invented_mark(weather.attrs)}")
        if weather.attrs.get("fill"):
            print(inputs.filled_lines(weather), end="")
        if storm is not None:
            print(storm_inputs.storm_line("design storm", storm, options))
        print()
        print(sweep_text(table, units=options.units))
        if wanted:
            print("\n" + inputs.paragraph(_verdict(table, wanted, options)))
        else:
            with waiting("drawing materials and years for the range"):
                told = range_words(roof, weather, ("retention",), options)
            print("\n" + inputs.paragraph(f"The roof as given: {told}"))
            print(
                inputs.paragraph(
                    "The figures of every design are as unsure; what one design has over another is surer, since the error of the "
                    "model is much the same for both."
                )
            )
        if table.attrs.get("caution"):
            print("\n" + inputs.paragraph(table.attrs["caution"]))
        print("\n" + inputs.paragraph(table.attrs["note"]))
        results.add("sweep.nc", lambda: table)
        results.add("designs.csv", lambda: sweep_table(table, units=options.units))
        with waiting("drawing"):
            _figures(results, table, choices, options.units)
        print(f"\n{results.said()}")
    if not wanted:
        mass = "drained_mass=150" if options.units == "si" else "drained_mass=30lb/ft2"
        print(f"\nTry next\n  runoff sweep --at-least retention=42% --at-most drought_risk_days=5 --at-most {mass}")
    return 0


def _usual(roof: Roof) -> Choices:
    """Return what is compared unasked: depths, and cups where the roof has a board for them."""
    return {name: values for name, values in _USUAL.items() if not name.startswith("board.") or roof.build_up.board}


def _verdict(table: xr.Dataset, wanted: list[Target], options: argparse.Namespace) -> str:
    from runoff.sizing.choosing import chance_words, how_sure_words, verdict

    said = [verdict(table, wanted, units=options.units)]
    said += [chance_words(table, wanted, units=options.units)] if options.ranges else []
    return " ".join([*said, how_sure_words(table, wanted, units=options.units)]).strip()


def _storm(options: argparse.Namespace, wanted: list[Target]) -> xr.DataArray | None:
    """Return the storm asked for; the sample's where a target needs one and all else is the sample too."""
    from runoff.findings.draining import OF_A_STORM

    needs = [target.figure for target in wanted if target.figure in OF_A_STORM]
    given = options.depth is not None or options.depth_duration or options.return_period
    if not given and not needs:
        return None
    if not given and (options.roof or options.weather):
        raise RunoffError(
            f"{', '.join(dict.fromkeys(needs))} needs a storm: add --depth-duration FILE --return-period YEARS, or --depth"
        )
    storms = storm_inputs.design_storms_of(options)
    if len(storms) > 1:
        raise RunoffError(f"--return-period: a sweep takes one storm (given {len(storms)}); give one return period")
    (storm,) = storms.values()
    return storm


def _figures(results: Results, table: xr.Dataset, choices: Choices, units: str) -> None:
    """Draw the figures that fit: the trade-off when there are targets, a heat map over two properties."""
    from runoff import plots

    fits = []
    if "chosen" in table:
        fits.append("trade_off.png")
        results.add("trade_off.png", lambda: plots.trade_off_figure(table, units=units))
    if len(choices) == 2 and all(len(values) > 1 for values in choices.values()):
        fits.append("heat_map.png")
        results.add("heat_map.png", lambda: plots.heat_map_figure(table, *choices, units=units))
    if results.is_file and not results.written and not fits:
        raise RunoffError("--out: a figure needs targets, or two properties with two values or more each")


def _targets(options: argparse.Namespace) -> dict[str, dict[str, float]]:
    """Read the targets, for example ``retention=55%``; a number alone is in the unit of the figure."""
    from runoff.sizing.targets import TARGET_FIGURES

    targets: dict[str, dict[str, float]] = {}
    for bound in ("at_least", "at_most"):
        option = f"--{bound.replace('_', '-')}"
        for word in getattr(options, bound):
            name, mark, value = word.partition("=")
            if not (name and mark and value):
                raise RunoffError(f'{option} takes FIGURE=VALUE, for example retention=0.55 (given "{word}")')
            name = _by_its_unit(name, value)
            if bound in targets.get(name, {}):
                raise RunoffError(f"{option} names {name} twice; give it once")
            if name == "cost":
                raise RunoffError(
                    f"{option} cost: the command line takes no prices; give them to runoff.size in Python"
                )
            if name not in TARGET_FIGURES:
                raise RunoffError(
                    f'{option}: "{name}" is not a known figure{nearest(name, TARGET_FIGURES)}; known: {", ".join(TARGET_FIGURES)}'
                )
            unit = TARGET_FIGURES[name][0]
            try:
                targets.setdefault(name, {})[bound] = read_quantity(value, unit, bare=unit)
            except RunoffError as error:
                raise RunoffError(f"{option} {name} {error}") from None
    return targets


def _by_its_unit(name: str, value: str) -> str:
    """Return which figure is meant where tables print two under one name: ``annual_capture=19in`` or ``=14000gal``."""
    from runoff.sizing.targets import TARGET_FIGURES

    for unit in ("mm", "m3"):
        with contextlib.suppress(RunoffError):
            if f"{name}_{unit}" in TARGET_FIGURES:
                read_quantity(value, unit)
                return f"{name}_{unit}"
    return name


def _choices(words: list[str]) -> Choices:
    """Read what to vary; a name or a value in US units becomes the SI one."""
    choices: Choices = {}
    for word in words:
        given, mark, values = word.partition("=")
        if not mark or not values:
            raise RunoffError(f'--try takes LAYER.FIELD=A,B,C, for example medium.depth_mm=60,80,100 (given "{word}")')
        name = inputs.si_property(given)
        if name in choices:
            raise RunoffError(f'--try names {given} twice; give all its values at once (given "{word}")')
        choices[name] = [inputs.property_value(given, text, "--try") for text in values.split(",")]
    return choices
