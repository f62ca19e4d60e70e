"""Numbers: marked, traced back to the Dataset, the same in both unit systems."""

from __future__ import annotations

import re

import numpy as np
import pytest
import xarray as xr

from runoff.dossier.marked_numbers import Numbers, figure_key, flatten, relative_difference, shown
from runoff.errors import RunoffError
from runoff.saying.scales import SCALES
from runoff.units import convert

FIGURES = xr.Dataset(
    {
        "capture": ((), 525.4, {"units": "mm"}),
        "capture_range": ("bound", [509.0, 544.0], {"units": "mm"}),
        "month_rain": ("month", [61.0, 41.25], {"units": "mm"}),
        "nothing": ((), np.nan, {"units": "mm"}),
    },
    coords={"bound": ["5", "95"], "month": [1, 2]},
)


def test_every_number_has_a_name_of_its_own():
    assert flatten(FIGURES) == pytest.approx(
        {
            "capture": 525.4,
            "capture_range[bound=5]": 509.0,
            "capture_range[bound=95]": 544.0,
            "month_rain[month=1]": 61.0,
            "month_rain[month=2]": 41.25,
            "nothing": np.nan,
        },
        nan_ok=True,
    )


def test_a_mark_carries_value_name_and_unit():
    text = str(Numbers(FIGURES).us("capture", "yearly depth"))
    # worked by hand: 525.4 / 25.4 = 20.685 in
    assert text == '<data value="525.4" data-figure="capture" data-shown="in" data-digits="1">20.7</data>\xa0in'


def test_ranges_and_missing_numbers():
    n = Numbers(FIGURES)
    assert re.sub("<[^>]*>", "", str(n.span("capture", "yearly depth"))) == "509 to 544"
    assert str(n.si("nothing", "depth")) == "–"
    assert str(n.span("month_rain", "depth", month=1)) == "–"
    assert not n.is_known("nothing") and n.is_known("month_rain", month=2)


def test_a_month_in_which_melt_exceeds_rain_is_told_in_words():
    figures = xr.Dataset({"kept": ("month", [0.4, -0.2], {"units": "1"})}, coords={"month": [3, 4]})
    n = Numbers(figures)
    assert re.sub("<[^>]*>", "", str(n.kept("kept", month=3))) == "40\xa0%"
    assert str(n.kept("kept", month=4)) == "below 0 %"


def test_a_number_that_was_never_computed_cannot_be_printed():
    with pytest.raises(
        RunoffError, match=r'^dossier: the findings hold no number "captur" \(did you mean "capture"\?\)$'
    ):
        Numbers(FIGURES).si("captur", "depth")


def test_a_claim_has_three_digits_and_a_difference_of_shares_is_in_points():
    numbers = Numbers(
        xr.Dataset(
            {
                "large": ((), 229.76, {"units": "m3"}),  # 60,696 gal
                "small": ((), 4.126, {"units": "m3"}),  # 1,090 gal
                "less": ((), -0.005, {"units": "1"}),
            }
        )
    )
    told = [
        re.sub("<[^>]*>", "", numbers.both(one, "claimed volume")).replace("\xa0", " ") for one in ("large", "small")
    ]
    assert told == ["230 m³ (60,700 gal)", "4.1 m³ (1,090 gal)"]
    assert re.sub("<[^>]*>", "", numbers.change("less", "fine share")) == "\N{MINUS SIGN}0.5\xa0points"


@pytest.mark.parametrize(
    ("value", "unit", "wanted", "digits", "text"),
    [
        (1.0, "m3", "gal", 0, "264"),  # 1000 / 3.785411784 = 264.17
        (58.83, "m3", "gal", 0, "15,541"),  # 58830 / 3.785411784 = 15541.2
        (0.622, "1", "percent", 0, "62"),
        (-0.004, "mm", "mm", 1, "0.0"),  # no minus before a zero
        (-3.25, "mm", "mm", 1, "−3.3"),  # halves go away from zero
        (1.0, "kg/m2", "lb/ft2", 3, "0.205"),  # 0.3048^2 / 0.45359237 = 0.20482
    ],
)
def test_rounding(value, unit, wanted, digits, text):
    assert shown(value, unit, wanted, digits) == text


def test_scales_pair_units_of_the_same_kind():
    for scale in SCALES.values():
        if scale.si and scale.si != scale.us:
            convert(1.0, scale.si, scale.us)  # raises when the two measure different things


def test_keys_do_not_depend_on_the_order_of_labels():
    assert figure_key("a", start="dry", event="p90") == figure_key("a", event="p90", start="dry")


def test_relative_difference():
    assert relative_difference(np.nan, np.nan) == 0.0
    assert relative_difference(1.0, np.nan) == np.inf
    assert relative_difference(2.0, 1.0) == 0.5


def test_the_figures_show_themselves_with_the_range_the_page_gives(quick):
    import runoff
    from runoff.saying.scales import shown as in_scale

    said = runoff.show(quick.figures).text()
    line = next(line for line in said.splitlines() if line.startswith("annual capture, whole roof"))
    ranges = quick.figures["annual_capture_m3_range"]
    wanted = [in_scale(float(ranges.sel(bound=one)), "m3", "volume").text for one in ("expected", "5", "20", "95")]
    expected, unit, *bounds = line.removeprefix("annual capture, whole roof").split()
    assert [expected, *bounds] == wanted and unit == "m3"
