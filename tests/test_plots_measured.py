"""The picture of measured roofs against ours: what is drawn is what the table holds."""

import types

import numpy as np
import pytest
import xarray as xr

from runoff import plots
from runoff.errors import RunoffError
from runoff.sizing.measured_against import JudgedRoof, all_comparisons


def roof(name: str, measured: float, ours: float, quantity: str = "retention", counts: bool = True) -> JudgedRoof:
    return JudgedRoof(
        site=name, roof=name, measured=measured, ours=ours, predicted_sd=1.0, low=ours - 10, high=ours + 10,
        quantity=quantity, counts=counts,
    )  # fmt: skip


def test_marks_bars_and_sentence() -> None:
    rows = [
        roof("A", 50.0, 45.0),
        roof("B", 60.0, 80.0),
        roof("C", 40.0, 41.0),
        roof("D", 30.0, 24.0),
        roof("A", 70.0, 75.0, "retention April to September", counts=False),
        roof("A", 50.0, 44.0, "retention under another gauge", counts=False),
    ]
    figure = plots.measured_roofs_figure(rows)
    axes = figure.axes[0]
    drawn = {
        (float(x), float(y)) for one in axes.containers for x, y in zip(*one.lines[0].get_data(), strict=True)
    }  # fmt: skip
    assert drawn == {
        (50.0, 45.0),
        (60.0, 80.0),
        (40.0, 41.0),
        (30.0, 24.0),
        (70.0, 75.0),
    }  # the other gauge is left away
    assert np.allclose(axes.lines[0].get_data(), [[0, 100], [0, 100]])  # 1:1
    # differences -5, 20, 1, -6: mean +2.5
    assert figure.description == (
        "3 of 4 measured roofs lie inside the 5 to 95 % range formed without their own site; outside: B (60 %, modelled 80). On "
        "average the model keeps 2.5 points more of the rain than measured; in the warm half of the year it is off by +5.0 points (A)."
    )


def test_an_expected_retention_is_a_line_across() -> None:
    figure = plots.measured_roofs_figure([roof("A", 50.0, 45.0), roof("B", 60.0, 80.0)], expected=0.4)
    assert any(set(one.get_ydata()) == {40.0} for one in figure.axes[0].lines)
    assert figure.description.endswith(" The dotted line: 40 %, expected of this roof.")


def test_the_packaged_rows_have_ranges_around_ours() -> None:
    assert all(one.low < one.ours < one.high for one in all_comparisons())
    assert {one.site for one in all_comparisons() if not one.counts} == {"Berlin", "Neubrandenburg", "Chicago"}


def test_nothing_to_draw() -> None:
    with pytest.raises(RunoffError, match=r"^measured_roofs_figure: no comparisons given"):
        plots.measured_roofs_figure([])


def test_what_holds_no_events_is_not_drawn() -> None:
    with pytest.raises(
        RunoffError, match=r"event_capture_figure: the figures hold no events; give what runoff\.write_dossier"
    ):
        plots.event_capture_figure(xr.Dataset({"retention": 0.5}))
    daily = types.SimpleNamespace(events=None)
    with pytest.raises(
        RunoffError, match="fitted_events_figure: the fit has no events: it was made in days, or nothing ran"
    ):
        plots.fitted_events_figure(daily)
