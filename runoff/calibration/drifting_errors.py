"""Errors that hang together: a scale that drifts, wind and sun on a tray. Readings then tell less than their number says.

The errors of readings are taken as one part that is new at every reading and one that fades with time,

    correlation of two readings t days apart = share phi^t        (1 for a reading with itself)

Neither `share` nor `phi` is known. Each pair on a grid gets the weight that the differences between readings and model give
it (restricted likelihood, which allows for the values that were fitted: Patterson and Thompson 1971, Biometrika 58,
545-554), and the spread of the fitted values is the mean over the grid. Errors that do not hang together cost
little: the spread is then the usual one of least squares within some per cent.
"""

from __future__ import annotations

import dataclasses

import numpy as np

_FADING = (0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98)
_SHARES = (0.25, 0.5, 0.75, 1.0)
#: Independent errors stand against all others together, one to one.
_GRID = [(0.0, 0.0), *((phi, share) for phi in _FADING for share in _SHARES)]
_PHI, _SHARE = np.array(_GRID).T
_PRIOR = np.array([0.5] + [0.5 / (len(_GRID) - 1)] * (len(_GRID) - 1))


@dataclasses.dataclass(frozen=True)
class Drift:
    """How readings err.

    Parameters
    ----------
    error
        Standard deviation of one reading, in its unit.
    next_day
        Correlation of the errors of two readings a day apart, 0 to 1.
    """

    error: float
    next_day: float


def drifting_covariance(slopes: np.ndarray, left: np.ndarray, bread: np.ndarray, times: np.ndarray) -> tuple[np.ndarray, Drift]:  # fmt: skip
    """Return the covariance of least-squares estimates whose readings have errors that may hang together.

    Parameters
    ----------
    slopes
        Change of each reading with each value, in the units of both, shape ``(reading, value)``.
    left
        Readings less model, in the unit of the readings, shape ``(reading,)``.
    bread
        Inverse of ``slopes.T @ slopes``, in the units of the values, flat directions left out, shape ``(value, value)``.
    times
        When each reading was taken, days, shape ``(reading,)``.

    Returns
    -------
    numpy.ndarray
        Covariance, in the units of the values, shape ``(value, value)``.
    Drift
        Size and correlation of the errors.
    """
    readings, values = slopes.shape
    whitened, log_sizes = _whitened(np.column_stack([slopes, left]), times)
    inner = np.einsum("kni,knj->kij", whitened, whitened)
    products, mixed, squares = inner[:, :-1, :-1], inner[:, :-1, -1], inner[:, -1, -1]
    steady = products + 1e-12 * np.eye(values) * np.trace(products, axis1=1, axis2=2)[:, None, None]
    rest = squares - np.einsum("ki,ki->k", mixed, np.linalg.solve(steady, mixed[:, :, None])[:, :, 0])
    sizes = np.maximum(rest, 1e-300) / (readings - values)
    scores = -0.5 * ((readings - values) * np.log(sizes) + log_sizes + np.linalg.slogdet(steady)[1])
    weight = _PRIOR * np.exp(scores - scores.max())
    weight /= weight.sum()
    spreads = sizes[:, None, None] * _spreads(bread @ slopes.T, times)
    drift = Drift(error=float(np.sqrt(weight @ sizes)), next_day=float(weight @ (_PHI * _SHARE)))
    return np.einsum("k,kij->ij", weight, spreads), drift


def _whitened(columns: np.ndarray, times: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the columns with what earlier readings tell taken out, in units of what is then left, for the whole grid.

    The fading part is carried from reading to reading (a Kalman filter with one state), so nothing grows with the square
    of the readings.

    Returns
    -------
    numpy.ndarray
        Shape ``(grid, reading, column)``.
    numpy.ndarray
        Sum of the logarithms of the variances left, shape ``(grid,)``.
    """
    found = np.empty((len(_GRID), *columns.shape))
    log_sizes = np.zeros(len(_GRID))
    mean, variance = np.zeros((len(_GRID), columns.shape[1])), _SHARE.copy()
    for at, row in enumerate(columns):
        if at:
            fade = _PHI ** (times[at] - times[at - 1])
            mean *= fade[:, None]
            variance = _SHARE + fade**2 * (variance - _SHARE)
        size = variance + 1.0 - _SHARE + 1e-9
        new = row - mean
        found[:, at] = new / np.sqrt(size)[:, None]
        log_sizes += np.log(size)
        gain = variance / size
        mean += gain[:, None] * new
        variance = variance * (1.0 - gain)
    return found, log_sizes


def _spreads(solve: np.ndarray, times: np.ndarray) -> np.ndarray:
    """Return the covariance of least-squares estimates for errors of variance 1, for the whole grid."""
    apart = np.abs(times[:, None] - times[None, :])
    alone = solve @ solve.T
    fading = {phi: solve @ np.where(apart > 0, phi**apart, 0.0) @ solve.T for phi in (0.0, *_FADING)}
    return np.array([alone + share * fading[phi] for phi, share in _GRID])
