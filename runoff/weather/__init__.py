"""What falls and what evaporates: files, the record in house units, quality checks, evapotranspiration, climates."""

from typing import TYPE_CHECKING

from runoff.first_use import on_demand

__getattr__, __dir__ = on_demand(
    __name__,
    {
        "climates.changed": ("change_between", "changed_climate"),
        "evaporation.evapotranspiration": ("reference_et",),
        "files.reading": ("read_weather",),
        "files.samples": ("open_sample", "open_sample_grid", "open_sample_storms"),
        "files.table_layout": ("TableLayout",),
        "quality.report": ("QualityReport", "check_weather"),
        "record.daily": ("daily_totals",),
        "record.gaps": ("fill_gaps",),
    },
)

if TYPE_CHECKING:
    from runoff.weather.climates.changed import change_between as change_between
    from runoff.weather.climates.changed import changed_climate as changed_climate
    from runoff.weather.evaporation.evapotranspiration import reference_et as reference_et
    from runoff.weather.files.reading import read_weather as read_weather
    from runoff.weather.files.samples import open_sample as open_sample
    from runoff.weather.files.samples import open_sample_grid as open_sample_grid
    from runoff.weather.files.samples import open_sample_storms as open_sample_storms
    from runoff.weather.files.table_layout import TableLayout as TableLayout
    from runoff.weather.quality.report import QualityReport as QualityReport
    from runoff.weather.quality.report import check_weather as check_weather
    from runoff.weather.record.daily import daily_totals as daily_totals
    from runoff.weather.record.gaps import fill_gaps as fill_gaps
