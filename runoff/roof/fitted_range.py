"""A property that was fitted to a measurement: its value then, its range, and what it was fitted on."""

from __future__ import annotations

import math

from pydantic import model_validator

from runoff.roof.frozen_model import Described, Words

#: A triangle of so many times the 5-95 % half width has these as its own 5 and 95 %: 1 / (1 - sqrt(0.1)).
_TO_THE_ENDS = 1.0 / (1.0 - math.sqrt(0.1))


class FittedRange(Described):
    """A property that was fitted to a measurement.

    Parameters
    ----------
    property
        Its name, ``medium.field_capacity``.
    value, low, high
        Fitted value, and its 5 and 95 %.
    fitted_on
        What it was fitted on, in words.
    """

    property: Words
    value: float
    low: float
    high: float
    fitted_on: Words

    @model_validator(mode="after")
    def _rising(self) -> FittedRange:
        if not self.fitted_on.strip():
            raise ValueError("fitted_on must say what it was fitted on, such as: tray 3, May 2026")
        if not self.low <= self.value <= self.high or self.low == self.high:
            raise ValueError(
                f"low, value and high must rise in this order (you wrote {self.low:g}, {self.value:g}, {self.high:g})"
            )
        return self

    def drawn_around(self, own: float, most: float) -> tuple[float, float, float]:
        """Return low end, typical value and high end of the triangle that ranges are drawn from.

        Parameters
        ----------
        own
            The value the roof has now; the range is moved to it as a ratio.
        most
            Upper limit of the property, in its unit.
        """
        scale = own / self.value if self.value else 1.0
        low = own - _TO_THE_ENDS * scale * (self.value - self.low)
        high = own + _TO_THE_ENDS * scale * (self.high - self.value)
        return max(low, 0.0), own, min(high, most)
