"""The controls of a lesson: a thin shell of widgets over two roofs watched through one year or one storm. Needs ipywidgets.

Moving a control runs what changed again and draws one picture. Picture and words stand in elements that stay in place, so nothing
flickers; the picture is read out as its sentence.
"""

from __future__ import annotations

import html
from typing import Any

import ipywidgets as widgets
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.errors import RunoffError
from runoff.plots import png_bytes
from runoff.plots.on_a_page import publish_controls
from runoff.roof import Roof
from runoff.saying.dates import MONTHS
from runoff.saying.scales import require_system, say
from runoff.teaching.class_votes import Question, questions_of, told
from runoff.teaching.pens import Sheet, as_figure, as_svg
from runoff.teaching.records import from_autumn_to_summer
from runoff.teaching.scenes import BOARDS, FLEECES, MEDIA, Setting
from runoff.teaching.side_by_side import SIZE_IN, draw_two_roofs
from runoff.teaching.vote_box import VoteBox
from runoff.teaching.watched_storm import SHOWN_MINUTES, STORMS, WatchedStorm, hour_of_rain
from runoff.teaching.watching import Fate, Seen, Watched, date_words, events_of

_WIDE = {"description_width": "initial"}
_BUTTONS = {**_WIDE, "button_width": "auto"}
_ROW = {"flex_flow": "row wrap", "align_items": "center", "grid_gap": "0 1em"}
#: A list that stands at None is drawn empty, so "none" and "never" are numbers.
_NO_OVERFLOW, _NEVER = 0, -1
#: Handles large enough for a finger, an outline for whoever goes by the keyboard, a picture as large as the screen leaves room for.
_LOOK = """<style>
.runoff-lesson .noUi-handle{width:26px!important;height:26px!important;top:-11px!important;right:-13px!important}
.runoff-lesson .noUi-handle:focus{outline:3px solid #1a1a8c}
.runoff-lesson button,.runoff-lesson select{min-height:26px}
.runoff-lesson .widget-toggle-buttons{display:flex!important;flex-flow:row nowrap!important;align-items:center;width:auto}
.runoff-lesson .widget-toggle-buttons>div{flex-wrap:nowrap}
.runoff-lesson .widget-toggle-buttons>label{margin-right:6px}
.runoff-lesson .widget-html,.runoff-lesson .widget-html-content{margin:0;line-height:1.2}
.runoff-lesson svg[role=img]{display:block;width:100%;max-height:calc(100vh - 425px)}
.runoff-lesson table{font-size:13px;line-height:1.2;margin:0}
.runoff-lesson table th,.runoff-lesson table td{padding:0 .8em 0 0;text-align:left;vertical-align:top}
.runoff-lesson:fullscreen{background:#fff;padding:6px 12px;overflow:auto}
.runoff-lesson:fullscreen svg[role=img]{max-height:calc(100vh - 240px)}
@media(min-height:900px){.runoff-lesson:fullscreen .widget-html-content,.runoff-lesson:fullscreen table{font-size:2.1vh}}
</style>"""
#: The block alone on the screen, without code and menus: a browser allows that only from a click in the page itself.
_FULL_SCREEN = (
    '<button type="button" class="jupyter-widgets jupyter-button widget-button" style="width:auto" '
    "onclick=\"const b=this.closest('.runoff-lesson');document.fullscreenElement?document.exitFullscreen():b.requestFullscreen()\">"
    "Full screen</button>"
)
#: JupyterLab ends "Run All" at the last cell; the class wants to see the roofs. Once for each block, when no cell runs any more.
#: Within the block the arrow keys move the controls and not the notebook, which takes them for itself unless told not to.
_INTO_VIEW = """<img hidden alt="" src="data:," onerror="
const block=this.closest('.runoff-lesson'),seen=window.runoffSeen=window.runoffSeen||new Set();
if(block)block.addEventListener('focusin',event=>event.target.setAttribute('data-lm-suppress-shortcuts','true'));
if(block&&!seen.has('{key}')){{seen.add('{key}');const wait=()=>[...document.querySelectorAll('.jp-InputArea-prompt')].some(one=>one.textContent.includes('*'))
?setTimeout(wait,300):[400,1500].forEach(ms=>setTimeout(()=>block.scrollIntoView(),ms));setTimeout(wait,300)}}">"""
_FIRST_STORM = '<p role="status">Working out the storm. The first one ever on a computer takes up to a minute.</p>'
FALLS = {"2 %": 0.02, "level": 0.0, "5 %": 0.05}
OVERFLOWS_MM = (20, 40, 60, 80, 100, 120)
DEPTHS_MM = (40, 60, 80, 100, 120, 160)
RAINS = {"a year, day by day": "year", "a storm, minute by minute": "storm"}
SPEEDS = {"1 a second": 1000, "2 a second": 500, "4 a second": 250}


class TwoRoofs:
    """Two roofs side by side under the same rain: the outlet of A stays open, that of B clogs on a day you choose.

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
        self._kept: tuple[Setting, Fate] | None = None
        self._asked: set[tuple[Setting, Fate, int]] = set()
        self._other_step = 1  # where the slider of the rain that is not shown stands
        self.roofs: list[Seen] = []
        expect_many_runs()
        self._make_building_controls(units)
        self._make_time_controls(day)
        self.picture, self.text = widgets.HTML(layout=widgets.Layout(width="100%")), widgets.HTML()
        self.vote = VoteBox(self._show_what_happens)
        for control in self._building:
            control.observe(self._run_again, names="value")
        self.rain.observe(self._change_rain, names="value")
        self.units.observe(self._change_units, names="value")
        self.day.observe(self._moved, names="value")
        self.speed.observe(lambda change: setattr(self.play, "interval", change["new"]), names="value")
        self.event.on_click(self._next_event)
        self.back.on_click(lambda _button: self._go(self.day.value - 1))
        self.on.on_click(lambda _button: self._go(self.day.value + 1))
        self.keep.on_click(self._keep_or_not)
        self._run_again()

    def _make_building_controls(self, units: str) -> None:
        starts = _first_days(self._year)
        self.rain = _choice("Rain", RAINS, "a year, day by day")
        self.storm = _choice("Storm of an hour", STORMS, "once in 10 years")
        self.storm.layout.display = "none"
        self.outlet = _toggle("Outlet of B", ["open", "half clogged", "clogged"], "clogged")
        self.clogs = _choice("clogs on", starts, list(starts)[1])
        self.clears = _choice("cleared on", {"never": _NEVER, **starts}, "never")
        self.board = _toggle("Below", BOARDS, "cups up")
        self.medium = _toggle("Medium", MEDIA, "mineral mix")
        self.fleece = _choice("Fleece", {one: one for one in FLEECES}, "clean")
        self.fall = _choice("Fall", FALLS, "2 %")
        self.units = _choice("Units", {"mm": "si", "in": "us"}, "mm" if require_system(units) == "si" else "in")
        self.depth = _choice("Depth", _depths(units, DEPTHS_MM), None)
        self.depth.value = 80
        self.overflow = _choice("Emergency overflow", _overflows(units), None)
        self.mulch = widgets.Checkbox(
            value=True, description="Mulch", indent=False, layout=widgets.Layout(width="auto")
        )
        self.keep = _button("Keep B as A", "To compare the next change of B with it")
        self._building = (
            self.outlet, self.clogs, self.clears, self.board, self.medium, self.fleece, self.fall, self.depth, self.overflow, self.mulch,
            self.storm,
        )  # fmt: skip

    def _make_time_controls(self, day: int) -> None:
        days = self._year.sizes["time"]
        self.day = widgets.IntSlider(
            value=max(1, min(day, days)), min=1, max=days, description="Day", style=_WIDE, layout=widgets.Layout(width="17em"),
        )  # fmt: skip
        self.play = widgets.Play(value=self.day.value, min=1, max=days, step=1, interval=SPEEDS["4 a second"])
        widgets.link((self.play, "value"), (self.day, "value"))
        self.speed = _choice("Speed", SPEEDS, "4 a second")
        self.back, self.on = _button("\u22121", "One step back"), _button("+1", "One step on")
        self.event = _button("Next event", "On to the next day on which something happens")
        self.ask = widgets.Checkbox(
            value=False, description="Ask the class", indent=False, layout=widgets.Layout(width="auto")
        )

    @property
    def setting(self) -> Setting:
        """How roof B is built; what happens to its outlets is `fate`."""
        return Setting(
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
        if self._stormy:
            return Fate(self.outlet.value)
        clears = None if self.clears.value == _NEVER else self.clears.value
        return Fate(self.outlet.value, self.clogs.value, clears)

    @property
    def step(self) -> int:
        """The step of the year or of the storm that is shown."""
        return int(self.day.value) - 1

    @property
    def _stormy(self) -> bool:
        return bool(self.rain.value == "storm")

    def _run_again(self, _change: Any = None) -> None:
        self.vote.close()
        try:
            first = self._seen(*(self._kept or (self.setting, Fate())))
            second = self._seen(self.setting, self.fate, first)
        except RunoffError as error:
            self.text.value = f'<p role="alert">This roof cannot be built: {html.escape(str(error))}</p>'
            return
        self.roofs = [first, second]
        self._draw()

    def _seen(self, setting: Setting, fate: Fate, *others: Seen) -> Seen:
        """Return a roof through the rain chosen; what is known of it already is not run again."""
        known = [*self.roofs, *others]
        if self._stormy:
            storm = hour_of_rain(self.storm.value)
            alike = [one for one in known if isinstance(one, WatchedStorm) and one.storm is storm]
            for one in alike:
                if (one.setting, one.fate) == (setting, Fate(fate.outlet)):
                    return one
            return WatchedStorm(setting, fate.outlet, storm, base=self._base)
        through = [one for one in known if isinstance(one, Watched)]
        for seen in through:
            if (seen.setting, seen.fate) == (setting, fate):
                return seen
        return Watched(setting, fate, self._year, base=self._base, known=through)

    def _titles(self) -> list[str]:
        first = "A  kept for comparison" if self._kept else "A  outlet open"
        fate = self.fate
        second = "outlet open"
        if fate.outlet != "open":
            second = fate.outlet
            if not self._stormy:
                stamps = self._year.indexes["time"]
                second += f" from {date_words(stamps[fate.clogs])}"
                if fate.clears is not None and fate.clears > fate.clogs:
                    second += f" to {date_words(stamps[fate.clears])}"
        return [first, f"B  {second}"]

    def _picture(self, sheet: Sheet) -> str:
        invented = self._invented or self._stormy  # the storms are those of the invented town
        return draw_two_roofs(
            sheet, self.roofs, self.step, titles=self._titles(), units=self.units.value, invented=invented
        )

    def _draw(self) -> None:
        if not self.roofs:
            return
        self.picture.value, self.described = as_svg(self._picture, *SIZE_IN)
        self.text.value = _reading_table(self.roofs, self.step, self.units.value) + self._differ()

    def _moved(self, _change: Any = None) -> None:
        self._draw()
        waiting = self.vote.question
        if waiting is not None:
            if self.step >= waiting.until and isinstance(self.roofs[-1], Watched):
                self.play.playing = False
                self.vote.tell(told(waiting, self.roofs[-1], self.units.value))
                self.vote.question = None
            return
        question = self._due()
        if question is not None:
            self.play.playing = False
            self._asked.add((self.setting, self.fate, question.step))
            self.vote.ask(question, self.roofs[-1].when(self.step))

    def _questions(self) -> list[Question]:
        """Return what the class has not been asked yet of these roofs."""
        if not self.ask.value or self._stormy:
            return []
        every = questions_of([one for one in self.roofs if isinstance(one, Watched)])
        return [one for one in every if (self.setting, self.fate, one.step) not in self._asked]

    def _due(self) -> Question | None:
        return next((one for one in self._questions() if one.step == self.step), None)

    def _show_what_happens(self) -> None:
        self.vote.box.layout.display = "none"
        self.play.playing = True

    def _go(self, day: int) -> None:
        self.day.value = max(1, min(day, self.day.max))

    def _next_event(self, _button: Any = None) -> None:
        ahead = [one.step for one in self._questions()] + events_of(self.roofs)
        later = [step for step in ahead if step > self.step]
        if later:
            self._go(min(later) + 1)

    def _keep_or_not(self, _button: Any = None) -> None:
        self._kept = None if self._kept else (self.setting, self.fate)
        self.keep.description = "A open again" if self._kept else "Keep B as A"
        self._run_again()

    def _change_rain(self, _change: Any = None) -> None:
        self.play.playing = False
        self._kept, self.keep.description = None, "Keep B as A"
        for control, shown in (
            (self.storm, self._stormy),
            (self.clogs, not self._stormy),
            (self.clears, not self._stormy),
        ):
            control.layout.display = "" if shown else "none"
        last, step = (SHOWN_MINUTES if self._stormy else self._year.sizes["time"]), self._other_step
        self._other_step = self.day.value
        self.roofs = []  # nothing is drawn until the roofs of the other rain are there
        for control in (self.play, self.day):
            control.value = 1
            control.max = last
        self.day.description = "Minute" if self._stormy else "Day"
        self.day.value = step
        if self._stormy:
            self.text.value = _FIRST_STORM
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

    def view(self) -> widgets.Widget:
        """Return the whole lesson as one widget."""
        full = widgets.HTML(_FULL_SCREEN)
        controls = widgets.HBox(
            [
                self.rain, self.storm, self.outlet, self.clogs, self.clears, self.overflow, self.board, self.medium, self.fleece, self.depth,
                self.fall, self.mulch, self.units, self.play, self.back, self.day, self.on, self.event, self.ask, self.speed, self.keep, full,
            ],
            layout=widgets.Layout(**_ROW),
        )  # fmt: skip
        look = widgets.HTML(_LOOK + _INTO_VIEW.format(key=self.picture.model_id))
        box = widgets.VBox([look, controls, self.vote.box, self.picture, self.text])
        box.add_class("runoff-lesson")
        return box

    def png(self) -> bytes:
        """Return the picture as a PNG file, for where widgets cannot be drawn."""
        return png_bytes(as_figure(self._picture, *SIZE_IN))

    def _ipython_display_(self) -> None:
        """Publish the widget together with a picture and a sentence, which stand in where widgets cannot be drawn."""
        publish_controls(self.view(), self.described, self.png())


def _toggle(description: str, options: Any, value: str) -> widgets.ToggleButtons:
    return widgets.ToggleButtons(options=list(options), value=value, description=description, style=_BUTTONS)


def _button(description: str, tooltip: str) -> widgets.Button:
    return widgets.Button(description=description, tooltip=tooltip, layout=widgets.Layout(width="auto"))


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


def _reading_table(roofs: list[Seen], step: int, units: str) -> str:
    """Return what is read of both roofs and does not stand in the picture already, as a table."""
    readings = [roof.beside(step, units) for roof in roofs]
    head = "".join(f'<th scope="col">{name}</th>' for name in ("", *readings[0]))
    rows = "".join(
        f'<tr><th scope="row">{letter}</th>' + "".join(f"<td>{value}</td>" for value in reading.values()) + "</tr>"
        for letter, reading in zip("AB", readings, strict=True)
    )
    return (
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        '<p style="margin:0">Whether a roof can carry this weight is for a licensed engineer to say.</p>'
    )
