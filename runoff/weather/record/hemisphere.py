"""Which half of the earth a record comes from: it turns the seasons round."""

from __future__ import annotations

import xarray as xr


def is_southern(weather: xr.Dataset) -> bool | None:
    """Tell whether a record lies south of the equator.

    Parameters
    ----------
    weather
        With the coordinate ``lat`` (degrees), one for all or one for each cell.

    Returns
    -------
    bool or None
        None where nobody says, or where cells lie on both sides.
    """
    if "lat" not in weather.variables:
        return None
    south = weather["lat"].to_numpy() < 0.0
    if south.size == 0 or south.any() != south.all():
        return None
    return bool(south.all())


def months_in_hemisphere(northern: tuple[int, ...], weather: xr.Dataset) -> tuple[int, ...]:
    """Return months of a northern season as they fall where the record comes from: half a year later in the south.

    Parameters
    ----------
    northern
        Months 1-12.
    weather
        Says the hemisphere; the north is taken where it does not.

    Examples
    --------
    >>> months_in_hemisphere((4, 5, 6), xr.Dataset(coords={"lat": -33.9}))
    (10, 11, 12)
    """
    if not is_southern(weather):
        return tuple(northern)
    return tuple((month + 5) % 12 + 1 for month in northern)
