"""``runoff sweep``: many build-ups in the same climate."""

from __future__ import annotations

import argparse

from runoff.cli import inputs
from runoff.errors import RunoffError


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


def run(options: argparse.Namespace) -> int:
    """Run the command."""
    from runoff.findings.tables import sweep_text
    from runoff.sizing.sweeping import sweep

    choices = _choices(options.choices) or {
        "medium.depth_mm": [40, 60, 80, 100, 120],
        "board.cup_storage_mm": [0, 3, 6],
    }
    weather = inputs.weather_of(options)
    table = sweep(inputs.roof_of(options), weather, choices, et_method=options.et_method)
    invented = " (INVENTED weather)" if weather.attrs.get("invented") == "yes" else ""
    print(f"{table.sizes['design']} designs, {float(table['years']):.1f} years{invented}\n")
    print(sweep_text(table, units=options.units))
    print("\n" + table.attrs["note"])
    folder = inputs.result_folder(options)
    table.to_netcdf(folder / "sweep.nc", engine="h5netcdf")
    print(f"\nWritten to {folder}: sweep.nc")
    return 0


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
