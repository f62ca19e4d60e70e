"""Self-checks of the lesson: each accepts any right route, and says what is missing when the answer is not right yet."""

from __future__ import annotations

import re
import textwrap
from typing import Any

import xarray as xr

from runoff.roof import drained_mass_kg_per_m2
from runoff.teaching.scenes import Setting, scene

#: Overflow and rain of the six days worked by hand, mm.
_SIX_DAYS_OVERFLOW, _SIX_DAYS_RAIN = 18.984, 36.0
_COLUMNS = 88
_LIGHT_KG_PER_M2, _FEW_DRY_DAYS = 119.0, 45.0


def check_six_days(answer: Any) -> str:
    """Check the share of the rain that the roof of the six-day sheet kept.

    Parameters
    ----------
    answer
        A share (0.47), a percentage (47, ``"47 %"``) or the depth kept in mm (``"17 mm"``).
    """
    kept = 1.0 - _SIX_DAYS_OVERFLOW / _SIX_DAYS_RAIN
    text = str(answer).strip().lower().replace(",", ".")
    number = re.search(r"-?\d+(\.\d+)?", text)
    if not number:
        return _said(f"Not yet: write a number, for example 0.5 or 50 % (you wrote {answer!r}).")
    value = float(number.group())
    if "mm" in text:
        right = abs(value - kept * _SIX_DAYS_RAIN) <= 0.5
    else:
        share = value / 100.0 if "%" in text or value > 1.0 else value
        right = abs(share - kept) <= 0.01  # a percent: the sheet is worked with rounded numbers
    if right:
        return _said(
            "Right: 36 mm fell, 18.98 mm left, so 17.02 mm or 47 % was kept. It went to the plants and back to the air."
        )
    return _said(
        "Not yet: add up the six overflows, take them from the 36 mm that fell, and divide what was kept by what fell."
    )


def check_overflow_height(setting: Setting, weather: xr.Dataset) -> str:
    """Check a roof with a clogged outlet that its emergency overflow should keep from drowning.

    Any height that does it is right: the roof is run through the whole record.
    """
    if setting.outlet != "clogged":
        return _said(f'Not yet: the outlet must stay clogged in this exercise (it is "{setting.outlet}").')
    if setting.overflow_mm is None:
        return _said("Not yet: there is no emergency overflow. Give it a height above the deck.")
    days = float(scene(setting, weather).facts["waterlogged_days"])
    if days < 0.5:
        return _said(
            f"Right: with the overflow at {setting.overflow_mm:g} mm water never stays long enough in the medium to count "
            f"({days:.1f} waterlogged days a year). Roots keep their air as long as the water level stays well below them."
        )
    return _said(
        f"Not yet: at {setting.overflow_mm:g} mm the medium is still waterlogged on {days:.0f} days a year. Where does the water "
        "level stand in the picture, and where do the roots begin?"
    )


def check_light_and_green(setting: Setting, weather: xr.Dataset) -> str:
    """Check a roof that must be light and still seldom dry; several settings are right."""
    found = scene(setting, weather)
    mass, dry = drained_mass_kg_per_m2(found.roof), float(found.facts["dry_days"])
    wet = float(found.facts["waterlogged_days"])
    faults = []
    if mass > _LIGHT_KG_PER_M2:
        faults.append(f"it weighs {mass:.0f} kg/m2 drained, more than {_LIGHT_KG_PER_M2:.0f}")
    if dry > _FEW_DRY_DAYS:
        faults.append(f"it is dry on {dry:.0f} days a year, more than {_FEW_DRY_DAYS:.0f}")
    if wet > 3.0:
        faults.append(f"it stands waterlogged on {wet:.0f} days a year, more than 3")
    if not faults:
        return _said(
            f"Right: {mass:.0f} kg/m2 drained, {dry:.0f} dry days and {wet:.0f} waterlogged days a year. Other answers are right too. "
            "Whether a roof can carry it is for a structural engineer to say."
        )
    return _said(f"Not yet: {'; '.join(faults)}.")


def _said(words: str) -> str:
    """Return a sentence in lines that a cell of a notebook shows whole."""
    return textwrap.fill(words, _COLUMNS)
