"""As built: a second roof file with what was measured on the roof, and the difference to what was promised."""

from __future__ import annotations

import dataclasses
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import tomli_w
import xarray as xr

from runoff.dossier.asked_for import keep_on_one_line
from runoff.dossier.future_dates import lies_in_future
from runoff.errors import RoofError, nearest, raise_faults
from runoff.saying.given import on_one_line
from runoff.saying.scales import both

if TYPE_CHECKING:
    from runoff.roof import Roof

#: Table of a roof file that says what else was found on the roof.
TABLE = "as_built"
#: Readings of depth whose mean lies further than this from the depth of the file are told, mm.
_DEPTH_APART_MM = 5.0
#: Results that are set side by side: figure -> words and kind of quantity.
RESULTS: dict[str, tuple[str, str]] = {
    "retention": ("Retention, planted area", "fine share"),
    "annual_capture_m3": ("Annual capture, whole roof", "volume"),
    "avoided_annual_m3": ("Runoff avoided a year", "volume"),
    "capacity_mm": ("Storage capacity, per planted area", "depth"),
    "waterlogged_days": ("Waterlogged days a year", "count"),
    "rot_risk_days": ("Days a year at risk of root rot", "count"),
    "drought_risk_days": ("Days a year at risk of drought", "count"),
    "drained_kg_per_m2": ("Weight of the build-up, drained", "load"),
}
#: Properties of the roof that are set side by side.
PROPERTIES: dict[str, tuple[str, str]] = {
    "area_m2": ("Roof area", "area"),
    "planted_area_m2": ("Planted area", "area"),
    "flow_length_m": ("Flow length to the outlet", "length"),
    "fall": ("Fall", "fine share"),
    "edge_height_mm": ("Edge above the deck", "layer depth"),
    "emergency_overflow_mm": ("Emergency overflow above the deck", "layer depth"),
    "blocked_fraction": ("Blocked share of the drainage", "share"),
    "outlets_count": ("Outlets", "whole"),
}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Measured:
    """What was found on the roof beside its dimensions: table ``[as_built]`` of the second roof file, all of it optional.

    Parameters
    ----------
    measured_on, measured_by
        Printed as given.
    cover
        Share of the medium covered by living plants, 0-1. The balance takes established plants; it is printed beside it.
    depths_mm
        Readings of the depth of the medium, mm; the roof file holds the depth that is computed with.
    photographs
        One line each.
    """

    measured_on: str = ""
    measured_by: str = ""
    cover: float | None = None
    depths_mm: tuple[float, ...] = ()
    photographs: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Keep what is printed as given on one line."""
        keep_on_one_line(self)
        object.__setattr__(self, "photographs", tuple(map(on_one_line, self.photographs)))

    @classmethod
    def of(cls, table: Mapping[str, Any], where: str) -> Measured:
        """Return it from a table of a file.

        Raises
        ------
        RoofError
            Naming every fault at once.
        """
        known = [one.name for one in dataclasses.fields(cls)]
        faults = [f'[{TABLE}] "{name}" is not known{nearest(name, known)}' for name in table if name not in known]
        found: dict[str, Any] = {name: str(table[name]) for name in ("measured_on", "measured_by") if name in table}
        if lies_in_future(found.get("measured_on", "")):
            faults.append(
                f"[{TABLE}] measured_on lies in the future (you wrote {found['measured_on']}); give the day of the visit"
            )
        cover = table.get("cover")
        if cover is not None:
            if not _is_number(cover) or not 0.0 <= cover <= 1.0:
                faults.append(f"[{TABLE}] cover is a share between 0 and 1 (you wrote {cover!r})")
            found["cover"] = cover
        depths = table.get("depths_mm", [])
        if not isinstance(depths, list | tuple) or not all(_is_number(one) and 0.0 <= one < 10_000.0 for one in depths):
            faults.append(f"[{TABLE}] depths_mm is a list of depths in mm (you wrote {depths!r:.60})")
        photographs = table.get("photographs", [])
        if not isinstance(photographs, list | tuple) or not all(isinstance(one, str) for one in photographs):
            faults.append(f"[{TABLE}] photographs is a list of texts, one a photograph (you wrote {photographs!r:.60})")
        raise_faults(where, faults, RoofError)
        return cls(**found, depths_mm=tuple(map(float, depths)), photographs=tuple(photographs))


def _is_number(one: Any) -> bool:
    return isinstance(one, int | float) and not isinstance(one, bool)


def read_as_built(given: Roof | str | Path) -> tuple[Roof, Measured]:
    """Return the roof as measured, and what else was found.

    Parameters
    ----------
    given
        A roof, or the path of a roof file, which may have a table ``[as_built]``.
    """
    from runoff.roof import Roof, read_roof
    from runoff.roof.roof_file import roof_from_toml

    if isinstance(given, Roof):
        return given, Measured()
    path = Path(given)
    try:
        written = tomllib.loads(path.read_text(encoding="utf-8-sig")) if path.stat().st_size < _MOST_BYTES else {}
    except (OSError, ValueError, RecursionError):
        written = {}
    if not isinstance(written.get(TABLE), dict):
        return read_roof(path), Measured()  # which says what is wrong, if anything is
    measured = Measured.of(written.pop(TABLE), path.name)
    return roof_from_toml(tomli_w.dumps(written), where=path.name), measured


_MOST_BYTES = 1_000_000


def figures_as_built(built: Roof, promised: Roof, of_built: xr.Dataset, of_promised: xr.Dataset) -> xr.Dataset:
    """Return what was promised and how far the roof as built is from it.

    Parameters
    ----------
    built, promised
        The two roofs.
    of_built, of_promised
        Their figures.

    Returns
    -------
    xarray.Dataset
        ``promised_<name>`` and ``change_<name>`` for each of `RESULTS` and `PROPERTIES`; ``found_<layer>_<property>`` too for
        every property of a layer that counts for water; ``promised_storm_peak`` and its change along ``return_period``.
    """
    figures = xr.Dataset()
    for name in [*PROPERTIES, *RESULTS]:
        if name in of_built and name in of_promised:
            _pair(figures, name, of_built[name], of_promised[name])
    if "storm_peak" in of_built and "storm_peak" in of_promised:
        _pair(figures, "storm_peak", of_built["storm_peak"], of_promised["storm_peak"])
    for name, (found, given, unit) in layer_values(built, promised).items():
        figures[f"found_{name}"] = ((), found, {"units": unit})
        _pair(figures, name, figures[f"found_{name}"], xr.DataArray(given))
    return figures


def _pair(figures: xr.Dataset, name: str, found: xr.DataArray, promised: xr.DataArray) -> None:
    unit = {"units": str(found.attrs.get("units", "1"))}
    figures[f"promised_{name}"] = promised.drop_vars(list(set(promised.coords) - set(promised.dims))).assign_attrs(unit)
    figures[f"change_{name}"] = (found - promised).assign_attrs(unit)


def layer_values(built: Roof, promised: Roof) -> dict[str, tuple[float, float, str]]:
    """Return ``<layer>_<property>`` -> as found, as promised, unit; missing where a roof has no such layer."""
    values: dict[str, list[float]] = {}
    for at, roof in enumerate((built, promised)):
        for layer in roof.build_up.layers:
            rows = {"depth_mm": layer.height_taken_mm or np.nan}
            rows |= {part.field: float(getattr(layer, part.field)) for part in layer.parts}
            for field, value in rows.items():
                values.setdefault(f"{layer.word}_{field}", [np.nan, np.nan])[at] = value
    return {name: (one[0], one[1], "mm" if name.endswith("_mm") else "1") for name, one in values.items()}


def rows_of_layers(built: Roof, promised: Roof) -> list[dict[str, str]]:
    """Return the rows of the table: depths always, other properties where they differ."""
    rows, seen = [], set()
    for layer in (*built.build_up.layers, *promised.build_up.layers):
        parts = [("depth_mm", "depth", "layer depth"), *((one.field, one.words, one.kind) for one in layer.parts)]
        for field, words, kind in parts:
            name = f"{layer.word}_{field}"
            found, given, _ = layer_values(built, promised).get(name, (np.nan, np.nan, ""))
            told = not np.isnan(found) or not np.isnan(given)
            if name in seen or not told or (field != "depth_mm" and found == given):
                continue
            seen.add(name)
            rows.append({"name": name, "words": f"{layer.title}: {words}", "kind": kind})
    return rows


def depth_doubt(measured: Measured, roof: Roof) -> str:
    """Say so where the readings of depth do not bear out the depth that is computed with."""
    medium = next((one for one in roof.build_up.layers if one.word == "medium"), None)
    if not measured.depths_mm or medium is None:
        return ""
    mean, depth = float(np.mean(measured.depths_mm)), float(medium.height_taken_mm or 0.0)
    if abs(mean - depth) <= _DEPTH_APART_MM:
        return ""
    return (
        f"The mean of the {len(measured.depths_mm)} readings of depth is {both(mean, 'mm', 'level')}. The roof file says "
        f"{both(depth, 'mm', 'level')}, and that is computed with. Measure again, and correct the one that is wrong."
    )
