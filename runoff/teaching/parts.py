"""The parts of the classroom lesson, one call each: what a cell of the notebook shows.

``runoff.lesson`` is one of these, with the invented town of Ostrey until a class takes its own.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from runoff.saying import titles
from runoff.teaching.exercises import Reply, Tries
from runoff.teaching.scenes import Scene, Setting

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from runoff.plots import DescribedFigure
    from runoff.teaching.air_depths import AirDepths
    from runoff.teaching.controls import TwoRoofs
    from runoff.teaching.layer_cards import CardTable
    from runoff.teaching.own_town import OwnTown

#: Pairs of the table: what changes against the plain roof, one thing at a time.
PAIRS: dict[str, dict[str, Any]] = {
    "plain: outlet open, cups up, mulch": {},
    "outlet half clogged": {"outlet": "half clogged"},
    "outlet clogged": {"outlet": "clogged"},
    "clogged, overflow at 20 mm, level deck": {"outlet": "clogged", "overflow_mm": 20.0, "fall": 0.0},
    "mat alone": {"board": "mat alone"},
    "cups down": {"board": "cups down"},
    "no mulch": {"mulch": False},
    "fleece clogged": {"fleece": "clogged"},
    "garden soil": {"medium": "garden soil"},
}


class Lesson:
    """The lesson of notebook 06, part by part.

    Parameters
    ----------
    weather
        A daily record of one place; default the sample climate.
    year
        The year in whose September the two roofs begin.
    units
        ``"si"`` or ``"us"``.
    """

    def __init__(self, weather: xr.Dataset | None = None, *, year: int | None = None, units: str = "si") -> None:
        self._weather, self.year, self.units = weather, year, units
        self._tries = Tries()

    @property
    def weather(self) -> xr.Dataset:
        """The record the lesson plays."""
        if self._weather is None:
            from runoff.weather import open_sample

            self._weather = open_sample()
        return self._weather

    def use(self, weather: xr.Dataset, year: int | None = None) -> None:
        """Play another record; what cannot be played is refused and nothing changes."""
        from runoff.teaching.records import from_autumn_to_summer

        from_autumn_to_summer(weather, year)
        self._weather, self.year = weather, year
        _scenes.cache_clear()

    def two_roofs(self, day: int = 57) -> TwoRoofs:
        """Return two roofs side by side with their controls."""
        from runoff.teaching.controls import TwoRoofs

        return TwoRoofs(self.weather, year=self.year, day=day, units=self.units)

    def sponge(self) -> DescribedFigure:
        """Return the air in a shallow and a deep layer of two media after draining: the sponge, flat and on edge."""
        from runoff.teaching.air_profiles import air_figure

        return air_figure(units=self.units)

    def depth(self) -> AirDepths:
        """Return the air of both media under a slider for their depth."""
        from runoff.teaching.air_depths import AirDepths

        return AirDepths(units=self.units)

    def table(self) -> pd.DataFrame:
        """Return what each change does to the plain roof over the whole record, one thing at a time."""
        return _table(self)

    def wet_and_warm(self) -> pd.DataFrame:
        """Return the days without air a year by how warm they are, for the roofs of the table that lack air: rot likes wet and warm."""
        from runoff.teaching.warm_days import wet_days_by_warmth

        seen = {words: one.run for words, one in _scenes(self).items() if float(one.facts["waterlogged_days"]) >= 1.0}
        return wet_days_by_warmth(seen, units=self.units)

    def story(self, years: int = 5) -> pd.DataFrame:
        """Return what clogging on 1 October does in the last years of the record: first day without air, days, damage."""
        return clogged_autumns(self.weather, years)

    def layers(self) -> CardTable:
        """Return the layer cards: what each layer does, and what fails without it."""
        from runoff.teaching.layer_cards import CardTable

        return CardTable()

    def six_days(self, kept: Any = None) -> Reply:
        """Check exercise 1: how much of the rain the drained roof of the sheet kept."""
        from runoff.teaching.exercises import check_six_days

        return check_six_days(kept, self._tries)

    def days_without_air(self, days: Any = None) -> Reply:
        """Check exercise 2: days without air on the clogged sheet."""
        from runoff.teaching.exercises import check_days_without_air

        return check_days_without_air(days, self._tries)

    def overflow_height(self, height: Any = None) -> Reply:
        """Check exercise 3: a height of the emergency overflow that keeps roots in air."""
        from runoff.teaching.exercises import check_overflow_height

        return check_overflow_height(height, self.weather, self._tries)

    def light_and_green(self, **layers: Any) -> Reply:
        """Check exercise 4: a light roof that is seldom dry; layers as in `runoff.teaching.Setting`."""
        from runoff.errors import RunoffError
        from runoff.teaching.exercises import check_light_and_green, read_depth

        try:
            if isinstance(layers.get("depth_mm"), str):
                layers["depth_mm"] = read_depth(layers["depth_mm"])
            setting = Setting(**layers)
        except (RunoffError, TypeError) as error:
            said = str(error)
            return Reply(said if said.startswith("Not yet") else f"Not yet: {said}.")
        return check_light_and_green(setting, self.weather, self._tries)

    def soil_depth(self, depth: Any = None) -> Reply:
        """Check exercise 5: from which depth on garden soil has a tenth of air."""
        from runoff.teaching.exercises import check_depth_for_air

        return check_depth_for_air(depth, self._tries)

    def bench(
        self, outflow: Sequence[Any] | None = None, level: Sequence[Any] | None = None
    ) -> DescribedFigure | Reply:
        """Return the two pots: the model, and what was measured beside it; what cannot be read is told."""
        from runoff.errors import RunoffError
        from runoff.teaching.bench import bench_figure

        try:
            return bench_figure(outflow, level)
        except RunoffError as error:
            return Reply(f"Not yet: {error}.")

    def town(self) -> OwnTown:
        """Return a file chooser for the weather of the class's own town."""
        from runoff.teaching.own_town import OwnTown

        return OwnTown(self.use, units=self.units)


@functools.lru_cache(maxsize=1)
def _scenes(lesson: Lesson) -> dict[str, Scene]:
    from runoff.teaching.scenes import scene

    return {words: scene(Setting(**changes), lesson.weather) for words, changes in PAIRS.items()}


def _table(lesson: Lesson) -> pd.DataFrame:
    import pandas as pd

    rows = {}
    for words, one in _scenes(lesson).items():
        facts = one.facts
        rows[words] = {
            "retention, %": round(100 * float(facts["retention"])),
            "days without air at the low end, a year": round(float(facts["waterlogged_days"])),
            "the same as a mean over the roof": round(float(facts["waterlogged_area_days"])),
            "longest spell, days": round(float(facts["longest_waterlogged_spell"])),
            "days at risk of rot, a year": round(float(facts["rot_risk_days"])),
            "dry days a year": round(float(facts["dry_days"])),
        }
    return pd.DataFrame(rows).T


def clogged_autumns(weather: xr.Dataset, years: int = 5) -> pd.DataFrame:
    """Return what clogging on 1 October (1 April in the south) does in each of several years.

    Parameters
    ----------
    weather
        A daily record of one place.
    years
        How many of its last whole years.
    """
    import pandas as pd

    from runoff.teaching.records import from_autumn_to_summer, is_southern
    from runoff.teaching.watching import Fate, Watched
    from runoff.teaching.years import first_of_month

    last = int(from_autumn_to_summer(weather, None)["time"].dt.year.to_numpy()[0])
    rows = {}
    for begins in range(last - years + 1, last + 1):
        year = from_autumn_to_summer(weather, begins)
        clogs = first_of_month(year, 4 if is_southern(weather) else 10)
        seen, end = Watched(Setting(), Fate("clogged", clogs), year), year.sizes["time"] - 1
        first = seen.first_without_air()
        rows[f"{begins}/{begins + 1}"] = {
            "first day without air, days after clogging": None if first is None else first - clogs,
            "days without air to the end of summer": seen.days_without_air(end),
            "retention, %": round(seen.kept_percent(end) or 0.0),
            "plants at the end": seen.damage(end),
        }
    table = pd.DataFrame(rows).T.rename_axis("autumn to summer")
    table.attrs["title"] = titles.STORY  # shown whole: the words on the plants are long
    return table


lesson = Lesson()
