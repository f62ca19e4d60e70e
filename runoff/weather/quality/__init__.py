"""Whether a record can be used: checks and their verdicts."""
