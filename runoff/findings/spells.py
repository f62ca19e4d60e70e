"""Spells that are too wet or too dry for the plants, and the bands they are told by: one list for figures, text and lessons.

The bands are a reading aid: no published day limit exists for planted roofs. The wet bands rest on the 48-hour rule of roof
drainage and on a pot test in which 30 % of *Sedum spurium* but 76 % of *S. mexicanum* survived 28 days of standing water
(Zhang et al., Acta Horticulturae 1263). The dry bands rest on VanWoert et al. (2005, HortScience 40:659: water at least every 14 days at 20 mm,
every 28 at 60 mm; alive after 88 days) and on a trial in which all plants had lost their display value at 40 days (Polish
Journal of Environmental Studies 32(3), 2023).
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple, TypeVar

import numpy as np
import xarray as xr

from runoff.plain_arrays import applied

_Series = TypeVar("_Series", xr.DataArray, xr.Variable, np.ndarray)


class Band(NamedTuple):
    """Spells of a length: first and last day, and words."""

    first_day: int
    last_day: float
    words: str

    @property
    def days(self) -> str:
        """The range in words, for example ``3-7 days``."""
        if self.first_day <= 1:
            return f"to {self.last_day:g} days"
        if math.isinf(self.last_day):
            return f"{self.first_day} days and more"
        return f"{self.first_day}-{self.last_day:g} days"


WET_BANDS: tuple[Band, ...] = (
    Band(1, 2, "none"),
    Band(3, 7, "watch"),
    Band(8, 14, "stress likely"),
    Band(15, 27, "losses likely in sensitive species"),
    Band(28, math.inf, "30 to 76 % survived, by species (pot test)"),
)
DRY_BANDS: tuple[Band, ...] = (
    Band(1, 13, "none"),
    Band(14, 27, "watch (thin medium)"),
    Band(28, 39, "stress likely"),
    Band(40, 89, "severe stress"),
    Band(90, math.inf, "survival in doubt"),
)


def band_of(days: float, bands: tuple[Band, ...] = WET_BANDS) -> Band | None:
    """Return the band of a spell of that many days; None for no spell at all.

    Examples
    --------
    >>> band_of(2).words, band_of(3).words, band_of(28).words
    ('none', 'watch', '30 to 76 % survived, by species (pot test)')
    """
    if not days > 0:
        return None
    return next(band for band in bands if days < np.floor(band.last_day) + 1)


def running_spell(flags: _Series) -> _Series:
    """Count how long each spell of true steps has lasted so far, steps; 0 where false."""

    def count(values: np.ndarray) -> np.ndarray:
        true = np.nan_to_num(values.astype(float)) > 0
        total = np.cumsum(true, axis=-1)
        before = np.maximum.accumulate(np.where(true, 0, total), axis=-1)
        return total - before

    if isinstance(flags, xr.DataArray):
        flags = flags.transpose(..., "time")
        return flags.copy(data=running_spell(flags.variable).data)
    counted: _Series = applied(count, [flags], kinds=(int,))[0]
    return counted


def spell_lengths(running: np.ndarray) -> np.ndarray:
    """Return the length of each spell from how long it has lasted so far: the count on its last day."""
    ends = np.append(running[1:] == 0, True) & (running > 0)
    return running[ends]


class Spell(NamedTuple):
    """Consecutive days of one kind: place in the record and length in days."""

    first: int
    length: int


def every_spell(flags: np.ndarray) -> list[Spell]:
    """Return every run of true days.

    Parameters
    ----------
    flags
        One day after the other, shape ``(time,)``.

    Examples
    --------
    >>> every_spell(np.array([True, True, False, True]))
    [Spell(first=0, length=2), Spell(first=3, length=1)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.asarray(flags).astype(int), [0]])))
    return [Spell(int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


class SpellsOfRecord(NamedTuple):
    """What is told of the spells of one kind.

    Parameters
    ----------
    long
        Spells of at least so many days.
    longest
        The longest, of equals the first; None without any.
    band
        Its band.
    """

    long: int
    longest: Spell | None
    band: Band | None


def spells_of_record(flags: np.ndarray, bands: tuple[Band, ...], least_days: int) -> SpellsOfRecord:
    """Return how many spells last long, and the longest of a record.

    Parameters
    ----------
    flags
        One day after the other, shape ``(time,)``.
    bands
        `WET_BANDS` or `DRY_BANDS`.
    least_days
        Days from which a spell is long.

    Returns
    -------
    SpellsOfRecord
        Lengths in days. A spell counts whole, in the length it has reached at the end of the record.
    """
    found = every_spell(flags)
    longest = max(found, key=lambda one: one.length, default=None)
    band = band_of(longest.length, bands) if longest else None
    return SpellsOfRecord(sum(one.length >= least_days for one in found), longest, band)


def spells_per_year(days: xr.Dataset, years: float) -> xr.Dataset:
    """Return how often spells of each length occur: ``wet_spells`` and ``dry_spells`` per year.

    Parameters
    ----------
    days
        A daily run of one roof at one site, or one brought to days.
    years
        Length of the record in years.

    Returns
    -------
    xarray.Dataset
        Along ``wet_band`` and ``dry_band``, the first days of `WET_BANDS` and `DRY_BANDS`; spells too short to matter are
        left out. A spell counts whole, in the length it has reached at the end of the record.
    """
    figures = xr.Dataset()
    for name, flags, bands in (
        ("wet_spells", days["waterlogged"], WET_BANDS[1:]),
        ("dry_spells", days["dry"], DRY_BANDS[1:]),
    ):
        lengths = spell_lengths(running_spell(flags).to_numpy())
        counts = [int(((lengths >= one.first_day) & (lengths <= one.last_day)).sum()) for one in bands]
        band = name.replace("spells", "band")
        figures[name] = xr.DataArray(
            np.array(counts) / years,
            dims=band,
            coords={band: [one.first_day for one in bands]},
            attrs={"units": "1", "long_name": f"{name.replace('_', ' ')} per year by length in days"},
        )
    return figures


def damage_index(run: xr.Dataset, *, warm_c: float | None = None) -> xr.DataArray:
    """Return the damage a season has done to the roots so far: a drowned root does not come back the next day.

    Parameters
    ----------
    run
        A daily run, or one brought to days, with ``waterlogged`` and, where known, ``tmean``.
    warm_c
        Mean temperature (degC) from which a day of a spell counts, as for rot risk; default as in the run.

    Returns
    -------
    xarray.DataArray
        On ``time``, 0 to 4: the highest of `WET_BANDS` (0 is "none") that a waterlogged spell has reached on a warm day since
        1 March, or since 1 September in the south (negative ``lat``); 0 again when a season begins. A reading aid.
    """
    warm_c = float(run.attrs.get("warm_c", 5.0)) if warm_c is None else warm_c
    spell = running_spell(run["waterlogged"])
    counted = spell.where(run["tmean"] >= warm_c, 0) if "tmean" in run else spell
    band = sum((counted >= one.first_day).astype(int) for one in WET_BANDS[1:])
    south = "lat" in run.coords and run["lat"].ndim == 0 and float(run["lat"]) < 0.0
    stamps: Any = run["time"].to_index()
    begins = (np.asarray(stamps.month) == (9 if south else 3)) & (np.asarray(stamps.day) == 1)
    pieces = np.split(np.arange(stamps.size), np.flatnonzero(begins))

    def reached(values: np.ndarray) -> np.ndarray:
        parts = [np.maximum.accumulate(values[..., one], axis=-1) for one in pieces if one.size]
        return np.concatenate(parts, axis=-1)

    index: xr.DataArray = xr.apply_ufunc(
        reached, band, input_core_dims=[["time"]], output_core_dims=[["time"]], dask="parallelized", output_dtypes=[int]
    )
    index.attrs = {"units": "1", "long_name": "damage to roots this season (0 none, 4 worst)"}
    return index.rename("damage_index")


def years_of_harm(harm: xr.DataArray, least: int) -> int:
    """Return in how many calendar years roots bear harm, on whatever day.

    Parameters
    ----------
    harm
        From `damage_index`, 0 to 4 (a number without unit), of one roof at one site.
    least
        Damage index from which it counts.
    """
    return int(np.unique(harm["time"].dt.year.to_numpy()[harm.to_numpy() >= least]).size)
