"""Weather of other places and times: the invented town, changed climates."""
