"""Mutation fuzzing of the weather readers: what is read must be true, what is not read must be refused in a sentence.

A case is a seed file changed a few times by chance; its number and the seed of the run give it back. Three things can be
wrong with it: the reader fails with an error that is not the package's, it returns what cannot be (silent), or what it
returns is not what an independent, slow reading of the same bytes finds (silent). The corpus is invented.

`tests/weather/test_fuzzing.py` runs a few cases of each reader with every test run; ``python -m tests.trials.fuzz_readers``
runs minutes of them by hand.
"""

from __future__ import annotations

import collections
import csv
import datetime
import gzip
import math
import os
import re
import tempfile
import time
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import xarray as xr

import runoff
from runoff.errors import RunoffError

CORPUS = Path(__file__).parent / "fuzz_corpus"
SLOW_S = 10.0
_MESSAGE = 20_000  # characters: all faults of one file, but not the file

Bytes = bytes
Change = Callable[[np.random.Generator, bytes], bytes]


class Target(NamedTuple):
    """One reader: its seed files, how they are changed, how they are read, and what is held against the result."""

    name: str
    suffix: str
    seeds: Callable[[], list[bytes]]
    change: Callable[[np.random.Generator, list[bytes]], bytes]
    read: Callable[[Path], Any]
    judge: Callable[[bytes, Any], str]


class Outcome(NamedTuple):
    """What came of one case: ``read``, ``refused``, ``crash``, ``silent``, ``slow``, or ``unreadable`` (a refusal with
    control characters or without end), and its words."""

    kind: str
    words: str


def case_of(target: Target, seed: int, number: int) -> bytes:
    """Return the bytes of one case."""
    rng = np.random.default_rng([seed, number])
    return target.change(rng, target.seeds())


def tried(target: Target, raw: bytes, folder: Path) -> Outcome:
    """Read one case and judge what comes of it."""
    path = folder / f"case{target.suffix}"
    path.write_bytes(raw)
    start = time.perf_counter()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            result = target.read(path)
            words = impossible(result) or target.judge(raw, result)
    except RunoffError as error:
        text = str(error)
        if (
            not text.strip()
            or len(text) > _MESSAGE
            or not all(letter.isprintable() or letter == "\n" for letter in text)
        ):
            return Outcome("unreadable", f"{re.sub('[^ -~]|[0-9]', '', text)[:40]}")
        return Outcome("refused", text.split("\n")[0][:120])
    except Exception as error:
        frames = [one for one in traceback.extract_tb(error.__traceback__) if "/runoff/" in one.filename]
        place = f"{Path(frames[-1].filename).name}:{frames[-1].name}" if frames else "outside"
        return Outcome("crash", f"{type(error).__name__} in {place}: {str(error)[:100]}")
    if time.perf_counter() - start > SLOW_S:
        return Outcome("slow", f"{time.perf_counter() - start:.0f} s")
    return Outcome("silent", words) if words else Outcome("read", "")


def run(
    target: Target, *, seed: int, cases: int | None = None, seconds: float | None = None
) -> tuple[collections.Counter[str], dict[str, int]]:
    """Run cases of one reader.

    Returns
    -------
    Counter
        How many of each kind.
    dict
        Words of crashes and silent faults (numbers taken out), and the first case of each.
    """
    count: collections.Counter[str] = collections.Counter()
    found: dict[str, int] = {}
    end = time.monotonic() + (seconds or 1e9)
    number = 0
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() < end and (cases is None or number < cases):
            raw = case_of(target, seed, number)
            outcome = tried(target, raw, Path(folder))
            count[outcome.kind] += 1
            if outcome.kind not in ("read", "refused"):
                found.setdefault(f"{outcome.kind}: {re.sub(r'[0-9]+', '#', outcome.words)[:110]}", number)
            number += 1
    return count, found


def impossible(data: Any) -> str:
    """Say what of a result cannot be, or nothing."""
    if not isinstance(data, xr.Dataset) or "time" not in data.dims:
        return ""
    index = data.indexes["time"]
    if not index.is_monotonic_increasing or index.has_duplicates or index.hasnans:
        return "time does not run forward"
    if isinstance(index, pd.DatetimeIndex):
        steps = np.unique(np.diff(index.to_numpy()))
        if steps.size > 1:
            return "steps are not alike"
        if len(index) and not 1678 <= index[0].year <= index[-1].year <= 2262:
            return f"years {index[0].year} to {index[-1].year}"
    if data.sizes["time"] > 200_000:
        return f"{data.sizes['time']} steps of a file of a few lines"
    limits = {"rain": (0, 1900), "tmin": (-90, 60), "tmax": (-90, 60), "tmean": (-90, 60), "reference_et": (0, 25)}
    for name, (low, high) in limits.items():
        if name in data:
            values = data[name].to_numpy()
            if np.isinf(values).any() or (values < low).any() or (values > high).any():
                return f"{name} from {np.nanmin(values)} to {np.nanmax(values)}"
    if "lat" in data.coords and bool((np.abs(data["lat"]) > 90).any()):
        return "a latitude that is nowhere"
    return ""


# --- changes ---------------------------------------------------------------------------------------------------

_TOKENS = [
    b"", b"nan", b"NaN", b"inf", b"-inf", b"1e999", b"-9999", b"99.9", b"999.9", b"1e5", b"0x10", b"1_0", b"--", b"T", b"NA", b"M", b"-0", b"1,5",
    b"1 2", b"12.5 mm", b"9" * 40, b"\x00", b"\xff", b"\xe2\x80\xa8", b"\x85", b"\x0c", b"\x1a", b"\r", b"\n", b"\r\n", b'"', b'""', b"'", b";", b",", b"\t",
    b"#", b"2023-02-30", b"0000-00-00", b"9999-12-31", b"1600-01-01", b"20230115", b"2023-01-15T24:00", b"2023-01-15T00:00+99:00", b"03/04/2023",
    b"2023-01-15/2023-01-16", b"\xd9\xa1\xd9\xa2", b"\xc2\xbd", b"=1+1", b"<html>", b"{", b"[roof]", b"PRCP", b"MDPR", b"STATION", b"time", b"rain_mm", b"rain_in", b"tmin_f",
]  # fmt: skip


def change_bytes(rng: np.random.Generator, raw: bytes) -> bytes:
    """Flip, cut, double or put in a few bytes."""
    data = bytearray(raw)
    for _ in range(int(rng.integers(1, 6))):
        if not data:
            break
        at = int(rng.integers(len(data)))
        how = int(rng.integers(5))
        if how == 0:
            data[at] ^= 1 << int(rng.integers(8))
        elif how == 1:
            del data[at : at + int(rng.integers(1, 40))]
        elif how == 2:
            data[at:at] = bytes(rng.integers(0, 256, int(rng.integers(1, 5)), dtype="uint8"))
        elif how == 3:
            data[at:at] = data[at : at + int(rng.integers(1, 200))]
        else:
            data[at] = int(rng.integers(256))
    return bytes(data)


def change_lines(rng: np.random.Generator, raw: bytes) -> bytes:
    """Lose, double, swap or cut lines; put odd cells and odd words into them."""
    lines = raw.split(b"\n")
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(len(lines)))
        how = int(rng.integers(9))
        if how == 0:
            del lines[at : at + int(rng.integers(1, 5))]
            lines = lines or [b""]
        elif how == 1:
            lines.insert(at, lines[at])
        elif how == 2:
            other = int(rng.integers(len(lines)))
            lines[at], lines[other] = lines[other], lines[at]
        elif how == 3:
            lines[at] = lines[at][: int(rng.integers(len(lines[at]) + 1))]
        elif how == 4:
            lines.insert(at, _TOKENS[int(rng.integers(len(_TOKENS)))])
        elif how == 5:
            lines[at] += b"," + _TOKENS[int(rng.integers(len(_TOKENS)))]
        else:
            mark = next((one for one in (b",", b";", b"\t") if one in lines[at]), b" ")
            cells = lines[at].split(mark)
            cells[int(rng.integers(len(cells)))] = _TOKENS[int(rng.integers(len(_TOKENS)))]
            lines[at] = mark.join(cells)
    return b"\n".join(lines)


def change_numbers(rng: np.random.Generator, raw: bytes) -> bytes:
    """Scale, negate or lengthen numbers, on one line or from one line on."""
    lines = raw.split(b"\n")
    at = int(rng.integers(len(lines)))
    factor = float(rng.choice([-1.0, 0.1, 10.0, 25.4, 1 / 25.4, 1e6, 273.15]))
    last = at + 1 if rng.random() < 0.5 else len(lines)

    def scaled(match: re.Match[bytes]) -> bytes:
        return f"{float(match[0]) * factor:g}".encode()

    for n in range(at, last):
        lines[n] = re.sub(rb"(?<=[,;\t])-?[0-9]+(\.[0-9]+)?(?=$|[,;\t])", scaled, lines[n])
    return b"\n".join(lines)


def change_whole(rng: np.random.Generator, raw: bytes) -> bytes:
    """Write the file in another encoding, with other ends of lines, packed, cut off or repeated."""
    how = int(rng.integers(9))
    text = raw.decode("utf-8", "replace")
    if how == 0:
        return text.encode("utf-16")
    if how == 1:
        return b"\xef\xbb\xbf" + raw
    if how == 2:
        return raw.replace(b"\n", [b"\r\n", b"\r"][int(rng.integers(2))])
    if how == 3:
        return raw[: int(rng.integers(len(raw) + 1))]
    if how == 4:
        return raw + raw
    if how == 5:
        return text.encode("utf-16")[: int(rng.integers(2, 200))]
    if how == 6:
        return change_bytes(rng, gzip.compress(raw, mtime=0))
    if how == 7:
        return gzip.compress(raw, mtime=0)
    return raw.replace([b",", b"-", b".", b" "][int(rng.integers(4))], [b";", b"/", b",", b"\t"][int(rng.integers(4))])


def change_text(rng: np.random.Generator, seeds: list[bytes]) -> bytes:
    """Change a text file once or twice in one of these ways."""
    raw = seeds[int(rng.integers(len(seeds)))]
    if rng.random() < 0.05:  # two files in one
        other = seeds[int(rng.integers(len(seeds)))]
        raw = raw[: int(rng.integers(len(raw)))] + other[int(rng.integers(len(other))) :]
    for _ in range(int(rng.integers(1, 3))):
        change: Change = [change_bytes, change_lines, change_lines, change_numbers, change_whole][int(rng.integers(5))]
        raw = change(rng, raw)
    return raw


# --- independent, slow readings ----------------------------------------------------------------------------------


def _plain_text(raw: bytes) -> str | None:
    """Return the text of bytes, or None for what is packed, damaged or not text: then nothing is compared."""
    if raw[:2] == b"\x1f\x8b":
        try:
            raw = gzip.decompress(raw)
        except Exception:
            return None
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            text = raw.decode("utf-16")
        except UnicodeDecodeError:
            return None
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = raw.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\x1a")


def _float(cell: str) -> float:
    cell = cell.strip()
    return math.nan if cell.lower() in ("", "na", "nan", "null", "none") else float(cell)


def _rows(text: str) -> tuple[list[str], list[list[str]]] | None:
    """Return names and cells of every line of a plain table, blank lines and comments left out."""
    lines = [line for line in text.split("\n") if line.strip() and not line.lstrip().startswith("#")]
    if len(lines) < 2:
        return None
    mark = next((one for one in (";", "\t", ",") if one in lines[0]), ",")
    table = [
        [cell.strip() for cell in next(csv.reader([line], delimiter=mark, skipinitialspace=True))] for line in lines
    ]
    return table[0], table[1:]


def judge_table(raw: bytes, data: Any) -> str:
    """Hold the rain of a table against one read line by line."""
    text = _plain_text(raw)
    rows = _rows(text) if text is not None else None
    if rows is None:
        return ""
    names, lines = rows
    rain = [k for k, name in enumerate(names) if name.lower() in ("rain_mm", "rain (mm)")]
    when = [k for k, name in enumerate(names) if name.lower() in ("time", "date")]
    if len(rain) != 1 or len(when) != 1:
        return ""
    expected: dict[str, float] = {}
    for cells in lines:
        if len(cells) < len(names):
            return "a line of fewer cells was read"
        stamp = cells[when[0]].replace("/", "-")
        try:
            known = datetime.datetime.fromisoformat(stamp.replace("Z", "+00:00"))
        except ValueError:
            return f"the stamp {stamp[:30]!r} was read"
        try:
            expected[known.replace(tzinfo=None).isoformat()] = _float(cells[rain[0]])
        except ValueError:
            return f"the cell {cells[rain[0]][:30]!r} was read as a number"
    return _compare(expected, data)


def _compare(expected: dict[str, float], data: xr.Dataset) -> str:
    found = {
        str(stamp)[:19]: float(value)
        for stamp, value in zip(data["time"].to_numpy(), data["rain"].to_numpy(), strict=True)
        if np.isfinite(value)
    }
    known = {stamp[:19]: value for stamp, value in expected.items() if not math.isnan(value)}
    if set(found) != set(known):
        odd = sorted(set(found) ^ set(known))
        return f"{len(odd)} stamps lost or made, such as {odd[0]}"
    wrong = [stamp for stamp in known if abs(found[stamp] - known[stamp]) > 1e-9 * max(1.0, abs(known[stamp]))]
    return f"{len(wrong)} amounts changed, such as {found[wrong[0]]} for {known[wrong[0]]}" if wrong else ""


def judge_dly(raw: bytes, data: Any) -> str:
    """Hold the rain of a fixed-width file against one read place by place."""
    text = _plain_text(raw)
    if text is None or "MDPR" in text:
        return ""
    expected: dict[str, float] = {}
    for line in text.split("\n"):
        if line[17:21] != "PRCP":
            continue
        for k in range(31):
            group = line.ljust(269)[21 + 8 * k : 29 + 8 * k]
            try:
                day = datetime.date(int(line[11:15]), int(line[15:17]), k + 1)
            except ValueError:
                continue
            if not re.fullmatch(r" *-?[0-9]+", group[:5]):
                return f"the group {group!r} was read"
            if int(group[:5]) != -9999 and group[6] == " ":
                expected[f"{day}T00:00:00"] = int(group[:5]) / 10
    return _compare(expected, data)


def judge_station_csv(raw: bytes, data: Any) -> str:
    """Hold the rain of a by-station CSV against one read cell by cell."""
    text = _plain_text(raw)
    if text is None or "MDPR" in text:
        return ""
    lines = [line for line in text.split("\n") if line.strip()]
    table = [[cell.strip() for cell in next(csv.reader([line], skipinitialspace=True))] for line in lines]
    if len({len(cells) for cells in table}) > 1:
        return "lines of unlike length were read"
    expected: dict[str, float] = {}
    wide = "DATE" in table[0] and "PRCP" in table[0]
    for cells in table[1:] if wide or table[0][0] in ("ID", "STATION") else table:
        if wide:
            named = dict(zip(table[0], cells, strict=True))
            value, day = named["PRCP"], named["DATE"]
            quality = (named.get("PRCP_ATTRIBUTES", "") + ",,").split(",")[1]
        else:
            if cells[2] != "PRCP":
                continue
            value, quality = cells[3], cells[5]
            day = f"{cells[1][:4]}-{cells[1][4:6]}-{cells[1][6:]}"
        if value in ("", "-9999") or quality.strip():
            continue
        if not re.fullmatch(r"-?[0-9]+", value):
            return f"the cell {value[:30]!r} was read as a number"
        expected[f"{day}T00:00:00"] = int(value) / 10
    return _compare(expected, data)


# --- grids -----------------------------------------------------------------------------------------------------


def _grid(rng: np.random.Generator) -> xr.Dataset:
    """Return a small grid whose attributes, values, dimensions and dates are drawn from what files have and should not."""
    size = int(rng.choice([1, 2, 3, 30]))
    calendar = str(rng.choice(["standard", "standard", "noleap", "360_day", "julian"]))
    step = str(rng.choice(["D", "h", "5min", "MS", "D", "D", "D", "D"]))
    time_axis = xr.date_range(
        "2001-01-01", periods=size, freq=step, calendar=calendar, use_cftime=calendar != "standard"
    )
    dims = [("time",), ("time", "lat"), ("lat", "time"), ("time", "site")][int(rng.integers(4))]
    shape = tuple(size if dim == "time" else 2 for dim in dims)
    odd = rng.choice([0.0, -1.0, -1e-6, np.nan, np.inf, 1e37, 5000.0, 300.0])
    values = np.where(rng.random(shape) < rng.choice([0.0, 0.0, 0.1]), odd, np.round(rng.gamma(0.5, 4.0, shape), 1))
    name = str(rng.choice(["pr", "rain", "tp", "RAIN", "snow", "foo"], p=[0.6, 0.15, 0.1, 0.05, 0.05, 0.05]))
    units = str(rng.choice(["mm", "mm/day", "kg m-2", "in", "", "K"], p=[0.6, 0.15, 0.1, 0.05, 0.05, 0.05]))
    attrs: dict[str, Any] = {"units": units}
    extras = [
        ("standard_name", ["precipitation_flux", "rainfall_flux", "surface_snow_amount", "air_temperature", "", 5]),
        ("cell_methods", ["time: sum", "time: mean", "time: maximum", "area: mean", "time: point"]),
        ("valid_max", [10.0, -1.0, "ten", np.array([1.0, 2.0])]),
        ("valid_range", [np.array([0.0, 50.0]), np.array([50.0, 0.0]), np.array([1.0])]),
        ("ancillary_variables", ["flag", "nothing", "pr"]),
        ("missing_value", [-1.0, np.nan]),
    ]
    for key, choice in extras:
        if rng.random() < 0.1:
            attrs[key] = choice[int(rng.integers(len(choice)))]
    data = xr.Dataset({name: (dims, values, attrs)}, coords={"time": time_axis})
    if "lat" in dims:
        data = data.assign_coords(
            lat=(
                "lat",
                rng.choice([10.0, 0.7, 95.0, np.nan], 2),
                {"units": str(rng.choice(["degrees_north", "radian", "m", ""]))},
            )
        )
    if rng.random() < 0.4:
        other = str(rng.choice(["tasmin", "tasmax", "snow", "prsn", "wind_speed", "hurs", "pet", "flag", "time_bnds"]))
        if other == "flag":
            data[other] = (
                "time",
                rng.integers(0, 4, size).astype("i1"),
                {"flag_values": np.array([0, 1], dtype="i1"), "flag_meanings": "good bad"},
            )
        elif other == "time_bnds" and calendar == "standard":
            low = pd.DatetimeIndex(time_axis)
            width = pd.Timedelta(str(rng.choice(["1D", "1h", "36h", "-1D", "0D"])))
            data[other] = (("time", "bnds"), np.stack([low, low + width], axis=1))
            data["time"].attrs["bounds"] = "time_bnds"
        elif other != "time_bnds":
            data[other] = (
                dims,
                values * float(rng.choice([1.0, 280.0])),
                {"units": str(rng.choice(["mm", "K", "degC", "m s-1", "%", ""]))},
            )
    if rng.random() < 0.1:
        data = data.isel(time=rng.permutation(size))
    if rng.random() < 0.1:
        data = data.rename(time="t") if rng.random() < 0.5 else data.drop_vars("time")
    return data


def _file_of(data: xr.Dataset, classic: bool) -> bytes:
    handle, name = tempfile.mkstemp(suffix=".nc")
    os.close(handle)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            data.to_netcdf(name, engine="scipy" if classic else "h5netcdf")
        return Path(name).read_bytes()
    finally:
        Path(name).unlink()


def change_grid(rng: np.random.Generator, seeds: list[bytes]) -> bytes:
    """Write a drawn grid, and damage one file of three."""
    for _ in range(20):
        try:
            raw = _file_of(_grid(rng), classic=bool(rng.integers(2)))
            break
        except Exception:  # what cannot be written need not be read
            continue
    else:
        raw = seeds[0]
    return change_bytes(rng, raw) if rng.random() < 0.25 else raw


def _grid_seeds() -> list[bytes]:
    time_axis = pd.date_range("2001-01-01", periods=10)
    return [
        _file_of(xr.Dataset({"pr": ("time", np.ones(10), {"units": "mm"})}, coords={"time": time_axis}), classic=False)
    ]


def _nothing(raw: bytes, data: Any) -> str:
    return ""


def _seeds(*names: str) -> Callable[[], list[bytes]]:
    return lambda: [(CORPUS / name).read_bytes() for name in names]


def _read(path: Path) -> Any:
    return runoff.read_weather(path, latitude=None)


TARGETS = {
    target.name: target
    for target in (
        Target("table", ".csv", _seeds("daily_table.csv", "semicolons.csv", "hourly_table.csv", "offsets.csv"), change_text, _read, judge_table),
        Target("dly", ".dly", _seeds("station.dly"), change_text, _read, judge_dly),
        Target("station csv", ".csv", _seeds("station_long.csv", "station_wide.csv"), change_text, _read, judge_station_csv),
        Target("netcdf", ".nc", _grid_seeds, change_grid, _read, _nothing),
        Target("depth-duration", ".csv", _seeds("depth_duration.csv"), change_text, runoff.read_depth_duration, _nothing),
    )
}  # fmt: skip
