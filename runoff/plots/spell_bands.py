"""Bands of spells that are too wet or too dry for the plants: one list for figures, text and lessons.

A reading aid: no published day limit exists for planted roofs. The wet bands rest on the 48-hour rule of roof drainage
and on a pot test in which 30 % of *Sedum spurium* survived 28 days of standing water (Zhang et al., Acta Horticulturae
1263). The dry bands rest on VanWoert et al. (2005, HortScience 40:659: water at least every 14 days at 20 mm, every 28 at
60 mm; alive after 88 days) and on a trial in which all plants had lost their display value at 40 days (Polish Journal of
Environmental Studies 32(3), 2023).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from runoff.plots.style import BLUE, ORANGE, SKY, VERMILION


class Band(NamedTuple):
    """Spells of a length: first and last day, words, and how they are drawn."""

    first_day: int
    last_day: float
    words: str
    color: str
    hatch: str
    mark: str  # marker of single points
    share: float  # height of a bar, as a share of its row

    @property
    def days(self) -> str:
        """The range in words, for example ``3-7 days``."""
        if self.first_day <= 1:
            return f"to {self.last_day:g} days"
        if np.isinf(self.last_day):
            return f"{self.first_day} days and more"
        return f"{self.first_day}-{self.last_day:g} days"


WET_BANDS: tuple[Band, ...] = (
    Band(1, 2, "none", "#CFE6F5", "", "o", 0.30),
    Band(3, 7, "watch", SKY, "", "^", 0.50),
    Band(8, 14, "stress likely", BLUE, "", "s", 0.68),
    Band(15, 27, "losses likely", "#004B78", "", "D", 0.85),
    Band(28, np.inf, "majority lost (pot test)", "#001C30", "", "X", 1.0),
)
DRY_BANDS: tuple[Band, ...] = (
    Band(1, 13, "none", "#FBE8C0", "", "o", 0.30),
    Band(14, 27, "watch (thin medium)", ORANGE, "", "^", 0.50),
    Band(28, 39, "stress likely", VERMILION, "", "s", 0.68),
    Band(40, 89, "severe stress", "#8F3E00", "", "D", 0.85),
    Band(90, np.inf, "survival in doubt", "#3F1B00", "", "X", 1.0),
)


def band_of(days: float, bands: tuple[Band, ...] = WET_BANDS) -> Band | None:
    """Return the band of a spell of that many days; None for no spell at all.

    Examples
    --------
    >>> band_of(2).words, band_of(3).words, band_of(28).words
    ('none', 'watch', 'majority lost (pot test)')
    """
    if not days > 0:
        return None
    return next(band for band in bands if days < np.floor(band.last_day) + 1)
