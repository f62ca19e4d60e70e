"""Figures: each returns a matplotlib figure that carries a sentence formed from what it shows.

Loaded on use only; ``import runoff`` does not load matplotlib.
"""

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
