"""A tray as a function of its values: the medium of the roof alone, by the same daily step."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping

import numpy as np

from runoff.calibration.fitting import Estimate, fit

#: Allowed values: a medium holds less than 0.75 of its volume, crop coefficients of sedum are published from 0.53 to 1.97
#: (Sherrard and Jacobs 2012; Rezaei, Jarrett, Berghage and Beattie 2005), with room on both sides.
BOUNDS = {
    "wilting_point": (0.0, 0.30),
    "field_capacity": (0.05, 0.75),
    "crop_coefficient": (0.05, 2.5),
    "depletion_fraction": (0.0, 0.9),
}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Readings:
    """What is known of a tray, one number per day from the first reading on.

    Parameters
    ----------
    read
        Water, mm, before the day's evaporation; missing where it was not weighed.
    given
        Rain and watering of the day, mm.
    reference_et
        Reference evapotranspiration of the day, mm.
    depth_mm
        Depth of the medium.
    starts_drained
        Whether the tray begins at field capacity.
    bypass_fraction
        Share of what soaks in that passes a medium at field capacity: see `runoff.GrowingMedium`.
    """

    read: np.ndarray
    given: np.ndarray
    reference_et: np.ndarray
    depth_mm: float
    starts_drained: bool
    bypass_fraction: float

    @property
    def seen(self) -> np.ndarray:
        """Days with a reading."""
        return np.flatnonzero(np.isfinite(self.read))


@dataclasses.dataclass(frozen=True, kw_only=True)
class Tray:
    """A tray whose values are fitted or held, and what happened to its readings.

    Parameters
    ----------
    readings
        What is known.
    held
        Values that are not fitted.
    jumps
        Days from which on the readings stand higher or lower by an amount that is fitted too.
    slips
        Days whose reading is left out.
    """

    readings: Readings
    held: Mapping[str, float]
    jumps: tuple[int, ...] = ()
    slips: tuple[int, ...] = ()

    @property
    def free(self) -> list[str]:
        """Names of the values that are fitted, in the order of `BOUNDS`."""
        return [name for name in BOUNDS if name not in self.held]

    @property
    def used(self) -> np.ndarray:
        """Days whose reading is fitted."""
        return np.setdiff1d(self.readings.seen, self.slips)

    def values(self, best: np.ndarray) -> dict[str, float]:
        """Return every value, fitted or held."""
        return dict(self.held) | dict(zip(self.free, map(float, best), strict=False))

    def sizes(self, best: np.ndarray) -> np.ndarray:
        """Return the size of each jump, mm."""
        return best[len(best) - len(self.jumps) :]

    def water(self, best: np.ndarray) -> np.ndarray:
        """Return what the scale would read on each day, mm, jumps included."""
        values, readings = self.values(best), self.readings
        begin = values["field_capacity"] * readings.depth_mm
        if not readings.starts_drained:
            begin = float(best[len(self.free)])
        water = drying_water(values, begin, readings)
        for day, size in zip(self.jumps, self.sizes(best), strict=True):
            water[day:] += size
        return water

    def left(self, best: np.ndarray) -> np.ndarray:
        """Return readings less model on the days used, mm."""
        return (self.readings.read - self.water(best))[self.used]

    def fit(self, start: np.ndarray | None = None) -> Estimate:
        """Return the values with which the tray follows its readings best.

        Parameters
        ----------
        start
            Values to begin from; default a spread of trial points.
        """
        bounds, guess = self._box()
        return fit(
            lambda best: -self.left(best), bounds, guess if start is None else start, uneven=False,
            times=self.used.astype(float), trials=24 if start is None else 0,
        )  # fmt: skip

    def _box(self) -> tuple[np.ndarray, np.ndarray]:
        read, depth, free = self.readings.read, self.readings.depth_mm, self.free
        driest, wettest = float(np.nanmin(read)), float(np.nanmax(read))
        fall = wettest - driest
        bounds = np.array([BOUNDS[name] for name in free]).reshape(-1, 2)
        if "wilting_point" in free and not self.jumps:  # the tray came below it by no more than a balance errs
            at = free.index("wilting_point")
            bounds[at, 1] = min(bounds[at, 1], (driest + 0.1 * fall) / depth)
        if "field_capacity" in free:
            at = free.index("field_capacity")
            bounds[at, 0] = max(bounds[at, 0], (driest + 0.2 * fall) / depth)
        guesses = {
            "wilting_point": 0.5 * driest / depth,
            "field_capacity": wettest / depth,
            "crop_coefficient": 1.0,
            "depletion_fraction": 0.3,
        }
        guess = np.array([guesses[name] for name in free])
        if not self.readings.starts_drained:
            bounds = np.vstack([bounds, [[0.5 * read[0], 1.5 * read[0] + 1.0]]])
            guess = np.append(guess, read[0])
        for _ in self.jumps:
            bounds = np.vstack([bounds, [[-fall, fall]]])
            guess = np.append(guess, 0.0)
        return bounds, guess


def drying_water(values: Mapping[str, float], begin: float, readings: Readings) -> np.ndarray:
    """Return the water of a tray at each reading, mm.

    Parameters
    ----------
    values
        The four values of `BOUNDS`.
    begin
        Water at the first reading, mm.
    readings
        What was given and could evaporate, and the depth.

    Returns
    -------
    numpy.ndarray
        mm, shape ``(reading,)``.

    Notes
    -----
    The daily step of the roof with a medium alone over open drains: of what is given, a share passes that grows with
    wetness, the rest soaks in; what stands above field capacity has drained by the next reading; evapotranspiration is the
    crop coefficient times the reference, falling with the water above the wilting point once the depletion fraction is used.
    """
    wilting = values["wilting_point"] * readings.depth_mm
    usable = max(values["field_capacity"] * readings.depth_mm - wilting, 1e-6)
    reach = (1.0 - values["depletion_fraction"]) * usable
    most = values["crop_coefficient"] * readings.reference_et
    water, held = np.empty(readings.given.size), begin - wilting
    for day, (given, could) in enumerate(zip(readings.given.tolist(), most.tolist(), strict=True)):
        water[day] = held  # a reading is taken before what is given and before the day's evaporation
        if given > 0.0:
            held = min(held + given - _passed(held / usable, given, usable, readings.bypass_fraction), usable)
        if held > 0.0:
            held -= min(could * min(1.0, held / reach), held)
    return water + wilting


def _passed(wetness: float, given: float, usable: float, bypass: float) -> float:
    """Return what passes the medium at once, mm: for each millimetre soaking in, a share that grows with wetness."""
    before = min(1.0, max(0.0, wetness))
    course = before + bypass * before**2 / 2.0 + given / usable
    after = min(1.0, 2.0 * course / (1.0 + math.sqrt(1.0 + 2.0 * bypass * course)))
    return bypass * usable * (after**2 - before**2) / 2.0
