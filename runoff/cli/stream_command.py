"""``runoff stream``: a grid of weather larger than memory, from one store to another, stopped and taken up at will."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from runoff.cli import inputs
from runoff.cli.destination import add_out, results_of
from runoff.cli.parser import number, whole
from runoff.errors import RunoffError
from runoff.saying.progress import at_a_terminal

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    import xarray as xr

    from runoff.cli.parser import CommandParser

# the invented grid of the sample: rain rises to the east, it grows colder to the north
_EAST, _NORTH = (0.85, 0.95, 1.05, 1.15), (0.0, -0.6, -1.2)
_SAMPLE_YEARS = slice("2015", "2016")


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    parser.add_argument(
        "grid", nargs="?", metavar="GRID", help="Zarr folder or NetCDF file of daily weather; default: an invented grid"
    )
    parser.add_argument(
        "--series",
        nargs="+",
        default=[],
        metavar="NAME",
        help="series to keep beside the figures, for example overflow",
    )
    parser.add_argument(
        "--piece", action="append", default=[], metavar="DIM=CELLS",
        help="cells worked on at once, for example lat=20; default: as many as --memory allows",
    )  # fmt: skip
    parser.add_argument(
        "--memory", type=number(above=0.0, unit="MB"), default=500.0, metavar="MB",
        help="memory one piece may take, MB (default: 500)",
    )  # fmt: skip
    parser.add_argument("--et-method", metavar="NAME", help="reference evapotranspiration; default: by the data")
    parser.names(variables="--series", memory_mb="--memory", pieces="--piece", target="--out")
    add_out(parser, (".zarr",))


def run(options: argparse.Namespace) -> int:
    """Run the command; what an earlier run finished is not done again."""
    from runoff.streaming import refuse_without_large, stream

    refuse_without_large()
    with results_of(options) as results:
        target = results.path("figures.zarr")
        roof = inputs.roof_of(options)
        source: Any = options.grid or _sample_grid()
        invented = "" if options.grid else " - INVENTED, for demonstration only"
        print(f"Roof     {inputs.roof_line(roof, 'si', planted=True)}")
        print(f"Weather  {options.grid or 'a grid around Ostrey, an invented town'}{invented}")
        with _Bar() as bar:
            made = stream(
                roof, source, target, pieces=_pieces(options.piece), variables=options.series, memory_mb=options.memory,
                progress=bar.step, et_method=options.et_method,
            )  # fmt: skip
    cells = {str(dim): size for dim, size in made["retention"].sizes.items()}
    print(f"Cells    {' x '.join(f'{size} {dim}' for dim, size in cells.items())}")
    print(f"Pieces   {bar.said}\n\nWritten: {target}")
    return 0


class _Bar:
    """How far the pieces have come, at a terminal from the first piece on; it also counts them for the report."""

    said = "all of them were finished by an earlier run"

    def __enter__(self) -> _Bar:
        self._bar: Any = None
        return self

    def __exit__(self, *raised: object) -> None:
        if self._bar is not None:
            self._bar.close()

    @property
    def step(self) -> Callable[[int, int], None]:
        """What `runoff.stream` calls after each piece."""
        return self._step

    def _step(self, done: int, total: int) -> None:
        self.said = f"{done} of {total} finished"
        if self._bar is None and at_a_terminal():
            from tqdm import tqdm

            self._bar = tqdm(total=total, initial=done - 1, desc="pieces", leave=False)
        if self._bar is not None:
            self._bar.update(1)


def _pieces(words: list[str]) -> dict[str, int] | None:
    """Read ``lat=20``; None where nothing is given."""
    cells = whole(least=1)
    found = {}
    for name, text in inputs.pairs(words, "--piece").items():
        try:
            found[name] = cells(text)
        except Exception as error:
            raise RunoffError(f"--piece {name} {error}") from None
    return found or None


def _sample_grid() -> xr.Dataset:
    """Return a small invented grid: the sample climate, wetter to the east and colder to the north."""
    import xarray as xr

    from runoff.weather import open_sample

    days = open_sample().sel(time=_SAMPLE_YEARS).drop_vars("reference_et")
    latitude = float(days["lat"])
    east = xr.DataArray(list(_EAST), dims="lon", coords={"lon": [8.0 + 0.1 * i for i in range(len(_EAST))]})
    north = xr.DataArray(list(_NORTH), dims="lat", coords={"lat": [latitude + 0.1 * i for i in range(len(_NORTH))]})
    days = days.drop_vars("lat")
    same = xr.ones_like(east) * xr.ones_like(north)
    grid = xr.Dataset(
        {
            "rain": days["rain"] * east * xr.ones_like(north),
            "tmin": (days["tmin"] + north) * same,
            "tmax": (days["tmax"] + north) * same,
        },
        attrs=days.attrs,
    )
    for name in grid.data_vars:
        grid[name].attrs = days[name].attrs
    return grid.transpose("lat", "lon", "time")
