"""The log of a tray on the scales: what the tray is, and one line for every weighing.

The lines above the heading say what the tray is, ``tray area: 0.25 m2``; they may be left out where the command is told.
Below it stand dates and masses, and as known watering, rain and reference evapotranspiration. A mass is read before the
water that is given on its line. An empty mass is a day without a weighing; an empty rain is not a dry day.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from runoff.calibration.logs import Entry, Log, log_text, per_step, read_log
from runoff.errors import RunoffError, nearest, raise_faults
from runoff.given_kinds import refuse_other_kinds
from runoff.units import canonical_unit, convert, unit_dimension
from runoff.weather.files.stamps import DATE_ORDERS, where
from runoff.weather.files.table_layout import TableLayout, layout_of
from runoff.weather.record.time_axis import counted

if TYPE_CHECKING:
    import xarray as xr

LEAST_WEIGHINGS = 10
TRAY_ENTRIES = (
    Entry(name="mass", headings=("mass", "weight"), dimensions=("mass",), units=("kg", "g", "lb"), needed=True),
    Entry(
        name="watering",
        headings=("watering",),
        dimensions=("volume", "mass", "depth"),
        units=("L", "gal", "kg", "lb", "mm", "in"),
    ),
    Entry(name="rain", headings=("rain",), dimensions=("depth",), units=("mm", "in")),
    Entry(name="reference_et", headings=("reference_et",), dimensions=("depth",), units=("mm", "in")),
    Entry(name="note", headings=("note", "notes")),
)
#: What a line above the heading may say: a quantity with its dimension and the unit to offer, or one of some words.
_QUANTITIES = {
    "tray area": ("area_m2", "area", "m2"),
    "empty mass": ("empty_kg", "mass", "kg"),
    "empty mass error": ("empty_error_kg", "mass", "kg"),
    "medium depth": ("depth_mm", "depth", "mm"),
}
_CHOICES = {
    "start": ("drained", "not drained"),
    "cover": ("open", "roofed"),
    "weighed": ("morning", "evening"),
    "dates": tuple(DATE_ORDERS),
    "decimal": ("point", "comma"),
}
_SETTING = re.compile(r"^\s*\"?([A-Za-z][A-Za-z ]*?)\s*:\s*(.*?)[\"\s;,]*$")
_AMOUNT = re.compile(r"^([-+]?\d+(?:[.,]\d+)?)\s*(\S.*)?$")
_INVENTED = re.compile(r"^\s*#\s*INVENTED\b", re.MULTILINE)
#: A step between weighings by one of these factors is a change of unit, not of water.
_FACTORS = {"grams among kilograms": 1000.0, "pounds among kilograms": 1.0 / 0.45359237}

TEMPLATE = f"""\
# Log of a tray on the scales. Lines that begin with # are notes and are skipped.
# Plant a tray as the roof is planted, soak it, let it drain over night, and weigh it every day while it dries: at the same
# hour, on the same scale, before any watering. At least {LEAST_WEIGHINGS} weighings, better 30; at least until the plants begin to flag.
#
# Say what the tray is. The empty mass is everything but water: the tray with oven-dry medium and plants.
tray area: 0.25 m2
empty mass: 21.40 kg
empty mass error: 0.20 kg
medium depth: 80 mm
# start: drained, when it was soaked and drained before the first weighing, else not drained
start: drained
# cover: open to the rain, or roofed
cover: open
# weighed: morning or evening
weighed: morning
#
# One line per day. mass_kg may be mass_g or mass_lb; leave it empty on a day without a weighing. watering: what was given
# after the weighing (watering_L, _gal, _mm or _in), empty when none. rain and reference evapotranspiration: of that day; leave the
# columns out when a weather file has them. A rain that is not known stays empty: it is not zero.
# 2026-05-04,28.00,,0.0,3.1,drained over night
date,mass_kg,watering_L,rain_mm,reference_et_mm,note
"""


@dataclasses.dataclass(frozen=True, kw_only=True)
class TrayLog:
    """A tray and its weighings.

    Parameters
    ----------
    name
        Name of the file.
    area_m2, depth_mm
        Area of the tray and depth of its medium.
    empty_kg, empty_error_kg
        Mass of everything but water, and how far it may be wrong.
    starts_drained
        Whether the tray was soaked and drained before the first weighing.
    is_roofed
        Whether rain is kept off.
    is_invented
        Whether a note of the file says that it was invented.
    days
        One row per day with a line: ``mass_kg``, ``watering_mm``, ``rain_mm``, ``reference_et_mm`` as the log has them, and
        ``note``. A weighing in the evening stands on the next morning: a tray loses next to nothing over night.
    """

    name: str
    area_m2: float
    depth_mm: float
    empty_kg: float
    empty_error_kg: float
    starts_drained: bool
    is_roofed: bool
    is_invented: bool
    days: pd.DataFrame

    def daily_table(self, weather: xr.Dataset | None = None) -> pd.DataFrame:
        """Return the table that `fit_tray` takes: every day from the first to the last weighing.

        Parameters
        ----------
        weather
            Daily rain and reference evapotranspiration of the place, for what the log does not have. What the log has
            comes first: it was read beside the tray.

        Raises
        ------
        RunoffError
            When rain or reference evapotranspiration is not known on a day: a day without a value is not a dry day.
        """
        weighed = self.days.index[self.days["mass_kg"].notna()]
        index = pd.date_range(weighed[0], weighed[-1], freq="1D", name="time")
        log = self.days.reindex(index)
        faults: list[str] = []
        rain = pd.Series(0.0, index) if self.is_roofed else _known(log, "rain", weather, index, faults)
        reference_et = _known(log, "reference_et", weather, index, faults)
        raise_faults(self.name, faults)
        watering = log["watering_mm"].fillna(0.0) if "watering_mm" in log else 0.0
        return pd.DataFrame({"weight_kg": log["mass_kg"], "rain_mm": rain + watering, "reference_et": reference_et})


def read_tray_log(
    path: str | Path,
    *,
    area_m2: float | None = None,
    depth_mm: float | None = None,
    empty_kg: float | None = None,
    empty_error_kg: float | None = None,
    start: str | None = None,
    end: str | None = None,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    layout: TableLayout | Mapping[str, Any] | None = None,
    today: pd.Timestamp | None = None,
) -> TrayLog:
    """Read the log of a tray on the scales.

    Parameters
    ----------
    path
        The file, plain or gzipped; `TEMPLATE` is one to start from.
    area_m2, depth_mm, empty_kg, empty_error_kg
        What the tray is, in place of what the file says.
    start, end
        First and last day used, as ``"2026-05-04"``.
    columns, units, layout
        As in `logs.read_log`; order of dates and decimal mark may stand in the file as well.
    today
        As in `logs.read_log`.

    Returns
    -------
    TrayLog
        What the tray is, and its weighings (kg) with their times.

    Raises
    ------
    RunoffError
        Naming every fault of the file at once.
    """
    refuse_other_kinds("read_tray_log", path=path)
    path = Path(path)
    faults: list[str] = []
    said, text = _settings(log_text(path), layout_of(layout), faults)
    raise_faults(path.name, faults)
    given = {"area_m2": area_m2, "depth_mm": depth_mm, "empty_kg": empty_kg, "empty_error_kg": empty_error_kg}
    said |= {name: value for name, value in given.items() if value is not None}
    faults += _faults_of_tray(said)
    try:
        log = read_log(
            text, path.name, TRAY_ENTRIES, columns=columns, units=units, layout=_layout(said, layout), today=today
        )
    except RunoffError as error:  # the faults of tray and table in one message
        raise RunoffError("\n".join([*(f"{path.name}: {fault}" for fault in faults), str(error)])) from None
    mass = np.asarray(convert(log.table["mass"].to_numpy(dtype=float), log.units["mass"], "kg"))
    _faults_of_masses(mass, log, said.get("empty_kg"), faults)
    raise_faults(path.name, faults)
    days = _days(log, mass, said, path.name)
    kept = days.loc[start:end]
    weighings = int(kept["mass_kg"].notna().sum())
    if weighings < LEAST_WEIGHINGS:
        between = " between the days asked for" if start or end else ""
        raise RunoffError(
            f"{path.name}: {counted(weighings, 'weighing')}{between}; at least {LEAST_WEIGHINGS} are needed. Weigh the tray on more days"
        )
    return TrayLog(
        name=path.name,
        area_m2=said["area_m2"],
        depth_mm=said["depth_mm"],
        empty_kg=said["empty_kg"],
        empty_error_kg=said.get("empty_error_kg", 0.0),
        # a log that is cut at its front no longer begins where the tray had drained
        starts_drained=said.get("start", "drained") == "drained" and kept.index[0] == days.index[0],
        is_roofed=said.get("cover") == "roofed",
        is_invented=_INVENTED.search(text) is not None,
        days=kept,
    )


def _settings(text: str, layout: TableLayout, faults: list[str]) -> tuple[dict[str, Any], str]:
    """Return what the lines above the heading say, and the text without them; lines keep their numbers."""
    lines = text.splitlines()
    written: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(lines):
        if not line.strip() or line.lstrip().startswith(layout.comment):
            continue
        found = _SETTING.match(line)
        if not found:
            break
        name, lines[number] = " ".join(found[1].lower().split()), ""
        if name in written:
            faults.append(f'"{name}" is given twice, on lines {written[name][0]} and {number + 1}; keep one')
        written[name] = (number + 1, found[2])
    has_comma = written.get("decimal", (0, ""))[1] == "comma" or layout.decimal == ","
    said: dict[str, Any] = {}
    for name, (number, value) in written.items():
        if name in _QUANTITIES:
            field, dimension, unit = _QUANTITIES[name]
            amount = _amount(value, dimension, unit, has_comma)
            if isinstance(amount, str):
                faults.append(f'line {number}: {name} {amount} (it says "{value}")')
            else:
                said[field] = amount
        elif name in _CHOICES:
            if value in _CHOICES[name]:
                said[name] = value
            else:
                faults.append(f'line {number}: {name} is {" or ".join(_CHOICES[name])} (it says "{value}")')
        else:
            known = [*_QUANTITIES, *_CHOICES]
            faults.append(f'line {number}: "{name}" is not known{nearest(name, known)}; known: {", ".join(known)}')
    return said, "\n".join(lines)


def _amount(text: str, dimension: str, unit: str, has_comma: bool) -> float | str:
    """Return a number with its unit as the house has it, or what is wrong with it."""
    found = _AMOUNT.match(text)
    if not found:
        return f"is a number with its unit, such as 1.5 {unit}"
    if "," in found[1] and not has_comma:
        return "has a decimal comma; declare it, decimal: comma"
    if not found[2]:
        return f"has no unit; write it behind the number, {found[1]} {unit}"
    try:
        if unit_dimension(canonical_unit(found[2])) == dimension:
            return float(convert(float(found[1].replace(",", ".")), found[2], unit))
    except RunoffError:
        pass
    return f'has the unit "{found[2]}", which is no {dimension} that is known; write it in {unit}'


def _faults_of_tray(said: Mapping[str, Any]) -> list[str]:
    faults = []
    for name, (field, _, unit) in _QUANTITIES.items():
        least = 0.0 if field in ("empty_kg", "empty_error_kg") else None
        if field not in said and field != "empty_error_kg":
            faults.append(
                f"the {name} is missing; write it above the heading, {name}: 1.5 {unit}, or give it with the command"
            )
        elif field in said and (
            not np.isfinite(said[field]) or (said[field] < 0 if least == 0.0 else said[field] <= 0)
        ):
            words = "cannot be negative" if least == 0.0 else "must be more than 0"
            faults.append(f"the {name} {words} (given {said[field]:g} {unit})")
    return faults


def _layout(said: Mapping[str, Any], given: TableLayout | Mapping[str, Any] | None) -> TableLayout:
    layout = layout_of(given)
    if said.get("decimal") == "comma":
        layout = dataclasses.replace(layout, decimal=",")
    return dataclasses.replace(layout, dates=said["dates"]) if "dates" in said else layout


def _faults_of_masses(mass: np.ndarray, log: Log, empty_kg: float | None, faults: list[str]) -> None:
    """Name masses that cannot be, and a unit that changes within the column."""
    shown = pd.Series([f"{one:.6g} {log.units['mass']}" for one in log.table["mass"]], index=log.lines)
    known = np.flatnonzero(np.isfinite(mass))
    ratio = mass[known][1:] / np.where(mass[known][:-1] > 0, mass[known][:-1], np.nan)
    for words, factor in _FACTORS.items():
        jumps = known[1:][(np.abs(ratio / factor - 1.0) < 0.1) | (np.abs(ratio * factor - 1.0) < 0.1)]
        if jumps.size:
            faults.append(
                f"mass: jumps by a factor of {factor:.4g} {where(shown.iloc[jumps])}: units mixed, {words}? Bring all to one unit"
            )
            return  # the other faults of the masses would only be what follows from it
    if empty_kg is None:
        return
    below = shown[mass < empty_kg]
    if len(below):
        faults.append(
            f"mass: below the empty tray ({empty_kg:g} kg) {where(below)}; check the empty mass, or the scale"
        )


def _days(log: Log, mass: np.ndarray, said: Mapping[str, Any], name: str) -> pd.DataFrame:
    """Return the log by days: a weighing of the evening stands on the morning that follows."""
    stamps = pd.DatetimeIndex(log.table.index)
    evening = stamps.hour >= 12 if log.has_clock else np.full(len(stamps), said.get("weighed") == "evening")
    days = pd.DataFrame({"mass_kg": mass}, index=stamps.floor("D") + pd.to_timedelta(np.where(evening, 1, 0), unit="D"))
    if "watering" in log.table:
        watering, unit = log.table["watering"].to_numpy(), log.units["watering"]
        if unit_dimension(unit) == "mass":  # a kilogram of water is a litre
            watering, unit = np.asarray(convert(watering, unit, "kg")), "L"
        days["watering_mm"] = per_step(watering, unit, step_hours=24.0, area_m2=said["area_m2"], what="watering")
    twice = days.index.duplicated() | stamps.floor("D").duplicated()
    if twice.any():
        lines = pd.Series(stamps.strftime("%Y-%m-%d %H:%M").str.removesuffix(" 00:00"), index=log.lines)
        raise RunoffError(
            f"{name}: time: less than a day since the line before {where(lines[twice])}; keep one line a day, and one of an "
            "evening and the morning after"
        )
    for column in ("rain", "reference_et"):  # of the calendar day, whenever it was weighed
        if column in log.table:
            depth = pd.Series(convert(log.table[column].to_numpy(), log.units[column], "mm"), index=stamps.floor("D"))
            days = days.join(depth.rename(f"{column}_mm"), how="outer")
    if "note" in log.table:
        days["note"] = pd.Series(log.table["note"].to_numpy(), index=stamps.floor("D")).reindex(days.index).fillna("")
    return days.rename_axis("time")


def _known(
    log: pd.DataFrame, name: str, weather: xr.Dataset | None, index: pd.DatetimeIndex, faults: list[str]
) -> pd.Series:
    """Return rain or reference evapotranspiration on every day but the last, from the log or else from the weather."""
    words = {"rain": "rain", "reference_et": "reference evapotranspiration"}[name]
    if f"{name}_mm" in log:
        known = log[f"{name}_mm"]
        source = "in the log; a day without a line needs one for it"
    elif weather is not None and name in weather:
        series = weather[name].to_series()
        known = series.set_axis(pd.DatetimeIndex(series.index).floor("D")).reindex(index)
        source = "in the weather"
    else:
        way_out = f"add a column {name}_mm, or give the weather of the place"
        dry = ", or say cover: roofed when rain was kept off" if name == "rain" else ""
        faults.append(f"no {words} is known; {way_out}{dry}")
        return pd.Series(np.nan, index)
    lacking = known.index[known.isna() & (known.index < index[-1])]
    if len(lacking):
        days = f"{counted(len(lacking), 'day')} (first {lacking[0].date()})"
        faults.append(f"{words} is missing on {days} {source}; a missing value is not a zero")
    return known
