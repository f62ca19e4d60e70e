"""How the bands of wet and dry spells are drawn; what they are is said in `runoff.findings.spells`."""

from __future__ import annotations

from typing import NamedTuple

from runoff.findings.spells import DRY_BANDS, WET_BANDS, Band
from runoff.plots.style import BLUE, ORANGE, SKY, VERMILION


class Look(NamedTuple):
    """How a band is drawn: colour, marker of single points, height of a bar as a share of its row."""

    color: str
    mark: str
    share: float


_MARKS, _SHARES = "o^sDX", (0.30, 0.50, 0.68, 0.85, 1.0)
_COLORS = {
    WET_BANDS: ("#CFE6F5", SKY, BLUE, "#004B78", "#001C30"),
    DRY_BANDS: ("#FBE8C0", ORANGE, VERMILION, "#8F3E00", "#3F1B00"),
}
_LOOKS: dict[Band, Look] = {
    band: Look(color, mark, share)
    for bands, colors in _COLORS.items()
    for band, color, mark, share in zip(bands, colors, _MARKS, _SHARES, strict=True)
}


def look_of(band: Band) -> Look:
    """Return how a band is drawn."""
    return _LOOKS[band]
