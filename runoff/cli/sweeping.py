"""``runoff sweep``: many build-ups in the same climate."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from runoff.cli import inputs
from runoff.errors import RunoffError

if TYPE_CHECKING:
    import xarray as xr


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    inputs.add_weather(parser)
    inputs.add_units(parser)
    inputs.add_out(parser)
    parser.add_argument(
        "--try", dest="choices", action="append", default=[], metavar="LAYER.FIELD=A,B,C",
        help="values to compare, may be given several times (default: medium.depth_mm=40,60,80,100,120 and "
        "board.cup_storage_mm=0,3,6)",
    )  # fmt: skip
    for bound in ("at-least", "at-most"):
        parser.add_argument(
            f"--{bound}", action="append", default=[], metavar="FIGURE=VALUE",
            help=f"a target: the figure must be {bound.replace('-', ' ')} this, for example "
            + ("retention=0.55" if bound == "at-least" else "rot_risk_days=3 or drained_mass=120"),
        )  # fmt: skip
    parser.add_argument("--no-figures", action="store_true", help="write the numbers only")


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.findings.tables import sweep_text
    from runoff.sizing.choosing import size
    from runoff.sizing.sweeping import sweep

    choices = _choices(options.choices) or {
        "medium.depth_mm": [40, 60, 80, 100, 120],
        "board.cup_storage_mm": [0, 3, 6],
    }
    weather, roof = inputs.weather_of(options), inputs.roof_of(options)
    targets = _targets(options)
    if targets:
        table = size(roof, weather, targets, choices, et_method=options.et_method)
    else:
        table = sweep(roof, weather, choices, et_method=options.et_method)
    invented = " (INVENTED weather)" if weather.attrs.get("invented") == "yes" else ""
    print(f"{table.sizes['design']} designs, {float(table['years']):.1f} years{invented}\n")
    print(sweep_text(table, units=options.units))
    if targets:
        print("\n" + table.attrs["verdict"])
    print("\n" + table.attrs["note"])
    folder = inputs.result_folder(options)
    table.to_netcdf(folder / "sweep.nc", engine="h5netcdf")
    written = ["sweep.nc", *([] if options.no_figures else _figures(table, choices, folder, options.units))]
    print(f"\nWritten to {folder}: {', '.join(written)}")
    if not targets:
        print("\nTry next\n  runoff sweep --at-least retention=0.58 --at-most dry_days=45 --at-most drained_mass=150")
    return 0


def _figures(table: xr.Dataset, choices: dict[str, list[float | str | bool]], folder: Path, units: str) -> list[str]:
    """Draw the figures that fit: a heat map over two properties, the trade-off when there are targets."""
    from runoff.plots import heat_map_figure, save, trade_off_figure

    written = []
    if len(choices) == 2 and all(len(values) > 1 for values in choices.values()):
        save(heat_map_figure(table, *choices, units=units), folder / "heat_map.png")
        written.append("heat_map.png")
    if "chosen" in table:
        chosen = int(table["chosen"])
        figure = trade_off_figure(table, chosen=chosen if chosen >= 0 else None, units=units)
        save(figure, folder / "trade_off.png")
        written.append("trade_off.png")
    return written


def _targets(options: argparse.Namespace) -> dict[str, dict[str, float]]:
    """Read the targets, for example ``retention=0.55``."""
    targets: dict[str, dict[str, float]] = {}
    for bound in ("at_least", "at_most"):
        for word in getattr(options, bound):
            name, mark, value = word.partition("=")
            try:
                targets.setdefault(name, {})[bound] = float(value if mark else "none")
            except ValueError:
                option = f"--{bound.replace('_', '-')}"
                raise RunoffError(f'{option} wants FIGURE=VALUE, for example retention=0.55 (given "{word}")') from None
    return targets


def _choices(words: list[str]) -> dict[str, list[float | str | bool]]:
    choices: dict[str, list[float | str | bool]] = {}
    for word in words:
        name, mark, values = word.partition("=")
        if not mark or not values:
            raise RunoffError(f'--try wants LAYER.FIELD=A,B,C, for example medium.depth_mm=60,80,100 (given "{word}")')
        choices[name] = [_value(text) for text in values.split(",")]
    return choices


def _value(text: str) -> float | str | bool:
    if text in ("true", "false"):
        return text == "true"
    try:
        return float(text)
    except ValueError:
        return text
