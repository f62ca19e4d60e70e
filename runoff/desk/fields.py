"""Controls for numbers: a slider with a text field that takes either unit system, and what is wrong beside them."""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from runoff.errors import RunoffError
from runoff.saying.given import read_quantity
from runoff.saying.scales import SYSTEMS, say, unit_shown
from runoff.units import convert

_LABEL = "7.6em"  # of 13 dots: two columns stand side by side on a screen of 1024 with the list of files open
_FAULT = 'role="alert" style="margin:0;line-height:1.25;max-width:28em;color:#9a1b1b"'


def fault_html(words: str) -> str:
    """Return what is wrong as HTML; empty for nothing."""
    return f"<p {_FAULT}>Not taken: {html.escape(words)}</p>".replace("\n", "<br>") if words else ""


class Field:
    """A control with a line below it for what is wrong. `moved` is called with the field when a person has changed it."""

    def __init__(self, moved: Callable[[Field], None]) -> None:
        self._moved, self._quiet = moved, False
        self.fault = widgets.HTML(layout=widgets.Layout(display="none"))

    @property
    def parts(self) -> list[Any]:
        """The widgets, the fault last."""
        return [self.fault]

    def say_fault(self, words: str) -> None:
        """Show what is wrong beside the control; nothing for an empty text."""
        self.fault.value = fault_html(words)
        self.fault.layout.display = "" if words else "none"

    def _changed(self) -> None:
        if not self._quiet:
            self._moved(self)


class Quantity(Field):
    """A slider and a text field for one number in its unit.

    Parameters
    ----------
    words
        What it is.
    unit, kind
        Unit inside, and kind of quantity (`runoff.saying.scales`); ``"1"`` and ``"whole"`` for a count.
    value, low, high
        Where it stands first, and its bounds, in the unit inside.
    steps
        Step of the slider in SI and in US customary units, in the units shown.
    moved
        Called when a person has changed it.
    """

    def __init__(
        self, words: str, *, unit: str, kind: str, value: float, low: float, high: float, steps: tuple[float, float],
        moved: Callable[[Field], None],
    ) -> None:  # fmt: skip
        super().__init__(moved)
        self.unit, self.kind, self.low, self.high, self.steps = unit, kind, low, high, steps
        self.value, self.system = float(value), "si"
        self.text = widgets.Text(
            description=words, continuous_update=False, style={"description_width": _LABEL}, layout=widgets.Layout(flex="0 0 auto", width="14em")
        )  # fmt: skip
        # one for each unit system: a slider whose bounds change under it would clamp its value in the browser
        self._sliders = {system: self._made_slider(system) for system in SYSTEMS}
        self.set_system("si")
        for slider in self._sliders.values():
            slider.observe(self._of_slider, names="value")
        self.text.observe(self._of_text, names="value")

    def _made_slider(self, system: str) -> widgets.FloatSlider:
        low, high, at = (self._in_shown_unit(one, system) for one in (self.low, self.high, self.value))
        return widgets.FloatSlider(
            value=at, min=low, max=high, step=self.steps[SYSTEMS.index(system)], readout=False, continuous_update=False,
            tooltip=self.text.description, layout=widgets.Layout(flex="1 1 5em", min_width="0", width="auto"),
        )  # fmt: skip

    @property
    def slider(self) -> widgets.FloatSlider:
        """The slider of the unit system in use."""
        return self._sliders[self.system]

    @property
    def parts(self) -> list[Any]:
        """The widgets, the fault last."""
        return [widgets.HBox([self.text, *self._sliders.values()], layout=widgets.Layout(width="98%")), self.fault]

    def set_system(self, system: str) -> None:
        """Show the number in a unit system."""
        self.system = system
        self._show()

    def put(self, value: float) -> None:
        """Set the number without telling anyone."""
        self.value = float(value)
        self._show()

    def enable(self, yes: bool) -> None:
        """Let the control be moved, or not."""
        for one in (self.text, *self._sliders.values()):
            one.disabled = not yes

    @property
    def shown_unit(self) -> str:
        """The unit a bare number is taken in."""
        return unit_shown(self.unit, self.kind, self.system)

    def _in_shown_unit(self, value: float, system: str) -> float:
        unit = unit_shown(self.unit, self.kind, system)
        return float(convert(value, self.unit, unit)) if unit else value

    def _said(self, value: float) -> str:
        return say(value, self.unit, self.kind, self.system)

    def _show(self) -> None:
        was, self._quiet = self._quiet, True
        for system, slider in self._sliders.items():
            slider.value = self._in_shown_unit(self.value, system)
            slider.layout.display = "" if system == self.system else "none"
        self.text.value = self._said(self.value)
        self._quiet = was

    def _of_slider(self, change: Any) -> None:
        if self._quiet or change["owner"] is not self.slider:
            return
        shown = float(change["new"])
        value = float(convert(shown, self.shown_unit, self.unit)) if self.shown_unit else shown
        self._take(min(max(value, self.low), self.high))

    def _of_text(self, change: Any) -> None:
        if self._quiet:
            return
        try:
            value = read_quantity(change["new"], self.unit, bare=self.shown_unit or "1")
        except RunoffError as error:
            return self._refuse(f"{self.text.description} {error}")
        if not self.low - 1e-9 <= value <= self.high + 1e-9:
            bounds = f"{self._said(self.low)} to {self._said(self.high)}"
            return self._refuse(f"{self.text.description} lies from {bounds} (given {change['new']})")
        if self.kind == "whole" and value != round(value):
            return self._refuse(f"{self.text.description} is a whole number (given {change['new']})")
        return self._take(value)

    def _take(self, value: float) -> None:
        self.value = value
        self.say_fault("")
        self._show()
        self._changed()

    def _refuse(self, words: str) -> None:
        self._show()
        self.say_fault(words)


class Limit(Field):
    """A target: a text field that is empty where there is none.

    Parameters
    ----------
    words
        What it is.
    unit, kind
        As for a `Quantity`.
    value
        In the unit inside; None for no target.
    most
        Largest value that makes sense, in the unit inside.
    moved
        Called when a person has changed it.
    """

    def __init__(
        self, words: str, *, unit: str, kind: str, value: float | None, most: float, moved: Callable[[Field], None]
    ) -> None:
        super().__init__(moved)
        self.unit, self.kind, self.value, self.most, self.system = unit, kind, value, most, "si"
        self.text = widgets.Text(
            description=words, placeholder="none", continuous_update=False, style={"description_width": "13.2em"},
            layout=widgets.Layout(width="98%"),
        )  # fmt: skip
        self._show()
        self.text.observe(self._of_text, names="value")

    @property
    def parts(self) -> list[Any]:
        """The widgets, the fault last."""
        return [self.text, self.fault]

    def set_system(self, system: str) -> None:
        """Show the target in a unit system."""
        self.system = system
        self._show()

    def put(self, value: float | None) -> None:
        """Set the target without telling anyone."""
        self.value = value
        self._show()

    def _said(self, value: float) -> str:
        return say(value, self.unit, self.kind, self.system)

    def _show(self) -> None:
        was, self._quiet = self._quiet, True
        self.text.value = "" if self.value is None else self._said(self.value)
        self._quiet = was

    def _of_text(self, change: Any) -> None:
        if self._quiet:
            return
        given = change["new"].strip()
        unit = unit_shown(self.unit, self.kind, self.system) or "1"
        try:
            value = (
                read_quantity(given.removesuffix("days/year").removesuffix("days"), self.unit, bare=unit)
                if given
                else None
            )
        except RunoffError as error:
            self._show()
            return self.say_fault(f"{self.text.description} {error}")
        if value is not None and not 0.0 <= value <= self.most:
            self._show()
            return self.say_fault(
                f"{self.text.description} lies from {self._said(0.0)} to {self._said(self.most)} (given {given})"
            )
        self.value = value
        self.say_fault("")
        self._show()
        return self._changed()


class Choice(Field):
    """One of some words.

    Parameters
    ----------
    words
        What it is.
    options, value
        The words, and the one it stands at first.
    moved
        Called when a person has changed it.
    """

    def __init__(self, words: str, *, options: list[str], value: str, moved: Callable[[Field], None]) -> None:
        super().__init__(moved)
        self.box = widgets.Dropdown(
            description=words, options=options, value=value, style={"description_width": _LABEL}, layout=widgets.Layout(width="98%")
        )  # fmt: skip
        self.box.observe(lambda _: self._changed(), names="value")

    @property
    def value(self) -> str:
        """The word it stands at."""
        return str(self.box.value)

    @property
    def parts(self) -> list[Any]:
        """The widgets, the fault last."""
        return [self.box, self.fault]

    def put(self, value: str) -> None:
        """Set the word without telling anyone."""
        was, self._quiet = self._quiet, True
        self.box.value = value
        self._quiet = was


class FileName(Field):
    """A text field for the name of a file to read; an empty one goes back to what was given.

    Parameters
    ----------
    words, placeholder
        What it is, and what holds while it is empty.
    moved
        Called when a person has changed it.
    width
        Of the field.
    """

    def __init__(self, words: str, *, placeholder: str, moved: Callable[[Field], None], width: str = "98%") -> None:
        super().__init__(moved)
        self.text = widgets.Text(
            description=words, placeholder=placeholder, continuous_update=False, style={"description_width": _LABEL},
            layout=widgets.Layout(width=width),
        )  # fmt: skip
        self.text.observe(lambda _: self._changed(), names="value")

    @property
    def value(self) -> str:
        """What was typed."""
        return str(self.text.value).strip()

    @property
    def parts(self) -> list[Any]:
        """The widgets, the fault last."""
        return [self.text, self.fault]
