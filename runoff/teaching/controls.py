"""The controls of a lesson: a thin shell of widgets over two roofs watched through one year. Needs ipywidgets.

Moving a control runs the year again and draws one picture. Picture and words stand in elements that stay in place, so nothing
flickers; the picture carries its sentence as alternative text.
"""

from __future__ import annotations

import html
from typing import Any

import ipywidgets as widgets
import xarray as xr

from runoff.errors import RunoffError
from runoff.plots import quick_png_bytes
from runoff.plots.on_a_page import picture_html, publish_controls
from runoff.roof import Roof
from runoff.saying.dates import MONTHS
from runoff.saying.scales import require_system, say
from runoff.teaching.records import from_autumn_to_summer
from runoff.teaching.scenes import BOARDS, FLEECES, MEDIA, Setting
from runoff.teaching.side_by_side import day_words, two_roofs_figure
from runoff.teaching.watching import Fate, Watched, events_of

_WIDE = {"description_width": "initial"}
_BUTTONS = {**_WIDE, "button_width": "auto"}
_ROW = {"flex_flow": "row wrap", "align_items": "center", "grid_gap": "0 1em"}
_DPI = 90
#: A list that stands at None is drawn empty, so "none" and "never" are numbers.
_NO_OVERFLOW, _NEVER = 0, -1
#: Handles large enough for a finger, and an outline for whoever goes by the keyboard.
_LOOK = (
    "<style>.runoff-lesson .noUi-handle{width:26px!important;height:26px!important;top:-11px!important;right:-13px!important}"
    ".runoff-lesson .noUi-handle:focus{outline:3px solid #1a1a8c}.runoff-lesson button,.runoff-lesson select{min-height:28px}"
    ".runoff-lesson img{width:100%;max-width:110em;height:auto}</style>"
)
FALLS = {"2 %": 0.02, "level": 0.0, "5 %": 0.05}
OVERFLOWS_MM = (20, 40, 60, 80, 100, 120)
DEPTHS_MM = (40, 60, 80, 100, 120, 160)
SPEEDS = {"1 day a second": 1000, "2 days a second": 500, "4 days a second": 250}


class TwoRoofs:
    """Two roofs side by side under the same rain, day by day: the outlet of A stays open, that of B clogs on a day you choose.

    Parameters
    ----------
    weather
        A daily record of one place.
    base
        The roof the controls change; default the sample roof.
    year
        The year in whose September it begins (March in the south); default the last whole one.
    day
        Day of that year shown first, from 1.
    units
        ``"si"`` or ``"us"``.

    Examples
    --------
    At the end of a notebook cell: ``TwoRoofs(runoff.open_sample())``.
    """

    def __init__(
        self,
        weather: xr.Dataset,
        *,
        base: Roof | None = None,
        year: int | None = None,
        day: int = 1,
        units: str = "si",
    ) -> None:
        self._year, self._base = from_autumn_to_summer(weather, year), base
        self._invented = str(weather.attrs.get("invented", "no")) == "yes"
        self._starts = _first_days(self._year)
        self._kept: tuple[Setting, Fate] | None = None
        days = self._year.sizes["time"]
        names = list(self._starts)
        self.outlet = _toggle("Outlet of B", ["open", "half clogged", "clogged"], "clogged")
        self.clogs = _choice("clogs on", self._starts, names[1])
        self.clears = _choice("cleared on", {"never": _NEVER, **self._starts}, "never")
        self.board = _toggle("Below", BOARDS, "cups up")
        self.medium = _toggle("Medium", MEDIA, "mineral mix")
        self.fleece = _toggle("Fleece", FLEECES, "clean")
        self.fall = _toggle("Fall", FALLS, "2 %")
        self.units = _toggle("Units", {"mm": "si", "in": "us"}, "mm" if require_system(units) == "si" else "in")
        self.depth = _choice("Depth", _depths(units, DEPTHS_MM), None)
        self.depth.value = 80
        self.overflow = _choice("Emergency overflow", _overflows(units), None)
        self.mulch = widgets.Checkbox(
            value=True, description="Mulch", indent=False, layout=widgets.Layout(width="auto")
        )
        self.day = widgets.IntSlider(
            value=max(1, min(day, days)), min=1, max=days, description="Day", style=_WIDE, layout=widgets.Layout(width="24em"),
        )  # fmt: skip
        self.play = widgets.Play(value=self.day.value, min=1, max=days, step=1, interval=SPEEDS["4 days a second"])
        widgets.link((self.play, "value"), (self.day, "value"))
        self.speed = _choice("Speed", SPEEDS, "4 days a second")
        self.event = widgets.Button(description="Next event", layout=widgets.Layout(width="auto"))
        self.keep = widgets.Button(
            description="Keep B as A",
            layout=widgets.Layout(width="auto"),
            tooltip="To compare the next change of B with it",
        )
        self.picture = widgets.HTML(layout=widgets.Layout(width="100%"))
        self.text = widgets.HTML()
        self.roofs: list[Watched] = []
        for control in (
            self.outlet,
            self.clogs,
            self.clears,
            self.board,
            self.medium,
            self.fleece,
            self.fall,
            self.depth,
            self.overflow,
            self.mulch,
        ):
            control.observe(self._run_again, names="value")
        self.units.observe(self._change_units, names="value")
        self.day.observe(self._draw, names="value")
        self.speed.observe(lambda change: setattr(self.play, "interval", change["new"]), names="value")
        self.event.on_click(self._next_event)
        self.keep.on_click(self._keep_or_not)
        self._run_again()

    @property
    def setting(self) -> Setting:
        """How roof B is built."""
        return Setting(
            outlet=self.outlet.value,
            board=self.board.value,
            depth_mm=float(self.depth.value),
            overflow_mm=None if self.overflow.value == _NO_OVERFLOW else float(self.overflow.value),
            mulch=self.mulch.value,
            medium=self.medium.value,
            fleece=self.fleece.value,
            fall=self.fall.value,
        )

    @property
    def fate(self) -> Fate:
        """What happens to the outlets of roof B."""
        clears = None if self.clears.value == _NEVER else self.clears.value
        return Fate(self.outlet.value, self.clogs.value, clears)

    @property
    def step(self) -> int:
        """The step of the year that is shown."""
        return int(self.day.value) - 1

    def _run_again(self, _change: Any = None) -> None:
        try:
            second = Watched(self.setting, self.fate, self._year, base=self._base)
            self.roofs = [self._first(), second]
        except RunoffError as error:
            self.text.value = f'<p role="alert">This roof cannot be built: {html.escape(str(error))}</p>'
            return
        self._draw()

    def _first(self) -> Watched:
        """Return roof A: the one that was kept stays as it is, whatever is moved at B."""
        setting, fate = self._kept or (self.setting, Fate())
        if self.roofs and (self.roofs[0].setting, self.roofs[0].fate) == (setting, fate):
            return self.roofs[0]
        return Watched(setting, fate, self._year, base=self._base)

    def _titles(self) -> list[str]:
        first = "A  kept for comparison" if self._kept else "A  outlet open all year"
        fate = self.fate
        second = "open all year"
        if fate.outlet != "open":
            second = f"{fate.outlet} from {day_words(self._year, fate.clogs)}"
            if fate.clears is not None and fate.clears > fate.clogs:
                second += f" to {day_words(self._year, fate.clears)}"
        return [first, f"B  {second}"]

    def _draw(self, _change: Any = None) -> None:
        if not self.roofs:
            return
        units = self.units.value
        figure = two_roofs_figure(self.roofs, self.step, titles=self._titles(), units=units, invented=self._invented)
        self.described = figure.description
        self.png = quick_png_bytes(figure, dpi=_DPI)
        self.picture.value = picture_html(self.png, self.described)
        self.text.value = _reading_table(self.roofs, self.step, units) + self._differ()

    def _differ(self) -> str:
        if not self._kept:
            return ""
        other, fate = self._kept
        now = self.setting
        names = [
            name
            for name in ("board", "depth_mm", "overflow_mm", "mulch", "medium", "fleece", "fall")
            if getattr(other, name) != getattr(now, name)
        ]
        names += ["outlet"] if fate != self.fate else []
        if len(names) < 2:
            return ""
        return f"<p>More than one thing differs ({', '.join(name.removesuffix('_mm') for name in names)}): what you see may come from any of them.</p>"

    def _next_event(self, _button: Any = None) -> None:
        ahead = [step for step in events_of(self.roofs) if step > self.step]
        if ahead:
            self.day.value = ahead[0] + 1

    def _keep_or_not(self, _button: Any = None) -> None:
        self._kept = None if self._kept else (self.setting, self.fate)
        self.keep.description = "A open again" if self._kept else "Keep B as A"
        self._run_again()

    def _change_units(self, _change: Any = None) -> None:
        for control, options in (
            (self.depth, _depths(self.units.value, DEPTHS_MM)),
            (self.overflow, _overflows(self.units.value)),
        ):
            control.unobserve(self._run_again, names="value")
            value = control.value
            control.options = tuple(options.items())
            control.value = value
            control.observe(self._run_again, names="value")
        self._draw()

    def view(self) -> widgets.Widget:
        """Return the whole lesson as one widget."""
        rows = [
            [self.outlet, self.clogs, self.clears, self.overflow],
            [self.board, self.medium, self.fleece, self.mulch],
            [self.depth, self.fall, self.units, self.keep],
            [self.play, self.day, self.speed, self.event],
        ]
        controls = [widgets.HBox(row, layout=widgets.Layout(**_ROW)) for row in rows]
        box = widgets.VBox([widgets.HTML(_LOOK), *controls, self.picture, self.text])
        box.add_class("runoff-lesson")
        return box

    def _ipython_display_(self) -> None:
        """Publish the widget together with a picture and a sentence, which stand in where widgets cannot be drawn."""
        publish_controls(self.view(), self.described, self.png)


def _toggle(description: str, options: Any, value: Any) -> widgets.ToggleButtons:
    pairs = list(options.items()) if description in ("Fall", "Units") else list(options)
    start = options[value] if description in ("Fall", "Units") else value
    return widgets.ToggleButtons(options=pairs, value=start, description=description, style=_BUTTONS)


def _choice(description: str, options: dict[str, Any], value: str | None) -> widgets.Dropdown:
    start = next(iter(options.values())) if value is None else options[value]
    return widgets.Dropdown(
        options=tuple(options.items()),
        value=start,
        description=description,
        style=_WIDE,
        layout=widgets.Layout(width="auto"),
    )


def _depths(units: str, depths: tuple[int, ...]) -> dict[str, int]:
    return {say(float(depth), "mm", "layer depth", units): depth for depth in depths}


def _overflows(units: str) -> dict[str, int]:
    return {"none": _NO_OVERFLOW, **_depths(units, OVERFLOWS_MM)}


def _first_days(year: xr.Dataset) -> dict[str, int]:
    """Return the first days of the months of a year and their steps."""
    return {
        f"1 {MONTHS[stamp.month - 1]}": step for step, stamp in enumerate(year["time"].to_index()) if stamp.day == 1
    }


def _reading_table(roofs: list[Watched], step: int, units: str) -> str:
    """Return what is read of both roofs as a table; picture and table say the same."""
    readings = [roof.reading(step, units) for roof in roofs]
    head = "".join(
        f'<th scope="col" style="text-align:left;padding:0 .8em 0 0">{name}</th>' for name in ("", *readings[0])
    )
    rows = "".join(
        f'<tr><th scope="row" style="padding:0 .8em 0 0">{letter}</th>'
        + "".join(f'<td style="padding:0 .8em 0 0">{value}</td>' for value in reading.values())
        + "</tr>"
        for letter, reading in zip("AB", readings, strict=True)
    )
    return f'<table style="font-size:14px;line-height:1.25"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
