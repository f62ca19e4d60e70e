"""What lies in the future is no evidence: dates of a signature or a visit, days of a weather record."""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING

from runoff.errors import RunoffError, WeatherError

if TYPE_CHECKING:
    import xarray as xr

#: A day is over somewhere on earth before it is over here.
_OTHER_ZONES = datetime.timedelta(days=1)
_YEAR = re.compile(r"(?<!\d)(?:19|2\d)\d\d(?!\d)")


def lies_in_future(text: str, today: datetime.date | None = None) -> bool:
    """Tell whether words name a day that has not come: as a date of ISO 8601, or in other words by a year to come.

    Examples
    --------
    >>> today = datetime.date(2026, 11, 27)
    >>> [lies_in_future(one, today) for one in ("2026-11-28", "2026-11-27", "3 May 2027", "27.11.2026", "spring", "")]
    [True, False, True, False, False, False]
    """
    today = today or datetime.date.today()
    try:
        return datetime.date.fromisoformat(text.strip()) > today
    except ValueError:
        return any(int(year) > today.year for year in _YEAR.findall(text))


def refuse_future_date(text: str | None) -> None:
    """Refuse a date of the application that has not come; words that name no year are printed as given."""
    if lies_in_future(text or ""):
        raise RunoffError(
            f"dossier: date {text} lies in the future; give the day the dossier is signed, or leave it blank"
        )


def refuse_future_days(daily: xr.Dataset) -> None:
    """Refuse a record that holds days to come: a claim rests on weather that was.

    Raises
    ------
    WeatherError
        Naming the last day.
    """
    last = str(daily["time"].to_numpy()[-1])[:10]
    today = datetime.date.today()
    if last > str(today + _OTHER_ZONES):  # letters of ISO dates have the order of the days, in every calendar
        raise WeatherError(
            f"dossier: the weather ends on {last}, and today is {today}: a claim rests on weather that was. Take the years "
            "until today (--end); what a changed climate does to the roof, `runoff simulate` tells"
        )
