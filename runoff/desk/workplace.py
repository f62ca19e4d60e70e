"""The desk itself: a thin shell of widgets over `design_choices`, `working_out` and `reading_words`.

A move of a control runs the whole record and the storm again and draws the section; what cannot be is said beside the control
that asked for it, and nothing changes. The range of retention takes longer than a move may: it follows in a pause.
"""

from __future__ import annotations

import asyncio
import gc
import html
import textwrap
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import xarray as xr

from runoff.balance.loop_choice import expect_many_runs
from runoff.desk import design_choices as chosen
from runoff.desk.design_choices import AS_DESCRIBED, NO_BOARD, OUTLETS, Choices
from runoff.desk.fields import Choice, Field, FileName, Limit, Quantity
from runoff.desk.reading_words import changed_name, outlet_words, outlets_hold, readings, sure_words
from runoff.desk.working_out import Reckoning, how_sure, need_daily, reckon, storm_of
from runoff.errors import RunoffError
from runoff.findings.storm_comparison import followed_by_dry
from runoff.plots import quick_png_bytes
from runoff.plots.build_up_section import build_up_section_figure
from runoff.plots.on_a_page import publish_controls
from runoff.roof import Roof, open_sample_roof
from runoff.sample_files import sample_folder
from runoff.saying.scales import require_system
from runoff.saying.tables import Table
from runoff.sizing.targets import read_targets
from runoff.storms import read_depth_duration
from runoff.weather import check_weather, open_sample, read_weather
from runoff.weather.files.samples import DEPTH_DURATION_FILE
from runoff.writing import write_whole

_SYSTEMS = {"mm, kg, L/s": "si", "in, lb, gpm": "us"}
_PAUSE_S = 1.0
_PICTURE_DPI = 80
_ALLOWABLE_MM = 60.0
_WORDS = "line-height:1.3;margin:.3em 0;max-width:44em"
#: Targets: figure -> words, bound, unit, kind, first value, largest.
_TARGETS: dict[str, tuple[str, str, str, str, float | None, float]] = {
    "retention": ("Retention at least", "at_least", "1", "share", None, 1.0),
    "dry_days": ("Dry days at most", "at_most", "1", "count", None, 366.0),
    "waterlogged_days": ("Waterlogged days at most", "at_most", "1", "count", 3.0, 366.0),
    "drained_mass": ("Drained mass at most", "at_most", "kg/m2", "load", None, 2000.0),
}


def design_desk(
    roof: Roof | None = None,
    weather: xr.Dataset | None = None,
    *,
    storm: xr.DataArray | None = None,
    units: str = "si",
) -> DesignDesk:
    """Return a desk on which a roof is designed for a climate: controls, and beside them what comes out.

    Parameters
    ----------
    roof
        The roof the controls start from; default the sample roof.
    weather
        A daily record of one place; default that of the invented town of Ostrey. Another can be named at the desk.
    storm
        Rain in steps of 1 min to 1 h that the outlets are held against. Default: the storm of a depth-duration table named at the
        desk; for the invented weather that of its town.
    units
        ``"si"`` or ``"us"``; the desk changes them too.

    Returns
    -------
    DesignDesk
        Shows itself as the last line of a notebook cell. ``desk.roof`` is the roof as it stands.

    Raises
    ------
    RunoffError
        When the weather is not a daily record of one place, or the roof cannot be run through it.

    Notes
    -----
    Needs ipywidgets (extra ``notebooks``).
    """
    return DesignDesk(
        roof or open_sample_roof("cups"), weather if weather is not None else open_sample(), storm=storm, units=units
    )


class DesignDesk:
    """Controls on the left; on the right the figures with their targets, the verdict on the outlets and the section to scale.

    Parameters
    ----------
    base, weather, storm, units
        As in `design_desk`.
    """

    def __init__(
        self, base: Roof, weather: xr.Dataset, *, storm: xr.DataArray | None = None, units: str = "si"
    ) -> None:
        self.base, self._given_weather, self._given_storm = base, need_daily(weather), storm
        self.weather, self.units = weather, require_system(units)
        self._written: set[Path] = set()
        self._pause: asyncio.TimerHandle | None = None
        self._warned: set[Path] = set()
        expect_many_runs()
        self._make_controls(chosen.described(base))
        self._make_results()
        self.storm = self._find_storm()
        self.found: Reckoning
        self._look_at(weather)
        self._run(self._choices())
        self._show_units()
        self.work_out_range()
        _set_aside_what_lives()

    @property
    def roof(self) -> Roof:
        """The roof as it stands."""
        return self.found.roof

    # --- making ---------------------------------------------------------------------------------------------------

    def _make_controls(self, start: Choices) -> None:
        move = self._moved

        def depth(words: str, value: float, low: float, high: float, steps: tuple[float, float]) -> Quantity:
            return Quantity(
                words, unit="mm", kind="layer depth", value=value, low=min(low, value), high=max(high, value), steps=steps, moved=move
            )  # fmt: skip

        self.system = widgets.ToggleButtons(
            options=list(_SYSTEMS), value=next(k for k, v in _SYSTEMS.items() if v == self.units), description="Units",
            style={"description_width": "3.2em", "button_width": "7.6em"},
        )  # fmt: skip
        self.system.observe(self._change_units, names="value")
        of_table = [AS_DESCRIBED]
        boards = ([AS_DESCRIBED] if self.base.build_up.board is not None else []) + chosen.materials_of("board")
        self.planting = Choice(
            "Planting", options=of_table + chosen.materials_of("planting"), value=start.planting, moved=move
        )
        self.mulch = depth("Mulch", start.mulch_mm, 0.0, 50.0, (5.0, 0.25))
        self.medium = Choice("Medium", options=of_table + chosen.materials_of("medium"), value=start.medium, moved=move)
        self.depth = depth("Medium depth", start.depth_mm, 20.0, 300.0, (5.0, 0.25))
        self.board = Choice("Board", options=[*boards, NO_BOARD], value=start.board, moved=self._change_board)
        self.cups = depth("Cups hold", start.cups_mm, 0.0, 15.0, (0.5, 0.02))
        self.cups_up = Choice("Cups", options=["up", "down"], value="up" if start.cups_up else "down", moved=move)
        self.outlets = Choice("Outlets", options=[AS_DESCRIBED, *OUTLETS], value=start.outlets, moved=move)
        self.count = Quantity(
            "How many", unit="1", kind="whole", value=start.outlet_count, low=1, high=max(12, start.outlet_count), steps=(1, 1), moved=move
        )  # fmt: skip
        self.diameter = depth("Diameter", start.outlet_mm, 50.0, 200.0, (5.0, 0.25))
        self.targets = {
            name: Limit(words, unit=unit, kind=kind, value=value, most=most, moved=self._retarget)
            for name, (words, _, unit, kind, value, most) in _TARGETS.items()
        }
        self.allowed = Limit(
            "Water depth at most", unit="mm", kind="level", value=_ALLOWABLE_MM, most=1000.0, moved=move
        )
        self._make_sources()
        self._enable()

    def _make_sources(self) -> None:
        title = str(self._given_weather.attrs.get("title", "")) or "as given"
        self.climate = FileName("Weather", placeholder=f"{title}; or a daily weather file", moved=self._change_weather)
        self.latitude = FileName("Its latitude", placeholder="if the file has none", moved=self._change_weather)
        self.table = FileName("Storm table", placeholder="a depth-duration table", moved=self._change_storm)
        self.period = Choice("Return period", options=["100"], value="100", moved=self._change_storm)
        self.roof_file = FileName("Roof file", placeholder="my_roof.toml", moved=lambda _: None)
        self.sheet_file = FileName("Sheet", placeholder="my_sheet.html", moved=lambda _: None)
        self.write_roof = widgets.Button(description="Write roof file", layout=widgets.Layout(width="11em"))
        self.write_sheet = widgets.Button(description="Write sheet", layout=widgets.Layout(width="11em"))
        self.write_roof.on_click(lambda _: self._write(self.roof_file, self._roof_written))
        self.write_sheet.on_click(lambda _: self._write(self.sheet_file, self._sheet_written))

    def _make_results(self) -> None:
        self.figures, self.sure, self.verdict, self.quality = (widgets.HTML() for _ in range(4))
        self.picture = widgets.Image(format="png", layout=widgets.Layout(max_width="100%", object_fit="contain"))
        self.done = widgets.HTML()

    @property
    def _quantities(self) -> list[Quantity]:
        return [self.mulch, self.depth, self.cups, self.count, self.diameter]

    @property
    def _fields(self) -> list[Any]:
        kinds = [self.planting, self.medium, self.board, self.cups_up, self.outlets]
        return [*kinds, *self._quantities, *self.targets.values(), self.allowed, self.climate, self.table, self.period]

    def view(self) -> widgets.Widget:
        """Return the whole desk as one widget."""

        def group(title: str, *fields: Any) -> widgets.Widget:
            parts = [part for field in fields for part in (field.parts if isinstance(field, Field) else [field])]
            head = widgets.HTML(f'<b style="line-height:1.2">{title}</b>')
            return widgets.VBox([head, *parts], layout=widgets.Layout(margin="0 0 .5em 0"))

        left = [
            self.system,
            group("Build-up", self.planting, self.mulch, self.medium, self.depth, self.board, self.cups_up, self.cups),
            group("Outlets", self.outlets, self.count, self.diameter),
            group("Targets", *self.targets.values(), self.allowed),
        ]
        below = [
            group("Climate and storm", self.climate, self.latitude, self.quality, self.table, self.period),
            group("Write", self.roof_file, self.write_roof, self.sheet_file, self.write_sheet, self.done),
        ]
        column = widgets.VBox(left, layout=widgets.Layout(flex="1 1 20.5em", max_width="28em", min_width="0"))
        shown = widgets.VBox(
            [self.figures, self.sure, self.verdict, self.picture], layout=widgets.Layout(flex="2 1 20em", min_width="0", max_width="52em")
        )  # fmt: skip
        row = {"flex_flow": "row wrap", "grid_gap": "0 1em", "align_items": "flex-start"}
        return widgets.VBox(
            [
                widgets.HBox([column, shown], layout=widgets.Layout(**row)),
                widgets.HBox(below, layout=widgets.Layout(**row)),
            ]
        )

    # --- moving ---------------------------------------------------------------------------------------------------

    def _choices(self) -> Choices:
        return Choices(
            depth_mm=self.depth.value, mulch_mm=self.mulch.value, medium=self.medium.value, planting=self.planting.value,
            board=self.board.value, cups_mm=self.cups.value, cups_up=self.cups_up.value == "up", outlets=self.outlets.value,
            outlet_count=round(self.count.value), outlet_mm=self.diameter.value,
        )  # fmt: skip

    def _put(self, choices: Choices) -> None:
        """Set the controls to where they stood."""
        where: list[tuple[Any, Any]] = [
            (self.depth, choices.depth_mm), (self.mulch, choices.mulch_mm), (self.medium, choices.medium),
            (self.planting, choices.planting), (self.board, choices.board), (self.cups, choices.cups_mm),
            (self.cups_up, "up" if choices.cups_up else "down"), (self.outlets, choices.outlets),
            (self.count, choices.outlet_count), (self.diameter, choices.outlet_mm),
        ]  # fmt: skip
        for field, value in where:
            field.put(value)
        self._enable()

    def _enable(self) -> None:
        """Let only what is of weight be moved."""
        rounds, board = self.outlets.value != AS_DESCRIBED, self.board.value != NO_BOARD
        self.count.enable(rounds)
        self.diameter.enable(rounds)
        self.cups.enable(board)
        self.cups_up.box.disabled = not board

    def _change_board(self, field: Field) -> None:
        self.cups.put(min(chosen.cups_of(self.board.value, self.base), self.cups.high))
        self._moved(field)

    def _moved(self, field: Field) -> None:
        """Take what a person has moved, or say beside it why it cannot be and put it back."""
        try:
            self._run(self._choices())
        except RunoffError as error:
            self._put(self._last)
            if field is self.allowed:
                self.allowed.put(self._last_allowed)
            field.say_fault(str(error))
            return
        for one in self._fields:
            one.say_fault("")
        self._enable()
        self._later()

    def _run(self, choices: Choices, weather: xr.Dataset | None = None, storm: Any = AS_DESCRIBED) -> None:
        """Work out everything that a move shows; nothing is kept when any of it fails."""
        weather = self.weather if weather is None else weather
        storm = self.storm if isinstance(storm, str) else storm
        allowed = self.allowed.value
        if allowed is None:
            allowed = _ALLOWABLE_MM
            self.allowed.put(allowed)
        roof = chosen.roof_of(choices, self.base)
        roof = roof.model_copy(update={"name": changed_name(roof, self.base)})
        found = reckon(roof, weather, storm, allowable_depth_mm=allowed)
        picture = quick_png_bytes(build_up_section_figure(roof, units=self.units), dpi=_PICTURE_DPI)
        self.found, self.weather, self.storm = found, weather, storm
        self._last, self._last_allowed, self._picture = choices, allowed, picture
        self._show()

    def _retarget(self, _field: Field) -> None:
        self._show()

    def _change_units(self, _change: Any = None) -> None:
        self.units = _SYSTEMS[self.system.value]
        self._show_units()

    def _show_units(self) -> None:
        for one in self._quantities:
            one.set_system(self.units)
        for limit in (*self.targets.values(), self.allowed):
            limit.set_system(self.units)
        self._picture = quick_png_bytes(build_up_section_figure(self.roof, units=self.units), dpi=_PICTURE_DPI)
        self._show()
        if hasattr(self, "_line"):
            self._show_range()

    def _change_weather(self, field: Field) -> None:
        """Read the weather file named, or go back to the one given."""
        name, latitude = self.climate.value, self.latitude.value
        try:
            weather = self._given_weather
            if name:
                weather = need_daily(read_weather(name, latitude=float(latitude) if latitude else None))
            storm = self._find_storm(weather)
            self._run(self._choices(), weather, storm)
        except (RunoffError, OSError, ValueError) as error:
            field.say_fault(f"the weather stays as it was. {_reason(error)}")
            return
        self.climate.say_fault("")
        self.latitude.say_fault("")
        self._look_at(weather)
        self._later()

    def _change_storm(self, field: Field) -> None:
        try:
            storm = self._find_storm()
            self._run(self._choices(), storm=storm)
        except (RunoffError, OSError, ValueError) as error:
            field.say_fault(f"the storm stays as it was. {_reason(error)}")
            return
        self.table.say_fault("")

    def _find_storm(self, weather: xr.Dataset | None = None) -> xr.DataArray | None:
        """Return the storm given, or that of the table named; for the invented town its own; else None."""
        if self._given_storm is not None and not self.table.value:
            return followed_by_dry(self._given_storm, 3.0)
        weather = self.weather if weather is None else weather
        path = self.table.value
        if not path and weather.attrs.get("invented") == "yes":
            path = str(sample_folder() / DEPTH_DURATION_FILE)
        if not path:
            return None
        table = read_depth_duration(path)
        years = [f"{one:g}" for one in table.return_periods_years]
        if list(self.period.box.options) != years:
            at = self.period.value if self.period.value in years else years[-1]
            was, self.period._quiet = self.period._quiet, True
            self.period.box.options = years
            self.period.box.value = at
            self.period._quiet = was
        return storm_of(table, float(self.period.value))

    # --- showing --------------------------------------------------------------------------------------------------

    def _targets(self) -> dict[str, Any]:
        given = {
            name: {_TARGETS[name][1]: field.value} for name, field in self.targets.items() if field.value is not None
        }
        return {one.figure: one for one in read_targets(given)} if given else {}

    def _show(self) -> None:
        rows = "".join(
            f'<tr><td style="padding:1px .8em 1px 0;vertical-align:top">{html.escape(one.words)}</td><td style="padding:1px .8em 1px 0;vertical-align:top">'
            f"<b>{html.escape(one.value)}</b>{f'<br>{html.escape(one.target)}' if one.target else ''}</td></tr>"
            for one in readings(self.found, self._targets(), self.units)
        )
        invented = " (invented weather)" if self.weather.attrs.get("invented") == "yes" else ""
        years = float(self.found.facts["years"])
        head = f"<b>{html.escape(self.roof.name)}</b>, {years:.0f} years run{invented}"
        self.figures.value = (
            f'<p style="{_WORDS}">{head}</p><table style="line-height:1.25;border-collapse:collapse">{rows}</table>'
        )
        holds = outlets_hold(self.found)
        mark = {None: "Outlets", True: "Outlets hold", False: "Outlets DO NOT HOLD"}[holds]
        self.verdict.value = (
            f'<p style="{_WORDS}"><b>{mark}.</b> {html.escape(outlet_words(self.found, self.units))} '
            "Loads and levels are reported; whether the structure can carry them is for a licensed engineer.</p>"
        )
        self.picture.value = self._picture

    def _look_at(self, weather: xr.Dataset) -> None:
        """Say what the record is worth."""
        report = check_weather(weather)
        note = " ".join(report.shown().notes)
        lines = [f"{check.name}: {check.found}" for check in report.checks if check.verdict != "good"]
        told = "".join(f"<li>{html.escape(one)}</li>" for one in lines[:4])
        listed = f'<ul style="margin:0 0 0 1.2em">{told}</ul>' if told else ""
        title = html.escape(str(weather.attrs.get("title", "")) or "given series")
        self.quality.value = f'<div style="line-height:1.25;max-width:27em">{title}: <b>{report.verdict}</b>. {html.escape(note)}{listed}</div>'

    # --- how sure -------------------------------------------------------------------------------------------------

    def _later(self) -> None:
        """Work the range out once nobody has moved anything for a moment."""
        if self._pause is not None:
            self._pause.cancel()
            self._pause = None
        if hasattr(self, "_line"):
            del self._line
        self.sure.value = f'<p style="{_WORDS}">The range of retention follows in a moment.</p>'
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:  # no notebook: whoever wants it calls work_out_range
            return
        self._pause = loop.call_later(_PAUSE_S, self.work_out_range)

    def work_out_range(self) -> None:
        """Work out how sure the retention of the roof is, and show it; takes about a second."""
        self._pause = None
        try:
            self._line = how_sure(self.roof, self.weather)
        except RunoffError as error:
            self.sure.value = f'<p style="{_WORDS}">No range: {html.escape(str(error))}</p>'
            return
        self._show_range()

    def _show_range(self) -> None:
        self.sure.value = f'<p style="{_WORDS}">{html.escape(sure_words(*self._line, self.units))}</p>'

    # --- writing --------------------------------------------------------------------------------------------------

    def _write(self, field: FileName, write: Any) -> None:
        """Write a file under the name given; one that is there already only when the button is pressed again."""
        name = field.value or str(field.text.placeholder)
        path = Path(name)
        try:
            if path.exists() and path not in self._written and path not in self._warned:
                self._warned.add(path)
                field.say_fault(f"{path} is there already; press the button again to replace it")
                return
            write(path)
        except (RunoffError, OSError) as error:
            field.say_fault(_reason(error))
            return
        field.say_fault("")
        self._written.add(path)
        self.done.value = f'<p role="status" style="margin:0">Written: {html.escape(str(path))}</p>'

    def _roof_written(self, path: Path) -> None:
        if path.suffix.lower() != ".toml":
            raise RunoffError(f"a roof file ends in .toml (given {path.name})")
        write_whole(path, self.roof.to_toml().encode("utf-8"))

    def _sheet_written(self, path: Path) -> None:
        from runoff.dossier import write_drainage_sheet

        if self.storm is None:
            raise RunoffError("a drainage sheet needs a storm; name a depth-duration table")
        invented = self.weather.attrs.get("invented") == "yes" and not self.table.value
        write_drainage_sheet(
            self.roof, self.storm, path, allowable_depth_mm=self._last_allowed, invented=invented, units=self.units
        )

    def _ipython_display_(self) -> None:
        """Publish the desk together with its picture and words, which stand in where widgets cannot be drawn."""
        publish_controls(self.view(), self.text(), self.picture.value)

    def text(self) -> str:
        """Return what the desk shows, as text."""
        rows = [(one.words, one.value, one.target) for one in readings(self.found, self._targets(), self.units)]
        lines = Table(head=("", "", ""), rows=rows, align="<<<").text()
        told = [outlet_words(self.found, self.units)]
        if hasattr(self, "_line"):
            told.insert(0, sure_words(*self._line, self.units))
        return "\n".join([self.roof.name, lines, *(textwrap.fill(one, 100) for one in told)])


def _set_aside_what_lives() -> None:
    """Keep all that is in memory out of later searches for garbage.

    With every library loaded one full search takes as long as two moves, and would fall into one of them. What a move
    leaves behind is searched as before; what an earlier desk held is released here.
    """
    gc.unfreeze()
    gc.collect()
    gc.freeze()


def _reason(error: Exception) -> str:
    """Return why a file could not be read or written, without the number of the system's error."""
    if isinstance(error, OSError) and error.strerror:
        return f"{error.strerror}: {error.filename}" if error.filename else error.strerror
    return str(error)
