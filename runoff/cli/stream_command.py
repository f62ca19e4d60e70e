"""``runoff stream``: a grid of weather larger than memory, from one store to another, stopped and taken up at will."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from runoff.cli import inputs
from runoff.cli.destination import add_out, results_of
from runoff.cli.parser import number, whole
from runoff.errors import RunoffError, raise_faults
from runoff.saying.progress import at_a_terminal

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from runoff.cli.parser import CommandParser
    from runoff.roof import Roof
    from runoff.streaming.preparing import Estimate

_SAMPLE_YEARS = slice("2015", "2016")


def add_arguments(parser: CommandParser) -> None:
    """Add the arguments of the command."""
    inputs.add_roof(parser)
    parser.add_argument(
        "grid", nargs="?", metavar="GRID", help="Zarr folder or NetCDF file of daily weather; default: an invented grid"
    )
    parser.add_argument(
        "--roofs", metavar="TABLE.csv",
        help="several roofs: a column name, and one for each property that differs from ROOF, for example medium.depth_mm or "
        "medium.depth_in",
    )  # fmt: skip
    parser.add_argument(
        "--cells", metavar="FILE",
        help="which cells to run: a mask (NetCDF or Zarr, not 0 where wanted), or a CSV of places with columns lat, lon",
    )  # fmt: skip
    parser.add_argument(
        "--series",
        nargs="+",
        default=[],
        metavar="NAME",
        help="series to keep beside the figures, for example overflow",
    )
    parser.add_argument(
        "--piece", action="append", default=[], metavar="DIM=CELLS",
        help="cells worked on at once, for example lat=20; default: the chunks of the store",
    )  # fmt: skip
    parser.add_argument(
        "--memory", type=number(above=0.0, unit="MB"), default=500.0, metavar="MB",
        help="memory one piece may take, MB (default: 500)",
    )  # fmt: skip
    parser.add_argument(
        "--workers", type=whole(least=1), metavar="N",
        help="threads that share the run; default: as many as this machine has cores",
    )  # fmt: skip
    parser.add_argument(
        "--estimate", action="store_true", help="tell what the run will take in time and memory, and stop before it"
    )
    parser.add_argument("--et-method", metavar="NAME", help="reference evapotranspiration; default: by the data")
    parser.add_argument(
        "--column",
        action="append",
        default=[],
        metavar="QUANTITY=NAME",
        help="variable of the store, for example rain=pr",
    )
    parser.add_argument(
        "--unit", action="append", default=[], metavar="QUANTITY=UNIT", help="unit of a variable, for example rain=in"
    )
    parser.add_argument(
        "--trust-unit", action="store_true", help="accept amounts that look like a wrong unit, when they are right"
    )
    inputs.add_units(parser)
    parser.names(
        trust_unit="--trust-unit",
        columns="--column",
        units="--unit",
        variables="--series",
        memory_mb="--memory",
        workers="--workers",
        pieces="--piece",
        target="--out",
        cells="--cells",
    )
    parser.say_more("stream_words")
    parser.say_more("property_names")
    add_out(parser, (".zarr",))


class _OnlyTold(Exception):  # noqa: N818 - no error: the estimate was all that was asked for
    pass


def run(options: argparse.Namespace) -> int:
    """Run the command; what an earlier run finished is not done again."""
    from runoff.streaming import refuse_without_large, stream
    from runoff.weather import open_sample_grid

    refuse_without_large()
    with results_of(options) as results:
        target = results.path("figures.zarr")
        roof = inputs.roof_of(options)
        roofs = _roofs(roof, options.roofs)
        source: Any = options.grid or open_sample_grid().sel(time=_SAMPLE_YEARS)
        invented = "" if options.grid else " - INVENTED, for demonstration only"
        print(f"Roof     {inputs.roof_line(roof, options.units, planted=True)}{_several(roofs)}")
        print(f"Weather  {options.grid or 'a grid around Ostrey, an invented town'}{invented}")

        def told(estimate: Estimate) -> None:
            print(_told(estimate))
            if options.estimate:
                raise _OnlyTold

        try:
            with _Bar() as bar:
                made = stream(
                    roofs, source, target, pieces=_pieces(options.piece), cells=_cells(options.cells), variables=options.series,
                    memory_mb=options.memory, workers=options.workers, progress=bar.step, told=told, et_method=options.et_method, **_reading(options),
                )  # fmt: skip
        except _OnlyTold:
            print(f"\nNothing is run yet; the same command without --estimate does it into {target}")
            return 0
    cells = {str(dim): size for dim, size in made["retention"].sizes.items()}
    print(
        f"Cells    {' x '.join(f'{size} {dim}' for dim, size in cells.items())}; {int(made['retention'].notnull().sum())} with results"
    )
    print(f"Pieces   {bar.said}, all complete\n\nWritten: {target}")
    return 0


def _reading(options: argparse.Namespace) -> dict[str, Any]:
    """Return how the store is read, as far as it is said."""
    found = {
        "columns": inputs.pairs(options.column, "--column"),
        "units": inputs.pairs(options.unit, "--unit"),
        "trust_unit": options.trust_unit,
    }
    given = {name: value for name, value in found.items() if value}
    if given and not options.grid:
        raise RunoffError("--column, --unit and --trust-unit belong to a grid of your own; name it after the roof")
    return given


def _told(estimate: Estimate) -> str:
    """Say what a run will take."""
    count = f"{estimate.cells:,} cells x {estimate.steps:,} steps"
    designs = f" x {estimate.designs} roofs" if estimate.designs > 1 else ""
    waits = f"{estimate.left} of {estimate.pieces} pieces to do"
    time = "under a second" if estimate.seconds < 1.0 else f"about {_duration(estimate.seconds)}"
    piece = max(1.0, estimate.memory_mb)
    return (
        f"Estimate {count}{designs}; {waits}; {time} on one core; about {estimate.program_mb + piece:,.0f} MB of memory on one core "
        f"and {piece:,.0f} MB more for each further one; results up to {max(0.1, estimate.target_mb):,.1f} MB"
    )


def _duration(seconds: float) -> str:
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} h"


def _several(roofs: Any) -> str:
    return f" and {len(roofs) - 1} more of the table" if isinstance(roofs, dict) and len(roofs) > 1 else ""


def _roofs(roof: Roof, path: str | None) -> Any:
    """Read a table of roofs: each line changes properties of the one roof."""
    if path is None:
        return roof
    import pandas as pd

    try:
        table = pd.read_csv(path)
    except (OSError, ValueError) as error:
        raise RunoffError(f"--roofs {path} cannot be read: {error}") from None
    if "name" not in table or table.empty or table["name"].duplicated().any():
        raise RunoffError(
            f'--roofs {path} needs a column headed "name", with a different name on each line, and columns such as medium.depth_mm '
            f"(it has {', '.join(map(str, table.columns))})"
        )
    columns = [inputs.si_property(str(column)) for column in table.columns]
    twice = sorted({name for name in columns if columns.count(name) > 1})
    if twice:
        raise RunoffError(f"--roofs {path} names {', '.join(twice)} in two columns; leave one of the two out")
    made, faults = {}, []
    for line in ({str(key): value for key, value in row.items()} for row in table.to_dict("records")):
        name = str(line.pop("name"))
        try:
            made[name] = roof.replace(
                {inputs.si_property(key): inputs.property_value(key, str(value), "column")
                 for key, value in line.items() if not pd.isna(value)}
            )  # fmt: skip
        except RunoffError as error:
            faults.append(f"{name}: {error}")
    raise_faults(f"--roofs {path}", faults)
    return made


def _cells(path: str | None) -> Any:
    """Read a mask, or a list of places."""
    if path is None:
        return None
    if path.endswith(".csv"):
        import pandas as pd

        try:
            return pd.read_csv(path).to_dict("records")
        except (OSError, ValueError) as error:
            raise RunoffError(f"--cells {path} cannot be read: {error}") from None
    import xarray as xr

    try:
        mask = xr.open_zarr(path) if path.rstrip("/").endswith(".zarr") else xr.open_dataset(path)
    except (OSError, ValueError) as error:
        raise RunoffError(f"--cells {path} cannot be read: {error}") from None
    names = list(mask.data_vars)
    if len(names) != 1:
        raise RunoffError(
            f"--cells {path} must hold one variable, the mask (it holds {', '.join(map(str, names)) or 'none'})"
        )
    return mask[names[0]].load()


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
