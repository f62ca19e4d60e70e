"""What happens next? The moments of a year at which a class votes first, and what comes then."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from runoff.saying.scales import say
from runoff.teaching.watching import Watched

#: How far ahead a class is asked to think, days.
_AHEAD = {"clogs": 60, "first": 28, "clears": 14}


class Question(NamedTuple):
    """A question at one step of a year, its choices, which is right, and the step at which that is seen."""

    step: int
    until: int
    text: str
    choices: tuple[str, ...]
    right: int


def questions_of(roofs: Sequence[Watched]) -> list[Question]:
    """Return what a class can be asked about the roofs it watches, in the order of the year.

    Parameters
    ----------
    roofs
        Roofs through the same year; the last is the one asked about.
    """
    roof = roofs[-1]
    last = roof.hurt.shape[0] - 1
    share, worst = roof.series("waterlogged_share"), roof.hurt.max(axis=1)
    fate, found = roof.fate, []
    if fate.outlet != "open" and fate.clogs < last:
        until = min(last, fate.clogs + _AHEAD["clogs"], *([fate.clears - 1] if _cleared(roof) and fate.clears else []))
        most = float(share[fate.clogs : until + 1].max())
        half = "half of " if fate.outlet == "half clogged" else ""
        found.append(
            Question(
                fate.clogs, until, f"Today leaves cover {half}the outlet of roof B. How far does water reach within {until - fate.clogs} days?",
                ("it stays below the roots", "to the roots at the low end", "to all roots"), 0 if most == 0.0 else 1 if most < 0.99 else 2,
            )
        )  # fmt: skip
    first = roof.first_without_air()
    if first is not None and first < last and first not in {one.step for one in found}:
        until = min(last, first + _AHEAD["first"])
        band = int(worst[until])
        found.append(
            Question(
                first, until, f"The first roots of roof B have no air. How are the worst plants {until - first} days from now?",
                ("no harm to speak of", "stress likely", "losses likely"), 0 if band <= 1 else 1 if band == 2 else 2,
            )
        )  # fmt: skip
    if fate.outlet != "open" and fate.clears is not None and _cleared(roof) and fate.clears < last:
        until = min(last, fate.clears + _AHEAD["clears"])
        before, after = int(worst[fate.clears - 1]), int(worst[until])
        found.append(
            Question(
                fate.clears, until, "Today the outlet of roof B is cleared. How are its plants in two weeks?",
                ("recovered", "hurt as before", "there was no harm"), 2 if before == after == 0 else 1 if after >= before else 0,
            )
        )  # fmt: skip
    return sorted(found)


def _cleared(roof: Watched) -> bool:
    fate = roof.fate
    return fate.clears is not None and fate.clears > fate.clogs


def told(question: Question, roof: Watched, units: str = "si") -> str:
    """Return what came, in words: the choice that was right, the highest water, the plants.

    Parameters
    ----------
    question
        The moment that was voted on.
    roof
        The roof through its year.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    str
        Two sentences.
    """
    level = float(np.max(roof.series("water_depth_on_deck_mm")[question.step : question.until + 1]))
    return (
        f"{roof.when(question.until)}: {question.choices[question.right]}. The water at the outlet stood up to "
        f"{say(level, 'mm', 'level', units)} high. Plants: {roof.damage(question.until)}."
    )
