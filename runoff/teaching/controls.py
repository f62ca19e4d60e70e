"""The controls of a lesson: a thin shell of widgets over `runoff.teaching.scenes`.

Moving a control runs the whole record again and draws one picture; nothing is kept but the last scene. The picture goes
into one image element that stays in place, so it does not flicker, and its sentence stands below it as text.
"""

from __future__ import annotations

import html
from typing import Any

import ipywidgets as widgets
import numpy as np
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.errors import RunoffError
from runoff.plots import quick_png_bytes
from runoff.roof import Roof
from runoff.teaching.scenes import BOARDS, OUTLETS, Scene, Setting, scene
from runoff.time_steps import time_step
from runoff.weather import read_weather

_WIDE = {"description_width": "initial"}
_BUTTONS = {**_WIDE, "button_width": "8.5em"}
_SLIDER = {"width": "22em"}
_ROW = {"flex_flow": "row wrap", "align_items": "center", "grid_gap": "0 2em"}
_WORDS = "font-size:15px;max-width:60em"
_PICTURE_DPI = 90
_NO_OVERFLOW = 0


class Lesson:
    """Controls above, the roof cut through below them, the reading beside it, and all of it once more as a sentence.

    Parameters
    ----------
    weather
        A daily record.
    base
        The roof the controls change; default the sample roof.
    year
        The year whose days can be played through; default the last whole one (of a record without any, its last).
    day
        Day of that year shown first, 1-366.
    setting
        Where the controls stand first.

    Examples
    --------
    At the end of a notebook cell: ``Lesson(runoff.open_sample())``.
    """

    def __init__(
        self,
        weather: xr.Dataset,
        *,
        base: Roof | None = None,
        year: int | None = None,
        day: int = 60,
        setting: Setting | None = None,
    ) -> None:
        self._given, self._weather, self._base = (weather, year), weather, base
        self._first, days, shown_year = _days_shown(weather, year)
        start = setting or Setting()
        self.outlet = widgets.ToggleButtons(
            options=list(OUTLETS), value=start.outlet, description="Outlet", style=_BUTTONS
        )
        self.board = widgets.ToggleButtons(options=list(BOARDS), value=start.board, description="Below", style=_BUTTONS)
        self.depth = widgets.IntSlider(
            value=int(start.depth_mm), min=40, max=160, step=20, description="Medium, mm",
            continuous_update=False, style=_WIDE, layout=widgets.Layout(**_SLIDER),
        )  # fmt: skip
        self.overflow = widgets.IntSlider(
            value=int(start.overflow_mm or _NO_OVERFLOW), min=0, max=200, step=10, description="Emergency overflow, mm (0: none)",
            continuous_update=False, style=_WIDE, layout=widgets.Layout(width="34em"),
        )  # fmt: skip
        self.mulch = widgets.Checkbox(
            value=start.mulch, description="Mulch on the medium", indent=False, layout=widgets.Layout(width="auto")
        )
        self.day = widgets.IntSlider(
            value=min(day, days), min=1, max=days, description=f"Day of {shown_year}",
            continuous_update=False, style=_WIDE, layout=widgets.Layout(**_SLIDER),
        )  # fmt: skip
        self.play = widgets.Play(value=self.day.value, min=1, max=self.day.max, step=1, interval=400)
        widgets.jslink((self.play, "value"), (self.day, "value"))
        self.climate = widgets.Text(
            placeholder=f"{weather.attrs.get('title', 'as given')}; or a daily weather file",
            description="Climate", continuous_update=False, style=_WIDE, layout=widgets.Layout(width="34em"),
        )  # fmt: skip
        self.latitude = widgets.Text(
            placeholder="if the file has none", description="Its latitude", continuous_update=False,
            style=_WIDE, layout=widgets.Layout(width="17em"),
        )  # fmt: skip
        # as wide as there is room, never blown up; the reading moves below where the two do not fit side by side
        self.picture = widgets.Image(
            format="png",
            layout=widgets.Layout(flex="1 1 480px", min_width="0", max_width="648px", align_self="flex-start"),
        )
        self.reading = widgets.HTML(layout=widgets.Layout(flex="0 1 250px"))
        self.text = widgets.HTML()
        for control in (self.outlet, self.board, self.depth, self.overflow, self.mulch):
            control.observe(self._run_again, names="value")
        for control in (self.climate, self.latitude):
            control.observe(self._change_climate, names="value")
        self.day.observe(self._draw, names="value")
        self.scene: Scene
        expect_many_runs()
        self._run_again()

    @property
    def setting(self) -> Setting:
        """Where the controls stand now."""
        level = self.overflow.value
        return Setting(
            outlet=self.outlet.value,
            board=self.board.value,
            depth_mm=float(self.depth.value),
            overflow_mm=None if level == _NO_OVERFLOW else float(level),
            mulch=self.mulch.value,
        )

    @property
    def step(self) -> int:
        """The step of the record that is shown."""
        return self._first + self.day.value - 1

    def _run_again(self, _change: Any = None) -> None:
        self.scene = scene(self.setting, self._weather, base=self._base)
        self._draw()

    def _change_climate(self, _change: Any = None) -> None:
        """Read the weather file named, or go back to the climate given; what cannot be used is said, nothing changes."""
        name, latitude = self.climate.value.strip(), self.latitude.value.strip()
        try:
            weather, year = self._given
            if name:
                weather, year = read_weather(name, latitude=float(latitude) if latitude else None), None
            first, days, shown_year = _days_shown(weather, year)
            made = scene(self.setting, weather, base=self._base)
        except (RunoffError, OSError, ValueError) as error:
            words = html.escape(str(error)).replace("\n", "<br>")
            self.text.value = f'<p role="alert" style="{_WORDS}">The climate stays as it was. {words}</p>'
            return
        self._weather, self._first, self.scene = weather, first, made
        self.day.unobserve(self._draw, names="value")  # one picture, not one for each bound that moves
        self.day.max = self.play.max = days
        self.day.description = f"Day of {shown_year}"
        self.day.observe(self._draw, names="value")
        self._draw()

    def _draw(self, _change: Any = None) -> None:
        step = self.step
        self.picture.value = quick_png_bytes(self.scene.figure(step), dpi=_PICTURE_DPI)
        rows = "".join(
            f'<tr style="border-top:{"1px solid #999" if name == "this day" else "none"}">'
            f'<td style="padding:2px 0.8em 2px 0;vertical-align:top">{name}</td>'
            f'<td style="padding:2px 0;vertical-align:top"><b>{value}</b></td></tr>'
            for name, value in self.scene.reading(step).items()
        )
        self.reading.value = f'<table style="font-size:15px;line-height:1.25;border-collapse:collapse">{rows}</table>'
        self.text.value = f'<p style="{_WORDS}">{self.scene.sentence(step)}</p>'

    def view(self) -> widgets.Widget:
        """Return the whole lesson as one widget."""
        rows = [
            [self.outlet, self.board],
            [self.depth, self.overflow],
            [self.mulch, self.play, self.day],
            [self.climate, self.latitude],
        ]
        controls = [widgets.HBox(row, layout=widgets.Layout(**_ROW)) for row in rows]
        shown = widgets.HBox(
            [self.picture, self.reading], layout=widgets.Layout(flex_flow="row wrap", grid_gap="0 1em")
        )
        return widgets.VBox([*controls, shown, self.text])

    def _ipython_display_(self) -> None:
        """Publish the widget together with a picture and a sentence, which stand in where widgets cannot be drawn."""
        import base64

        from IPython.display import display

        bundle = self.view()._repr_mimebundle_()
        bundle = dict(bundle[0] if isinstance(bundle, tuple) else bundle)
        bundle["image/png"] = base64.b64encode(self.picture.value).decode("ascii")
        bundle["text/plain"] = self.scene.sentence(self.step)
        display(bundle, raw=True)


def _days_shown(weather: xr.Dataset, year: int | None) -> tuple[int, int, int]:
    """Return the first step, the number of days and the year that can be played through."""
    if weather["rain"].ndim != 1:
        raise RunoffError(
            f"the lesson shows one roof in one place; the record has {', '.join(map(str, weather['rain'].dims))}"
        )
    if not time_step(weather["time"]).daily:
        raise RunoffError("the lesson plays day by day: give a daily record")
    years = weather["time"].dt.year.to_numpy()
    year = _last_whole_year(years) if year is None else year
    steps = (years == year).nonzero()[0]
    if steps.size == 0:
        raise RunoffError(f"the record runs from {years[0]} to {years[-1]}; there is no {year} in it")
    return int(steps[0]), int(steps.size), year


def _last_whole_year(years: np.ndarray) -> int:
    """Return the last year of which a record has every day; `years` is the year of each day."""
    found, days = np.unique(years, return_counts=True)
    whole = found[days >= 360]  # a calendar may have years of 360 days
    return int(whole[-1] if whole.size else found[-1])
