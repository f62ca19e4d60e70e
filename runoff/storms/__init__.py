"""Rain by the storm: design storms, depth-duration tables, extremes and rain events."""

from typing import TYPE_CHECKING

from runoff.first_use import on_demand

__getattr__, __dir__ = on_demand(
    __name__,
    {
        "depth_duration": ("DepthDurationTable",),
        "depth_duration_files": ("open_sample_depth_duration", "read_annual_maxima", "read_depth_duration"),
        "design_storms": ("design_storm", "storm_from_series"),
        "event_separation": ("percentile_event", "rain_events", "water_quality_volume", "wet_day_runs"),
        "extremes": ("fit_extremes", "return_levels"),
        "intensity_curves": ("IntensityCurve", "fit_intensity"),
        "own_record": ("depth_duration_from_record", "storm_from_record"),
        "rain_maxima": ("annual_maxima", "largest_depths"),
        "record_against_fit": ("ranked_maxima",),
    },
)

if TYPE_CHECKING:
    from runoff.storms.depth_duration import DepthDurationTable as DepthDurationTable
    from runoff.storms.depth_duration_files import open_sample_depth_duration as open_sample_depth_duration
    from runoff.storms.depth_duration_files import read_annual_maxima as read_annual_maxima
    from runoff.storms.depth_duration_files import read_depth_duration as read_depth_duration
    from runoff.storms.design_storms import design_storm as design_storm
    from runoff.storms.design_storms import storm_from_series as storm_from_series
    from runoff.storms.event_separation import percentile_event as percentile_event
    from runoff.storms.event_separation import rain_events as rain_events
    from runoff.storms.event_separation import water_quality_volume as water_quality_volume
    from runoff.storms.event_separation import wet_day_runs as wet_day_runs
    from runoff.storms.extremes import fit_extremes as fit_extremes
    from runoff.storms.extremes import return_levels as return_levels
    from runoff.storms.intensity_curves import IntensityCurve as IntensityCurve
    from runoff.storms.intensity_curves import fit_intensity as fit_intensity
    from runoff.storms.own_record import depth_duration_from_record as depth_duration_from_record
    from runoff.storms.own_record import storm_from_record as storm_from_record
    from runoff.storms.rain_maxima import annual_maxima as annual_maxima
    from runoff.storms.rain_maxima import largest_depths as largest_depths
    from runoff.storms.record_against_fit import ranked_maxima as ranked_maxima
