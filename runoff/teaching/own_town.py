"""Your town: a weather file looked through, its complete years and the named fills offered, in words a teacher understands."""

from __future__ import annotations

import html
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets
import numpy as np
import xarray as xr

from runoff.errors import RunoffError
from runoff.plots.on_a_page import publish_controls
from runoff.teaching.records import from_autumn_to_summer
from runoff.weather import check_weather, read_weather, reference_et

if TYPE_CHECKING:
    from runoff.weather.quality.report import QualityReport

_WIDE = {"description_width": "initial"}
#: Named ways to fill what is missing, by what the button says.
FILLS: dict[str, dict[str, str]] = {
    "as it is": {},
    "rain: same day of other years": {"rain": "same-day-of-other-years"},
    "temperature: between neighbours": {"temperature": "interpolate"},
    "both": {"rain": "same-day-of-other-years", "temperature": "interpolate"},
}


class OwnTown:
    """A file chooser that checks a daily weather file and hands it on.

    Parameters
    ----------
    use
        Called with the record and the year when the class decides for it.
    units
        ``"si"`` or ``"us"``: what the check of the file found is told in them.
    """

    def __init__(self, use: Callable[[xr.Dataset, int], None], *, units: str = "si") -> None:
        self._use_it, self._units = use, units
        self._file: tuple[str, bytes] | None = None
        self.weather: xr.Dataset | None = None
        self.file = widgets.FileUpload(description="Weather file", multiple=False)
        self.latitude = widgets.Text(
            placeholder="47.5 or -33.9",
            description="Latitude, if the file has none",
            style=_WIDE,
            continuous_update=False,
        )
        self.fill = widgets.ToggleButtons(
            options=list(FILLS), description="Missing days", style={**_WIDE, "button_width": "auto"}
        )
        self.year = widgets.Dropdown(options=[], description="Complete year", style=_WIDE)
        self.use = widgets.Button(description="Use this town", disabled=True)
        self.said = widgets.HTML(
            "<p>Choose a daily weather file: rain, with the lowest and the highest temperature of each day. Ask your weather service for it.</p>"
        )
        self.file.observe(self._chosen, names="value")
        self.latitude.observe(self._look, names="value")
        self.fill.observe(self._look, names="value")
        self.use.on_click(self._use)

    def take(self, name: str, content: bytes) -> None:
        """Look through a file as if it had been chosen."""
        self._file = (Path(name).name, bytes(content))
        self._look()

    def _chosen(self, change: Any) -> None:
        if change["new"]:
            one = change["new"][0]
            self.take(one["name"], bytes(one["content"]))

    def _look(self, _change: Any = None) -> None:
        if self._file is None:
            return
        self.use.disabled, self.weather = True, None
        try:
            latitude = self.latitude.value.strip()
            degrees = _degrees(latitude) if latitude else None
            fill = FILLS[self.fill.value] or None
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / self._file[0]
                path.write_bytes(self._file[1])
                weather = read_weather(path, latitude=degrees, fill=fill).load()
            found = _found(check_weather(weather, units=self._units))
            lacks = _what_lacks(weather, self._units)
            years = [] if lacks else complete_years(weather)
        except (RunoffError, OSError) as error:
            self.year.options = []
            self._say(f"This file cannot be used yet. {error}")
            return
        self.year.options = years
        if lacks:
            self._say(f"This file cannot be played yet. {lacks}\n\n{found}")
            return
        if not years:
            self._say(
                f"No year from September to August is complete. Fill what is missing by a button above, or take another file.\n\n{found}"
            )
            return
        self.weather = weather
        self.year.value = years[-1]
        self.use.disabled = False
        several = "1 complete year can" if len(years) == 1 else f"{len(years)} complete years can"
        self._say(f"{several} be played: choose one above, then Use this town.\n\n{found}")

    def _use(self, _button: Any = None) -> None:
        if self.weather is None:
            return
        try:
            self._use_it(self.weather, int(self.year.value))
        except RunoffError as error:
            self._say(f"This record cannot be played. {error}")
            return
        self._say("Taken. Run the cell with the two roofs again: it plays your town now.")

    def _say(self, words: str) -> None:
        self.said.value = f'<pre role="status" style="white-space:pre-wrap;max-width:60em">{html.escape(words)}</pre>'

    def view(self) -> widgets.Widget:
        """Return the whole as one widget."""
        return widgets.VBox(
            [widgets.HBox([self.file, self.latitude]), self.fill, widgets.HBox([self.year, self.use]), self.said]
        )

    def _ipython_display_(self) -> None:
        publish_controls(
            self.view(), "A file chooser for the weather of your own town; it works where widgets are drawn."
        )


def _found(report: QualityReport) -> str:
    """Return what the check of the record found worth knowing, without the advice that names options of the command line."""
    rows = [f"- {check.name}: {check.found}" for check in report.checks if check.verdict != "good"]
    return (
        "\n".join(["What the check of the file found:", *rows]) if rows else "The check of the file found nothing odd."
    )


def _what_lacks(weather: xr.Dataset, units: str) -> str:
    """Return what a record lacks for the lesson, in words for a teacher; empty when it has all."""
    try:
        reference_et(weather)
    except RunoffError as error:
        if not {"tmin", "tmax", "tmean", "reference_et"} & set(weather):
            degrees = "degc" if units == "si" else "degf"
            return (
                "It has no temperature, so nobody can say how much the plants drink. Ask your weather service for the lowest and the "
                f"highest temperature of each day, and write them into columns tmin_{degrees} and tmax_{degrees}."
            )
        if "latitude" in str(error):
            return "It does not say where the station stands: write its latitude, for example 47.5, into the box above."
        return str(error)
    return ""


def complete_years(weather: xr.Dataset) -> list[int]:
    """Return the years from whose September on (March in the south) every day has what the lesson needs."""
    found = []
    for year in np.unique(weather["time"].dt.year.to_numpy()).tolist():
        try:
            one = from_autumn_to_summer(weather, int(year))
        except RunoffError as error:
            if "does not have it whole" in str(error) or "has no such year whole" in str(error):
                continue
            raise
        needed = [name for name in ("rain", "tmin", "tmax", "reference_et") if name in one]
        if not any(bool(one[name].isnull().any()) for name in needed):
            found.append(int(year))
    return found


def _degrees(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise RunoffError(f'Latitude is a number of degrees, for example 47.5 (given "{text}").') from None
    if not -90.0 <= value <= 90.0:
        raise RunoffError(f"Latitude lies between -90 and 90 (given {text}).")
    return value
