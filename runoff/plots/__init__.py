"""Figures: each returns a matplotlib figure that carries a sentence formed from what it shows.

Each is loaded on first use: matplotlib takes longer to load than a year of weather to run.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

#: Public name -> module it lives in.
_HOMES = {
    "build_up_section_figure": "build_up_section",
    "event_capture_figure": "event_capture",
    "fitted_events_figure": "fitted_events",
    "fitted_overflow_figure": "fitted_overflow",
    "heat_map_figure": "heat_maps",
    "measured_roofs_figure": "measured_roofs",
    "monthly_balance": "monthly_bars",
    "monthly_balance_figure": "monthly_bars",
    "chosen_outlet_figure": "outlet_rating",
    "outlet_rating_figure": "outlet_rating",
    "region_maps_figure": "region_maps",
    "CONDITIONS": "section_shapes",
    "tornado_figure": "sensitivity_bars",
    "spell_calendar_figure": "spell_calendar",
    "storm_comparison_figure": "storm_hydrographs",
    "storm_figure": "storm_hydrographs",
    "DescribedFigure": "style",
    "figure_style": "style",
    "new_figure": "style",
    "png_bytes": "style",
    "quick_png_bytes": "style",
    "save": "style",
    "styled": "style",
    "svg_bytes": "style",
    "trade_off_figure": "trade_offs",
    "tray_drying_figure": "tray_drying",
    "year_figure": "yearly_course",
}

__all__ = list(_HOMES)

if TYPE_CHECKING:
    from runoff.plots.build_up_section import build_up_section_figure as build_up_section_figure
    from runoff.plots.event_capture import event_capture_figure as event_capture_figure
    from runoff.plots.fitted_events import fitted_events_figure as fitted_events_figure
    from runoff.plots.fitted_overflow import fitted_overflow_figure as fitted_overflow_figure
    from runoff.plots.heat_maps import heat_map_figure as heat_map_figure
    from runoff.plots.measured_roofs import measured_roofs_figure as measured_roofs_figure
    from runoff.plots.monthly_bars import monthly_balance as monthly_balance
    from runoff.plots.monthly_bars import monthly_balance_figure as monthly_balance_figure
    from runoff.plots.outlet_rating import chosen_outlet_figure as chosen_outlet_figure
    from runoff.plots.outlet_rating import outlet_rating_figure as outlet_rating_figure
    from runoff.plots.region_maps import region_maps_figure as region_maps_figure
    from runoff.plots.section_shapes import CONDITIONS as CONDITIONS
    from runoff.plots.sensitivity_bars import tornado_figure as tornado_figure
    from runoff.plots.spell_calendar import spell_calendar_figure as spell_calendar_figure
    from runoff.plots.storm_hydrographs import storm_comparison_figure as storm_comparison_figure
    from runoff.plots.storm_hydrographs import storm_figure as storm_figure
    from runoff.plots.style import DescribedFigure as DescribedFigure
    from runoff.plots.style import figure_style as figure_style
    from runoff.plots.style import new_figure as new_figure
    from runoff.plots.style import png_bytes as png_bytes
    from runoff.plots.style import quick_png_bytes as quick_png_bytes
    from runoff.plots.style import save as save
    from runoff.plots.style import styled as styled
    from runoff.plots.style import svg_bytes as svg_bytes
    from runoff.plots.trade_offs import trade_off_figure as trade_off_figure
    from runoff.plots.tray_drying import tray_drying_figure as tray_drying_figure
    from runoff.plots.yearly_course import year_figure as year_figure


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'runoff.plots' has no attribute '{name}'")
    value = getattr(importlib.import_module(f"runoff.plots.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
