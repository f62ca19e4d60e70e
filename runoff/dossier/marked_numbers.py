"""Numbers as they are printed: each one carries the figure it came from, so that it can be traced back and checked.

A number of the dossier stands in the page as ``<data value="24.13" data-figure="annual_capture_mm" ...>``. The value is
the one of the findings in their own unit, at full precision; the text is that value in the unit shown, rounded. `shown`
is the only place where the rounding happens, for the writing and for the checking of a dossier alike.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from runoff.errors import RunoffError, nearest
from runoff.saying.numbers import fixed
from runoff.saying.scales import Shown, scale_of, typeset
from runoff.units import convert

if TYPE_CHECKING:
    import xarray as xr
    from markupsafe import Markup

#: A number with more decimals than this was written down, not computed: zeros at its end are left away.
_WRITTEN_OUT = 3
#: Significant digits of a claim on the first page: its range is a third of it, more digits would flatter.
_CLAIM_DIGITS = 3


def figure_key(name: str, **at: Any) -> str:
    """Return the name of one number of a labelled array: ``rain_by_month[month=3]``.

    Examples
    --------
    >>> figure_key("capture_mm", event="25.4", start="dry")
    'capture_mm[event=25.4,start=dry]'
    """
    place = ",".join(f"{dim}={label}" for dim, label in sorted(at.items()))
    return f"{name}[{place}]" if place else name


def flatten(figures: xr.Dataset) -> dict[str, float]:
    """Return every number of a Dataset under its `figure_key`, in the Dataset's order."""
    import numpy as np

    numbers: dict[str, float] = {}
    for name, array in figures.data_vars.items():
        labels = [[str(label) for label in array[dim].to_numpy()] for dim in array.dims]
        for place in np.ndindex(array.shape):
            at = {str(dim): labels[i][place[i]] for i, dim in enumerate(array.dims)}
            numbers[figure_key(str(name), **at)] = float(array.to_numpy()[place])
    return numbers


def shown(value: float, units: str, unit_shown: str, digits: int) -> str:
    """Return a number as printed: converted, rounded, with commas between thousands.

    Parameters
    ----------
    value
        The number, in `units`; a dash stands for NaN.
    units, unit_shown
        The unit it has, and the one it is shown in; empty for the same.
    digits
        Number of decimals; below 0 whole tens or hundreds.

    Returns
    -------
    str
        The number without its unit.

    Examples
    --------
    >>> shown(612.34, "mm", "in", 1)
    '24.1'
    >>> shown(45.2, "m3", "gal", 0)
    '11,941'
    """
    if unit_shown and unit_shown != units:
        value = convert(value, units, unit_shown)
    return fixed(value, digits, trimmed=digits > _WRITTEN_OUT, missing="–").replace("-", "\N{MINUS SIGN}")


class Numbers:
    """The numbers of one dossier, ready for the page.

    Parameters
    ----------
    figures
        The findings: every number printed is one of them.
    units
        ``"si"`` or ``"us"``: which of the two `first` writes, and which stands in front of the brackets.
    """

    def __init__(self, figures: xr.Dataset, units: str = "si") -> None:
        self.order = ("si", "us") if units == "si" else ("us", "si")
        self.heads = tuple(one.upper() for one in self.order)
        self.values = flatten(figures)
        self.units = {str(name): str(array.attrs.get("units", "")) for name, array in figures.data_vars.items()}

    def value(self, name: str, **at: Any) -> float:
        """Return one number in its own unit.

        Raises
        ------
        RunoffError
            When the findings hold no such number.
        """
        key = figure_key(name, **at)
        if key not in self.values:
            raise RunoffError(f'dossier: the findings hold no number "{key}"{nearest(key, self.values)}')
        return self.values[key]

    def is_known(self, name: str, **at: Any) -> bool:
        """Tell whether the findings hold this number and it is not missing."""
        return math.isfinite(self.values.get(figure_key(name, **at), math.nan))

    def si(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> Markup:
        """Return one number in SI units, marked.

        Parameters
        ----------
        name, **at
            Figure and place of the number: `figure_key`.
        kind
            A kind of `runoff.saying.scales`, which gives unit and decimals.
        unit
            Whether the unit stands behind it.

        Returns
        -------
        Markup
            A ``data`` element, or a dash where the number is missing.

        Raises
        ------
        RunoffError
            When the findings hold no such number.
        """
        return self._marked(name, kind, "si", unit, at)

    def kept(self, name: str, **at: Any) -> Markup:
        """Return a share of rain kept, marked, or words where more ran off than fell: how far below 0 says nothing."""
        from markupsafe import Markup

        if self.is_known(name, **at) and self.value(name, **at) < 0.0:
            return Markup("below 0 %")
        return self.si(name, "share", **at)

    def us(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> Markup:
        """Return one number in US customary units, marked.

        Parameters
        ----------
        name, kind, unit, **at
            As in `si`.

        Returns
        -------
        Markup
            As `si`.

        Raises
        ------
        RunoffError
            As `si`.
        """
        return self._marked(name, kind, "us", unit, at)

    def first(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> Markup:
        """Return one number in the system that stands first, marked.

        Parameters
        ----------
        name, kind, unit, **at
            As in `si`.

        Returns
        -------
        Markup
            As `si`.

        Raises
        ------
        RunoffError
            As `si`.
        """
        return self._marked(name, kind, self.order[0], unit, at)

    def second(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> Markup:
        """Return one number in the other system, marked.

        Parameters
        ----------
        name, kind, unit, **at
            As in `si`.

        Returns
        -------
        Markup
            As `si`.

        Raises
        ------
        RunoffError
            As `si`.
        """
        return self._marked(name, kind, self.order[1], unit, at)

    def both(self, name: str, kind: str, **at: Any) -> Markup:
        """Return one number in the system that stands first, with the other in brackets.

        Parameters
        ----------
        name, kind, **at
            As in `si`.

        Returns
        -------
        Markup
            One number alone where both systems have the same unit, or the number is missing.

        Raises
        ------
        RunoffError
            As `si`.
        """
        from markupsafe import Markup

        if not self.is_pair(kind) or not self.is_known(name, **at):
            return self.first(name, kind, **at)
        return Markup("{} ({})").format(self.first(name, kind, **at), self.second(name, kind, **at))

    def change(self, name: str, kind: str, **at: Any) -> Markup:
        """Return a difference with its sign, marked, in the system that stands first; of two shares in points.

        Parameters
        ----------
        name, kind, **at
            As in `si`.

        Returns
        -------
        Markup
            The sign stands before the element.

        Raises
        ------
        RunoffError
            As `si`.
        """
        from markupsafe import Markup

        sign = Markup("+") if self.is_known(name, **at) and self.value(name, **at) > 0.0 else Markup("")
        if scale_of(kind).si == "%" and self.is_known(name, **at):
            return sign + self.first(name, kind, unit=False, **at) + Markup("\N{NO-BREAK SPACE}points")
        return sign + self.first(name, kind, **at)

    @staticmethod
    def is_pair(kind: str) -> bool:
        """Tell whether a kind of number has two units, SI and US."""
        scale = scale_of(kind)
        return scale.si != scale.us

    def span(self, name: str, kind: str, *, second: bool = False, unit: bool = False, **at: Any) -> Markup:
        """Return the 5 to 95 % range of a number, or a dash where none was formed.

        Parameters
        ----------
        name, kind, **at
            As in `si`, of the number itself: its range is the figure ``<name>_range``.
        second
            Writes it in the other system.
        unit
            Whether the unit stands behind it.

        Returns
        -------
        Markup
            Two ``data`` elements.
        """
        from markupsafe import Markup

        if not self.is_known(f"{name}_range", bound="5", **at):
            return Markup("–")
        write = self.second if second else self.first
        low = write(f"{name}_range", kind, unit=False, bound="5", **at)
        high = write(f"{name}_range", kind, unit=unit, bound="95", **at)
        return Markup("{} to {}").format(low, high)

    def plain(self, name: str, kind: str, *, unit: bool = True, **at: Any) -> str:
        """Return one number as bare text, for alternative texts of figures, which cannot hold marks.

        Parameters
        ----------
        name, kind, unit, **at
            As in `si`.

        Returns
        -------
        str
            Number and unit.

        Raises
        ------
        RunoffError
            As `si`.
        """
        wanted, digits = self._form(name, self.value(name, **at), kind, self.order[0])
        text = shown(self.value(name, **at), self.units[name], wanted, digits)
        return f"{text} {typeset(wanted)}" if unit and typeset(wanted) else text

    def _form(self, name: str, value: float, kind: str, system: str) -> tuple[str, int]:
        """Return unit and decimals of a number; what a person wrote down keeps no idle zeros."""
        scale = scale_of(kind)
        unit, digits = scale.unit(system), scale.digits(system)
        if kind == "claimed volume":
            digits = with_claim_digits(Shown(convert(value, self.units[name], unit), unit, digits)).digits
        if scale.trimmed and digits <= _WRITTEN_OUT:
            converted = convert(value, self.units[name], unit)
            if unit == "in" and 0.0 < abs(converted) < 1.0:
                return unit, digits  # thin layers keep two decimals
            text = fixed(converted, digits, trimmed=True)
            digits = len(text.partition(".")[2])
        return unit, digits

    def _marked(self, name: str, kind: str, system: str, unit: bool, at: dict[str, Any]) -> Markup:
        from markupsafe import Markup

        value = self.value(name, **at)
        if not math.isfinite(value):
            return Markup("–")
        wanted, digits = self._form(name, value, kind, system)
        text = shown(value, self.units[name], wanted, digits)
        mark = Markup('<data value="{}" data-figure="{}" data-shown="{}" data-digits="{}">{}</data>').format(
            repr(value), figure_key(name, **at), wanted, digits, text
        )
        word = typeset(wanted)
        if not unit or not word:
            return mark
        # a line may end behind a slash, but not within a unit
        form = '\N{NO-BREAK SPACE}<span class="unit">{}</span>' if "/" in word else "\N{NO-BREAK SPACE}{}"
        return mark + Markup(form).format(word)


def with_claim_digits(number: Shown) -> Shown:
    """Return a number with the digits of a claim: three at most.

    Examples
    --------
    >>> str(with_claim_digits(Shown(13_787.0, "gal", 0))), str(with_claim_digits(Shown(52.34, "m3", 1)))
    ('13,800 gal', '52.3 m3')
    """
    if not number.value > 0.0:
        return number
    return number._replace(digits=min(number.digits, _CLAIM_DIGITS - 1 - math.floor(math.log10(number.value))))


def relative_difference(a: float, b: float) -> float:
    """Return how far two numbers lie apart, relative to the larger; 0 for two missing ones, infinite for one."""
    if math.isnan(a) or math.isnan(b):
        return 0.0 if math.isnan(a) and math.isnan(b) else math.inf
    if math.isinf(a) or math.isinf(b):
        return 0.0 if a == b else math.inf
    return abs(a - b) / max(abs(a), abs(b), 1e-9)
