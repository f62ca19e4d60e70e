"""Figures: each returns a matplotlib figure that carries a sentence formed from what it shows.

Each is loaded on first use: matplotlib takes longer to load than a year of weather to run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from runoff.first_use import on_demand

#: Module -> the public names it holds.
_HOMES: dict[str, tuple[str, ...]] = {
    "build_up_section": ("build_up_section_figure",),
    "event_capture": ("event_capture_figure",),
    "fitted_events": ("fitted_events_figure",),
    "fitted_overflow": ("fitted_overflow_figure",),
    "heat_maps": ("heat_map_figure",),
    "measured_roofs": ("measured_roofs_figure",),
    "monthly_bars": ("monthly_balance", "monthly_balance_figure"),
    "outlet_rating": ("chosen_outlet_figure", "outlet_rating_figure"),
    "region_maps": ("region_maps_figure",),
    "section_shapes": ("CONDITIONS",),
    "sensitivity_bars": ("tornado_figure",),
    "spell_calendar": ("spell_calendar_figure",),
    "storm_hydrographs": ("storm_comparison_figure", "storm_figure"),
    "style": (
        "DescribedFigure",
        "figure_style",
        "new_figure",
        "png_bytes",
        "quick_png_bytes",
        "save",
        "styled",
        "svg_bytes",
    ),
    "trade_offs": ("trade_off_figure",),
    "tray_drying": ("tray_drying_figure",),
    "yearly_course": ("year_figure",),
}

__all__ = [name for names in _HOMES.values() for name in names]

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

__getattr__, __dir__ = on_demand(__name__, _HOMES)
