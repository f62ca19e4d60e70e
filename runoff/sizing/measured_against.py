"""How far the model itself may be off: ours minus measured over roofs that can be judged like for like.

`judged_roofs.csv` holds published and open measurements: our figure for the same quantity under the weather of the same place
and months, the spread that materials and rain catch alone predict for it, and the 5 to 95 % range with the roof's own site left
out of the error. One row a roof counts towards the error; others (a season, one of two gauges) stand beside. It is made by
``python -m tests.published.measured_roofs`` from records that are not part of the project; nothing in it is tuned.
"""

from __future__ import annotations

import csv
import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import numpy as np
import xarray as xr

from runoff.draws import student_quantile
from runoff.errors import SizingError, raise_faults

#: Under this many judged roofs no model error is formed: a spread of three values says nothing.
LEAST_ROOFS = 4


@dataclass(frozen=True, kw_only=True)
class JudgedRoof:
    """A measured roof and ours, retention in percent.

    Parameters
    ----------
    site, roof
        Where, and which.
    measured, ours
        Percent of the rain.
    predicted_sd
        Standard deviation that materials and rain catch alone predict for ours, points.
    quantity, weather, source
        What was measured, under which record ours was run, and who published it.
    low, high
        5 and 95 % of ours, the error of the model formed without this site; missing where it was not asked for.
    counts
        Whether the row counts towards the error of the model.
    """

    site: str
    roof: str
    measured: float
    ours: float
    predicted_sd: float
    quantity: str = "retention"
    weather: str = ""
    source: str = ""
    low: float = math.nan
    high: float = math.nan
    counts: bool = True

    @property
    def inside(self) -> bool:
        """Whether the measured share lies inside the range."""
        return self.low <= self.measured <= self.high

    @property
    def difference(self) -> float:
        """Ours minus measured, points."""
        return self.ours - self.measured


@dataclass(frozen=True, kw_only=True)
class ModelError:
    """Error of a figure of retention, as a share of the rain: positive where the model keeps too much.

    Student's t with `degrees` degrees of freedom, times `scale`, about `shift`.
    """

    roofs: int
    sites: int
    mean: float
    spread: float
    shift: float
    scale: float
    degrees: int

    @classmethod
    def of(cls, roofs: Sequence[JudgedRoof]) -> ModelError | None:
        """Form the error from judged roofs; None under four.

        Every site counts once: its roofs share its weight, and what they differ by stays in the spread. The variance that
        materials and catch predict is taken off (it is drawn beside this error), never below 0; that of methods of
        evapotranspiration is not, since a record that gives its own draws none. Where ours keeps more
        than measured on average, the range is moved down by that; where it keeps less, it is not moved up.

        For one roof more at a site of its own the scale is ``sqrt(rest (1 + 1 / sites))``, rest being the variance that is
        left, of Student's t with ``sites - 1`` degrees of freedom: the usual prediction interval of a further value
        (common practice, no single source).

        Raises
        ------
        SizingError
            When a row holds a value that is no percentage, or a roof twice.
        """
        _refuse_faults(roofs)
        sites = sorted({one.site for one in roofs})
        if len(roofs) < LEAST_ROOFS or len(sites) < 2:
            return None
        count = {site: sum(one.site == site for one in roofs) for site in sites}
        weight = np.array([1.0 / (len(sites) * count[one.site]) for one in roofs])
        difference = np.array([one.difference for one in roofs]) / 100.0
        predicted = float(weight @ np.array([(one.predicted_sd / 100.0) ** 2 for one in roofs]))
        n = len(sites)
        mean = float(weight @ difference)
        variance = float(weight @ (difference - mean) ** 2) * n / (n - 1)
        scale = np.sqrt(max(0.0, variance - predicted) * (1.0 + 1.0 / n))
        shift = max(0.0, mean)
        return cls(
            roofs=len(roofs), sites=n, mean=mean, spread=variance**0.5, shift=shift, scale=float(scale), degrees=n - 1
        )

    def drawn(self, shape: tuple[int, ...], seed: int) -> np.ndarray:
        """Draw errors, one from every equal slice of the distribution, in random order."""
        size = int(np.prod(shape))
        rng = np.random.default_rng(seed)
        values = student_quantile((np.arange(size) + 0.5) / size, self.degrees) * self.scale + self.shift
        return np.asarray(rng.permutation(values).reshape(shape))

    def words(self) -> str:
        """Say the error in words."""
        return (
            f"ours against {self.roofs} measured roofs at {self.sites} sites: mean difference {100 * self.mean:+.1f} "
            f"points of retention, spread {100 * self.spread:.1f} points"
        )


def _refuse_faults(roofs: Sequence[JudgedRoof]) -> None:
    faults = []
    for one in roofs:
        for name in ("measured", "ours", "predicted_sd"):
            value = getattr(one, name)
            if not 0.0 <= value <= 100.0:
                faults.append(
                    f"{one.roof}: {name} must be 0 to 100 % (given {value:g}); retention is a share of the rain"
                )
    names = [one.roof for one in roofs]
    faults += [f"{name} is listed twice; leave one row out" for name in sorted(set(names)) if names.count(name) > 1]
    raise_faults("judged roofs", faults, SizingError)


@functools.cache
def all_comparisons() -> tuple[JudgedRoof, ...]:
    """Return every comparison like for like, those that stand beside included."""
    text = files("runoff.sizing").joinpath("judged_roofs.csv").read_text(encoding="utf-8")
    numbers = ("measured", "ours", "predicted_sd", "low", "high")
    words = ("site", "roof", "quantity", "weather", "source")
    rows: list[dict[str, Any]] = [
        {name: row[name] for name in words}
        | {name: float(row[name]) for name in numbers}
        | {"counts": row["counts"] == "yes"}
        for row in csv.DictReader(text.splitlines())
    ]
    return tuple(JudgedRoof(**row) for row in rows)


def judged_roofs() -> tuple[JudgedRoof, ...]:
    """Return the roofs that were judged like for like, each once."""
    return tuple(one for one in all_comparisons() if one.counts)


@functools.cache
def model_error() -> ModelError | None:
    """Return the error of the model as the judged roofs show it, or None when they are too few."""
    return ModelError.of(judged_roofs())


def with_model_error(
    figures: Mapping[Any, xr.Variable], error: xr.Variable, planted_fraction: xr.Variable | float
) -> dict[str, xr.Variable]:
    """Return the figures that follow from retention as they would be were the model off by an error.

    Parameters
    ----------
    figures
        From `runoff.findings.summary.figures_of`.
    error
        Share of the planted area's rain that the model keeps too much.
    planted_fraction
        Planted share of the roof.

    Returns
    -------
    dict of xarray.Variable
        Only the figures that have a model error: retention, capture and overflow of a year, and what is claimed of them.
        Retention stays between 0 and 1.
    """
    kept = (figures["retention"] - error).clip(0.0, 1.0)
    received = figures["annual_capture_mm"] + figures["annual_overflow"]
    off_mm = (figures["retention"] - kept) * received
    of_roof = off_mm * planted_fraction
    area = figures["roof_annual_rain_m3"] / figures["annual_rain"]  # m3 per mm
    left_mm = figures["roof_annual_overflow_m3"] / area
    roof_share = of_roof / (figures["roof_annual_capture_mm"] + left_mm)  # of rain and what runs on
    otherwise_mm = figures["avoided_annual_mm"] + left_mm
    off = {
        "retention": figures["retention"] - kept,
        "annual_capture_mm": off_mm,
        "annual_overflow": -off_mm,
        "annual_capture_m3": of_roof * area,
        "roof_annual_capture_mm": of_roof,
        "roof_annual_overflow_m3": -of_roof * area,
        "roof_retention": roof_share,
        "annual_runoff_coefficient": -roof_share,
        "avoided_annual_mm": of_roof,
        "avoided_annual_m3": of_roof * area,
        "avoided_share": of_roof / otherwise_mm.where(otherwise_mm > 0),
    }
    return {name: figures[name] - part for name, part in off.items()}


def known_biases() -> list[dict[str, str]]:
    """Return what is known to be off, which way and by how much.

    Returns
    -------
    list of dict
        ``bias``, ``ours_keeps`` (too much, too little, either, even; of rain unless peaks are named), ``size``, ``source``.
        The first row is formed from the judged roofs.
    """
    text = files("runoff.sizing").joinpath("known_biases.csv").read_text(encoding="utf-8")
    rows = [dict(row) for row in csv.DictReader(text.splitlines())]
    error = model_error()
    if error is None:
        return rows[1:]
    rows[0] |= {
        "ours_keeps": "too little" if error.mean < 0 else "too much",
        "size": f"{100 * error.mean:+.1f} points on average over {error.roofs} roofs at {error.sites} sites, spread "
        f"{100 * error.spread:.1f} points; drawn in every range",
    }
    return rows
