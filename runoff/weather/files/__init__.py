"""Readers: every kind of weather file behind one door."""
