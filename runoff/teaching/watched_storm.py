"""A roof watched through one storm, minute by minute: what a picture of a minute needs, and what is read beside it."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from runoff.saying.scales import say
from runoff.simulation import simulate
from runoff.storms import design_storm, open_sample_depth_duration
from runoff.teaching.scenes import OUTLETS, Setting
from runoff.teaching.watching import Fate, Seen
from runoff.teaching.years import PLACES

if TYPE_CHECKING:
    from runoff.roof import Roof

#: Storms of an hour in the invented town, by what the control says: return period, years.
STORMS = {"once in 2 years": 2, "once in 10 years": 10, "once in 100 years": 100}
#: Length of the rain, and of all that is shown, min.
RAIN_MINUTES, SHOWN_MINUTES = 60, 180
#: The table of rain knows no time shorter than this, so within it the rain is even, min.
_EVEN_MINUTES = 5


@functools.cache
def hour_of_rain(years: int) -> xr.DataArray:
    """Return a storm of an hour and two dry hours after it, mm per minute.

    Parameters
    ----------
    years
        Return period, years: a column of the depth-duration table of the invented town (pattern ``euler-II``).
    """
    blocks = design_storm(
        depth_duration=open_sample_depth_duration(), return_period_years=years, duration=f"{RAIN_MINUTES}min", step=f"{_EVEN_MINUTES}min", pattern="euler-II"
    )  # fmt: skip
    rain = np.zeros(SHOWN_MINUTES)
    rain[:RAIN_MINUTES] = np.repeat(blocks.to_numpy() / _EVEN_MINUTES, _EVEN_MINUTES)
    minutes = blocks["time"].to_numpy()[0] + np.arange(SHOWN_MINUTES) * np.timedelta64(1, "m")
    return xr.DataArray(
        rain, {"time": minutes}, ["time"], name="rain", attrs={**blocks.attrs, "units": "mm", "step": "1 min"}
    )


class WatchedStorm(Seen):
    """One roof through one storm after a wet day (medium at field capacity), minute by minute.

    Parameters
    ----------
    setting
        How it is built.
    outlet
        ``open``, ``half clogged`` or ``clogged``, all through the storm.
    storm
        Rain per minute, mm.
    base
        The roof the setting changes; default the sample roof.
    """

    #: Rain and runoff of a minute are drawn as strong as those of a day: mm/h for mm/day.
    _drawn = 60.0

    def __init__(self, setting: Setting, outlet: str, storm: xr.DataArray, *, base: Roof | None = None) -> None:
        super().__init__(setting, Fate(outlet), base)
        shut = self.roof.replace({"roof.blocked_fraction": OUTLETS[outlet]})
        run = simulate(shut, storm, start_moisture="field-capacity")
        self.storm = storm
        self._take([run])
        self._values["discharge"] = np.asarray(run.variables["discharge"].values, dtype=float)
        self.hurt = np.zeros((SHOWN_MINUTES, PLACES), dtype=int)  # an hour of water drowns no root

    def rain_peak_l_per_s(self) -> float:
        """Return the strongest rain on the whole roof, L/s."""
        return float(self.series("rain").max()) * float(self.roof.area_m2) / 60.0

    def when(self, step: int) -> str:
        """Return the minute."""
        return f"Minute {step + 1}"

    def rain_words(self, step: int, units: str = "si") -> str:
        """See `Seen.rain_words`."""
        rain = self.value("rain", step)
        return f"rain {say(60.0 * rain, 'mm/h', 'intensity', units)}" if rain > 0 else "no rain"

    def outflow_words(self, step: int, units: str = "si") -> str:
        """See `Seen.outflow_words`."""
        return f"{self.outlet_words(step)}, discharge {say(self.value('discharge', step), 'L/s', 'flow', units)}"

    def plain_words(self, step: int, units: str = "si") -> str:
        """Return the peak so far, and what has not left."""
        most = float(self.series("discharge")[: step + 1].max())
        return f"peak so far {say(most, 'L/s', 'flow', units)}; still on the roof {say(self.held_mm(step), 'mm', 'depth', units)}"

    def held_mm(self, step: int) -> float:
        """Return the rain of the storm that has not left, mm."""
        return float(self._so_far.held_mm[step])

    def highest_mm(self, step: int) -> float:
        """Return the highest level at the outlet so far, mm."""
        return float(self.series("water_depth_on_deck_mm")[: step + 1].max())

    def reading(self, step: int, units: str = "si") -> dict[str, str]:
        """See `Seen.reading`."""
        flow = self.series("discharge")[: step + 1]
        return {
            "outlet": self.outlet_words(step).removeprefix("outlet "),
            "discharge now": say(float(flow[-1]), "L/s", "flow", units),
            "peak so far": say(float(flow.max()), "L/s", "flow", units),
            "level at the outlet": say(self.value("water_depth_on_deck_mm", step), "mm", "level", units),
            "highest so far": say(self.highest_mm(step), "mm", "level", units),
            "air left": f"{100.0 * self.value('air_filled_porosity', step):.0f} %",
            "rain so far": say(float(self._so_far.rain_mm[step]), "mm", "depth", units),
            "still on the roof": say(self.held_mm(step), "mm", "depth", units),
            "weighs": say(float(self.weight[step]), "kg/m2", "whole load", units),
        }

    def events(self) -> set[int]:
        """Return the minutes of the strongest rain, of the most runoff, of water reaching roots, of the end of rain, and the last."""
        rain, flow = self.series("rain"), self.series("discharge")
        reached = np.flatnonzero(np.diff(self.series("waterlogged_share") > 1e-9)) + 1
        steps = [rain.argmax(), flow.argmax(), np.flatnonzero(rain)[-1] + 1, rain.size - 1, *reached]
        return {int(step) for step in steps}
