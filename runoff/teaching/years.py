"""One year of every roof a page of the lesson can show: what is chosen, and the runs behind it.

An outlet that clogs in the middle of a year is two runs, the second starting from the last state of the first; a cleared one is
three. The numbers are those of `runoff.simulate`, day for day.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from runoff.findings.spells import damage_index
from runoff.roof import Roof
from runoff.simulation import simulate
from runoff.teaching.records import is_southern
from runoff.teaching.scenes import Setting, roof_of

#: What lies below the medium, what the medium is, and how the deck falls: the choices that are built.
BELOW = ("cups up", "cups down", "mat alone")
MEDIA = ("mineral mix", "garden soil")
FALLS = (0.02, 0.0)
#: Places along the fall whose plants are followed, from the low end up.
PLACES = 8

_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip


class OutletYear(NamedTuple):
    """What happens to the outlets in a year: the share they lose, from which month, until which; months of the north."""

    word: str
    blocked: float
    clogs: int | None = None
    clears: int | None = None

    def month(self, name: str, *, south: bool) -> int | None:
        """Return the month of ``clogs`` or ``clears``, half a year later in the south."""
        month: int | None = getattr(self, name)
        return month if month is None or not south else (month + 5) % 12 + 1

    def words(self, *, south: bool) -> str:
        """Return it as it stands on the control."""
        if self.clogs is None:
            return "open all year"
        clogs, clears = self.month("clogs", south=south), self.month("clears", south=south)
        how = "half clogged" if self.blocked < 1.0 else "clogged"
        end = "" if clears is None else f", cleared 1 {_MONTHS[clears - 1]}"
        return f"{how} from 1 {_MONTHS[(clogs or 1) - 1]}{end}"


OUTLET_YEARS = (
    OutletYear("open", 0.0),
    OutletYear("half", 0.5, clogs=10),
    OutletYear("autumn", 1.0, clogs=10),
    OutletYear("autumn, cleared", 1.0, clogs=10, clears=5),
    OutletYear("spring", 1.0, clogs=4),
    OutletYear("spring, cleared", 1.0, clogs=4, clears=7),
)


class Built(NamedTuple):
    """A roof as it is built: what lies below the medium, the medium, the fall."""

    below: str
    medium: str
    fall: float

    def roof(self, base: Roof | None = None) -> Roof:
        """Return the roof: the sample roof, all planted, edge 150 mm above the medium, without an emergency overflow."""
        return roof_of(Setting(board=self.below, medium=self.medium, fall=self.fall), base)


def all_built() -> list[Built]:
    """Return every roof that can be chosen."""
    return [Built(below, medium, fall) for below in BELOW for medium in MEDIA for fall in FALLS]


def year_runs(weather: xr.Dataset) -> Iterator[tuple[OutletYear, xr.Dataset]]:
    """Run every roof through one year under every fate of its outlets.

    Parameters
    ----------
    weather
        One year of a daily record.

    Yields
    ------
    tuple
        A fate of the outlets, and the run of all roofs of `all_built` under it (dimension ``design``). The open year is
        ``runoff.simulate(roof, weather)``; the others branch off from it on the day the outlets clog.
    """
    roofs = [one.roof() for one in all_built()]
    south = is_southern(weather)
    runs: dict[tuple[float, int | None], xr.Dataset] = {(0.0, None): simulate(roofs, weather)}
    for fate in OUTLET_YEARS:
        clogs, clears = fate.month("clogs", south=south), fate.month("clears", south=south)
        run = runs[0.0, None]
        if clogs is not None:
            key = (fate.blocked, fate.clogs)
            if key not in runs:
                runs[key] = _from(run, _blocked(roofs, fate.blocked), weather, clogs)
            run = runs[key]
            if clears is not None:
                run = _from(run, roofs, weather, clears)
        yield fate, run


def first_of_month(weather: xr.Dataset, month: int) -> int:
    """Return the step of the first day of a month."""
    stamps: Any = weather["time"].to_index()
    return int(np.flatnonzero(np.asarray(stamps.month) == month)[0])


def clogging_year(
    roof: Roof, weather: xr.Dataset, open_run: xr.Dataset, *, blocked: float, clogs: int, clears: int | None = None
) -> list[xr.Dataset]:
    """Run one roof through a year in which its outlets clog on one day and are cleared on another.

    Parameters
    ----------
    roof
        The roof with its outlets open.
    weather
        One year of a daily record.
    open_run
        Its run through this year.
    blocked
        Share of the outlets that is lost, 0-1.
    clogs, clears
        Steps of the year on which leaves cover the outlets and on which they are cleared; None: not in this year.

    Returns
    -------
    list of xarray.Dataset
        Runs that follow one another and make up the year: open, clogged, open again.

    Raises
    ------
    RunoffError
        When `blocked` is above 1, or the weather cannot be run.
    """
    if blocked <= 0.0:
        return [open_run]
    shut = roof.replace({"roof.blocked_fraction": blocked})
    cleared = clears if clears is not None and clears > clogs else None
    before = [open_run.isel(time=slice(None, clogs))] if clogs > 0 else []
    # clogged from the first day on, it begins as an open roof ends such a year
    state = before[-1] if before else open_run
    clogged = simulate(shut, weather.isel(time=slice(clogs, cleared)), start_state=state)
    if cleared is None:
        return [*before, clogged]
    return [*before, clogged, simulate(roof, weather.isel(time=slice(cleared, None)), start_state=clogged)]


def _blocked(roofs: list[Roof], share: float) -> list[Roof]:
    return [roof.replace({"roof.blocked_fraction": share}) for roof in roofs]


def _from(run: xr.Dataset, roofs: list[Roof], weather: xr.Dataset, month: int) -> xr.Dataset:
    return _from_day(run, roofs, weather, first_of_month(weather, month))


def _from_day(run: xr.Dataset, roofs: Any, weather: xr.Dataset, day: int) -> xr.Dataset:
    """Return a run up to a day, and from it on that of other roofs starting in its last state."""
    before = run.isel(time=slice(None, day))
    after = simulate(roofs, weather.isel(time=slice(day, None)), start_state=before)
    onward = [name for name in before.data_vars if "time" in before[name].dims]
    return xr.concat(
        [before[onward], after[onward]], "time", coords="minimal", compat="override", combine_attrs="override"
    )


def damage_along_the_fall(run: xr.Dataset, *, places: int = PLACES) -> xr.DataArray:
    """Return the damage to the roots at places along the fall, from the low end up.

    Parameters
    ----------
    run
        A daily run.
    places
        Number of strips of equal area; the middle of each is looked at.

    Returns
    -------
    xarray.DataArray
        `damage_index` on ``place`` and ``time``: a place is waterlogged on the days on which `waterlogged_share`, which
        counts from the low end, reaches it.
    """
    middle = xr.DataArray((np.arange(places) + 0.5) / places, dims="place")
    return damage_index(run.assign(waterlogged=run["waterlogged_share"] >= middle - 1e-9))
