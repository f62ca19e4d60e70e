"""Pairs of roofs a class compares: they differ in one thing, and each pair answers one question."""

from __future__ import annotations

from typing import NamedTuple

from runoff.teaching.years import Built

_PLAIN = Built("cups up", "mineral mix", 0.02)


class Choice(NamedTuple):
    """One of the two roofs: how it is built, and the fate of its outlets."""

    built: Built
    outlet: str


class Comparison(NamedTuple):
    """A question to a class: two roofs, what to think about first, and what the run shows."""

    title: str
    first: Choice
    second: Choice
    predict: str
    shows: str


COMPARISONS = (
    Comparison(
        "Outlet open, or covered by autumn leaves",
        Choice(_PLAIN, "open"),
        Choice(_PLAIN, "autumn"),
        "Which roof keeps more rain out of the sewer by next summer? Which one would you rather be planted on?",
        "The blocked roof keeps more rain, and that is not good: it keeps it among the roots. Water rises from the low end. On cold days "
        "little rots; on warm days roots that stand in water suffocate. An open roof keeps less, and stays alive to keep it every "
        "year.",
    ),
    Comparison(
        "Cleared in May, or never",
        Choice(_PLAIN, "autumn, cleared"),
        Choice(_PLAIN, "autumn"),
        "On 1 May somebody clears the first roof. Do its plants come back?",
        "The water is gone within a day or two and the medium has air again. Roots that drowned in the warm weeks before do not grow back "
        "with it: the plants stay hurt for the season.",
    ),
    Comparison(
        "Noticed in July, or not",
        Choice(_PLAIN, "spring, cleared"),
        Choice(_PLAIN, "spring"),
        "The outlets clog on 1 April. How long does it take until the water reaches the roots at the low end?",
        "First the free space of the board fills, and plants drink in early summer, so weeks pass without a sign. That is why outlets are "
        "inspected by the calendar and not when plants droop.",
    ),
    Comparison(
        "Cups up, or cups down",
        Choice(_PLAIN, "open"),
        Choice(Built("cups down", "mineral mix", 0.02), "open"),
        "Do the cups make the roof wetter for the roots? Do they dry it?",
        "Neither roof ever lacks air: both boards drain. The cups keep some rain that plants drink in dry spells, so a little less leaves "
        "the roof. Cups hold, the free space beside them drains.",
    ),
    Comparison(
        "Board, or mat alone",
        Choice(_PLAIN, "open"),
        Choice(Built("mat alone", "mineral mix", 0.02), "open"),
        "Both outlets are open all year. Is an open outlet enough?",
        "A mat passes little water along its plane. Rain arrives faster than it can creep to the outlet, and the low end stands in water "
        "for weeks in winter though nothing is clogged. The way to the outlet has to be open too.",
    ),
    Comparison(
        "Mineral mix, or garden soil",
        Choice(_PLAIN, "open"),
        Choice(Built("cups up", "garden soil", 0.02), "open"),
        "Both roofs drain freely. Which roots breathe better?",
        "Below the medium everything is open, and still the garden soil lacks air: in a shallow layer its fine pores hold water up to the "
        "top, as a flat sponge does. A coarse layer under a fine one does not pull that water out.",
    ),
    Comparison(
        "With a fall, or level",
        Choice(_PLAIN, "autumn"),
        Choice(Built("cups up", "mineral mix", 0.0), "autumn"),
        "Both outlets clog on the same day. Where do the first plants drown?",
        "On a fall the low end stands deep while the high end is still dry; on a level deck the same water spreads thin and reaches all "
        "roots on the same day.",
    ),
    Comparison(
        "Open, or half clogged",
        Choice(_PLAIN, "open"),
        Choice(_PLAIN, "half"),
        "Half of the outlets' capacity is lost in October. What will you see by Christmas?",
        "On ordinary days, nothing: a day's rain passes through half an outlet too. It is felt in a cloudburst, and a half clogged outlet "
        "soon is a clogged one.",
    ),
)
