"""What a run means: retention, overflow, wet and dry spells, events, uncertainty."""
