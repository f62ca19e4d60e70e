"""Reference evapotranspiration: formulas, their inputs, the choice between them, the sun."""
