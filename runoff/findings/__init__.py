"""What a run means: retention, overflow, wet and dry spells, events, uncertainty."""

from runoff.findings.summary import facts_from_totals as facts_from_totals
from runoff.findings.summary import summarize as summarize
from runoff.findings.tables import facts_table as facts_table
from runoff.findings.tables import facts_text as facts_text
from runoff.findings.tables import sweep_text as sweep_text
from runoff.findings.yearly import yearly_totals as yearly_totals
