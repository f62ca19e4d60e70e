"""What each layer does and what fails without it, and what pot tests say of plants under water: words for lessons."""

from __future__ import annotations

import html
import textwrap
from typing import NamedTuple


class Card(NamedTuple):
    """A layer of the build-up as a class meets it."""

    layer: str
    does: str
    without: str


#: From top to bottom.
CARDS = (
    Card(
        "Sedum plants",
        "Drink the water that the layers hold and give it back to the air. Leaves hold a first millimetre of rain.",
        "Wind and rain carry the medium away, and nothing empties the store for the next rain.",
    ),
    Card(
        "Mulch of compost and wood chip",
        "Shades the medium, so that it loses less water, and softens the fall of drops.",
        "The medium bakes and crusts. Mulch slows drying: it does not dry a roof, and it does not drain one.",
    ),
    Card(
        "Growing medium",
        "Coarse mineral grains with a little compost. Small pores hold water, large ones let it through and hold air for the roots.",
        "Garden soil in its place has few large pores: in a shallow layer it stays nearly full of water after every rain, "
        "even over an open outlet. It is also heavier.",
    ),
    Card(
        "Filter fleece",
        "Lets water through and keeps fine grains of the medium out of the drainage below.",
        "Fines wash into the board and to the outlet until both are choked. A fleece that is itself clogged holds water back "
        "above it.",
    ),
    Card(
        "Drainage board with cups",
        "Cups facing up keep a few millimetres for dry days. The free space beside and below them leads the rest to the outlet.",
        "Without a board all water has to creep through the mat, and the low end stays wet. Cups facing down drain as well but "
        "keep nothing.",
    ),
    Card(
        "Protection mat",
        "A non-woven that shields the waterproofing from stones and feet, and holds a few millimetres of water.",
        "A sharp grain or a dropped trowel goes through the membrane.",
    ),
    Card(
        "Waterproofing and root barrier",
        "Keeps water and roots out of the house.",
        "It leaks, and everything above it has to come off to find where.",
    ),
    Card(
        "Outlets",
        "Let out what the layers do not hold. They are looked after from an inspection chamber, at least twice a year and after "
        "leaf fall.",
        "Water rises from the deck into the roots, and its weight stays on the roof. An emergency overflow has to carry off what "
        "a blocked outlet cannot; height and size follow the local code.",
    ),
)


class CardTable:
    """The cards as a table in a notebook, as lines elsewhere."""

    def __repr__(self) -> str:
        """Return a paragraph per layer."""
        return "\n".join(textwrap.fill(f"{one.layer}: {one.does} Without it: {one.without}", 88) for one in CARDS)

    def _repr_html_(self) -> str:
        cell = '<td style="text-align:left;vertical-align:top">'
        rows = "".join(
            f'<tr><th scope="row" style="text-align:left;vertical-align:top">{html.escape(one.layer)}</th>'
            f"{cell}{html.escape(one.does)}</td>{cell}{html.escape(one.without)}</td></tr>"
            for one in CARDS
        )
        head = "".join(
            f'<th scope="col" style="text-align:left">{name}</th>' for name in ("layer", "what it does", "without it")
        )
        return f'<table style="max-width:60em"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


#: Published pot tests of plants in standing water: Zhang et al., Acta Horticulturae 1263; BMC Plant Biology 23 (2023),
#: doi 10.1186/s12870-023-04676-z.
POT_TESTS = (
    "After 28 days in standing water 30 of 100 Sedum spurium were alive, and 76 of 100 S. mexicanum.",
    "Of 17 kinds of the stonecrop family kept 36 days in water, S. sexangulare and one garden form of Hylotelephium telephium died "
    "early; ten kinds, most of all the tall Hylotelephium, came through by growing new roots near the surface.",
    "Without water, sedum was still alive after 88 days in another trial.",
    "No published limit in days exists for roofs. The words for damage used here are a reading aid, not a forecast for your plants.",
)
