"""Which build-up and which outlets meet the targets."""

from runoff.sizing.choosing import size as size
from runoff.sizing.claiming import FirstLine as FirstLine
from runoff.sizing.claiming import first_line as first_line
from runoff.sizing.climates import compare_climates as compare_climates
from runoff.sizing.climates import irrigation_demand as irrigation_demand
from runoff.sizing.likely_ranges import uncertainty as uncertainty
from runoff.sizing.likely_ranges import what_to_measure as what_to_measure
from runoff.sizing.storm_ranges import storm_uncertainty as storm_uncertainty
from runoff.sizing.sweeping import sweep as sweep
