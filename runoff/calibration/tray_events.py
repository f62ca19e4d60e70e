"""What happened to a tray beside drying: a spill, a scale set anew, a slip of the pen, a second stage of drying.

A change between two readings that no drying explains is a jump that lasts, or a slip that the next reading takes back. Each
is allowed for and the tray fitted again, so that one does not hide or feign another. The same is done for a tray that
dries at a steady rate at first; the one of the two that explains more with less (Schwarz 1978, Annals of Statistics 6, 461-464)
is believed, and a steady rate only where its range leaves out nothing.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np

from runoff.calibration.fitting import Estimate
from runoff.calibration.tray_model import Readings, Tray

#: A change counts as a jump beyond so many robust standard deviations of all changes, and beyond so much water, mm (own
#: proposal: of 90 changes one passes five deviations by chance in 20,000 logs).
_BEYOND, _BEYOND_MM = 5.0, 0.3
#: So many are looked for; a log with more is no measurement.
_MOST = 4
#: A steady rate is believed from this share of usable water on (own proposal).
_STAGE_SHARE = 0.15


@dataclasses.dataclass(frozen=True, kw_only=True)
class Explanation:
    """What explains the readings of a tray best.

    Parameters
    ----------
    jumps
        Day and size, mm, of each change that lasts.
    slips
        Day and size, mm, of each reading that stands apart.
    steady_share
        Share of the usable water given up at a steady rate; 0 where none shows, or where it was not to be fitted.
    rmse_mm
        Root mean square difference that is left.
    """

    jumps: tuple[tuple[int, float], ...]
    slips: tuple[tuple[int, float], ...]
    steady_share: float
    rmse_mm: float

    @property
    def is_plain(self) -> bool:
        """Whether drying as the model has it is enough."""
        return not (self.jumps or self.slips or self.steady_share)


def explanation_of(readings: Readings, held: Mapping[str, float], plain: Estimate) -> Explanation:
    """Return what explains the readings best, beside drying as the model has it.

    Parameters
    ----------
    readings, held
        As in `Tray`.
    plain
        The fit without any of it.

    Returns
    -------
    Explanation
        Jumps, slips and the share given up at a steady rate, with the difference that is left, mm.
    """
    one_stage = _with_events(Tray(readings=readings, held=held), plain)
    if held.get("depletion_fraction") != 0.0:
        return _told(*one_stage, 0.0)
    tray = Tray(readings=readings, held={name: value for name, value in held.items() if name != "depletion_fraction"})
    two_stage = _with_events(tray, tray.fit())
    at = tray.free.index("depletion_fraction")
    share, low = float(two_stage[1].best[at]), float(two_stage[1].low[at])
    if low > 0.0 and share > _STAGE_SHARE and _score(*two_stage) < _score(*one_stage):
        return _told(*two_stage, share)
    return _told(*one_stage, 0.0)


def _with_events(tray: Tray, found: Estimate) -> tuple[Tray, Estimate]:
    """Allow for one jump or slip after the other, the largest first."""
    for _ in range(_MOST):
        left, days = tray.left(found.best), tray.used
        steps = np.diff(left)
        if steps.size < 5:
            break
        scatter = 1.4826 * float(np.median(np.abs(steps - np.median(steps))))
        at = int(np.argmax(np.abs(steps)))
        if abs(steps[at]) <= max(_BEYOND * scatter, _BEYOND_MM):
            break
        # three readings on each side: a slip is taken back by the next one, a jump lasts
        before, after = np.median(left[max(0, at - 2) : at + 1]), np.median(left[at + 1 : at + 4])
        lasts = abs(after - before) > 0.5 * abs(steps[at]) and at + 2 < left.size
        if lasts or at == 0:
            tray = dataclasses.replace(tray, jumps=(*tray.jumps, int(days[at + 1])))
            start = np.append(found.best, steps[at])
        else:
            lone = at + 1 if at + 1 == left.size - 1 or abs(left[at + 1] - before) > abs(left[at] - after) else at
            tray = dataclasses.replace(tray, slips=(*tray.slips, int(days[lone])))
            start = found.best
        found = tray.fit(start)
    return tray, found


def _score(tray: Tray, found: Estimate) -> float:
    """Return how badly a tray explains its readings, each event counted as two values: its day and its size."""
    left, readings = tray.left(found.best), tray.readings.seen.size
    values = len(tray.free) + 2 * len(tray.jumps) + 2 * len(tray.slips)
    return readings * float(np.log(np.mean(left**2) + 1e-12)) + values * float(np.log(readings))


def _told(tray: Tray, found: Estimate, share: float) -> Explanation:
    left = (tray.readings.read - tray.water(found.best))[list(tray.slips)]
    return Explanation(
        jumps=tuple(sorted(zip(tray.jumps, map(float, tray.sizes(found.best)), strict=True))),
        slips=tuple(sorted(zip(tray.slips, map(float, left), strict=True))),
        steady_share=share,
        rmse_mm=float(np.sqrt(np.mean(tray.left(found.best) ** 2))),
    )
