"""Which build-up and which outlets meet the targets."""
