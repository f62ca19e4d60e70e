"""Do differences keep their sign longer than chance allows? Then the model or the record lacks something."""

from __future__ import annotations

import dataclasses

import numpy as np

#: Fewer runs than chance gives in one of so many records count as too few.
_RARE = 1000
_LEAST = 10


@dataclasses.dataclass(frozen=True)
class Runs:
    """Runs of one sign in a series of differences.

    Parameters
    ----------
    seen, expected
        Runs there are, and how many chance gives on average.
    chance
        Probability of so few runs or fewer by chance; 1 for a series too short to tell.
    """

    seen: int
    expected: float
    chance: float

    @property
    def too_few(self) -> bool:
        """Whether so few runs come up by chance in less than one record of a thousand."""
        return self.chance < 1.0 / _RARE

    @property
    def words(self) -> str:
        """The runs in words."""
        return f"{self.seen} runs of one sign where chance gives about {self.expected:.0f}"


def runs_of(differences: np.ndarray) -> Runs:
    """Return the runs of one sign, and how likely chance gives so few.

    Parameters
    ----------
    differences
        In order of time; zeros and missing ones are left out.

    Notes
    -----
    Wald and Wolfowitz 1940, Annals of Mathematical Statistics 11, 147-162: with n and m differences of either sign the
    runs have mean 1 + 2nm/(n + m) and variance 2nm(2nm - n - m) / ((n + m)^2 (n + m - 1)); their distribution is taken as normal.

    Examples
    --------
    >>> runs_of(np.array([1.0, 2.0, -1.0, 3.0, -2.0, -1.0])).seen
    4
    """
    from scipy.special import ndtr

    known = differences[np.isfinite(differences) & (differences != 0.0)]
    up = known > 0
    seen = int(known.size > 0) + int((up[1:] != up[:-1]).sum())
    n, m = int(up.sum()), int((~up).sum())
    if min(n, m) == 0 or n + m < _LEAST:
        return Runs(seen, float("nan"), 0.0 if n + m >= 2 * _LEAST else 1.0)
    expected = 1.0 + 2.0 * n * m / (n + m)
    spread = np.sqrt(2.0 * n * m * (2.0 * n * m - n - m) / ((n + m) ** 2 * (n + m - 1.0)))
    return Runs(seen, expected, float(ndtr((seen + 0.5 - expected) / spread)))
