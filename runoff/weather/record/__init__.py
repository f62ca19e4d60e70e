"""The weather record in house units: its time axis, gaps, days, and what a run gets of it."""
