"""The cells of a table as numbers: missing codes, traces and decimal commas must be declared, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from runoff.errors import RunoffError
from runoff.quantities import QUANTITIES
from runoff.weather.files.stamps import where
from runoff.weather.files.table_layout import TableLayout
from runoff.weather.record.house_units import to_house

_EMPTY = {"", "na", "nan", "null", "none"}
_SUSPECT_CODES = (-99999.0, -9999.0, -9999.9, -8888.0, -999.0, -999.9, -99.9, -99.0, 9999.0, 99999.0, 999.9)


def numbers(
    cells: pd.Series,
    quantity: str,
    layout: TableLayout,
    faults: list[str],
    *,
    could_be: Callable[[float], bool],
    may_be_negative: bool,
) -> tuple[np.ndarray, int]:
    """Return the numbers of a column in the file's unit, missing where declared, and the count of traces.

    Parameters
    ----------
    cells
        Text of each cell; the index holds the number of its line in the file.
    quantity
        What the column is, as a fault names it.
    layout
        Missing codes, traces, decimal mark.
    faults
        Takes a sentence for every kind of fault.
    could_be
        Tells whether a number such as -99 can be a measurement here; see `measurable`.
    may_be_negative
        Whether what is measured can lie below zero.

    Returns
    -------
    numpy.ndarray
        The numbers in the file's unit, shape ``(line,)``; NaN where missing, 0 for a trace.
    int
        Count of traces.
    """
    text = cells.str.strip()
    traces = text.isin([str(one) for one in layout.trace])
    if layout.decimal == ",":
        text = text.str.replace(",", ".", regex=False)
    words, codes = _codes(layout.missing)
    empty = text.str.lower().isin(_EMPTY | words)
    number = pd.to_numeric(text.where(~empty & ~traces), errors="coerce")
    _name_texts(text[number.isna() & ~empty & ~traces], quantity, faults)
    number = number.mask(number.isin(codes) & ~traces)
    number = number.mask(traces, 0.0)
    infinite = number[np.isinf(number)]
    if len(infinite):
        faults.append(f"{quantity}: infinite {where(cells[infinite.index])}; missing values are left empty")
        number = number.mask(np.isinf(number))
    for code in _SUSPECT_CODES:
        coded = number[number == code]
        if len(coded) and not could_be(code):
            faults.append(
                f"{quantity}: {code:g} {where(cells[coded.index])} is a code for missing, not a measurement; declare it, "
                f"missing=[{code:g}]"
            )
            number = number.mask(number == code)
    negative = number[:0] if may_be_negative else number[number < 0]
    if len(negative):
        faults.append(
            f"{quantity}: negative {where(cells[negative.index])}; a missing value is left empty, or its code declared, "
            "missing=[...]"
        )
    return number.to_numpy(dtype=float), int(traces.sum())


def _codes(missing: Sequence[float | str]) -> tuple[set[str], list[float]]:
    """Return the codes for missing that are words, in lower case, and those that are numbers."""
    words, codes = set(), []
    for code in missing:
        try:
            codes.append(float(code))
        except (ValueError, TypeError):
            words.add(str(code).strip().lower())
    return words, codes


def measurable(value: float, quantity: str, unit: str) -> bool:
    """Tell whether a raw number could be a measurement: -99 tenths of a degree is a cold day, -99 degrees is a code.

    Parameters
    ----------
    value
        The number in `unit`.
    quantity
        A name of `runoff.quantities`.
    unit
        As the file spells it.

    Returns
    -------
    bool
        Whether it lies within the bounds of the quantity; True where the unit itself cannot be read.
    """
    known = QUANTITIES[quantity]
    try:
        return known.low <= float(to_house(value, quantity, unit, 24.0)) <= known.high
    except RunoffError:
        return True  # the unit itself is at fault and is reported as such


def _name_texts(bad: pd.Series, quantity: str, faults: list[str]) -> None:
    """Say what each kind of text that is no number probably is, and how to declare it."""
    traces = bad[bad.str.upper().isin(["T", "TR", "TRACE"])]
    commas = bad[bad.str.match(r"^[+-]?\d*,\d+$")]
    others = bad.drop([*traces.index, *commas.index])
    if len(traces):
        faults.append(
            f'{quantity}: traces {where(traces)}; say what they mean, trace=["{traces.iloc[0]}"] (counted, taken as 0)'
        )
    if len(commas):
        faults.append(f'{quantity}: decimal commas {where(commas)}; declare them, decimal=","')
    if len(others):
        faults.append(
            f"{quantity}: no number {where(others)}; numbers carry no unit or mark, missing values are left empty"
        )
