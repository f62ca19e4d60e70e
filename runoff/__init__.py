"""Storm runoff and drainage of planted (sedum) roofs: a daily and minute water balance in Python.

Rain and weather go in, a described build-up is run through its stores (canopy and mulch, growing medium,
drainage cups, protection mat, drainage board), and out come retention, overflow, peaks at the outlet, days of
waterlogging that put roots at risk, dry spells and loads. Names are loaded on first use, so ``import runoff``
stays light. In a notebook the last line of a cell is enough: results show themselves as a table, a sentence and,
where one belongs, a picture; `runoff.show` does so anywhere else.

Describe a roof
    `read_roof`, `open_sample_roof`, `Roof`, `BuildUp`, `Planting`, `Mulch`, `GrowingMedium`, `FilterFleece`,
    `DrainageBoard`, `ProtectionMat`, `Insulation`, `Membrane`, `Outlet`, `BareSurface`, `material`, `materials`
Weather
    `read_weather`, `TableLayout`, `open_sample`, `check_weather`, `fill_gaps`, `reference_et`, `daily_totals`,
    `changed_climate`, `change_between`
Run it
    `simulate`, `RunRules`, `RootLimits`, `SnowRule`, `IrrigationRule`
What a run means
    `summarize`, `yearly_totals`, `facts_table`, `facts_text`
Storms
    `design_storm`, `storm_from_series`, `storm_from_record`, `followed_by_dry`, `compare_storm`,
    `open_sample_storms`, `rain_events`, `wet_day_runs`, `percentile_event`, `water_quality_volume`
Depth-duration tables and rare rain
    `read_depth_duration`, `open_sample_depth_duration`, `DepthDurationTable`, `depth_duration_from_record`,
    `fit_intensity`, `IntensityCurve`, `annual_maxima`, `read_annual_maxima`, `largest_depths`, `ranked_maxima`,
    `return_levels`, `fit_extremes`
Choose a build-up and outlets
    `sweep`, `size`, `size_outlets`, `check_outlets`, `chosen_outlet`, `drainage_figures`, `flood_test`,
    `write_drainage_sheet`, `vertical_pipe_l_per_s`, `horizontal_drain_l_per_s`, `design_desk`
How sure, and other climates
    `uncertainty`, `storm_uncertainty`, `first_line`, `what_to_measure`, `compare_climates`, `irrigation_demand`,
    `known_biases`
Loads and what to order
    `roof_loads`, `order_list`, `OrderRules`, `bill_of_quantities`, `write_order_sheet`
Document it
    `write_dossier`, `verify_dossier`
Fit to a measurement
    `fit_roof`, `read_observed`, `fit_tray`, `read_tray_log`, `open_sample_tray`
What it was checked against
    `check_table`, `CheckPicture`
Show
    `show`, `plots`, `lesson`, `write_lesson`
Large grids
    `stream`, `open_sample_grid`
Units and errors
    `convert`, `to_depth`, `to_intensity`, `RunoffError`, `RoofError`, `WeatherError`, `StormError`,
    `SizingError`, `BalanceError`, `RunoffWarning`
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from runoff.first_use import on_demand
from runoff.version import __version__ as __version__

#: Module -> the public names it holds; ``plots`` is public as a module.
_HOMES: dict[str, tuple[str, ...]] = {
    "calibration": ("fit_roof", "fit_tray", "open_sample_tray", "read_observed", "read_tray_log"),
    "desk": ("design_desk",),
    "dossier": ("verify_dossier", "write_dossier", "write_drainage_sheet", "write_order_sheet"),
    "errors": (
        "BalanceError",
        "RoofError",
        "RunoffError",
        "RunoffWarning",
        "SizingError",
        "StormError",
        "WeatherError",
    ),
    "findings": ("facts_table", "facts_text", "summarize", "yearly_totals"),
    "findings.draining": ("drainage_figures",),
    "findings.flooding": ("flood_test",),
    "findings.storm_comparison": ("compare_storm", "followed_by_dry"),
    "roof": (
        "BareSurface",
        "bill_of_quantities",
        "BuildUp",
        "DrainageBoard",
        "FilterFleece",
        "GrowingMedium",
        "Insulation",
        "material",
        "materials",
        "Membrane",
        "Mulch",
        "open_sample_roof",
        "order_list",
        "OrderRules",
        "Outlet",
        "Planting",
        "ProtectionMat",
        "read_roof",
        "Roof",
        "roof_loads",
    ),
    "showing": ("show",),
    "simulation": ("IrrigationRule", "RootLimits", "RunRules", "simulate", "SnowRule"),
    "sizing": (
        "compare_climates",
        "first_line",
        "irrigation_demand",
        "size",
        "storm_uncertainty",
        "sweep",
        "uncertainty",
        "what_to_measure",
    ),
    "sizing.described_outlets": ("check_outlets",),
    "sizing.drainage_codes": ("horizontal_drain_l_per_s", "vertical_pipe_l_per_s"),
    "sizing.measured_against": ("known_biases",),
    "sizing.outlets": ("chosen_outlet", "size_outlets"),
    "storms": (
        "annual_maxima",
        "depth_duration_from_record",
        "DepthDurationTable",
        "design_storm",
        "fit_extremes",
        "fit_intensity",
        "IntensityCurve",
        "largest_depths",
        "open_sample_depth_duration",
        "percentile_event",
        "rain_events",
        "ranked_maxima",
        "read_annual_maxima",
        "read_depth_duration",
        "return_levels",
        "storm_from_record",
        "storm_from_series",
        "water_quality_volume",
        "wet_day_runs",
    ),
    "streaming": ("stream",),
    "teaching.check_tables": ("check_table", "CheckPicture"),
    "teaching.lesson_page": ("write_lesson",),
    "teaching.parts": ("lesson",),
    "units": ("convert", "to_depth", "to_intensity"),
    "weather": (
        "change_between",
        "changed_climate",
        "check_weather",
        "daily_totals",
        "fill_gaps",
        "open_sample",
        "open_sample_grid",
        "open_sample_storms",
        "read_weather",
        "reference_et",
        "TableLayout",
    ),
    "plots": (),
}

__all__ = ["__version__", *(name for names in _HOMES.values() for name in names)]

if TYPE_CHECKING:
    from runoff import plots as plots
    from runoff.calibration import fit_roof as fit_roof
    from runoff.calibration import fit_tray as fit_tray
    from runoff.calibration import open_sample_tray as open_sample_tray
    from runoff.calibration import read_observed as read_observed
    from runoff.calibration import read_tray_log as read_tray_log
    from runoff.desk import design_desk as design_desk
    from runoff.dossier import verify_dossier as verify_dossier
    from runoff.dossier import write_dossier as write_dossier
    from runoff.dossier import write_drainage_sheet as write_drainage_sheet
    from runoff.dossier import write_order_sheet as write_order_sheet
    from runoff.errors import BalanceError as BalanceError
    from runoff.errors import RoofError as RoofError
    from runoff.errors import RunoffError as RunoffError
    from runoff.errors import RunoffWarning as RunoffWarning
    from runoff.errors import SizingError as SizingError
    from runoff.errors import StormError as StormError
    from runoff.errors import WeatherError as WeatherError
    from runoff.findings import facts_table as facts_table
    from runoff.findings import facts_text as facts_text
    from runoff.findings import summarize as summarize
    from runoff.findings import yearly_totals as yearly_totals
    from runoff.findings.draining import drainage_figures as drainage_figures
    from runoff.findings.flooding import flood_test as flood_test
    from runoff.findings.storm_comparison import compare_storm as compare_storm
    from runoff.findings.storm_comparison import followed_by_dry as followed_by_dry
    from runoff.roof import BareSurface as BareSurface
    from runoff.roof import BuildUp as BuildUp
    from runoff.roof import DrainageBoard as DrainageBoard
    from runoff.roof import FilterFleece as FilterFleece
    from runoff.roof import GrowingMedium as GrowingMedium
    from runoff.roof import Insulation as Insulation
    from runoff.roof import Membrane as Membrane
    from runoff.roof import Mulch as Mulch
    from runoff.roof import OrderRules as OrderRules
    from runoff.roof import Outlet as Outlet
    from runoff.roof import Planting as Planting
    from runoff.roof import ProtectionMat as ProtectionMat
    from runoff.roof import Roof as Roof
    from runoff.roof import bill_of_quantities as bill_of_quantities
    from runoff.roof import material as material
    from runoff.roof import materials as materials
    from runoff.roof import open_sample_roof as open_sample_roof
    from runoff.roof import order_list as order_list
    from runoff.roof import read_roof as read_roof
    from runoff.roof import roof_loads as roof_loads
    from runoff.showing import show as show
    from runoff.simulation import IrrigationRule as IrrigationRule
    from runoff.simulation import RootLimits as RootLimits
    from runoff.simulation import RunRules as RunRules
    from runoff.simulation import SnowRule as SnowRule
    from runoff.simulation import simulate as simulate
    from runoff.sizing import compare_climates as compare_climates
    from runoff.sizing import first_line as first_line
    from runoff.sizing import irrigation_demand as irrigation_demand
    from runoff.sizing import size as size
    from runoff.sizing import storm_uncertainty as storm_uncertainty
    from runoff.sizing import sweep as sweep
    from runoff.sizing import uncertainty as uncertainty
    from runoff.sizing import what_to_measure as what_to_measure
    from runoff.sizing.described_outlets import check_outlets as check_outlets
    from runoff.sizing.drainage_codes import horizontal_drain_l_per_s as horizontal_drain_l_per_s
    from runoff.sizing.drainage_codes import vertical_pipe_l_per_s as vertical_pipe_l_per_s
    from runoff.sizing.measured_against import known_biases as known_biases
    from runoff.sizing.outlets import chosen_outlet as chosen_outlet
    from runoff.sizing.outlets import size_outlets as size_outlets
    from runoff.storms import DepthDurationTable as DepthDurationTable
    from runoff.storms import IntensityCurve as IntensityCurve
    from runoff.storms import annual_maxima as annual_maxima
    from runoff.storms import depth_duration_from_record as depth_duration_from_record
    from runoff.storms import design_storm as design_storm
    from runoff.storms import fit_extremes as fit_extremes
    from runoff.storms import fit_intensity as fit_intensity
    from runoff.storms import largest_depths as largest_depths
    from runoff.storms import open_sample_depth_duration as open_sample_depth_duration
    from runoff.storms import percentile_event as percentile_event
    from runoff.storms import rain_events as rain_events
    from runoff.storms import ranked_maxima as ranked_maxima
    from runoff.storms import read_annual_maxima as read_annual_maxima
    from runoff.storms import read_depth_duration as read_depth_duration
    from runoff.storms import return_levels as return_levels
    from runoff.storms import storm_from_record as storm_from_record
    from runoff.storms import storm_from_series as storm_from_series
    from runoff.storms import water_quality_volume as water_quality_volume
    from runoff.storms import wet_day_runs as wet_day_runs
    from runoff.streaming import stream as stream
    from runoff.teaching.check_tables import CheckPicture as CheckPicture
    from runoff.teaching.check_tables import check_table as check_table
    from runoff.teaching.lesson_page import write_lesson as write_lesson
    from runoff.teaching.parts import lesson as lesson
    from runoff.units import convert as convert
    from runoff.units import to_depth as to_depth
    from runoff.units import to_intensity as to_intensity
    from runoff.weather import TableLayout as TableLayout
    from runoff.weather import change_between as change_between
    from runoff.weather import changed_climate as changed_climate
    from runoff.weather import check_weather as check_weather
    from runoff.weather import daily_totals as daily_totals
    from runoff.weather import fill_gaps as fill_gaps
    from runoff.weather import open_sample as open_sample
    from runoff.weather import open_sample_grid as open_sample_grid
    from runoff.weather import open_sample_storms as open_sample_storms
    from runoff.weather import read_weather as read_weather
    from runoff.weather import reference_et as reference_et


def _tell_notebook() -> None:
    """Let a running notebook show results as tables; outside of one nothing is loaded."""
    shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
    if hasattr(shell, "display_formatter"):
        from runoff.showing import register

        register(shell)


_tell_notebook()


__getattr__, __dir__ = on_demand("runoff", _HOMES)
