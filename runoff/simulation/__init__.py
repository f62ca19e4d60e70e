"""The one bridge from roofs and weather to the balance: rules, weather side, start, trace, totals, labels."""

from runoff.simulation.daily_record import DailyRecord as DailyRecord
from runoff.simulation.kernel import TOTALS as TOTALS
from runoff.simulation.labels import rules_told as rules_told
from runoff.simulation.repeated import Trials as Trials
from runoff.simulation.roof_side import Columns as Columns
from runoff.simulation.roof_side import columns_of as columns_of
from runoff.simulation.roof_side import columns_read_together as columns_read_together
from runoff.simulation.rules import IrrigationRule as IrrigationRule
from runoff.simulation.rules import RootLimits as RootLimits
from runoff.simulation.rules import RuleWords as RuleWords
from runoff.simulation.rules import RunRules as RunRules
from runoff.simulation.rules import SnowRule as SnowRule
from runoff.simulation.runs import simulate as simulate
from runoff.simulation.start import last_stores as last_stores
from runoff.simulation.storm_runs import StormFlows as StormFlows
from runoff.simulation.storm_runs import storm_flows as storm_flows
from runoff.simulation.totals import daily_forcing as daily_forcing
from runoff.simulation.totals import run_totals as run_totals
from runoff.simulation.weather_side import run_surfaces_in_minutes as run_surfaces_in_minutes
