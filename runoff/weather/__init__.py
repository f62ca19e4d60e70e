"""What falls and what evaporates: readers, quality checks, evapotranspiration, design storms, extremes."""

from runoff.weather.changed_climate import change_between as change_between
from runoff.weather.changed_climate import changed_climate as changed_climate
from runoff.weather.daily import daily_totals as daily_totals
from runoff.weather.depth_duration import DepthDurationTable as DepthDurationTable
from runoff.weather.depth_duration_files import read_depth_duration as read_depth_duration
from runoff.weather.evapotranspiration import reference_et as reference_et
from runoff.weather.event_separation import percentile_event as percentile_event
from runoff.weather.event_separation import rain_events as rain_events
from runoff.weather.extremes import return_levels as return_levels
from runoff.weather.gaps import fill_gaps as fill_gaps
from runoff.weather.intensity_curves import fit_intensity as fit_intensity
from runoff.weather.quality import QualityReport as QualityReport
from runoff.weather.quality import check_weather as check_weather
from runoff.weather.rain_maxima import annual_maxima as annual_maxima
from runoff.weather.reading import read_weather as read_weather
from runoff.weather.samples import open_sample as open_sample
from runoff.weather.samples import open_sample_storms as open_sample_storms
from runoff.weather.storms import design_storm as design_storm
from runoff.weather.storms import storm_from_series as storm_from_series
from runoff.weather.table import TableLayout as TableLayout
