"""Exercises that answer back: any right route counts, the usual wrong ways are recognised, hints come in two steps.

What is right is worked out by the package when it is asked for; no answer is written down here.
"""

from __future__ import annotations

import html
import math
import re
import textwrap
from typing import Any

import xarray as xr

from runoff.errors import RunoffError
from runoff.roof import GrowingMedium, drained_mass_kg_per_m2
from runoff.teaching.day_sheets import RAIN, kept_mm, six_days
from runoff.teaching.scenes import Setting, material_of, scene
from runoff.units import convert

_COLUMNS = 88
_LIGHT_KG_PER_M2, _FEW_DRY_DAYS, _FEW_WET_DAYS = 119.0, 45.0, 3.0
_NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?|-?[.,]\d+")
_INCH = re.compile(r"(\bin\b|inch|\"|″)")


class Reply(str):
    """What an exercise says: shown as words, in lines that are never broken inside a word."""

    __slots__ = ()

    def __repr__(self) -> str:
        """Return the words as lines."""
        return textwrap.fill(self, _COLUMNS, break_long_words=False, break_on_hyphens=False)

    def _repr_html_(self) -> str:
        return f'<p role="status" style="max-width:60em">{html.escape(self)}</p>'

    @property
    def right(self) -> bool:
        """Whether the answer was right."""
        return self.startswith("Right")


class Tries:
    """Counts wrong answers to an exercise, so that the second one gets the second hint."""

    def __init__(self) -> None:
        self._wrong: dict[str, int] = {}

    def hint(self, exercise: str, first: str, second: str) -> Reply:
        """Return "not yet" with the hint that is due.

        Parameters
        ----------
        exercise
            Name of the exercise; each is counted by itself.
        first, second
            The hint after the first wrong answer, and after every further one.

        Returns
        -------
        Reply
            An answer that is not right.
        """
        self._wrong[exercise] = self._wrong.get(exercise, 0) + 1
        return Reply(f"Not yet. {first if self._wrong[exercise] == 1 else second}")


def read_number(given: Any, *, example: str) -> tuple[float, str]:
    """Read a number as a pupil writes it: ``17``, ``"17 mm"``, ``"0.67 in"``, ``"47 %"``, ``"17/36"``.

    Returns
    -------
    tuple
        The number, and its kind: ``"mm"`` (inches are converted), ``"%"``, ``"part"`` for a fraction written out, or ``""``.

    Raises
    ------
    RunoffError
        When there is no number, or more than one.
    """
    text = "" if given is None else str(given).strip().lower()
    if isinstance(given, bool) or not text:
        raise RunoffError(f"Not yet: write an answer between the quotation marks, for example {example}.")
    parts = re.fullmatch(r"\s*(-?\d+(?:[.,]\d+)?)\s*(?:/|of)\s*(\d+(?:[.,]\d+)?)\s*(?:mm)?\s*", text)
    if parts:
        above, below = (float(one.replace(",", ".")) for one in parts.groups())
        if below == 0.0:
            raise RunoffError("Not yet: nothing can be divided by 0.")
        return above / below, "part"
    numbers = _NUMBER.findall(text)
    if len(numbers) != 1:
        what = "no number in it" if not numbers else "more than one number"
        raise RunoffError(f"Not yet: there is {what}; write one, for example {example} (you wrote {given!r}).")
    value = float(numbers[0].replace(",", "."))
    if not math.isfinite(value):
        raise RunoffError(f"Not yet: write a number, for example {example} (you wrote {given!r}).")
    if _INCH.search(text):
        return float(convert(value, "in", "mm")), "mm"
    return value, "mm" if "mm" in text else "%" if "%" in text or "percent" in text or "per cent" in text else ""


def read_depth(given: str) -> float:
    """Return a depth as a pupil writes it, mm.

    Raises
    ------
    RunoffError
        When there is no one number in it, or a share.
    """
    value, kind = read_number(given, example="100 mm or 4 in")
    if kind in ("%", "part"):
        raise RunoffError(f"Not yet: write a depth, for example 100 mm or 4 in (you wrote {given!r}).")
    return value


def check_six_days(answer: Any, tries: Tries | None = None) -> Reply:
    """Check how much of the rain the roof of the six-day sheet kept.

    Parameters
    ----------
    answer
        A depth (``"17 mm"``, ``"0.67 in"``), a share (0.47, ``"47 %"``, ``"17/36"``) or a plain number.
    tries
        Counts wrong answers; by default every answer is the first.
    """
    tries, total, kept = tries or Tries(), sum(RAIN), kept_mm()
    try:
        value, kind = read_number(answer, example="0.5, 50 % or 18 mm")
    except RunoffError as error:
        return Reply(str(error))
    depths = {"mm": [value], "%": [value / 100.0 * total], "part": [value * total]}.get(kind)
    if depths is None:  # a plain number may be a share, a percentage or a depth
        depths = [value * total] if 0.0 <= value <= 1.0 else [value, value / 100.0 * total]
    if any(abs(depth - kept) <= 0.4 for depth in depths):  # the sheet is worked with rounded numbers
        return Reply(
            f"Right: {total:.0f} mm fell, {total - kept:.2f} mm ran off, so {kept:.2f} mm or {100 * kept / total:.0f} % was kept. It went "
            "to the plants and back to the air."
        )
    ways = {
        "That is what ran off. The rest was kept.": total - kept,
        "You let the cups take nothing on day 5: they are not full that morning, and they take their part first.": total
        - _overflow(cups=False),
        "You let all rain fall through to the medium: leaves hold 2 mm of it first.": total - _overflow(leaves=False),
        "That is what the stores hold at the end, or all that fell; what was kept also went back to the air.": total,
    }
    for words, depth in ways.items():
        if any(abs(one - depth) <= 0.4 for one in depths):
            return Reply(f"Not yet. {words}")
    return tries.hint(
        "six days",
        "Add up the overflow of the six days first. What did not run off was kept.",
        "The overflow comes on two days only, days 1 and 5. On each, take what falls through the leaves, fill the medium to 28 mm and "
        "then the cups to 4 mm; the rest runs off. Take the sum from the 36 mm that fell.",
    )


def _overflow(*, leaves: bool = True, cups: bool = True) -> float:
    """Return the overflow of the six days, worked with a step left out: the usual wrong ways."""
    medium, cup, gone = 28.0, 4.0, 0.0
    for rain in RAIN:
        held = min(2.0, rain) if leaves else 0.0
        medium += rain - held
        sinks = max(0.0, medium - 28.0)
        medium -= sinks
        takes = min(sinks, 4.0 - cup) if cups else 0.0
        cup += takes
        gone += sinks - takes
        missing = 4.0 - held
        given = missing * min(1.0, (medium - 8.0) / 20.0)
        medium -= given
        cup -= min(cup, 0.5 * (missing - given))
    return gone


def check_days_without_air(answer: Any, tries: Tries | None = None) -> Reply:
    """Check on how many of the six days the roots of the clogged roof lack air."""
    tries, table = tries or Tries(), six_days(clogged=True)
    right = int(table["without air"].sum())
    try:
        value, _ = read_number(str(answer).lower().replace("days", "").replace("day", ""), example="2 days")
    except RunoffError as error:
        return Reply(str(error))
    if value == right:
        days = ", ".join(str(day) for day in table.index[table["without air"]])
        return Reply(
            f"Right: on days {days}. Not a drop ran off, and still it took only one wet day to drown the roots again."
        )
    if value == int((table["air"] < 10.0).sum()):
        return Reply(
            "Not yet. You looked at the air of the whole medium. Where water stands higher than 25 mm, the roots down there have none."
        )
    if value == len(table):
        return Reply("Not yet. Not on every day: the plants drink the water down below the roots in between.")
    return tries.hint(
        "days without air",
        "Roots lack air (are waterlogged) when water stands higher than 25 mm in the medium, or less than 10 % is air.",
        "Fill in the column of the free water first. What is above 10 mm stands five times as high in the medium: 16 mm of free water, 30 mm high.",
    )


def check_overflow_height(answer: Any, weather: xr.Dataset, tries: Tries | None = None) -> Reply:
    """Check a height of the emergency overflow that should keep the roots of a clogged roof in air.

    Parameters
    ----------
    answer
        A height above the deck (60, ``"60 mm"``, ``"2.4 in"``), or a `Setting`.
    weather
        The record the roof is run through: any height that works is right.
    tries
        Counts wrong answers.

    Returns
    -------
    Reply
        Right or not yet, and why; what cannot be read or run is not yet, with the reason.
    """
    tries = tries or Tries()
    if isinstance(answer, Setting):
        if answer.outlet != "clogged":
            return Reply(f'Not yet: the outlet must stay clogged in this exercise (it is "{answer.outlet}").')
        if answer.overflow_mm is None:
            return Reply("Not yet: there is no emergency overflow. Give it a height above the deck.")
        height = answer.overflow_mm
        setting = answer
    else:
        try:
            height, kind = read_number(answer, example="90 mm or 3.5 in")
            if kind in ("%", "part"):
                return Reply("Not yet: write a height above the deck, for example 90 mm or 3.5 in.")
            setting = Setting(outlet="clogged", overflow_mm=height, fall=0.0)
        except RunoffError as error:
            return Reply(str(error) if str(error).startswith("Not yet") else f"Not yet: {error}.")
    try:
        facts = scene(setting, weather).facts
    except RunoffError as error:
        return Reply(f"Not yet: {error}.")
    days = float(facts["waterlogged_days"])
    if days < 0.5:
        return Reply(
            f"Right: with the overflow at {height:g} mm water never stays long enough in the medium to count ({days:.1f} waterlogged days a "
            "year). Roots keep their air as long as the water stands well below them. On a real roof height and size follow the local code."
        )
    top, third = 25.0, setting.depth_mm / 3.0
    where = min(2, max(0, int((height - top) / third)))
    place = ("lowest", "middle", "highest")[where]
    return tries.hint(
        "overflow height",
        f"At {height:g} mm the medium is waterlogged on {days:.0f} days a year: water stands up to the {place} third of the roots before it runs off.",
        f"{days:.0f} days a year. The board is 25 mm high and the roots begin above it. Water may reach at most a quarter of the way up the medium.",
    )


def check_light_and_green(setting: Any, weather: xr.Dataset, tries: Tries | None = None) -> Reply:
    """Check a roof that must be light and still seldom dry; several settings are right.

    Parameters
    ----------
    setting
        A `Setting`; anything else is answered with what is asked for.
    weather
        The record the roof is run through.
    tries
        Taken as by the other exercises; nothing is counted here.

    Returns
    -------
    Reply
        Right, or not yet with all that is amiss.

    Raises
    ------
    RunoffError
        As `scene`.
    """
    if not isinstance(setting, Setting):
        return Reply(
            f"Not yet: describe a roof by its layers, for example depth_mm=100, mulch=True (given {setting!r})."
        )
    found = scene(setting, weather)
    mass, dry = drained_mass_kg_per_m2(found.roof), float(found.facts["dry_days"])
    wet = float(found.facts["waterlogged_days"])
    faults = []
    if mass > _LIGHT_KG_PER_M2:
        faults.append(f"it weighs {mass:.0f} kg/m2 drained, more than {_LIGHT_KG_PER_M2:.0f}")
    if dry > _FEW_DRY_DAYS:
        faults.append(f"it is dry on {dry:.0f} days a year, more than {_FEW_DRY_DAYS:.0f}")
    if wet > _FEW_WET_DAYS:
        faults.append(f"it stands waterlogged on {wet:.0f} days a year, more than {_FEW_WET_DAYS:.0f}")
    if not faults:
        return Reply(
            f"Right: {mass:.0f} kg/m2 drained, {dry:.0f} dry days and {wet:.0f} waterlogged days a year. Other answers are right too. "
            "Whether a roof can carry it is for a structural engineer to say."
        )
    return Reply(f"Not yet: {'; '.join(faults)}.")


def air_after_draining(medium: str, depth_mm: float) -> float:
    """Return the air in a layer that has drained freely, 0-1, as a mean over its depth.

    Parameters
    ----------
    medium
        ``mineral mix`` or ``garden soil``.
    depth_mm
        Depth of the layer, mm.
    """
    layer = GrowingMedium(material=material_of(medium), depth_mm=depth_mm)
    return (layer.porosity * depth_mm - layer.drained_water_mm) / depth_mm


_NO_DEPTH = re.compile(r"\b(no|none|never|nowhere|not|nothing)\b")
_DEEPEST_MM = 1000.0


def check_depth_for_air(answer: Any, tries: Tries | None = None) -> Reply:
    """Check from which depth on, up to a metre, garden soil that drains freely has a tenth of air; the answer may be "none"."""
    tries = tries or Tries()
    least = next(
        (mm for mm in range(20, int(_DEEPEST_MM) + 1, 10) if air_after_draining("garden soil", mm) >= 0.10), None
    )
    if _NO_DEPTH.search(str(answer).lower()) and answer is not None:
        if least is None:
            return Reply(
                f"Right: at 80 mm garden soil has {100 * air_after_draining('garden soil', 80.0):.0f} % air after draining, and at a metre "
                f"{100 * air_after_draining('garden soil', _DEEPEST_MM):.0f} %; no roof carries that. Its pores are too fine: they hold water against gravity, "
                f"whatever lies below. The mineral mix has {100 * air_after_draining('mineral mix', 80.0):.0f} % at 80 mm."
            )
        return tries.hint(
            "depth for air", "There is such a depth.", "Move the slider on until the bar reaches the mark."
        )
    try:
        value, kind = read_number(answer, example="150 mm, 6 in, or none")
    except RunoffError as error:
        return Reply(str(error))
    if kind in ("%", "part") or not 10.0 <= value <= _DEEPEST_MM:
        return Reply("Not yet: write a depth up to a metre, for example 150 mm or 6 in, or the word none.")
    if least is not None and abs(value - least) <= 20.0:
        return Reply(f"Right: about {least} mm.")
    return tries.hint(
        "depth for air",
        f"Garden soil {value:.0f} mm deep has {100 * air_after_draining('garden soil', value):.0f} % air after draining, and roots need about 10 %.",
        "Move the slider from one end to the other and watch the bar of the garden soil. Does it reach the dashed mark anywhere?",
    )
