"""How things are said to a person: units, decimals, numbers, dates, names of properties, tables."""
